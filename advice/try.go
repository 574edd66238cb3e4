package advice

import (
	"time"

	"spile/batch"
	"spile/estimate"
	"spile/unit"
)

// Tried is what is said of other settings that somebody tries from now on.
type Tried struct {
	Ahead  []Ahead
	Limits []Limit // that these settings pass or would pass
	Passed bool
}

// SayTry puts into words what comes of other steps from now on, beside f, which follows the plan. The limits look at
// the settings of the steps and at where they lead.
func SayTry(b *batch.Batch, log batch.Log, f *estimate.Forecast, steps []batch.Step, a *estimate.Ahead, now time.Time, style unit.Style) Tried {
	tried, other := *b, *f
	tried.Programme, other.Milestones = steps, a.Milestones
	v := viewOf(&tried, log, &other, now, style)
	v.set = settingsOf(&tried, v.log, f, now)
	coldest := unit.Temperature(f.Now.Temperature.P05)
	for _, s := range steps {
		if s.Set.Hold != nil {
			coldest = min(coldest, *s.Set.Hold)
		}
	}
	t := Tried{Ahead: notPast(v.ahead(), &f.Milestones, now), Limits: CheckPlan(&tried, Extremes{
		High: a.Highest, Low: a.Lowest, Coldest: coldest, Hottest: f.Worst.Hottest,
		WorstCase: f.Worst.Contents, Regulator: f.Worst.Regulator, Gravity: unit.Gravity(f.Now.Gravity.P50),
	}, style)}
	t.Passed = Passed(t.Limits)
	return t
}

// notPast leaves out what has likely come already: other settings cannot change it.
func notPast(all []Ahead, m *estimate.Milestones, now time.Time) (out []Ahead) {
	for _, a := range all {
		if middle := awaitedBy(a.Key).of(m).P50; middle.IsZero() || middle.After(now) {
			out = append(out, a)
		}
	}
	return out
}
