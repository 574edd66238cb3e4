package web

import (
	"context"
	"math"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"golang.org/x/net/html"
	"golang.org/x/net/html/atom"

	"spile/advice"
	"spile/batch"
	"spile/internal/batchfile"
	"spile/internal/monitor"
	"spile/internal/store"
	"spile/unit"
	"spile/yeast"
)

// filled is a cellar in memory with vessels that are filled (invented), and a clock that is set by hand.
type filled struct {
	*Site
	t       *testing.T
	now     time.Time
	vessels map[string]batch.ID
	batches map[string]batch.ID
}

func (s *filled) clock() time.Time { return s.now }

// newFilled fills a vessel for each name, two days before now.
func newFilled(t *testing.T, names ...string) *filled {
	t.Helper()
	kept, err := store.OpenMemory()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { kept.Close() })
	s := &filled{t: t, now: time.Date(2026, 3, 4, 18, 0, 0, 0, time.UTC), vessels: map[string]batch.ID{}, batches: map[string]batch.ID{}}
	s.Site = New("test", quiet, monitor.New(kept, quiet, s.clock))
	s.patience = 0
	for _, name := range names {
		s.fill(name)
	}
	return s
}

func (s *filled) fill(name string) {
	rating, safety := unit.Gauge(2.5*unit.Bar), unit.Gauge(2.2*unit.Bar)
	plate := batch.Vessel{Capacity: 26 * unit.Litre, Diameter: 0.3, Rating: &rating, SafetyRelief: &safety}
	pitched := s.now.Add(-48 * time.Hour)
	vessel := batch.Entry{ID: store.NewID(), Kind: batch.KindThing, At: pitched, Made: pitched}
	vessel.Body = s.body(map[string]any{"is": "vessel", "name": name, "capacity_m3": 0.026, "diameter_m": 0.3, "rating_pa": 2.5e5, "safety_relief_pa": 2.2e5, "tare_kg": 4.1})
	relief := unit.Gauge(10 * unit.PSI)
	hold := unit.Celsius(20)
	beer := batch.Entry{ID: store.NewID(), Kind: batch.KindBatch, At: pitched, Made: pitched}
	beer.Batch = beer.ID
	beer.Body = s.body(batch.Record{Batch: batch.Batch{Name: "Sluice Gate Pale", Pitched: pitched, Wort: batch.Wort{Volume: 20 * unit.Litre, Gravity: 1.046},
		Yeast: batch.Yeast{Kind: yeast.Ale, Mass: 0.0115}, Vessel: plate, Place: batch.Place{Ambient: unit.Celsius(18)},
		Programme: []batch.Step{{AtSet: true, Set: batch.Setting{Hold: &hold, Relief: &relief}}}}, Uses: batch.Uses{Vessel: vessel.ID}})
	if _, err := s.watch.Keep(context.Background(), vessel, beer); err != nil {
		s.t.Fatal(err)
	}
	s.vessels[name], s.batches[name] = vessel.ID, beer.ID
}

func (s *filled) body(v any) []byte {
	b, err := batch.EncodeBody(v)
	if err != nil {
		s.t.Fatal(err)
	}
	return b
}

// foretold lets the forecasts be made, and goes on making them.
func (s *filled) foretold() *filled {
	s.t.Helper()
	ctx, end := context.WithCancel(context.Background())
	done := make(chan error)
	go func() { done <- s.watch.Run(ctx) }()
	s.t.Cleanup(func() { end(); <-done })
	for name, id := range s.batches {
		if seen, err := s.watch.Settle(ctx, id, time.Minute); err != nil || !seen.Fresh() {
			s.t.Fatal(name, seen, err)
		}
	}
	return s
}

func (s *filled) at(name, door string) string { return "/vessels/" + s.vessels[name].String() + door }

