package advice

import (
	"slices"
	"time"

	"spile/batch"
	"spile/estimate"
	"spile/limit"
	"spile/unit"
)

// A limit that is passed can be acknowledged and never silenced. That somebody has seen it stands in the log and beside the
// limit, which holds as before. It asks anew where it is another one, where it is passed by more than when it was seen, and
// where it was kept meanwhile.

// AsSeen is how a limit that is passed stands in the log once somebody has seen it.
func AsSeen(f *limit.Finding) batch.SeenLimit {
	return batch.SeenLimit{Kind: string(f.Kind), When: whenPassed(f), Soon: f.Severity.String(), Value: given(f.Value), Limit: given(f.Limit)}
}

// whenPassed tells a limit that is passed from the same one ahead. Whether reading or belief says so is one: the higher counts.
func whenPassed(f *limit.Finding) string {
	switch f.From {
	case limit.Plan:
		return "ahead"
	case limit.Plate:
		return "plate"
	}
	return "now"
}

func given(n limit.Number) *float64 {
	if !n.Known {
		return nil
	}
	return &n.SI
}

// Sighting is who has seen that a limit is passed, and when, among what was noted, in order of time; nil: nobody has since
// it is passed so.
func Sighting(f *limit.Finding, notes []batch.Note, log *batch.Log, vessel batch.Upkeep) *batch.Note {
	over := endedIn(notes)
	for i, n := range slices.Backward(notes) {
		for _, seen := range sightedIn(&n) {
			if !over[ended{n.Entry, seen.Kind, seen.When}] && !WorseThan(f, &seen) && !keptSince(f, log, vessel, n.Time) {
				return &notes[i]
			}
		}
	}
	return nil
}

// Sighted says beside each limit who has seen it.
func Sighted(limits []Limit, notes []batch.Note, log *batch.Log, vessel batch.Upkeep) {
	about := slices.DeleteFunc(slices.Clone(notes), func(n batch.Note) bool { return n.Judgement == nil || len(n.Judgement.Limits) == 0 })
	for i := range limits {
		limits[i].Seen = Sighting(&limits[i].Finding, about, log, vessel)
	}
}

// sightedIn are the limits that somebody has seen, by one note.
func sightedIn(n *batch.Note) []batch.SeenLimit {
	if n.Judgement == nil || n.Judgement.Verdict != batch.LimitSeen {
		return nil
	}
	return n.Judgement.Limits
}

// Over are what is to be written down of the limits that somebody has seen and that are passed no longer, of those that a
// forecast finds. What is amiss with a vessel itself no forecast finds: that it is over follows from its check.
func Over(notes []batch.Note, found []Limit) (out []batch.Judgement) {
	over := endedIn(notes)
	for _, n := range notes {
		var gone []batch.SeenLimit
		for _, seen := range sightedIn(&n) {
			itself := seen.Kind == string(limit.WasFrozen) || seen.Kind == string(limit.CheckDue)
			stands := slices.ContainsFunc(found, func(l Limit) bool { return sameLimit(&l.Finding, &seen) })
			if !itself && !stands && !over[ended{n.Entry, seen.Kind, seen.When}] {
				gone = append(gone, seen)
			}
		}
		if len(gone) > 0 {
			out = append(out, batch.Judgement{Verdict: batch.LimitOver, Of: n.Entry, Words: n.Words, Limits: gone})
		}
	}
	return out
}

// ended is one limit of a sighting.
type ended struct {
	sighting   batch.ID
	kind, when string
}

// endedIn are the limits of sightings that are over.
func endedIn(notes []batch.Note) map[ended]bool {
	over := map[ended]bool{}
	for i := range notes {
		if j := notes[i].Judgement; j != nil && j.Verdict == batch.LimitOver {
			for _, l := range j.Limits {
				over[ended{j.Of, l.Kind, l.When}] = true
			}
		}
	}
	return over
}

