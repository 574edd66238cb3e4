package monitor

import (
	"slices"
	"testing"

	"spile/advice"
	"spile/batch"
	"spile/limit"
	"spile/unit"
)

// passes are the limits that the last forecast of a batch finds.
func passes(t *testing.T, w *Watch, id batch.ID) []advice.Limit {
	t.Helper()
	s := see(t, w, id)
	found := advice.Passes(&s.State.Record.Batch, s.State.Log, s.Told.Forecast, s.Told.Forecast.At, unit.Style{})
	advice.Sighted(found, s.State.Notes, &s.State.Log, batch.Upkeep{})
	return found
}

// A limit that was seen counts as seen while it is passed; once it is not, that is written down once, and it asks anew.
func TestALimitThatEndsAsksAnew(t *testing.T) {
	c := &clock{now: hours(30)}
	w := inMemory(t, c)
	id := begin(t, w, pale("Sluice Gate Pale", batch.ID{}))
	over := func() *advice.Limit {
		t.Helper()
		renewAll(t, w)
		found := passes(t, w, id)
		i := slices.IndexFunc(found, func(l advice.Limit) bool { return l.Kind == limit.OverRating && l.From != limit.Plan })
		if i < 0 {
			return nil
		}
		return &found[i]
	}
	keep(t, w, read(t, id, hours(29), batch.Pressure, 260e3))
	l := over()
	if l == nil || l.Seen != nil {
		t.Fatalf("passed and seen by nobody; got %+v", l)
	}
	before := see(t, w, id)
	keep(t, w, entry(t, id, batch.KindJudgement, hours(30), &batch.Judgement{Verdict: batch.LimitSeen, Words: "Keep faces away.", Limits: []batch.SeenLimit{advice.AsSeen(&l.Finding)}}))
	if l = over(); l == nil || l.Seen == nil || l.Seen.By != "test" {
		t.Fatalf("seen, and passed still; got %+v", l)
	}
	same(t, "seen", see(t, w, id).Told, before.Told)
	c.set(hours(30.6))
	keep(t, w, read(t, id, hours(30.5), batch.Pressure, 60e3), did(t, id, hours(30.4), batch.Event{Kind: batch.VentedTo, From: 260e3, To: 60e3}))
	if l = over(); l != nil {
		t.Fatalf("let out, and still passed: %+v", l)
	}
	ended := func() (n int) {
		for _, x := range see(t, w, id).State.Notes {
			if j := x.Judgement; j != nil && j.Verdict == batch.LimitOver && x.Words == "Keep faces away." && j.Limits[0].Kind == "over-rating" {
				n++
			}
		}
		return n
	}
	if got := ended(); got != 1 {
		t.Errorf("that it is over stands %d times in the log, want once", got)
	}
	c.set(hours(31.7)) // another forecast, for its age
	if over(); ended() != 1 || !see(t, w, id).Fresh() {
		t.Errorf("an hour later that it is over stands %d times in the log, want once", ended())
	}
	keep(t, w, read(t, id, hours(31.6), batch.Pressure, 255e3))
	if l = over(); l == nil || l.Seen != nil {
		t.Errorf("passed anew, by less than was seen: it asks anew; got %+v", l)
	}
}