// log is what the log of a batch says now.
func (s *filled) log(name string) batch.State {
	s.t.Helper()
	entries, _, err := s.watch.Store().Log(context.Background(), s.batches[name], 0)
	if err != nil {
		s.t.Fatal(err)
	}
	return batch.Derive(s.batches[name], entries)
}

// entries counts those of a log.
func (s *filled) entries(name string) int {
	entries, _, err := s.watch.Store().Log(context.Background(), s.batches[name], 0)
	if err != nil {
		s.t.Fatal(err)
	}
	return len(entries)
}

// form is what a page would send: its hidden fields and what is chosen already, with values put in.
func (s *filled) form(address string, values ...string) url.Values {
	s.t.Helper()
	w := get(s.Site, address)
	if w.Code != http.StatusOK {
		s.t.Fatalf("%s: %d\n%s", address, w.Code, w.Body)
	}
	return filledIn(s.t, w, values...)
}

func filledIn(t *testing.T, w *httptest.ResponseRecorder, values ...string) url.Values {
	t.Helper()
	out := url.Values{}
	d := parse(t, w)
	for n := range d.ids["form"].Descendants() {
		_, checked := attributes(n)["checked"]
		_, selected := attributes(n)["selected"]
		switch {
		case selected:
			out.Add(attribute(n.Parent, "name"), attribute(n, "value"))
		case n.DataAtom == atom.Textarea:
			out.Add(attribute(n, "name"), text(n))
		case n.DataAtom != atom.Input || attribute(n, "name") == "":
		case attribute(n, "type") == "hidden", attribute(n, "type") == "text", checked:
			out.Add(attribute(n, "name"), attribute(n, "value"))
		}
	}
	for i := 0; i+1 < len(values); i += 2 {
		if !out.Has(values[i]) && values[i] != "sure" && values[i] != "just" && !d.asks(values[i]) {
			t.Fatalf("the page does not ask for %q", values[i])
		}
		out.Set(values[i], values[i+1])
	}
	return out
}

func (d *document) asks(name string) bool {
	for n := range d.root.Descendants() {
		if n.Type == html.ElementNode && attribute(n, "name") == name {
			return true
		}
	}
	return false
}

// send sends a form and gives the page that it leads to.
func (s *filled) send(address string, form url.Values) *httptest.ResponseRecorder {
	s.t.Helper()
	w := post(s.Site, address, form)
	if w.Code != http.StatusSeeOther {
		d := parse(s.t, w)
		s.t.Fatalf("%s with %v: %d\n%s", address, form, w.Code, text(d.all(atom.Main)[0]))
	}
	return get(s.Site, w.Header().Get("Location"))
}

func (s *filled) refused(address string, form url.Values) *document {
	s.t.Helper()
	w := post(s.Site, address, form)
	if w.Code != http.StatusUnprocessableEntity {
		s.t.Fatalf("%s with %v: expected 422, got %d to %s", address, form, w.Code, w.Header().Get("Location"))
	}
	d := parse(s.t, w)
	checkPage(s.t, address, w.Body.String(), d)
	if title := text(d.all(atom.Title)[0]); !strings.HasPrefix(title, "Error: ") || len(d.class("problem")) != 1 {
		s.t.Errorf("%s: the title is %q, and there are %d summaries", address, title, len(d.class("problem")))
	}
	return d
}

func main(t *testing.T, w *httptest.ResponseRecorder) string {
	t.Helper()
	return text(parse(t, w).all(atom.Main)[0])
}

// Every page of these is whole HTML and says no word of the workshop.
func TestEntryPages(t *testing.T) {
	s := newFilled(t, "Dunlin").foretold()
	addresses := []string{s.at("Dunlin", "/i-read"), s.at("Dunlin", "/i-did"), s.at("Dunlin", "/i-noticed"), "/round"}
	for _, d := range deeds {
		addresses = append(addresses, s.at("Dunlin", "/i-did?what="+d.Key))
	}
	for _, address := range addresses {
		w := get(s.Site, address)
		if w.Code != http.StatusOK {
			t.Fatalf("%s: %d\n%s", address, w.Code, w.Body)
		}
		checkPage(t, address, w.Body.String(), parse(t, w))
	}
	expectedIsNotRead(t, s)
}

