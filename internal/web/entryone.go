package web

import (
	"context"
	"net/http"
	"slices"
	"strings"
	"time"

	"spile/advice"
	"spile/batch"
	"spile/internal/batchfile"
	"spile/unit"
	"spile/wording"
)

// oneForm is one thing that was told: it can be corrected, taken back, and put back.
type oneForm struct {
	*entryForm
	Vessel   *stood
	Says     string
	At, Made string
	By       string
	Written  string // as it was typed
	Back     bool   // it was taken back
	With     bool   // with all that came with it from one file
	Changes  []string
	Deed     *asking // the words; nil: there are none to change
	told     *batch.Said
	held     batch.Entry
	parts    []*heldPart
	first    string   // the time as the page began with it
	root     batch.ID // of the entry
	ends     batch.ID // of what is taken back by the button
}

// Here is the address of the page.
func (f *oneForm) Here() string { return f.Vessel.Path() + "/entries/" + f.root.String() }

// Address is where it is taken back: that of the taking-back, once it is.
func (f *oneForm) Address() string { return f.Vessel.Path() + "/entries/" + f.ends.String() }

// Undoing is the id of the entry that does so.
func (f *oneForm) Undoing() batch.ID { return nth(f.ID, 0xff) }

// Open tells that it can be corrected.
func (f *oneForm) Open() bool { return f.told != nil }

// Parts are its numbers.
func (f *oneForm) Parts() (out []*gauged) {
	for _, p := range f.parts {
		out = append(out, p.gauged)
	}
	return out
}

// heldPart is one number of what was told, with the question that changes it.
type heldPart struct {
	*gauged
	first string // as the page began with it
	was   float64
	put   func(*batch.Said, float64)
}

// threadOf is what happened to an entry: whether it holds, the taking-back that ended it,
// and all that is about it in the order in which it was made.
type threadOf struct {
	held   batch.Entry // as it holds, or held before it was taken back
	holds  bool
	taker  *batch.Entry
	about  []batch.Entry
	beside bool // it is gone for another reason than a taking-back of its own
}

// thread follows an entry through its log.
func (s *Site) thread(ctx context.Context, e batch.Entry) (t threadOf, err error) {
	log, _, err := s.watch.Store().Log(ctx, e.Batch, 0)
	if err != nil {
		return t, err
	}
	log = entangled(log, e.ID)
	ids := map[batch.ID]bool{e.ID: true}
	for again := true; again; {
		again = false
		for _, x := range log {
			if ids[x.Supersedes] && !ids[x.ID] && !x.Supersedes.IsZero() {
				ids[x.ID], again = true, true
				t.about = append(t.about, x)
			}
		}
	}
	slices.SortStableFunc(t.about, func(a, b batch.Entry) int { return a.Made.Compare(b.Made) })
	t.held = e
	holding := batch.Holding(log)
	gone := map[batch.ID]bool{}
	for i := range t.about {
		if x := &t.about[i]; x.Kind == batch.KindTakenBack && x.Supersedes == e.ID && holding[x.ID] {
			t.taker, gone[x.ID] = x, true
		}
	}
	t.holds, t.beside = holding[e.ID], !holding[e.ID] && t.taker == nil
	for _, h := range batch.Hold(slices.DeleteFunc(log, func(x batch.Entry) bool { return gone[x.ID] })) {
		if h.ID == e.ID {
			t.held = h.Entry
		}
	}
	return t, nil
}

// entangled are the lines of a log on which it can hang whether one of them holds, and as what: of thousands of readings few.
func entangled(log []batch.Entry, one batch.ID) (out []batch.Entry) {
	ids := map[batch.ID]bool{one: true}
	for i := range log {
		if !log[i].Supersedes.IsZero() {
			ids[log[i].Supersedes] = true
		}
	}
	for _, x := range log {
		if ids[x.ID] || !x.Supersedes.IsZero() || x.Kind == batch.KindImport || x.Kind == batch.KindClockShift {
			out = append(out, x)
		}
	}
	return out
}

// findEntry is the entry asked for. False has been answered already.
func (s *Site) findEntry(w http.ResponseWriter, r *http.Request) (v *stood, e batch.Entry, ok bool) {
	if v = s.find(w, r); v == nil {
		return v, e, false
	}
	id, err := batch.ParseID(r.PathValue("entry"))
	if err != nil {
		s.missing(w, r)
		return v, e, false
	}
	e, found, err := s.findOwn(r.Context(), v, id)
	switch {
	case err != nil:
		s.fail(w, r, err)
		return v, e, false
	case !found:
		s.missing(w, r)
		return v, e, false
	}
	return v, e, true
}

