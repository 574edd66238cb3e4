package advice

import (
	"math"
	"strings"
	"time"

	"spile/batch"
	"spile/estimate"
	"spile/limit"
	"spile/unit"
	"spile/vessel"
)

// Usual is the plan that is proposed for a batch where nobody has one yet. What cannot be
// set, or must not be advised, is nil.
type Usual struct {
	Hold   unit.Temperature  // while it works: what is set, or the air where nothing keeps a temperature
	Relief *unit.Gauge       // the working valve while it works; nil: rating or safety valve not known
	Keep   *unit.Gauge       // the working valve for the last points, which carbonate it; nil: nothing is wished for, or no rating
	Rest   unit.Duration     // in the warm once it is finished
	Cold   *unit.Temperature // nil: no fridge
	Gas    *unit.Gauge       // in the cold; nil: no cylinder, or no rating
}

// Habits of the trade (common practice, no source).
const (
	usualRelief = 10 * unit.PSI
	usualRest   = 2 * unit.Day

	// overGas is more than what holds the wish: at just that pressure the beer only nears it.
	overGas = 1 * unit.PSI
)

// Most is the highest setting of a working valve where a setting may be advised at all: ok is false unless rating and safety valve are known and fit.
func Most(v *batch.Vessel) (most unit.Gauge, ok bool) {
	most, _ = vessel.HighestValve(v.Rating, v.SafetyRelief)
	return most, limit.Guarded(v.Rating, v.SafetyRelief) && most > 0
}

// half is g to the half psi that a knob can be set to.
func half(g unit.Gauge, round func(float64) float64) unit.Gauge {
	return unit.Gauge(round(2*g.PSI())) / 2 * unit.PSI
}

// Propose gives the usual plan for what the vessel and its place allow.
func Propose(b *batch.Batch) Usual {
	u := Usual{Hold: usualHold(b), Rest: usualRest}
	if f := b.Place.Fridge; f != nil {
		cold := estimate.ServedCold
		if b.Target != nil && b.Target.Temperature > 0 {
			cold = b.Target.Temperature
		}
		cold = max(cold, f.Coldest)
		u.Cold = &cold
	}
	most, rated := Most(&b.Vessel)
	if most = half(most, math.Floor); !rated || most == 0 {
		return u
	}
	relief := min(usualRelief, most)
	u.Relief = &relief
	if b.Target == nil || b.Target.CO2 <= 0 {
		return u
	}
	if keep := min(half(max(estimate.Needs(b, u.Hold), 0), math.Ceil), most); keep > relief {
		u.Keep = &keep
	}
	if b.Gas != nil && u.Cold != nil && most > estimate.AboveGas {
		gas := min(half(max(estimate.Needs(b, *u.Cold), 0), math.Ceil)+overGas, most-estimate.AboveGas)
		u.Gas = &gas
	}
	return u
}

// usualHold is the middle of the yeast's ordinary range, as near as belt and fridge bring it.
func usualHold(b *batch.Batch) unit.Temperature {
	fridge, belt := b.Place.Fridge != nil, b.Place.Belt > 0
	low, high := b.Yeast.Kind.Range()
	hold := unit.Celsius(math.Round((low.Celsius() + high.Celsius()) / 2))
	if !belt {
		hold = min(hold, b.Place.Ambient)
	}
	if !fridge {
		hold = max(hold, b.Place.Ambient)
	}
	return hold
}

// keeps tells whether something keeps a temperature by itself.
func keeps(p *batch.Place) bool { return p.Fridge != nil || p.Belt > 0 }

// ColdTooSoon is the caution that stands before the cold until the usual rest in the warm is known to be over by f, which
// may be nil; empty after that.
func ColdTooSoon(f *estimate.Forecast, now time.Time, style unit.Style) string {
	if f != nil {
		if end := f.Milestones.Finished.P95; !end.IsZero() && now.Sub(end).Seconds() >= float64(usualRest) {
			return ""
		}
	}
	return sayIn(style, "plan butter")
}

// Programme is the plan as steps.
func (u Usual) Programme(b *batch.Batch) []batch.Step {
	steps := []batch.Step{{AtSet: true, Set: batch.Setting{Hold: &u.Hold, Relief: u.Relief}}}
	high := unit.Gauge(0)
	if u.Relief != nil {
		high = *u.Relief
	}
	if u.Keep != nil && *u.Keep > high {
		high = *u.Keep
		steps = append(steps, batch.Step{When: batch.Condition{Kind: batch.GravityAtMost, Gravity: lastPoints(b)}, Set: batch.Setting{Relief: u.Keep}})
	}
	end := batch.Step{When: batch.Condition{Kind: batch.FinishedFor, For: u.Rest}, Set: batch.Setting{Hold: u.Cold, Gas: u.Gas, Action: estimate.ButterTest}}
	if u.Gas != nil && *u.Gas+estimate.AboveGas > high {
		most, _ := Most(&b.Vessel)
		// a pascal less, for what was written and read again
		valve := min(half(*u.Gas+estimate.AboveGas-1, math.Ceil), most)
		end.Set.Relief = &valve // lest it drains the cylinder
	}
	if u.Cold != nil || u.Gas != nil {
		steps = append(steps, end)
	}
	return steps
}

// lastPoints is the gravity at which the last points are left to carbonate the beer.
func lastPoints(b *batch.Batch) unit.Gravity {
	attenuation := float64(b.Yeast.Attenuation)
	if attenuation == 0 {
		attenuation = b.Yeast.Kind.Attenuation().Mean
	}
	original := b.Wort.Gravity.Points()
	return unit.FromPoints(math.Round(original * (1 - attenuation*(1-estimate.LastShare))))
}

// SaySteps puts a programme into words: when, and what is then done.
func SaySteps(b *batch.Batch, style unit.Style) []StepSaid {
	v := viewOf(b, batch.Log{}, &estimate.Forecast{}, b.Pitched, style)
	var out []StepSaid
	gassed := false
	for i := range b.Programme {
		s := &b.Programme[i]
		if do := v.stepDo(&s.Set, gassed); len(do) > 0 {
			out = append(out, StepSaid{v.stepWhen(s, b.Pitched.Add(-24*time.Hour)), strings.Join(do, " ")})
		}
		gassed = gassed || s.Set.Gas != nil
	}
	return out
}