// An expected value that nobody touched is no reading; one that was confirmed is.
func expectedIsNotRead(t *testing.T, s *filled) {
	t.Helper()
	door := s.at("Dunlin", "/i-read")
	form := s.form(door)
	before := s.entries("Dunlin")
	d := s.refused(door, form)
	if !strings.Contains(text(d.class("problem")[0]), "Nothing new was read yet") || s.entries("Dunlin") != before {
		t.Error("a form that nobody touched was kept")
	}
	field := parse(t, get(s.Site, door)).ids["field-pressure"]
	expected := attribute(field, "data-expected")
	if attribute(field, "value") != "" || expected == "" || attribute(field, "data-step") != "0.5" {
		t.Fatalf("the field for pressure: %v", attributes(field))
	}
	s.send(door, s.form(door, "just", "pressure"))
	log := s.log("Dunlin").Log
	want, _, _ := pressureRead.read(unit.Style{}, expected, "psi", nil)
	if len(log.Readings) != 1 || log.Readings[0].Quantity != batch.Pressure || log.Readings[0].Value != want {
		t.Errorf("expected %s psi alone, got %+v", expected, log.Readings)
	}
}

// The same form sent twice is one entry; sent again with other numbers it corrects.
func TestSentTwice(t *testing.T) {
	s := newFilled(t, "Dunlin")
	door := s.at("Dunlin", "/i-read")
	form := s.form(door, "pressure", "9", "temperature", "20", "where", inBeer)
	s.send(door, form)
	s.now = s.now.Add(20 * time.Second)
	s.send(door, form)
	if n := s.entries("Dunlin"); n != 3 {
		t.Errorf("the log has %d entries, want the batch and one for each instrument", n)
	}
	form.Set("pressure", "9.5")
	page := main(t, s.send(door, form))
	log := s.log("Dunlin").Log
	if len(log.Readings) != 2 || !strings.Contains(page, "Corrected: 9.5 psi") {
		t.Errorf("the log holds %+v; the page says\n%s", log.Readings, page)
	}
	for _, r := range log.Readings {
		if r.Quantity == batch.Pressure && math.Abs(r.Value-9.5*psiPa) > 1e-6 || r.Quantity == batch.Temperature && r.Instrument != "probe" || !r.Time.Equal(s.now.Add(-20*time.Second)) {
			t.Errorf("the log holds %+v", r)
		}
	}
	s.now = s.now.Add(3 * time.Hour) // a page left open: what is typed then is new
	form.Set("pressure", "10.5")
	s.send(door, form)
	if n := len(s.log("Dunlin").Log.Readings); n != 3 {
		t.Errorf("%d readings, want 3", n)
	}
}

