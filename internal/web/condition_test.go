package web

import (
	"net/url"
	"slices"
	"strings"
	"testing"

	"spile/batch"
	"spile/internal/store"
)

const icy = "Ice inside: gas off, do not tap, do not heat."

// Ice counts until the vessel was checked: on every page of it, after its batch has ended and in the next.
func TestIceCountsUntilChecked(t *testing.T) {
	s := newFilled(t, "Dunlin")
	for _, noticed := range [][2]string{{"ice", "20 minutes ago"}, {"hiss", "10 minutes ago"}} {
		s.send(s.at("Dunlin", "/i-noticed"), s.form(s.at("Dunlin", "/i-noticed"), "what", noticed[0], "when", noticed[1]))
	}
	want(t, "before the first look", mainText(t, s.Site, "/"), icy)
	s.foretold()
	for _, address := range []string{"/", s.at("Dunlin", ""), "/print/door-card?vessel=" + s.vessels["Dunlin"].String()} {
		want(t, address+" with a hiss since", text(parse(t, get(s.Site, address)).root), icy)
	}
	s.send(s.at("Dunlin", "/i-did?what=clean"), s.form(s.at("Dunlin", "/i-did?what=clean"), "emptied", "yes"))
	turnaround := s.at("Dunlin", "/turnaround")
	pages := []string{"/", s.at("Dunlin", ""), turnaround}
	for _, address := range pages {
		want(t, address+" once it is empty", mainText(t, s.Site, address), icy)
	}
	if card := parse(t, get(s.Site, "/")).class("card-of")[0]; !slices.Contains(strings.Fields(attribute(card, "class")), "now") {
		t.Errorf("the card of a vessel that held ice is %q", attribute(card, "class"))
	}
	kept(t, s.Site, turnaround, url.Values{"verdict": {string(batch.SealsChecked)}})
	for _, address := range pages {
		wantNot(t, address+" once it was checked", mainText(t, s.Site, address), icy)
	}
}

// A check that is due is said wherever the vessel is.
func TestCheckIsDue(t *testing.T) {
	s := newFilled(t, "Dunlin")
	due := batch.Entry{ID: store.NewID(), Kind: batch.KindThing, At: s.now, Made: s.now, Thing: s.vessels["Dunlin"], Body: s.body(map[string]any{"due": "2026-03-01T00:00:00Z"})}
	if _, err := s.watch.Keep(t.Context(), due); err != nil {
		t.Fatal(err)
	}
	const says = "This vessel is due for its check (1 March 2026). Until then, no pressure."
	want(t, "Vessels, before the first look", mainText(t, s.Site, "/"), says)
	s.foretold()
	for _, address := range []string{"/", s.at("Dunlin", ""), "/print/door-card?vessel=" + s.vessels["Dunlin"].String(), s.at("Dunlin", "/turnaround")} {
		want(t, address, text(parse(t, get(s.Site, address)).root), says)
	}
}

// What is to be done now has the frame and the triangle, with the words of its caution.
func TestCardNowHasTheTriangle(t *testing.T) {
	s := newFilled(t, "Dunlin")
	s.send(s.at("Dunlin", "/i-noticed"), s.form(s.at("Dunlin", "/i-noticed"), "what", "foam"))
	s.foretold()
	card := parse(t, get(s.Site, "/")).class("card-of")[0]
	var signs, cautions int
	for n := range card.Descendants() {
		for _, class := range strings.Fields(attribute(n, "class")) {
			switch class {
			case "sign":
				signs++
			case "caution":
				cautions++
				want(t, "the caution", text(n), "Take care: Pressure is above the valve setting and rising. Keep faces away.")
			}
		}
	}
	if class := attribute(card, "class"); signs != 1 || cautions != 1 || !strings.Contains(class, "now") {
		t.Errorf("%d signs and %d cautions on a card %q; want one of each", signs, cautions, class)
	}
}