// oneEntry shows one thing that was told, corrects it, takes it back or puts it back.
func (s *Site) oneEntry(w http.ResponseWriter, r *http.Request) {
	v, e, ok := s.findEntry(w, r)
	if !ok {
		return
	}
	if r.Method == http.MethodPost && r.PostFormValue("do") == "take-back" {
		s.takeEntryBack(w, r, v, e)
		return
	}
	if !e.Supersedes.IsZero() { // the page is that of what it is about
		http.Redirect(w, r, v.Path()+"/entries/"+e.Supersedes.String(), http.StatusSeeOther)
		return
	}
	f, err := s.newOneForm(r, v, e)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	if s.takeEntries(w, r, f, "entry-one", "What was told") {
		s.goBack(w, r, v, f.kept)
	}
}

// takeEntryBack ends what was told, with all that the same form made, or brings it back where it
// was taken back: of an entry that is gone, the taking-back is taken back.
func (s *Site) takeEntryBack(w http.ResponseWriter, r *http.Request, v *stood, e batch.Entry) {
	id, err := batch.ParseID(r.PostForm.Get("id"))
	if err != nil {
		s.missing(w, r)
		return
	}
	all := []batch.Entry{e}
	for _, text := range r.PostForm["also"] {
		other, err := batch.ParseID(text)
		if err != nil {
			continue // somebody changed the form
		}
		if x, found, err := s.findOwn(r.Context(), v, other); err != nil {
			s.fail(w, r, err)
			return
		} else if found {
			all = append(all, x)
		}
	}
	now := v.Now
	for i, x := range all {
		all[i] = batch.Entry{ID: nth(id, byte(i)), Batch: x.Batch, Thing: x.Thing, Kind: batch.KindTakenBack, Supersedes: x.ID, At: now, Made: now}
	}
	kept, err := s.keepEach(r.Context(), all)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.goBack(w, r, v, kept)
}

func (s *Site) newOneForm(r *http.Request, v *stood, e batch.Entry) (*oneForm, error) {
	t, err := s.thread(r.Context(), e)
	if err != nil {
		return nil, err
	}
	f := &oneForm{entryForm: newEntryForm(v.Now.In(v.zone()), v.Style), Vessel: v, held: t.held, Back: !t.holds, With: t.beside && !t.holds, By: e.By}
	if f.root, f.ends = e.ID, e.ID; t.taker != nil {
		f.ends = t.taker.ID
	}
	words, err := s.wordsOf(r.Context(), v, &t.held)
	if err != nil {
		return nil, err
	}
	f.Says = words
	f.At, f.Made = v.remembered(t.held.At, t.held.Uncertain), v.remembered(e.Made, 0)
	for i := range t.about {
		words, err := s.wordsOf(r.Context(), v, &t.about[i])
		if err != nil {
			return nil, err
		}
		f.Changes = append(f.Changes, v.remembered(t.about[i].Made, 0)+": "+words)
	}
	if t.holds && (e.Kind == batch.KindReading || e.Kind == batch.KindAction || e.Kind == batch.KindNote) {
		if err := f.open(); err != nil {
			return nil, err
		}
	}
	return f, nil
}

// remembered writes a moment as it is known.
func (v *stood) remembered(at time.Time, uncertain unit.Duration) string {
	const nineInTen = 2 * 1.645
	band := time.Duration(float64(uncertain) * nineInTen * float64(time.Second))
	local := at.In(v.zone())
	if band < time.Hour {
		return v.Style.Say("%s at %s", advice.Day(local, v.Now, v.Style), v.Style.Time(local, "15:04"))
	}
	return advice.When(local, band, v.Now.In(v.zone()), v.Style)
}

// open asks what the entry should have said.
func (f *oneForm) open() error {
	said, err := f.held.Said()
	if err != nil {
		return err
	}
	f.told, f.Written = &said, said.Written
	for _, a := range []*amount{pressureRead, temperatureRead, gravityRead, vesselWeight, cylinderWeight, airRead} {
		if si, given := said.Value(a.reads); given {
			f.part(a.Name, a, si, func(s *batch.Said, si float64) { s.Put(a.reads, si) })
		}
	}
	if e := said.Event; e != nil {
		f.eventParts(e)
	}
	if said.Words != "" {
		f.Deed = f.ask(&asking{Name: "words", Label: "Words", Long: true, Typed: said.Words})
	}
	f.first = f.held.At.In(f.now.Location()).Format("2006-01-02 15:04")
	f.Earlier.Typed, f.Earlier.Label, f.Earlier.Optional = f.first, f.Style.Word("When"), false
	return nil
}