// What was kept is taken back with one tap, and put back with one more.
func TestTakeBack(t *testing.T) {
	s := newFilled(t, "Dunlin")
	door := s.at("Dunlin", "/i-read")
	w := s.send(door, s.form(door, "pressure", "9", "temperature", "20", "where", inBeer))
	undo := func(w *httptest.ResponseRecorder) (string, url.Values) {
		for _, f := range parse(t, w).all(atom.Form) {
			form := url.Values{}
			for n := range f.Descendants() {
				if n.DataAtom == atom.Input {
					form.Add(attribute(n, "name"), attribute(n, "value"))
				}
			}
			if form.Get("do") == "take-back" {
				return attribute(f, "action"), form
			}
		}
		t.Fatalf("nothing to take back on:\n%s", main(t, w))
		return "", nil
	}
	readings := s.log("Dunlin").Log.Readings
	gauge := readings[slices.IndexFunc(readings, func(r batch.Reading) bool { return r.Quantity == batch.Pressure })]
	before := s.at("Dunlin", "?kept=") + gauge.Entry.String()
	for _, want := range []int{0, 2, 0, 2} {
		address, form := undo(w)
		w = s.send(address, form)
		if n := len(s.log("Dunlin").Log.Readings); n != want {
			t.Fatalf("%d readings hold, want %d:\n%s", n, want, main(t, w))
		}
		switch said := strings.Join(strings.Fields(main(t, get(s.Site, before))), " "); { // where going back in the browser leads
		case want == 0 && (!strings.Contains(said, "Undone since. 9 psi") || strings.Contains(said, "Sent.") || strings.Contains(said, "Take that back")):
			t.Errorf("taken back, and the page before says still:\n%s", said)
		case want > 0 && !strings.Contains(said, "Sent. 9 psi"):
			t.Errorf("put back, and the page before says:\n%s", said)
		}
	}
	s.now = s.now.Add(time.Minute)
	if page := main(t, get(s.Site, w.Result().Header.Get("Location")+"/")); strings.Contains(page, "Take that back") {
		t.Error("the button stays")
	}
}

// Any time later an entry can be corrected, taken back and put back on a page of its own.
func TestOneEntry(t *testing.T) {
	s := newFilled(t, "Dunlin")
	door := s.at("Dunlin", "/i-read")
	s.send(door, s.form(door, "pressure", "9 psi", "when", "two hours ago"))
	first := s.log("Dunlin").Log.Readings[0]
	if got := s.now.Sub(first.Time); got != 2*time.Hour || first.Uncertain == 0 {
		t.Errorf("two hours ago: %v before, give or take %v", got, first.Uncertain)
	}
	s.now = s.now.Add(5 * time.Hour)
	address := s.at("Dunlin", "/entries/"+first.Entry.String())
	w := get(s.Site, address)
	checkPage(t, address, w.Body.String(), parse(t, w))
	form := filledIn(t, w, "part-a", "8 psi")
	s.send(address, form)
	now := s.log("Dunlin").Log.Readings
	if len(now) != 1 || math.Abs(now[0].Value-8*psiPa) > 1e-6 || !now[0].Time.Equal(first.Time) || now[0].Uncertain != first.Uncertain {
		t.Errorf("corrected: %+v", now)
	}
	form = filledIn(t, get(s.Site, address), "when", "today at 13:00")
	s.send(address, form)
	if now = s.log("Dunlin").Log.Readings; now[0].Time.Hour() != 13 || math.Abs(now[0].Value-8*psiPa) > 1e-6 {
		t.Errorf("time corrected: %+v", now)
	}
	for _, want := range []int{0, 1, 0} {
		form = url.Values{"do": {"take-back"}, "id": {store.NewID().String()}}
		d := parse(t, get(s.Site, address))
		s.send(attribute(d.all(atom.Form)[0], "action"), form)
		if n := len(s.log("Dunlin").Log.Readings); n != want {
			t.Errorf("%d readings hold, want %d", n, want)
		}
	}
	if page := main(t, get(s.Site, address)); !strings.Contains(page, "Taken back. It no longer counts.") || strings.Contains(page, "It should have said") {
		t.Errorf("a reading that was taken back:\n%s", page)
	}
}

