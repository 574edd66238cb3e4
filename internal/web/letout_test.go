package web

import (
	"net/url"
	"strings"
	"testing"
	"time"

	"golang.org/x/net/html/atom"

	"spile/batch"
	"spile/internal/store"
	"spile/unit"
)

// A drop of the dial that nobody explains is asked about on the page.
func TestDidYouLetSomeOut(t *testing.T) {
	s := newFilled(t, "Dunlin")
	for h, psi := range map[float64]float64{20: 6, 24: 8, 28: 9.5, 32: 9.5, 36: 9.5, 40: 9.5, 44: 9.5, 45: 3, 46: 4.5, 47: 6} {
		at := s.now.Add(-48 * time.Hour).Add(time.Duration(h * float64(time.Hour)))
		var said batch.Said
		said.Put(batch.Pressure, psi*float64(unit.PSI))
		e := batch.Entry{ID: store.NewID(), Batch: s.batches["Dunlin"], Kind: batch.KindReading, At: at, Made: at, Body: s.body(&said)}
		if _, err := s.watch.Keep(t.Context(), e); err != nil {
			t.Fatal(err)
		}
	}
	s.foretold()
	page := get(s.Site, s.at("Dunlin", ""))
	checkPage(t, "the vessel's page", page.Body.String(), parse(t, page))
	asked := parse(t, page).class("answers")
	if len(asked) != 1 {
		t.Fatalf("%d times it is asked whether gas was let out; want once", len(asked))
	}
	forms := map[string]url.Values{}
	for n := range asked[0].Descendants() {
		if n.DataAtom != atom.Form {
			continue
		}
		values, button := url.Values{}, ""
		for x := range n.Descendants() {
			switch x.DataAtom {
			case atom.Input:
				values.Set(attribute(x, "name"), attribute(x, "value"))
			case atom.Button:
				button = strings.TrimSpace(text(x))
			}
		}
		forms[button] = values
	}
	if len(forms) != 3 {
		t.Fatalf("the answers are %v", forms)
	}

	form := s.form(s.at("Dunlin", "/i-did?"+forms["Yes"].Encode()))
	for name, want := range map[string]string{"from": "9.5 psi", "to": "3 psi"} {
		if got := form.Get(name); got != want {
			t.Errorf("yes: %s is %q, want %q", name, got, want)
		}
	}
	s.send(s.at("Dunlin", "/i-did"), form)
	events := s.log("Dunlin").Log.Events
	if len(events) != 1 || events[0].Kind != batch.VentedTo || events[0].Time.Before(s.now.Add(-4*time.Hour)) || events[0].Time.After(s.now.Add(-3*time.Hour)) || events[0].Uncertain == 0 {
		t.Errorf("yes was kept as %+v; want a let-down between the two readings", events)
	}

	main := main(t, s.send(s.at("Dunlin", "/i-noticed"), forms["No"]))
	want(t, "after No", main, "No gas was let out about this afternoon, Wednesday 4 March.")
	if notes := s.log("Dunlin").Notes; len(notes) != 1 || notes[0].Words != forms["No"].Get("words") {
		t.Errorf("no was kept as %+v", notes)
	}
	if words := forms["Not sure"].Get("words"); words != "Not sure whether gas was let out about this afternoon, Wednesday 4 March." {
		t.Errorf("not sure says %q", words)
	}
}
