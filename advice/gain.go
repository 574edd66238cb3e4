package advice

import (
	"math"
	"slices"
	"strings"
	"time"

	"spile/batch"
	"spile/estimate"
	"spile/unit"
	"spile/wording"
)

const (
	// leastGain is the least by which odds differ that is said to make a difference: two futures of the two hundred that are compared
	// are 1 % of them, and those of plan and change meet the same chances.
	leastGain = 0.02
	// leastMoved is the least by which the end moves that is said.
	leastMoved = 6 * time.Hour
	// offeredAbove is how much warmer a change is offered (common practice, no source).
	offeredAbove unit.TemperatureDifference = 2
	// surelyNever is the share of futures without it from which on something is no part of a plan.
	surelyNever = 0.999
	// sureEnough are odds that no change is offered to better.
	sureEnough = 0.97
)

// gains say what a change that later steps follow is good for: the odds of the wished date, and the end of the ferment where it
// is still to come.
func (c *Compared) gains(v *view, later []batch.Step) (out []string) {
	if t := v.batch.Target; t != nil && t.Ready.After(v.now) {
		plan, changed := c.Plan.Milestones.Ready, c.Changed.Milestones.Ready
		as, other := plan.Probability, changed.Probability
		if !math.IsNaN(as) && !math.IsNaN(other) && min(plan.Never, changed.Never) < surelyNever {
			key := "try odds"
			switch {
			case math.Abs(other-as) < leastGain:
				key = "try same"
			case OddsWord(other) == evenOdds:
				key = "try even"
			}
			change := v.changeWords(&c.Set, later)
			if key != "try even" {
				change = wording.Capital(change) // it begins its sentence
			}
			out = append(out, wording.Capital(v.say(key, "odds", v.odds(as), "time", v.clock.at(t.Ready, 0), "change", change, "odds2", v.odds(other))))
		}
	}
	if end := c.ends(v); end != "" {
		out = append(out, end)
	}
	return out
}

// ends says how a change moves the end of the ferment; empty where that has likely come, or hardly moves.
func (c *Compared) ends(v *view) string {
	if end := v.f.Milestones.Finished.P50; !end.IsZero() && !end.After(v.now) {
		return ""
	}
	as, other := c.Plan.Milestones.Finished, c.Changed.Milestones.Finished
	switch {
	case as.P50.IsZero() && other.P50.IsZero():
		return ""
	case as.P50.IsZero():
		return v.say("try ends", "time", v.comes(other))
	case other.P50.IsZero():
		return v.say("try stops")
	}
	moved := as.P50.Sub(other.P50)
	if moved.Abs() < max(leastMoved, as.P95.Sub(as.P05)/10) {
		return ""
	}
	key := "try sooner"
	if moved < 0 {
		key = "try later"
	}
	return v.say(key, "days", v.style.Duration(unit.Duration(moved.Abs().Seconds()), unit.Duration(moved.Abs().Seconds())/2))
}

// changeWords name a change in the middle of a sentence: "21 °C and gas at 10 psi". Later steps may take it back.
func (v *view) changeWords(set *batch.Setting, later []batch.Step) string {
	var out []string
	if set.Hold != nil {
		out = append(out, v.style.Temperature(*set.Hold, 0))
	}
	if set.Relief != nil {
		out = append(out, v.say("try relief", "set", v.style.Pressure(*set.Relief, 0)))
	}
	if set.Gas != nil {
		out = append(out, v.say("try gas", "set", v.style.Pressure(*set.Gas, 0)))
	}
	switch gas := func(s batch.Step) bool { return s.Set.Gas != nil }; {
	case set.GasOff && slices.ContainsFunc(later, gas):
		out = append(out, v.say("try gas later"))
	case set.GasOff:
		out = append(out, v.say("try no gas"))
	}
	return strings.Join(out, v.style.Word(" and "))
}

// Offer is a change that may help and is worth trying, with the words to offer it: warmth for what is stuck in the cold or may
// come too late, and the cold of the plan at once for what is finished and waits. ok is false where nothing is worth it.
func Offer(b *batch.Batch, log batch.Log, vessel batch.Upkeep, f *estimate.Forecast, now time.Time, style unit.Style) (set batch.Setting, words string, ok bool) {
	v := standing(b, log, vessel, f, now, style)
	if Passed(v.limits) || !v.f.Diagnostics.Trusted {
		return set, "", false
	}
	wished := b.Target != nil && b.Target.Ready.After(now) && f.Milestones.Ready.Probability < sureEnough && f.Milestones.Ready.Never < surelyNever
	switch {
	case v.isStuck(), wished && (v.state == Waking || v.state == Working || v.state == Slowing):
		set, ok = v.warmer()
	case wished && v.state == Finished && v.coldNext():
		set = batch.Setting{Hold: v.set.next.Set.Hold, Gas: v.set.next.Set.Gas}
		ok = set.Gas != nil || v.set.gasOn // never the cold without gas
	}
	if !ok || len(Idle(b, set)) > 0 {
		return batch.Setting{}, "", false
	}
	return set, v.say("offer", "change", v.changeWords(&set, nil)), true
}

// warmer holds the beer a little warmer than it is held now, within what its yeast ordinarily works at; to the middle of that where
// it is colder than it likes.
func (v *view) warmer() (set batch.Setting, ok bool) {
	from := unit.Temperature(v.f.Now.Temperature.P50)
	if v.set.hold > 0 {
		from = v.set.hold
	}
	low, high := v.batch.Yeast.Kind.Range()
	to := from + unit.Temperature(offeredAbove)
	if from < low {
		to = v.warmTo()
	}
	to = unit.Celsius(math.Round(to.Celsius()*2) / 2)
	if to > high {
		return set, false
	}
	return batch.Setting{Hold: &to}, true
}
