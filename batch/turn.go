package batch

import (
	"time"

	"spile/wording"
)

// Verdict is what was judged, in words. Others than those named here are kept as they came.
type Verdict string

// Wording is the verdict as it is read.
func (v Verdict) Wording() wording.Text { return wording.Text(v) }

// Verdicts of a Judgement that the turnaround of a vessel is made of. Emptied stands in
// the log of a batch and ends it; the others stand in the cellar's own log, about a vessel.
const (
	Emptied        Verdict = "emptied"
	GasLetOut      Verdict = "gas let out" // and opened
	Cleaned        Verdict = "cleaned"
	SealsChecked   Verdict = "seals checked" // relief and seals stripped, looked at and put back
	Sanitised      Verdict = "sanitised"
	Purged         Verdict = "purged"
	LeakTestPassed Verdict = "leak test passed"
	LeakTestFailed Verdict = "leak test failed"
)

// LimitSeen says that somebody has seen that a limit is passed, and LimitOver of such a sighting that the limit is passed no
// longer. They stand in the log of a batch, or in the cellar's own about a vessel, and change nothing else: a limit holds as before.
const (
	LimitSeen Verdict = "limit seen"
	LimitOver Verdict = "limit over"
)

// Turn is what was done to a vessel since its last batch ended, each with the time it
// was last done; zero: not yet.
type Turn struct {
	LetOut, Cleaned, Seals, Sanitised, Purged, Proved time.Time

	Failed bool // the last leak test did not pass
}

// Passed tells whether the vessel may be filled: it was cleaned, its seals were looked
// at, it was proved to hold gas since, and it was sanitised.
func (t Turn) Passed() bool {
	return !t.Cleaned.IsZero() && !t.Seals.IsZero() && !t.Sanitised.IsZero() && !t.Proved.IsZero() && !t.Failed
}

// TurnOf is what the cellar's own log, in any order, tells of a vessel from the end of
// its last batch on. What was taken back does not count, and neither does a leak test
// before the seals were last off.
func TurnOf(vessel ID, cellar []Entry, since time.Time) Turn {
	var t Turn
	for _, h := range Hold(cellar) { // in order of time
		if h.Kind != KindJudgement || h.Thing != vessel || h.At.Before(since) {
			continue
		}
		if j, err := bodyOf[Judgement](h.Body); err == nil {
			t.judge(j.Verdict, h.At)
		}
	}
	if t.Proved.Before(t.Seals) {
		t.Proved = time.Time{}
	}
	return t
}

func (t *Turn) judge(verdict Verdict, at time.Time) {
	switch verdict {
	case GasLetOut:
		t.LetOut = at
	case Cleaned:
		t.Cleaned = at
	case SealsChecked:
		t.Seals = at
	case Sanitised:
		t.Sanitised = at
	case Purged:
		t.Purged = at
	case LeakTestPassed:
		t.Proved, t.Failed = at, false
	case LeakTestFailed:
		t.Proved, t.Failed = time.Time{}, true
	}
}

// NotesOf are what was judged of a vessel, by the cellar's own log in any order, in order of time.
func NotesOf(vessel ID, cellar []Entry) []Note {
	var s State
	for _, h := range Hold(cellar) {
		if h.Kind == KindJudgement && h.Thing == vessel {
			s.hear(&h)
		}
	}
	return s.Notes
}

// Ice is the word of a [Noticed] event that ice was seen in the vessel.
const Ice = "ice"

// FoamInGlass is the word of a [Noticed] event that most of what was poured was foam.
const FoamInGlass = "foam in the glass"

// Iced is when ice was last noticed; zero: never.
func (l *Log) Iced() (at time.Time) {
	for i := range l.Events { // in order of time
		if e := &l.Events[i]; e.Kind == Noticed && e.Words == Ice {
			at = e.Time
		}
	}
	return at
}

// Upkeep is what the cellar knows of a vessel itself, whatever is in it.
type Upkeep struct {
	Checked time.Time // seals, valves and wall, last; zero: not known to be
	Due     time.Time // of its next check, by its plate or local rules; zero: not told
	Iced    time.Time // when ice was noticed in the last batch that ended in it; zero: never
}

// Frozen tells whether the vessel has held ice since it was last checked, by log or before it.
// What else was noticed since then changes nothing.
func (u Upkeep) Frozen(log *Log) bool {
	for _, at := range []time.Time{u.Iced, log.Iced()} {
		if !at.IsZero() && !at.Before(u.Checked) {
			return true
		}
	}
	return false
}

// Overdue tells whether the check of the vessel is due at now.
func (u Upkeep) Overdue(now time.Time) bool { return !u.Due.IsZero() && now.After(u.Due) }

// Ended is when the batch was last judged to be emptied; zero: its beer is still there.
func (s *State) Ended() time.Time {
	var ended time.Time
	for _, n := range s.Notes { // in order of time
		if n.Judgement != nil && n.Judgement.Verdict == Emptied && n.Judgement.Of.IsZero() {
			ended = n.Time
		}
	}
	return ended
}
