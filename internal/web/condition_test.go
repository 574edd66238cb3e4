package web

import (
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

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
	gas := s.at("Dunlin", "/i-did?what=gas-on")
	want(t, "before gas goes in", mainText(t, s.Site, gas), says)
	want(t, "once gas went in", text(parse(t, s.send(gas, s.form(gas, "set", "10 psi"))).class("echo")[0]), says)
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
				want(t, "the caution", text(n), "Take care: Foam is near the valve.", "Pressure is above the valve setting and rising. Keep faces away.")
			}
		}
	}
	if class := attribute(card, "class"); signs != 1 || cautions != 1 || !strings.Contains(class, "now") {
		t.Errorf("%d signs and %d cautions on a card %q; want one of each", signs, cautions, class)
	}
}

// Before the button stands what this vessel itself asks for: a leak test before gas, a rest before the cold.
func TestCautionsBeforeTheDeed(t *testing.T) {
	const unproved, butter, lid = "No passed leak test of this vessel is written down.", "Do the butter test first.", "the gas pushes a lid of 10 cm with about"
	s := newFilled(t, "Dunlin")
	judge := func(verdict batch.Verdict) {
		e := batch.Entry{ID: store.NewID(), Kind: batch.KindJudgement, At: s.now, Made: s.now, Thing: s.vessels["Dunlin"], Body: s.body(&batch.Judgement{Verdict: verdict})}
		if _, err := s.watch.Keep(t.Context(), e); err != nil {
			t.Fatal(err)
		}
		s.now = s.now.Add(time.Minute)
	}
	gas := s.at("Dunlin", "/i-did?what=gas-on")
	want(t, "gas on, never tested", mainText(t, s.Site, gas), unproved)
	judge(batch.LeakTestPassed)
	wantNot(t, "gas on, tested", mainText(t, s.Site, gas), unproved)
	judge(batch.LeakTestFailed)
	want(t, "gas on, the test failed since", mainText(t, s.Site, gas), unproved)
	want(t, "cooling, before the first look", mainText(t, s.Site, s.at("Dunlin", "/i-did?what=cool")), butter)
	wantNot(t, "opening, before the first look", mainText(t, s.Site, s.at("Dunlin", "/i-did?what=open")), lid)
	s.foretold()
	for _, deed := range []string{"open", "hops", "clean"} { // two days of work have filled the room above the beer
		want(t, deed, mainText(t, s.Site, s.at("Dunlin", "/i-did?what="+deed)), lid, "Trust the silence")
	}
	want(t, "cooling while it works", mainText(t, s.Site, s.at("Dunlin", "/i-did?what=cool")), butter)
	s.send(s.at("Dunlin", "/i-did"), s.form(s.at("Dunlin", "/i-did?what=cool"), "set", "1")) // a caution, never a refusal
	if events := s.log("Dunlin").Log.Events; len(events) != 1 || events[0].Kind != batch.HoldAt {
		t.Errorf("cooling was kept as %+v", events)
	}
}