// part asks for one number, beginning with what was told.
func (f *oneForm) part(label wording.Text, a *amount, si float64, put func(*batch.Said, float64)) {
	g := f.gauge("part-"+string(rune('a'+len(f.parts))), f.Style.Word(label), a)
	g.Optional, g.Typed = false, f.Style.Duration(unit.Duration(si), 0)
	if a.of >= 0 {
		m := f.Style.Of(a.of, si)
		g.Unit, g.Typed = m.Unit, strings.TrimSuffix(exactly(m, si), " "+m.Said())
	}
	f.parts = append(f.parts, &heldPart{g, g.Typed, si, put})
}

// eventParts asks for the numbers of what was done.
func (f *oneForm) eventParts(e *batch.Event) {
	set := func(to func(*batch.Event, float64)) func(*batch.Said, float64) {
		return func(s *batch.Said, si float64) { to(s.Event, si) }
	}
	at := set(func(e *batch.Event, si float64) { e.Pressure = unit.Gauge(si) })
	volume := set(func(e *batch.Event, si float64) { e.Volume = unit.Volume(si) })
	switch e.Kind {
	case batch.SetRelief, batch.GasOn:
		f.part("Set to", setPressure, float64(e.Pressure), at)
	case batch.VentedTo:
		f.part("On the dial before", pressureRead, float64(e.From), set(func(e *batch.Event, si float64) { e.From = unit.Gauge(si) }))
		f.part("On the dial after", setPressure, float64(e.To), set(func(e *batch.Event, si float64) { e.To = unit.Gauge(si) }))
	case batch.SampleTaken, batch.Poured:
		f.part("How much", drawnVolume, float64(e.Volume), volume)
	case batch.HoldAt:
		f.part("Set to", setTemperature, float64(e.Temperature), set(func(e *batch.Event, si float64) { e.Temperature = unit.Temperature(si) }))
	case batch.Shaken:
		f.part("For how long", shakenFor, float64(e.For), set(func(e *batch.Event, si float64) { e.For = unit.Duration(si) }))
	case batch.DryHopped:
		f.part("How much", hopsMass, float64(e.Mass), set(func(e *batch.Event, si float64) { e.Mass = unit.Mass(si) }))
	case batch.ForcedSample:
		f.part("Gravity", gravityRead, float64(e.Gravity), set(func(e *batch.Event, si float64) { e.Gravity = unit.Gravity(si) }))
	}
}

// entries is the correction: all of what should have been said, what was not touched to the bit.
func (f *oneForm) entries() ([]batch.Entry, error) {
	if f.told == nil {
		f.Beside = f.Style.Word("This cannot be corrected. It can be taken back, and told anew.")
		return nil, nil
	}
	said := *f.told
	if said.Event != nil {
		event := *said.Event
		said.Event = &event
	}
	for _, p := range f.parts {
		if p.Typed == p.first {
			continue
		}
		if si, given := f.value(p.gauged); given {
			p.put(&said, si)
		}
	}
	when := moment{f.held.At, f.held.Uncertain}
	if f.Earlier.Typed != f.first {
		when = f.moment()
	}
	if f.Deed != nil {
		said.Words = f.Deed.Typed
	}
	f.missing(f.Style.Tongue)
	f.checkEvent(said.Event)
	if f.Bad() {
		return nil, nil
	}
	e, err := f.entry(f.held.Batch, batch.KindCorrection, when, 0, &said)
	e.Supersedes, e.Thing = f.held.ID, f.held.Thing
	return []batch.Entry{e}, err
}

// checkEvent holds what was done to what can be done.
func (f *oneForm) checkEvent(e *batch.Event) {
	if e == nil || f.Bad() || e.Kind == batch.Noticed {
		return
	}
	if _, err := batchfile.ParseEvent(batchfile.EventText(*e)); err != nil {
		f.parts[len(f.parts)-1].Error = f.Style.Say(notMeant, refused(f.Style.Tongue, err))
	}
}
