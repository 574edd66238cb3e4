package web

import (
	"net/url"
	"slices"
	"strings"
	"testing"

	"spile/calc"
	"spile/estimate"
	"spile/unit"

	"golang.org/x/net/html"
	"golang.org/x/net/html/atom"
)

// pureNumbers are the fields without a unit whose number is whole by itself: gravities, money, what is counted, a loss coefficient.
var pureNumbers = strings.Fields("gravity gravity_sg wort-pack-gravity_sg target-gravity og fg final dilute reading part-a gas pack yeast cycles tap-loss")

// digitsOnly are the fields of a page that ask for a keyboard of digits, with the unit behind each.
func digitsOnly(d *document) map[string]string {
	out := map[string]string{}
	for _, n := range d.all(atom.Input) {
		if attribute(n, "inputmode") == "" {
			continue
		}
		out[attribute(n, "name")] = ""
		for s := n.NextSibling; s != nil; s = s.NextSibling {
			if s.Type == html.ElementNode && attribute(s, "class") == "unit" {
				out[attribute(n, "name")] = text(s)
			}
		}
	}
	return out
}

// A keyboard of digits, which may have neither letters nor a minus, is asked for only where a number alone is an answer.
func TestKeyboardOfDigits(t *testing.T) {
	s := newShed(t)
	pages := everyKind(t, s)
	for _, row := range calc.Table() {
		pages[row.Name] = "/work-it-out/" + row.Name
	}
	for _, cookie := range []string{"", unitsCookie + "=" + url.QueryEscape("bar,f,gal(us),p,g/l,oz")} {
		for _, address := range pages {
			for name, in := range digitsOnly(parse(t, get(s, address, cookie))) {
				if in == "" && !slices.Contains(pureNumbers, name) {
					t.Errorf("%s: %s asks for digits, and no unit stands behind it", address, name)
				}
			}
		}
	}
}

// What takes a unit, a word or a number below zero has the usual keyboard; what is read at an open door has digits.
func TestKeyboardOfField(t *testing.T) {
	s := newFilled(t, "Dunlin").foretold()
	key := s.batches["Dunlin"].String()
	for _, c := range []struct{ address, digits, usual string }{
		{s.at("Dunlin", "/i-read"), "pressure temperature gravity vessel cylinder", "line when"},
		{"/round", "pressure-" + key + " temperature-" + key, "when"},
		{s.at("Dunlin", "/i-did?what=vent"), "from to", "when"},
		{s.at("Dunlin", "/i-did?what=shake"), "", "for"},
		{s.at("Dunlin", "/i-did?what=cool"), "", "set"},
		{s.at("Dunlin", ""), "relief", "hold gas"},
		{"/add/vessel", "capacity_m3 diameter_m", "rating_pa safety_relief_pa"},
		{"/add/place", "", "ambient_k altitude_m"},
		{"/fill?vessel=new", "vessel-capacity_m3 wort-pack-gravity_sg", "vessel-rating_pa vessel-safety_relief_pa place-ambient_k"},
	} {
		d := parse(t, get(s.Site, c.address))
		got := digitsOnly(d)
		for _, name := range strings.Fields(c.digits) {
			if _, digits := got[name]; !digits {
				t.Errorf("%s: %s has the usual keyboard", c.address, name)
			}
		}
		for _, name := range strings.Fields(c.usual) {
			if _, digits := got[name]; digits || !d.asks(name) {
				t.Errorf("%s: %s is not asked for, or with digits alone", c.address, name)
			}
		}
	}
	for reads, f := range offsets {
		if f.digits(unit.Style{}) {
			t.Errorf("how much too much an instrument shows of %s may be below zero, and has a keyboard of digits", reads)
		}
	}
}

// Beer near freezing may be read below zero in °C, and never in °F.
func TestKeyboardOfColdBeer(t *testing.T) {
	for _, c := range []struct {
		expected float64
		in       string
		digits   bool
	}{{19, "°C", true}, {10, "°C", true}, {1, "°C", false}, {1, "°F", true}} {
		g := gauged{asking: asking{Unit: c.in}, amount: temperatureRead}
		at := float64(unit.Celsius(c.expected))
		if g.band = (&estimate.Band{P05: at - 0.5, P50: at, P95: at + 0.5}); g.Digits() != c.digits {
			t.Errorf("of %v °C in %s: digits alone are %v", c.expected, c.in, !c.digits)
		}
	}
	if g := (&gauged{asking: asking{Unit: "°C"}, amount: temperatureRead}); g.Digits() {
		t.Error("where nobody knows what to expect, it may be below zero")
	}
}
