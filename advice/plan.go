package advice

import (
	"slices"
	"strings"
	"time"

	"spile/batch"
	"spile/estimate"
	"spile/limit"
	"spile/unit"
	"spile/wording"
)

// PlanSaid is all that is said of a plan.
type PlanSaid struct {
	For     string   // the wished date
	Answer  []string // sentences: can it be ready, and when
	Choices []ChoiceSaid
	Limits  []Limit
	Passed  bool // a limit asks for something today or now
	Worst   string
	Plate   string
}

// ChoiceSaid is what is said of one choice.
type ChoiceSaid struct {
	Title    string
	Sentence string // odds, gas and pressure
	Gas      string // from the cylinder; empty where it is not known
	Highest  string // pressure; empty where it is not known
	By       string // very likely ready by then, empty for not within the days looked at
	Steps    []StepSaid
	Buys     []string
	Cautions []string
}

// StepSaid is one step of a plan: when, and what is then done.
type StepSaid struct{ When, Do string }

// SayPlan puts p into words. log is what was read and done up to p.From.
func SayPlan(b *batch.Batch, log batch.Log, p *estimate.Plan, style unit.Style) PlanSaid {
	v := viewOf(b, log, &estimate.Forecast{}, p.From, style)
	said := PlanSaid{For: v.clock.at(p.Ready, 0), Answer: v.planAnswer(p), Plate: v.caution("c.plate")}
	for i := range p.Choices {
		c := &p.Choices[i]
		said.Choices = append(said.Choices, v.choice(p, c))
		for _, l := range v.choiceLimits(p, c) {
			if !slices.ContainsFunc(said.Limits, func(x Limit) bool { return x.Kind == l.Kind }) {
				said.Limits = append(said.Limits, l)
			}
		}
		if c.Worst.Contents >= v.f.Worst.Contents {
			v.f.Worst = c.Worst
			v.f.Worst.Contents = c.WorstCase()
		}
	}
	said.Passed, said.Worst = Passed(said.Limits), v.worst()
	return said
}

// planAnswer says whether the date can be met, and what stands against it.
func (v *view) planAnswer(p *estimate.Plan) []string {
	best := 0.0
	for _, c := range p.Choices {
		best = max(best, c.Probability)
	}
	wish := v.clock.at(p.Ready, 0)
	out := []string{wording.Capital(v.say("plan best", "odds", v.odds(best), "time", wish))}
	if best < 0.03 {
		out[0] = v.say("late", "time", wish)
	}
	switch {
	case p.Earliest.IsZero():
		out = append(out, v.say("plan never"))
	case best < estimate.VeryLikely || p.Earliest.Before(p.Ready.Add(-24*time.Hour)):
		out = append(out, v.say("plan earliest", "time", v.clock.part(p.Earliest)))
	}
	if len(v.log.Readings) == 0 {
		out = append(out, v.say("now.noreading"))
	}
	return append(out, v.against(p)...)
}

// against says what keeps a plan from what is wished.
func (v *view) against(p *estimate.Plan) []string {
	var out []string
	if !p.Pressure {
		out = append(out, v.say("plan bare"))
	} else if v.batch.Gas != nil && p.Needs+estimate.AboveGas > p.Most {
		out = append(out, v.say("plan too much", "volumes", wording.Capital(v.style.BareGas(v.batch.Target.CO2, 0)), "temp", v.style.Temperature(p.Served, 0),
			"p", v.style.Pressure(p.Needs, 0), "most", v.style.Pressure(p.Most-estimate.AboveGas, 0)))
	}
	if f := v.batch.Place.Fridge; f != nil && f.Coldest > p.Served {
		out = append(out, v.say("plan fridge", "coldest", v.style.Temperature(f.Coldest, 0), "temp", v.style.Temperature(p.Served, 0)))
	}
	return out
}

// choiceLimits hands package limit the edges of one choice, and the vessel as it stands now.
func (v *view) choiceLimits(p *estimate.Plan, c *estimate.Choice) []Limit {
	b := *v.batch
	b.Programme = c.Programme
	lv := plannedVessel(&b, Extremes{
		High: c.Highest, Low: c.Lowest, Coldest: c.Coldest, Hottest: c.Worst.Hottest,
		WorstCase: c.WorstCase(), Regulator: c.Worst.Regulator, Gravity: unit.Gravity(p.Terminal.P95),
	})
	lv.High, lv.Low, lv.Measured = gauge(p.Now.P95), gauge(p.Now.P05), v.measured()
	return worded(limit.Check(lv), v.style)
}

var aimTitles = map[estimate.Aim]string{
	estimate.AimLikely: "plan likely", estimate.AimLeastGas: "plan least-gas", estimate.AimGentle: "plan gentle", estimate.AimEarliest: "plan earliest by",
}

