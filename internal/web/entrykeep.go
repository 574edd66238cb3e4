package web

import (
	"bytes"
	"context"
	"errors"
	"net/http"
	"strings"
	"time"

	"spile/advice"
	"spile/batch"
	"spile/internal/store"
	"spile/limit"
	"spile/unit"
	"spile/wording"
)

const (
	patience  = 1500 * time.Millisecond // for the forecast to know what was kept
	takeBack  = 30 * time.Second        // for which the button stays
	sameFlow  = 10 * time.Minute        // in which the same form sent with other numbers corrects what it made
	keptQuery = "kept"
)

// findFilled is the vessel asked for, where something is in it. A nil has been answered already.
func (s *Site) findFilled(w http.ResponseWriter, r *http.Request) *stood {
	v := s.find(w, r)
	switch {
	case v == nil:
	case v.Seen == nil:
		s.show(w, r, http.StatusNotFound, "error", page{Said: v.Style.Say("Nothing is in %s", v.Name()), Here: "/", Content: wording.Text("Fill it first. What is read before that belongs to no beer.")})
		return nil
	case !v.Seen.Ended.IsZero():
		s.showEnded(w, r)
		return nil
	}
	return v
}

// showEnded says that nothing more is kept of a batch.
func (s *Site) showEnded(w http.ResponseWriter, r *http.Request) {
	s.show(w, r, http.StatusNotFound, "error", page{Title: "This batch has ended", Here: "/", Content: wording.Text("Its vessel was emptied. What was told before can still be changed, from Everything so far.")})
}

// zone is that of the person who looks, else of the batch.
func (v *stood) zone() *time.Location {
	if v.Style.Zone != nil || v.Seen == nil {
		return v.Style.In(v.Now, v.Now.Location()).Location()
	}
	return v.Seen.State.Record.Pitched.Location()
}

// entryMaker is a form that makes entries.
type entryMaker interface {
	read(r *http.Request) error
	entries() ([]batch.Entry, error)
	base() *entryForm
}

func (f *entryForm) base() *entryForm { return f }

// takeEntries shows a form, or keeps what was sent with it. Where it is false, that was answered.
func (s *Site) takeEntries(w http.ResponseWriter, r *http.Request, f entryMaker, name string, title wording.Text) (kept bool) {
	p, status := page{Title: title, Here: "/", Cautious: true, Content: f}, http.StatusOK
	if r.Method == http.MethodPost {
		if err := f.read(r); err != nil {
			s.show(w, r, http.StatusBadRequest, "error", page{Title: "The form could not be read", Content: wording.Text("Nothing was kept. Go back and send it once more.")})
			return false
		}
		entries, err := f.entries()
		if err == nil && !f.base().Bad() {
			f.base().kept, err = s.keepEach(r.Context(), entries)
		}
		status = http.StatusUnprocessableEntity
		var fault *store.Fault
		switch {
		case errors.As(err, &fault): // a full disk: what was typed stays on the page
			s.log.Error("keeping", "err", err)
			f.base().Beside, status = fault.Sentence, http.StatusInsufficientStorage
		case err != nil:
			s.fail(w, r, err)
			return false
		case !f.base().Bad():
			return true
		}
		p.Bad = true
		for _, g := range f.base().gauges {
			g.First = false // the summary has the focus
		}
	}
	s.show(w, r, status, name, p)
	return false
}

// goBack goes to the vessel, which says what was kept and what that changed.
func (s *Site) goBack(w http.ResponseWriter, r *http.Request, v *stood, kept []batch.Entry) {
	s.settle(r.Context(), kept)
	http.Redirect(w, r, v.Path()+"?"+keptQuery+"="+ids(kept), http.StatusSeeOther)
}

// settle waits a moment for the forecasts to know what was kept.
func (s *Site) settle(ctx context.Context, kept []batch.Entry) {
	over, done := context.WithTimeout(ctx, s.patience)
	defer done()
	seen := map[batch.ID]bool{{}: true}
	for _, e := range kept {
		if seen[e.Batch] {
			continue
		}
		seen[e.Batch] = true
		if _, err := s.watch.Settle(over, e.Batch, s.patience); err != nil && over.Err() == nil {
			s.log.Error("waiting for a forecast", "err", err) // it is kept; the page says that it is still looked at
		}
	}
}

// ids writes the ids of entries for an address.
func ids(entries []batch.Entry) string {
	var out []string
	for _, e := range entries {
		out = append(out, e.ID.String())
	}
	return strings.Join(out, ",")
}

