package monitor

import (
	"time"

	"spile/batch"
	"spile/estimate"
	"spile/internal/store"
)

// InVessel is one vessel and what is in it.
type InVessel struct {
	Vessel *batch.Thing[batch.VesselFacts] // nil: a batch in a vessel that the cellar does not list
	Seen   *Seen                           // nil: nothing is in it
	Turn   batch.Turn                      // what was done to the vessel since its last batch ended
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
	Told     *Told       // the last forecast; nil before the first
	Failed   string      // why the last attempt at a forecast came to nothing, in a sentence; empty: it did not
	Damaged  []store.Finding
}

// Fresh says that the forecast knows all of the log.
func (s *Seen) Fresh() bool { return s.Told != nil && s.Told.Position >= s.Position }

// Told is a forecast that was made.
type Told struct {
	Position int64 // of the log that it knows
	Made     time.Time
	Forecast *estimate.Forecast // its At is the moment that it looks from
	Changed  *Changed           // against the forecast before it; nil: the first, or nothing moved
}

// Changed is what a forecast moved most.
type Changed struct {
	Milestone     string // "finished", "cold", "carbonated" or "ready"
	Before, After estimate.Milestone
	By            batch.ID // the entry that moved it; zero: time alone did
}

// Change is told to those who follow. The zero Batch stands for the things of the cellar.
type Change struct {
	Batch    batch.ID
	Position int64
	Told     bool // a forecast was made; else something was kept
}

// brief is s in a list.
func (s *Seen) brief() Brief {
	return Brief{s.ID, s.State.Record.Uses.Vessel, s.State.Record.Name, s.State.Record.Pitched, s.Ended}
}

// ended is when a batch was judged emptied, zero where it was not.
func ended(s *batch.State) (at time.Time) {
	for i := range s.Notes {
		if n := &s.Notes[i]; n.Judgement != nil && n.Judgement.Verdict == batch.Emptied && n.Judgement.Of.IsZero() {
			at = n.Time
		}
	}
	return at
}