func (v *view) choice(p *estimate.Plan, c *estimate.Choice) ChoiceSaid {
	var titles []string
	for _, a := range c.Aims {
		titles = append(titles, v.say(aimTitles[a]))
	}
	out := ChoiceSaid{Title: strings.Join(titles, "; "), Sentence: wording.Capital(v.say("plan odds", "odds", v.odds(c.Probability), "time", v.clock.at(p.Ready, 0)))}
	if p.Pressure {
		out.Gas, out.Highest = v.style.Mass(c.Gas, gasSpread), v.style.Pressure(c.Highest, 0)
		out.Sentence += v.gasTaken(c, out.Gas) + " " + v.say("plan highest", "p", out.Highest)
	}
	if !c.VeryLikely.IsZero() {
		out.By = v.clock.at(c.VeryLikely, 12*time.Hour)
	}
	gassed := false
	for i := range c.Programme {
		s := &c.Programme[i]
		if s.AtSet && v.batch.After(s.At).Before(p.From) {
			continue // done
		}
		out.Steps = append(out.Steps, StepSaid{v.stepWhen(s, p.From), strings.Join(v.stepDo(&s.Set, gassed), " ")})
		gassed = gassed || s.Set.Gas != nil
	}
	out.Buys, out.Cautions = v.buysSaid(c), v.planCautions(p, c)
	return out
}

// gasSpread is how far the gas of a plan may be off (assumption).
const gasSpread = 15 * unit.Gram

func (v *view) gasTaken(c *estimate.Choice, gas string) string {
	const next = 5 * unit.Gram
	switch {
	case v.batch.Gas == nil:
		return ""
	case c.Gas < next:
		return " " + v.say("plan no gas")
	}
	return " " + v.say("plan gas", "gas", gas)
}

// stepWhen says when a step comes.
func (v *view) stepWhen(s *batch.Step, from time.Time) string {
	switch s.When.Kind {
	case batch.GravityAtMost:
		return v.say("plan gravity", "gravity", v.style.Gravity(s.When.Gravity, 0))
	case batch.FinishedFor:
		return v.say("plan finished", "time", unit.FormatDuration(s.When.For, 0))
	case batch.Carbonated:
		return v.say("plan carbonated")
	}
	at := v.batch.After(s.At)
	switch {
	case s.At == 0:
		return v.say("plan pitch")
	case at.Sub(from) <= time.Hour:
		return v.say("plan now")
	}
	return wording.Capital(v.clock.at(at, 0))
}

// stepDo says what a step does, the working valve before the gas and the gas before the cold.
func (v *view) stepDo(s *batch.Setting, gassed bool) []string {
	var out []string
	switch {
	case s.Action == estimate.ButterTest:
		out = append(out, v.say("plan butter"))
	case s.Action != "":
		out = append(out, v.say("step action", "action", s.Action))
	}
	if s.Relief != nil {
		out = append(out, v.say("step relief", "set", v.style.Pressure(*s.Relief, 0)))
	}
	switch {
	case s.Gas != nil && gassed:
		out = append(out, v.say("plan gas back", "set", v.style.Pressure(*s.Gas, 0)))
	case s.Gas != nil:
		out = append(out, v.say("step gas", "set", v.style.Pressure(*s.Gas, 0)))
	case s.GasOff:
		out = append(out, v.say("step gas off"))
	}
	switch {
	case s.Hold != nil && !keeps(&v.batch.Place):
		out = append(out, v.say("step room", "temp", v.style.Temperature(*s.Hold, 0)))
	case s.Hold != nil:
		out = append(out, v.say("step hold", "temp", v.style.Temperature(*s.Hold, 0)))
	}
	return out
}

var changeTexts = map[estimate.Change]string{
	estimate.OneDegreeWarmer: "plan warmer", estimate.ColdDaySooner: "plan sooner", estimate.WishedDayLater: "plan later",
}

func (v *view) buysSaid(c *estimate.Choice) []string {
	var out []string
	for _, b := range c.Buys {
		out = append(out, v.say(changeTexts[b.Change], "odds", v.odds(b.Probability), "deg", v.style.Difference(1, 0)))
	}
	return out
}

// planCautions stand beside what a choice does.
func (v *view) planCautions(p *estimate.Plan, c *estimate.Choice) []string {
	var valve, gas, sample bool
	for i := range c.Programme {
		s := &c.Programme[i]
		valve, gas, sample = valve || s.Set.Relief != nil, gas || s.Set.Gas != nil, sample || s.When.Kind == batch.GravityAtMost
	}
	var out []string
	if valve && p.Pressure {
		out = append(out, v.valveCaution())
	}
	if gas {
		out = append(out, v.caution("c.regulator"))
	}
	if !p.Pressure {
		out = append(out, v.caution("l.would-pull-in"))
	}
	out = append(out, v.caution("c.fridge"), v.caution("c.room"))
	if sample {
		out = append(out, v.caution("c.minor"))
	}
	return out
}