// keepEach keeps entries that a form made. The same form sent again is the same entries;
// sent again with other numbers, as after going back to it, it corrects them; from a page
// that was left open for longer it makes new ones.
func (s *Site) keepEach(ctx context.Context, entries []batch.Entry) (kept []batch.Entry, err error) {
	var wanted []batch.Entry
	for _, e := range entries {
		before, found, err := s.watch.Store().Find(ctx, e.ID)
		if err != nil {
			return nil, err
		}
		if found {
			if e, found = s.again(ctx, before, e); found {
				kept = append(kept, e)
				continue
			}
		}
		wanted = append(wanted, e)
	}
	if len(wanted) == 0 {
		return kept, nil
	}
	_, err = s.watch.Keep(ctx, signed(ctx, wanted)...)
	if errors.Is(err, store.ErrOther) { // sent twice at the same moment
		return s.keepEach(ctx, entries)
	}
	return append(kept, wanted...), err
}

// again is what becomes of an entry whose id is kept already: found where nothing is to be kept.
func (s *Site) again(ctx context.Context, before, e batch.Entry) (now batch.Entry, found bool) {
	held, there := s.held(ctx, before)
	switch {
	case !there && bytes.Equal(before.Body, e.Body):
		return before, true // taken back since: sending the form again does not undo that
	case bytes.Equal(held.Body, e.Body):
		return before, true
	case !before.Supersedes.IsZero() || e.Made.Sub(before.Made) > sameFlow:
		e.ID = store.NewID()
		return e, false
	}
	if e.At.Equal(e.Made) { // no time was told: it is still that of the first sending
		e.At, e.Uncertain = held.At, held.Uncertain
	}
	e.Supersedes, e.Kind, e.ID = before.ID, batch.KindCorrection, store.NewID()
	return e, false
}

// held is an entry as it holds now; there is false where it was taken back.
func (s *Site) held(ctx context.Context, e batch.Entry) (h batch.Held, there bool) {
	entries, _, err := s.watch.Store().Log(ctx, e.Batch, 0)
	if err != nil {
		s.log.Error("reading a log", "err", err)
		return h, false
	}
	for _, h := range batch.Hold(entries) {
		if h.ID == e.ID {
			return h, true
		}
	}
	return h, false
}

// echo is what a page says after something was kept.
type echo struct {
	For     batch.ID // the first entry
	Says    []string // what was kept
	Meaning []string // what it means
	Changed []string // what it changed
	Waiting bool     // that is still being worked out
	Limits  []aware  // limits that it passes
	Back    string   // address of the form that takes it back; empty: it stays
	Others  []string // ids that are taken back with it
	ID      batch.ID // of the entry that takes it back
	Undo    string   // what the button says
	More    string   // address where it can be corrected
	Undone  bool     // it no longer counts: somebody went back in the browser to what was kept then
}

// echoOf says what was just kept, by the ids in the address; nil where there is none.
func (s *Site) echoOf(r *http.Request, v *stood) (*echo, error) {
	list := r.URL.Query().Get(keptQuery)
	if list == "" {
		return nil, nil
	}
	var entries []batch.Entry
	for _, text := range strings.SplitN(list, ",", 12) {
		id, err := batch.ParseID(text)
		if err != nil {
			continue // somebody changed the address
		}
		e, found, err := s.findOwn(r.Context(), v, id)
		if err != nil {
			return nil, err
		}
		if found {
			entries = append(entries, e)
		}
	}
	if len(entries) == 0 {
		return nil, nil
	}
	counting, err := s.counting(r.Context(), entries)
	if err != nil {
		return nil, err
	}
	if len(counting) > 0 {
		return s.echo(r.Context(), v, counting)
	}
	out, err := s.echo(r.Context(), v, entries)
	if err == nil {
		out.Undone, out.Back, out.Meaning, out.Changed, out.Waiting, out.Limits = true, "", nil, nil, false, nil
	}
	return out, err
}

// counting are those of the entries that count still, each as it was corrected.
func (s *Site) counting(ctx context.Context, entries []batch.Entry) (out []batch.Entry, err error) {
	for _, e := range entries {
		t, err := s.thread(ctx, e)
		if err != nil {
			return nil, err
		}
		if t.holds {
			out = append(out, t.held)
		}
	}
	return out, nil
}

// findOwn is the entry of an id, where it is about this vessel.
func (s *Site) findOwn(ctx context.Context, v *stood, id batch.ID) (e batch.Entry, found bool, err error) {
	if e, found, err = s.watch.Store().Find(ctx, id); err == nil && found {
		found, err = s.owns(ctx, v, &e)
	}
	return e, found, err
}