func sameLimit(f *limit.Finding, seen *batch.SeenLimit) bool {
	return string(f.Kind) == seen.Kind && whenPassed(f) == seen.When
}

// aStep is by how much a number is worse at least to be seen anew, Pa, K or a share: what is less is not even written.
var aStep = map[limit.Quantity]float64{limit.Pressure: 5e3, limit.Temperature: 0.5, limit.Share: 0.01}

// fromBelow are the limits that a number passes by being too low.
var fromBelow = map[limit.Kind]bool{limit.PullsIn: true, limit.WouldPullIn: true, limit.HeadspaceSmall: true, limit.Freezing: true}

// WorseThan tells whether a limit is another one than was seen, more urgent, or passed by more. What is not known now was
// seen as that, or not at all.
func WorseThan(f *limit.Finding, seen *batch.SeenLimit) bool {
	now := AsSeen(f)
	switch {
	case !sameLimit(f, seen) || soonness(now.Soon) > soonness(seen.Soon):
		return true
	case (now.Value == nil) != (seen.Value == nil) || (now.Limit == nil) != (seen.Limit == nil):
		return true
	case now.Value == nil:
		return false
	case f.Quantity == limit.Day:
		return *now.Value != *seen.Value
	}
	by := *now.Value - *seen.Value
	beyond := by
	if now.Limit != nil {
		beyond -= *now.Limit - *seen.Limit
	}
	if fromBelow[f.Kind] {
		by, beyond = -by, -beyond
	}
	return !(max(by, beyond) < aStep[f.Quantity])
}

// soonness ranks how soon to act; what is not known is least, so that all is more urgent.
func soonness(soon string) int {
	return slices.Index([]string{limit.WhenYouCan.String(), limit.Today.String(), limit.Now.String()}, soon)
}

// keptSince tells whether a limit that is passed was kept at some time since, by what was read or done: so it is passed anew.
func keptSince(f *limit.Finding, log *batch.Log, vessel batch.Upkeep, since time.Time) bool {
	if f.Kind == limit.WasFrozen {
		return vessel.Iced.After(since) || log.Iced().After(since)
	}
	within := func(si float64) bool { return f.Limit.Known && (si < f.Limit.SI) != fromBelow[f.Kind] }
	of := map[limit.Quantity]batch.Quantity{limit.Pressure: batch.Pressure, limit.Temperature: batch.Temperature}
	if q, read := of[f.Quantity]; read && f.From == limit.Reading {
		for i := range log.Readings {
			r := &log.Readings[i]
			if r.Quantity == q && !r.Unattended && r.Time.After(since) && within(r.Value) {
				return true
			}
		}
	}
	return slices.ContainsFunc(log.Events, func(e batch.Event) bool { return e.Time.After(since) && undoes(&e, f.Kind, within) })
}

// undoes tells whether what was done ends the passing of a limit.
func undoes(e *batch.Event, k limit.Kind, within func(si float64) bool) bool {
	switch k {
	case limit.OverRating, limit.OverSafety:
		return e.Kind == batch.VentedTo && within(float64(e.To))
	case limit.ValveHigh, limit.ValveOverSafety:
		return e.Kind == batch.SetRelief && within(float64(e.Pressure))
	case limit.RegulatorHigh, limit.RegulatorOverSafety:
		return e.Kind == batch.GasOff || e.Kind == batch.GasOn && within(float64(e.Pressure))
	case limit.GasNearRating, limit.GasNearSafety:
		return e.Kind == batch.GasOff || e.Kind == batch.GasOn && within(float64(e.Pressure+estimate.AboveGas))
	}
	return false
}

// Passes are the limits that f passes at now, given the log up to then: those of Said, but for what is amiss with the vessel itself.
func Passes(b *batch.Batch, log batch.Log, f *estimate.Forecast, now time.Time, style unit.Style) []Limit {
	return standing(b, log, batch.Upkeep{}, f, now, style).limits
}