// Every deed is kept as what it is, with its caution before the button.
func TestIDid(t *testing.T) {
	for _, c := range []struct {
		key     string
		answers []string
		event   string
		caution string
	}{
		{"vent", []string{"from", "10 psi", "to", "8"}, "vent 10 psi to 8 psi", "no smell"},
		{"gas-on", []string{"set", "10"}, "gas on 10 psi", "Knob backed off first"},
		{"gas-off", nil, "gas off", ""},
		{"valve", []string{"set", "0.7 bar"}, "relief 0.7 bar", "above 29 psi."}, // 2.2 bar, the weaker of the two, is 31.9 psi, and a valve 2.6 psi off
		{"sample", []string{"volume", "150"}, "sample 0.15 L", "for adults"},
		{"open", nil, "opened", "Trust the silence"},
		{"hops", []string{"mass", "60 g"}, "dry hop 60 g", "Trust the silence"},
		{"shake", []string{"for", "5 min"}, "shaken 300 s", "lift with two"},
		{"cool", []string{"set", "1"}, "hold 1 C", "Gas on first"},
		{"warm", []string{"set", "22"}, "hold 22 C", "Dry hands"},
		{"pour", []string{"volume", "2 L"}, "poured 2 L", "Do not drive"},
		{"keg", []string{"volume", "9 L"}, "poured 9 L", "no smell"},
	} {
		s := newFilled(t, "Dunlin")
		door := s.at("Dunlin", "/i-did?what="+c.key)
		if page := main(t, get(s.Site, door)); !strings.Contains(page, c.caution) {
			t.Errorf("%s: %q does not stand before the button:\n%s", c.key, c.caution, page)
		}
		s.send(door, s.form(door, c.answers...))
		events := s.log("Dunlin").Log.Events
		if len(events) != 1 {
			t.Fatalf("%s: %d events", c.key, len(events))
		}
		if got := batchfile.EventText(events[0]); got != c.event {
			t.Errorf("%s: kept as %q, want %q", c.key, got, c.event)
		}
	}
}

func TestVentUpwards(t *testing.T) {
	s := newFilled(t, "Dunlin")
	door := s.at("Dunlin", "/i-did?what=vent")
	d := s.refused(door, s.form(door, "from", "8 psi", "to", "10 psi"))
	if !strings.Contains(text(d.class("problem")[0]), "more than before") {
		t.Errorf("said:\n%s", text(d.class("problem")[0]))
	}
	d = s.refused(door, s.form(door, "from", "8 psi"))
	if d.ids["field-to-error"] == nil {
		t.Error("the second pressure is not asked for")
	}
}

// Cleaned ends the batch where the beer is out, and is told to the vessel.
func TestCleaned(t *testing.T) {
	s := newFilled(t, "Dunlin")
	door := s.at("Dunlin", "/i-did?what=clean")
	s.send(door, s.form(door, "emptied", "no"))
	if state := s.log("Dunlin"); !state.Ended().IsZero() || len(state.Notes) != 1 {
		t.Errorf("the outside was cleaned, and the log says %+v", state.Notes)
	}
	s.now = s.now.Add(time.Hour)
	s.send(door, s.form(door, "emptied", "yes"))
	round, err := s.watch.Round(context.Background())
	if state := s.log("Dunlin"); err != nil || !state.Ended().Equal(s.now) || round[0].Seen != nil {
		t.Errorf("ended %v; in the vessel there is %v", state.Ended(), round[0].Seen)
	}
}

func TestINoticed(t *testing.T) {
	s := newFilled(t, "Dunlin")
	door := s.at("Dunlin", "/i-noticed")
	s.refused(door, s.form(door))
	page := main(t, s.send(door, s.form(door, "what", "ice", "words", "on the wall, outside")))
	state := s.log("Dunlin")
	if len(state.Log.Events) != 1 || state.Log.Events[0].Words != "ice" || len(state.Notes) != 1 || state.Notes[0].Words != "on the wall, outside" {
		t.Errorf("kept as %+v, %+v", state.Log.Events, state.Notes)
	}
	if !strings.Contains(page, "do not tap") {
		t.Errorf("the caution is missing in:\n%s", page)
	}
}

// That a glass was mostly foam is offered of beer that can be poured, and of no other.
func TestFoamInTheGlassIsOfferedWherePoured(t *testing.T) {
	for _, state := range advice.States() {
		v := &stood{State: state, InVessel: monitor.InVessel{Seen: &monitor.Seen{State: batch.State{Record: &batch.Record{}}}}}
		offered := slices.ContainsFunc(newNoticedForm(v, tastes{}).What.Options, func(o option) bool { return o.Value == batch.FoamInGlass })
		if want := state == advice.TakingGas || state == advice.Ready || state == advice.Pouring; offered != want {
			t.Errorf("%s: offered %v", state, offered)
		}
	}
}