// owns tells whether an entry is about this vessel, what is in it, or the cylinder that it hangs on.
func (s *Site) owns(ctx context.Context, v *stood, e *batch.Entry) (bool, error) {
	switch {
	case v.Seen != nil && e.Batch == v.Seen.ID, v.Vessel != nil && e.Batch.IsZero() && e.Thing == v.Vessel.ID:
		return true, nil
	case !e.Batch.IsZero() || e.Thing.IsZero():
		return false, nil
	}
	cylinder, err := s.cylinderOf(ctx, v)
	return e.Thing == cylinder, err
}

// cylinderOf is the cylinder of the cellar that the vessel hangs on, zero where none is known to.
func (s *Site) cylinderOf(ctx context.Context, v *stood) (batch.ID, error) {
	if v.Vessel == nil {
		return batch.ID{}, nil
	}
	things, err := s.watch.Things(ctx)
	cylinder, _ := things.HangsOn(v.Vessel.ID)
	return cylinder, err
}

func (s *Site) echo(ctx context.Context, v *stood, entries []batch.Entry) (*echo, error) {
	first := &entries[0]
	out := &echo{For: first.ID, ID: store.NewID(), Undo: "Take that back", More: v.Path() + "/entries/" + first.ID.String()}
	for i := range entries {
		words, err := s.wordsOf(ctx, v, &entries[i])
		if err != nil {
			return nil, err
		}
		out.Says = append(out.Says, words)
		if said, err := entries[i].Said(); err == nil && entries[i].Kind == batch.KindAction && meaning(said.Event, v.Style) != "" {
			out.Meaning = append(out.Meaning, meaning(said.Event, v.Style))
		}
	}
	for _, e := range entries[1:] {
		out.Others = append(out.Others, e.ID.String())
	}
	if v.Now.Sub(entries[len(entries)-1].Made) < takeBack {
		out.Back = out.More
	}
	if first.Kind == batch.KindTakenBack {
		out.Undo = "Put it back"
	}
	if v.Seen != nil {
		out.Changed, out.Waiting = v.changed(entries)
		out.Limits = v.passedBy(entries)
	}
	return out, nil
}

// changed says what entries moved, or that this is still being worked out.
func (v *stood) changed(entries []batch.Entry) (says []string, waiting bool) {
	told := v.Seen.Told
	if !v.Seen.Fresh() {
		return nil, v.Seen.Ended.IsZero() && v.Seen.Failed == ""
	}
	if told.Changed == nil {
		return []string{v.Style.Word("It moves no date.")}, false
	}
	for _, e := range entries {
		if e.ID == told.Changed.By {
			c := told.Changed
			return []string{advice.Moved(c.Milestone, c.Before, c.After, v.Now.In(v.zone()), v.Style)}, false
		}
	}
	return nil, false
}

// passedBy are the limits that what was just kept passes by itself, whatever is believed.
func (v *stood) passedBy(entries []batch.Entry) []aware {
	plate := v.Seen.State.Record.Vessel
	look := limit.Vessel{Rating: plate.Rating, SafetyRelief: plate.SafetyRelief}
	for i := range entries {
		if said, err := entries[i].Said(); err == nil {
			lookAt(&look, &said)
		}
	}
	var found []limit.Finding
	for _, f := range limit.Check(look) {
		if ownLimits[f.Kind] && f.Value.Known || f.Kind == limit.WasFrozen {
			found = append(found, f)
		}
	}
	if look.Regulator != nil { // gas goes in: no pressure before what is amiss with the vessel itself was seen to
		found = append(found, v.condition()...)
	}
	return awareOf(v.worded(found))
}

// lookAt hands what was read or set to the limits.
func lookAt(look *limit.Vessel, said *batch.Said) {
	if p, given := said.Value(batch.Pressure); given {
		look.Measured = gaugeOf(p)
	}
	if t, given := said.Value(batch.Temperature); given {
		kelvin := unit.Temperature(t)
		look.Coldest = &kelvin
	}
	switch e := said.Event; {
	case e == nil:
	case e.Kind == batch.SetRelief:
		look.WorkingValve = &e.Pressure
	case e.Kind == batch.GasOn:
		look.Regulator = &e.Pressure
	case e.Kind == batch.VentedTo:
		look.Measured = &e.To
	case e.Kind == batch.HoldAt:
		look.Coldest = &e.Temperature
	case e.Kind == batch.Noticed && e.Words == batch.Ice:
		look.Frozen = true
	}
}

func gaugeOf(pa float64) *unit.Gauge {
	g := unit.Gauge(pa)
	return &g
}

// ownLimits are those that one reading or setting can pass by itself.
var ownLimits = map[limit.Kind]bool{limit.OverRating: true, limit.OverSafety: true, limit.PullsIn: true, limit.ValveHigh: true, limit.ValveOverSafety: true,
	limit.RegulatorHigh: true, limit.RegulatorOverSafety: true, limit.Freezing: true}
