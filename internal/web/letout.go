package web

import (
	"slices"
	"time"

	"spile/advice"
	"spile/batch"
	"spile/estimate"
	"spile/internal/store"
	"spile/unit"
	"spile/wording"
)

// finding is what may be amiss, with what is asked of it.
type finding struct {
	advice.Finding
	Asks *letOutAsk // nil: nothing is
}

// letOutAsk asks whether gas was let out: yes leads to where that is told, the rest is kept as a note.
type letOutAsk struct {
	Yes      []hidden // of the form that tells of gas let out
	Notes    []letOutNote
	Answered string // what was said already; empty: nothing
}

// letOutNote is an answer that is kept as it is.
type letOutNote struct {
	ID     batch.ID
	Button wording.Text
	Words  string
}

// findings are what may be amiss with what is in the vessel.
func (v *vesselView) findings() (out []finding) {
	for _, f := range v.Said.Findings {
		of := finding{Finding: f}
		if f.Kind == estimate.FindingMissingVent && !f.Since.IsZero() && v.Seen.Ended.IsZero() {
			of.Asks = v.asksLetOut(f.Since)
		}
		out = append(out, of)
	}
	return out
}

func (v *stood) asksLetOut(since time.Time) *letOutAsk {
	dated := v.Style
	dated.Dated = true // a note is read again when "yesterday" is another day
	about := advice.When(since, 12*time.Hour, v.Now.In(v.zone()), dated)
	ask := &letOutAsk{Yes: []hidden{{"what", "vent"}, {earlierField, "about " + since.In(v.zone()).Format("2006-01-02 15:04")}}, Notes: []letOutNote{
		{store.NewID(), "No", v.Style.Say("No gas was let out about %s.", about)},
		{store.NewID(), "Not sure", v.Style.Say("Not sure whether gas was let out about %s.", about)},
	}}
	from, to := v.pressureAround(since)
	for _, p := range []struct {
		name string
		read *batch.Reading
	}{{"from", from}, {"to", to}} {
		if p.read != nil {
			ask.Yes = append(ask.Yes, hidden{p.name, v.Style.Pressure(unit.Gauge(max(p.read.Value, 0)), 0)})
		}
	}
	for _, n := range v.Seen.State.Notes {
		if slices.ContainsFunc(ask.Notes, func(a letOutNote) bool { return a.Words == n.Words }) {
			ask.Answered = v.Style.Say("You said: “%s”", n.Words)
		}
	}
	return ask
}

// pressureAround is what the dial showed last before a time, and first after it; nil: nobody read it.
func (v *stood) pressureAround(at time.Time) (before, after *batch.Reading) {
	for i := range v.Seen.State.Log.Readings { // in order of time
		r := &v.Seen.State.Log.Readings[i]
		switch {
		case r.Quantity != batch.Pressure:
		case !r.Time.After(at):
			before = r
		case after == nil:
			after = r
		}
	}
	return before, after
}