// The round keeps what was typed of all vessels with one post; what was skipped makes nothing.
func TestRound(t *testing.T) {
	s := newFilled(t, "Dunlin", "Godwit", "Sanderling", "Turnstone")
	w := get(s.Site, "/round")
	d := parse(t, w)
	checkPage(t, "/round", w.Body.String(), d)
	if n := len(d.class("gauged")); n != 8 {
		t.Fatalf("%d fields, want two for each vessel", n)
	}
	p := func(name string) string { return "pressure-" + s.batches[name].String() }
	c := func(name string) string { return "temperature-" + s.batches[name].String() }
	form := filledIn(t, w, p("Dunlin"), "10", c("Dunlin"), "19", p("Godwit"), "0.7 bar", c("Turnstone"), "20,5")
	page := main(t, s.send("/round", form))
	s.send("/round", form)
	for name, want := range map[string]int{"Dunlin": 2, "Godwit": 1, "Sanderling": 0, "Turnstone": 1} {
		if got := len(s.log(name).Log.Readings); got != want {
			t.Errorf("%s: %d readings, want %d", name, got, want)
		}
		if strings.Contains(page, name) != (want > 0) {
			t.Errorf("%s on the page that follows:\n%s", name, page)
		}
	}
	form.Set(p("Sanderling"), "x")
	d = s.refused("/round", form)
	if attribute(d.ids["field-"+p("Dunlin")], "value") != "10" || !strings.Contains(text(d.class("problem")[0]), "Sanderling, pressure: I read “x”") {
		t.Errorf("said:\n%s", text(d.class("problem")[0]))
	}
}

// The page says what a reading changed.
func TestWhatAReadingChanged(t *testing.T) {
	s := newFilled(t, "Dunlin").foretold()
	s.patience = time.Minute
	door := s.at("Dunlin", "/i-read")
	page := main(t, s.send(door, s.form(door, "gravity", "1.016"))) // much faster than such a batch usually is
	if !strings.Contains(page, "Finish moved from") {
		t.Errorf("after a gravity of 1.016 on the second day the page says:\n%s", page)
	}
}

// Nothing of what is sent makes the server fail, and what cannot be read keeps nothing.
func TestOddForms(t *testing.T) {
	s := newFilled(t, "Dunlin")
	for _, door := range []string{s.at("Dunlin", "/i-read"), s.at("Dunlin", "/i-noticed"), s.at("Dunlin", "/i-did"), s.at("Dunlin", "/i-did?what=vent"), "/round",
		s.at("Dunlin", "/entries/"+store.NewID().String()), s.at("Dunlin", "/entries/x"), "/vessels/x/i-read", "/vessels/" + store.NewID().String() + "/i-did"} {
		for _, form := range []url.Values{{}, {"id": {"x"}}, {"pressure": {strings.Repeat("9", 5000)}}, {"what": {"<b>"}}, {"sure": {"|||", "pressure|", ""}, "pressure": {"12 bar"}}, {"when": {"\x00"}}, {"do": {"take-back"}},
			{"just": {"pressure", "temperature"}, "expected-pressure": {"x"}}, {"at": {"9999-01-01T00:00:00Z"}, "line": {"\n,;"}}, {"line": {"12 psi, 12 psi"}}, {"line": {"−½, "}}} {
			if w := post(s.Site, door, form); w.Code >= 500 || w.Code == http.StatusSeeOther {
				t.Errorf("%s with %v: %d", door, form, w.Code)
			}
		}
	}
	if n := s.entries("Dunlin"); n != 1 {
		t.Errorf("%d entries, want the batch alone", n)
	}
}
