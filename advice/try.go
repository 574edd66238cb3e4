package advice

import (
	"slices"
	"time"

	"spile/batch"
	"spile/estimate"
	"spile/limit"
	"spile/unit"
	"spile/wording"
)

// Tried is what is said of other settings that somebody tries from now on.
type Tried struct {
	Ahead  []Ahead
	Limits []Limit // that these settings pass or would pass
	Passed bool
	Drains string // where gas may leave through the working valve as it would be set; empty: it does not
}

// Pair sets what comes of the plan beside what comes of a change.
type Pair struct{ Name, Plan, If string }

// StillPlanned are the steps of the plan that lie ahead of now, those that wait for a condition last.
func StillPlanned(b *batch.Batch, log batch.Log, f *estimate.Forecast, now time.Time) (out []batch.Step) {
	for _, step := range b.Programme {
		if step.AtSet && b.After(step.At).After(now) {
			out = append(out, step)
		}
	}
	return append(out, Waits(b, log, f)...)
}

// Idle says which of the settings this vessel has nothing to follow with.
func Idle(b *batch.Batch, set batch.Setting) (notes []wording.Text) {
	if set.Gas != nil && b.Gas == nil {
		notes = append(notes, "No cylinder is known for this vessel, so the gas changes nothing.")
	}
	if set.Hold == nil {
		return notes
	}
	if b.Place.Fridge == nil && *set.Hold < b.Place.Ambient {
		notes = append(notes, "It stands in no fridge, so it gets no colder than its place.")
	}
	if b.Place.Belt == 0 && *set.Hold > b.Place.Ambient {
		notes = append(notes, "It has nothing to warm it, so it gets hardly warmer than its place.")
	}
	return notes
}

// sideBySide sets the times of two futures side by side, their highest pressure and, where a cylinder is known, its gas.
func sideBySide(b *batch.Batch, plan, changed Tried, as, other *estimate.Ahead, style unit.Style) []Pair {
	var out []Pair
	seen := map[string]bool{}
	for _, list := range [][]Ahead{plan.Ahead, changed.Ahead} {
		for _, a := range list {
			if !seen[a.Key] {
				seen[a.Key] = true
				out = append(out, Pair{a.Label, awaitedIn(plan.Ahead, a.Key, style), awaitedIn(changed.Ahead, a.Key, style)})
			}
		}
	}
	peak := func(a *estimate.Ahead) string {
		low, high := style.Between(unit.OfPressure, a.Peak.P05, a.Peak.P95)
		return sayIn(style, "try peak", "p", inBand(style.Dials, a.Peak), "lo", low, "hi", high)
	}
	grams := func(a *estimate.Ahead) string { return gramsIn(style, a.Gas) }
	out = append(out, Pair{style.Word("Highest pressure"), peak(as), peak(other)})
	if b.Gas != nil {
		out = append(out, Pair{style.Word("Gas from the cylinder"), grams(as), grams(other)})
	}
	return out
}

// gramsIn writes a mass. Where its band is so lopsided that the middle, as coarse as all of it, would lie outside, the nearer end
// says how fine it is, and both ends stand beside it: most cylinders stay full, and some run empty.
func gramsIn(style unit.Style, b estimate.Band) string {
	near := 2 * min(b.P50-b.P05, b.P95-b.P50)
	if width(b) <= lopsided*near {
		return inBand(style.Mass, b)
	}
	write := func(kg float64) string { return style.Mass(unit.Mass(kg), unit.Mass(near)) }
	return sayIn(style, "try peak", "p", write(b.P50), "lo", write(b.P05), "hi", style.Mass(unit.Mass(b.P95), 0))
}

// lopsided is how many times as wide as twice its nearer half a band is that is written by that half.
const lopsided = 3

// awaitedIn is when something comes that people wait for, in one future.
func awaitedIn(list []Ahead, key string, style unit.Style) string {
	i := slices.IndexFunc(list, func(a Ahead) bool { return a.Key == key })
	if i < 0 {
		return style.Word("not within the days looked at")
	}
	text := list[i].When
	if list[i].Band != "" {
		text += ", " + list[i].Band
	}
	if list[i].Odds != "" {
		text += ". " + list[i].Odds
	}
	return text
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
	v.set = settingsOf(b, v.log, f, now)
	t.Drains = v.drained(steps)
	return t
}

// drained says of the first of the steps under which the cylinder's gas may leave through the working valve what becomes of it.
func (v *view) drained(steps []batch.Step) string {
	s := v.set
	for _, step := range steps {
		if s.apply(step.Set); s.gasOn && leaves(s.gas, s.relief) {
			return join(join(v.say("try drain"), v.say("why drain")), v.drainAdvice(s.gas))
		}
	}
	return ""
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

// Compared is what comes of settings changed from now on, beside what comes of the plan.
type Compared struct {
	Set           batch.Setting
	From          time.Time // on which they hold
	Plan, Changed *estimate.Ahead
	ByPlan, If    Tried
	Says          []string // what the change is good for, most wanted first; empty: nothing
	Rows          []Pair
	Notes         []wording.Text // settings that the vessel has nothing to follow with
}

// Exceeds are the limits that ask for something today or now if the settings are changed.
func (c *Compared) Exceeds() (out []Limit) {
	for _, l := range c.If.Limits {
		if l.Severity > limit.WhenYouCan {
			out = append(out, l)
		}
	}
	return out
}

// compareSpan is how far ahead a change is followed.
const compareSpan = 21 * unit.Day

// Compare runs the plan, and set beside it from so long after pitching on, from where the vessel stands at now by forecast f.
func Compare(run func(steps []batch.Step, span unit.Duration) (*estimate.Ahead, error), b *batch.Batch, log batch.Log, f *estimate.Forecast, set batch.Setting, from unit.Duration, now time.Time, style unit.Style) (*Compared, error) {
	c := &Compared{Set: set, From: b.After(from), Notes: Idle(b, set)}
	plan := StillPlanned(b, log, f, now)
	steps := append([]batch.Step{{At: from, AtSet: true, Set: set}}, plan...)
	var err error
	if c.Plan, err = run(plan, compareSpan); err != nil {
		return nil, err
	}
	if c.Changed, err = run(steps, compareSpan); err != nil {
		return nil, err
	}
	c.ByPlan, c.If = SayTry(b, log, f, plan, c.Plan, now, style), SayTry(b, log, f, steps, c.Changed, now, style)
	if set.Gas == nil && set.Relief == nil { // the plan's own, of which the forecast tells
		c.If.Drains = ""
	}
	c.Says = c.gains(viewOf(b, log, f, now, style), plan)
	c.Rows = sideBySide(b, c.ByPlan, c.If, c.Plan, c.Changed, style)
	return c, nil
}
