package web

import (
	"net/http"
	"strings"
	"testing"

	"spile/batch"
	"spile/unit"

	"golang.org/x/net/html/atom"
)

// workings gets every calculation that a page leads to with numbers filled in, and gives how many: each must answer.
func workings(t *testing.T, s *Site, address string) map[string]string {
	t.Helper()
	out := map[string]string{}
	for _, a := range parse(t, get(s, address)).all(atom.A) {
		to := attribute(a, "href")
		rest, there := strings.CutPrefix(to, "/work-it-out/")
		name, _, filled := strings.Cut(rest, "?")
		if !there || !filled {
			continue
		}
		w := get(s, to)
		d := parse(t, w)
		if w.Code != http.StatusOK || len(d.class("working")) != 1 {
			t.Errorf("%s leads to %s: %d, without an answer:\n%s", address, to, w.Code, text(d.all(atom.Main)[0]))
		}
		out[name] = text(d.all(atom.Main)[0])
	}
	return out
}

// What is said before anything is poured opens into its working, and so does what a vessel's page says now.
func TestNumbersOpenIntoTheirWorking(t *testing.T) {
	s := newSite(t)
	look := lookOf(t, s, thinned(t, s))
	said, how := mainText(t, s, look), workings(t, s, look)
	for name, same := range map[string]string{"dilution": "3 L", "foam-room": "23 %"} {
		want(t, "before anything is poured", said, same)
		want(t, name, how[name], same)
	}
	shed := newShed(t)
	all, err := shed.watch.Round(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, in := range all {
		how := workings(t, shed, "/vessels/"+in.Vessel.ID.String())
		if glasses := strings.Contains(mainText(t, shed, "/vessels/"+in.Vessel.ID.String()), "glasses of 400 mL left, between"); glasses != (how["pour"] != "") || in.Vessel.Name == "Whimbrel" && !glasses {
			t.Errorf("%s: glasses and their working: %v, %v", in.Vessel.Name, glasses, how["pour"] != "")
		}
		for _, name := range []string{"alcohol", "carbonation", "relief"} {
			if how[name] == "" {
				t.Errorf("%s: nothing leads to %s with its numbers", in.Vessel.Name, name)
			}
		}
	}
}

// A time that is awaited opens into its working, on the page of its vessel; so does the gas that vessels may still take.
func TestDatesOpenIntoTheirWorking(t *testing.T) {
	s := newShed(t)
	d := parse(t, get(s, "/coming-up"))
	awaited := d.class("how")
	if len(awaited) == 0 {
		t.Fatal("nothing on Coming up leads to its working")
	}
	found := map[string]bool{}
	for _, a := range awaited {
		path, anchor, _ := strings.Cut(attribute(a, "href"), "#")
		page := parse(t, get(s, path))
		if page.ids[anchor] == nil {
			t.Fatalf("%s has no %s", path, anchor)
		}
		how := text(page.ids[anchor])
		if strings.HasPrefix(path, "/what-i-have/") { // how long the gas of a cylinder lasts
			want(t, path, how, "a week. To order takes a week (assumption).")
			continue
		}
		want(t, path, how, "Middle", "Odds are the share that is there in time.")
		for name := range workings(t, s, path) {
			found[name] = true
		}
	}
	if !found["absorption"] {
		t.Errorf("no date of the shed leads to absorption with its numbers: %v", found)
	}
}

// What a vessel still has before it is worked out with its own numbers: how long it cools in its fridge, how long it takes
// gas, and what it may still take from a cylinder. Where that means nothing there is no working.
func TestWorkingOfWhatIsStillToCome(t *testing.T) {
	s, psi := newSite(t), func(x float64) unit.Gauge { return unit.Gauge(x * unit.PSI) }
	warm := func() *stood {
		v := inFridge("Dunlin", 2, psi(12), psi(10), batch.ID{7})
		rec, n := v.Seen.State.Record, &v.Seen.Told.Forecast.Now
		rec.Place.Fridge, rec.Target.Temperature, rec.Vessel.Diameter = &batch.Fridge{Coldest: unit.Celsius(1)}, unit.Celsius(3), 0.3
		n.Temperature.P50, n.Volumes.P50 = float64(unit.Celsius(19)), 1.6
		return v
	}
	_, takes := stillTakes(warm(), 2)
	for name, c := range map[string]struct{ path, says string }{
		"cooldown":   {warm().coolLink().Path, "4.0 °C"}, // within one of 3 °C
		"absorption": {warm().takeLink().Path, "2.5 volumes"},
		"cylinder":   {takes.Path, "Batches that the cylinder still carries"},
	} {
		w := get(s, c.path)
		if d := parse(t, w); w.Code != http.StatusOK || len(d.class("working")) != 1 || !strings.HasPrefix(c.path, "/work-it-out/"+name+"?") {
			t.Errorf("%s: %d", c.path, w.Code)
		} else {
			want(t, name, strings.ReplaceAll(w.Body.String(), "4.0 C", "4.0 °C"), c.says)
		}
	}
	open := warm() // to the room: no fridge
	open.Seen.State.Record.Place.Fridge = nil
	full := warm()
	full.Seen.Told.Forecast.Now.Volumes.P50 = 2.6
	low := warm() // gas that never gets there
	*low.Seen.State.Record.Programme[0].Set.Gas = psi(1)
	if open.coolLink() != nil || full.takeLink() != nil || low.takeLink() != nil {
		t.Error("a working that means nothing")
	}
}
