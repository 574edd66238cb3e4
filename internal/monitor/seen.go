package monitor

import (
	"slices"
	"time"

	"spile/batch"
	"spile/estimate"
	"spile/internal/store"
)

// InVessel is one vessel and what is in it.
type InVessel struct {
	Vessel  *batch.Thing[batch.VesselFacts] // nil: a batch in a vessel that the cellar does not list
	Seen    *Seen                           // nil: nothing is in it
	Emptied time.Time                       // when its last batch ended; zero: none has
	Turn    batch.Turn                      // what was done to the vessel since
	Upkeep  batch.Upkeep                    // of the vessel; nothing is known of one that the cellar does not list
	Judged  []batch.Note                    // of the vessel, by the cellar's own log
}

// Notes are what was judged of the vessel, and what was noted and judged of what is in it.
func (in InVessel) Notes() []batch.Note {
	if in.Seen == nil {
		return in.Judged
	}
	return slices.Concat(in.Judged, in.Seen.State.Notes)
}

// ID is the vessel's own, or that of the batch where the cellar does not list the vessel.
func (in InVessel) ID() batch.ID {
	if in.Vessel != nil {
		return in.Vessel.ID
	}
	return in.Seen.ID
}

// Name is the vessel's own, or that of the batch where the cellar does not list the vessel.
func (in InVessel) Name() string {
	if in.Vessel != nil {
		return in.Vessel.Name
	}
	return in.Seen.State.Record.Name
}

// Brief is a batch in a list.
type Brief struct {
	ID      batch.ID
	Vessel  batch.ID // zero: none of the cellar
	Name    string
	Pitched time.Time
	Ended   time.Time // zero: still in its vessel
}

// Seen is a batch as its log and the last forecast tell it. It is not changed once it is given out.
type Seen struct {
	ID       batch.ID
	State    batch.State // derived from its whole log
	Position int64       // of the log
	Ended    time.Time   // judged emptied; zero: still in its vessel
	Told     *Told       // the last forecast; nil before the first, and before pitching
	Failed   string      // why no forecast could be made of the log as it is, in a sentence; empty: one was, or is being made
	Damaged  []store.Finding
}

// Fresh says that the forecast knows all of the log.
func (s *Seen) Fresh() bool { return s.Told != nil && s.Told.Position >= s.Position }

// Told is a forecast that was made.
type Told struct {
	Position int64 // of the log that it knows
	Made     time.Time
	Forecast *estimate.Forecast // its At is the moment that it looks from
	Changed  *Changed           // what the newest entries moved; nil: the first forecast, or nothing moved
	Apart    string             // why what was measured of several vessels together was left out, in a sentence; empty: it was not
}

// stale is how long ago a forecast may look from and still be told as now: three times as long as they are apart.
const stale = 3 * oldAfter

// Old says that the forecast looks from so long ago that it must not be told as now.
func (t *Told) Old(now time.Time) bool { return now.Sub(t.Forecast.At) > stale }

// Changed is what new entries moved most.
type Changed struct {
	Milestone     string // "finished", "cold", "carbonated" or "ready"
	Before, After estimate.Milestone
	By            batch.ID // the newest of the entries that moved it
}

// Change is told to those who follow. The zero Batch stands for the things of the cellar.
type Change struct {
	Batch    batch.ID
	Position int64
	Told     bool // a forecast was made, or came to nothing; else something was kept
}

// moved is the milestone that moved most from one forecast to the next, of those that moved by more than the noise of
// the members: an hour, and a tenth of the band. nil where none did.
func moved(before, after *estimate.Forecast, by batch.ID) *Changed {
	var most *Changed
	far := time.Duration(0)
	b, a := &before.Milestones, &after.Milestones
	for _, m := range []struct {
		name          string
		before, after estimate.Milestone
	}{{"finished", b.Finished, a.Finished}, {"cold", b.Cold, a.Cold}, {"carbonated", b.Carbonated, a.Carbonated}, {"ready", b.Ready, a.Ready}} {
		if m.before.P50.IsZero() != m.after.P50.IsZero() && most == nil {
			most = &Changed{m.name, m.before, m.after, by}
		}
		if m.before.P50.IsZero() || m.after.P50.IsZero() {
			continue
		}
		by := &Changed{m.name, m.before, m.after, by}
		shift := m.after.P50.Sub(m.before.P50).Abs()
		band := m.before.P95.Sub(m.before.P05) // negative where the end lies beyond the span looked at
		if shift > far && shift > time.Hour && shift > band/10 {
			most, far = by, shift
		}
	}
	return most
}
