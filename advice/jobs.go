package advice

import (
	"slices"
	"time"

	"spile/batch"
	"spile/estimate"
	"spile/unit"
	"spile/wording"
)

// Job is something that is still to be done at a vessel, to be ticked off.
type Job struct {
	When    string // "Thursday evening.", "Finished for 24 h."
	Awaited string // when what it waits for is likely, with its band; empty where it waits for nothing that is foretold
	Do      string
	Caution string // empty where it has no hazard of its own
}

// ofPlan are the rules whose action is the next step of the plan.
var ofPlan = map[string]bool{"plan": true, "before cold": true}

// tells are the rules whose action tells something, and asks for nothing.
var tells = map[string]bool{"finished": true, "late": true}

// Jobs are what is still to be done, in its order: what asks for it now, the steps of the plan that log and beer do not
// show yet, and what comes once it is ready and empty. None of them is "nothing to do".
func Jobs(b *batch.Batch, log batch.Log, vessel batch.Upkeep, f *estimate.Forecast, now time.Time, style unit.Style) (out []Job) {
	v, said := standing(b, log, vessel, f, now, style), false
	actions := v.actions()
	if words := v.bestReading(); words != "" && !f.Next.None && !v.fermented() && !slices.ContainsFunc(actions, func(a Action) bool { return a.Key == "best" }) {
		a := best(v)
		a.Do = words
		actions = append(actions, a)
	}
	for _, a := range actions {
		if a.Urgency > NothingToDo && !tells[a.Key] {
			out = append(out, Job{When: join(v.dayOf(a.When), a.Why), Do: a.Do, Caution: a.Caution})
			said = said || ofPlan[a.Key]
		}
	}
	relief := v.set.relief
	for i := range b.Programme {
		p := &b.Programme[i]
		if v.done(p) {
			continue
		}
		if p.Set.Relief != nil {
			relief = p.Set.Relief
		}
		if j := v.job(p, relief); j.Do != "" && !(said && p == v.set.next) {
			out = append(out, j)
		}
	}
	return append(out, v.atTheEnd()...)
}

// job is a step of the plan that is to come, the working valve then set to relief; nil: not told.
func (v *view) job(p *batch.Step, relief *unit.Gauge) Job {
	j := Job{When: v.stepWhen(p, v.now) + ".", Awaited: v.waitsFor(p)}
	j.Do, j.Caution = v.stepAction(&p.Set)
	if gas := p.Set.Gas; gas != nil && leaves(*gas, relief) {
		j.Do, j.Caution = join(v.drainAdvice(*gas), j.Do), join(v.valveCaution(), j.Caution)
	}
	return j
}

// done tells that a step of the plan is behind, as far as log and beer show.
func (v *view) done(p *batch.Step) bool {
	if p.AtSet {
		return !v.batch.After(p.At).After(v.now)
	}
	return seems(p, v.f, v.log)
}

// atTheEnd are the jobs of every beer that is served from its vessel.
func (v *view) atTheEnd() (out []Job) {
	add := func(when wording.Text, a Action) {
		out = append(out, Job{When: v.style.Word(when), Do: a.Do, Caution: a.Caution})
	}
	if m := &v.f.Milestones.Ready; v.set.cold > 0 && v.state != Ready && v.state != Pouring && v.state != Empty && m.Never < surelyNever {
		add("Once it is ready.", firstGlass(v))
		out[0].Awaited = v.aheadOf("ready", v.say("label ready"), *m).Words()
	}
	if v.state != Empty {
		a := empty(v)
		a.Do = v.say("empty later")
		add("Once it is empty.", a)
	}
	return out
}

// dayOf puts its date behind a bare today, where every day has one.
func (v *view) dayOf(when string) string {
	if v.clock.dated && when == v.style.Word("Today.") {
		return wording.Capital(v.clock.day(v.clock.now)) + "."
	}
	return when
}

// waitsFor says when the condition of a step is likely to hold.
func (v *view) waitsFor(p *batch.Step) string {
	switch p.When.Kind {
	case batch.FinishedFor:
		return v.aheadOf("finished", v.say("label finished"), v.f.Milestones.Finished).Words()
	case batch.Carbonated:
		return v.aheadOf("carbonated", v.say("label carbonated"), v.f.Milestones.Carbonated).Words()
	case batch.GravityAtMost:
		if m := v.falls(p.When.Gravity); !m.P05.IsZero() {
			return v.aheadOf("", v.style.Gravity(p.When.Gravity, 0), m).Words()
		}
	}
	return ""
}

// falls is when the gravity, which never climbs, will have fallen to g: where the edges of its band get there.
func (v *view) falls(g unit.Gravity) (m estimate.Milestone) {
	s := &v.f.Series
	for i, h := range s.Hours {
		for _, edge := range []struct {
			gravity float64
			at      *time.Time
		}{{s.Gravity[i].P05, &m.P05}, {s.Gravity[i].P50, &m.P50}, {s.Gravity[i].P95, &m.P95}} {
			if edge.at.IsZero() && edge.gravity <= float64(g) {
				*edge.at = v.batch.After(unit.Duration(h * unit.Hour))
			}
		}
	}
	return m
}
