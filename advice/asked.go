package advice

import (
	"math"
	"time"

	"spile/batch"
	"spile/estimate"
	"spile/limit"
	"spile/unit"
	"spile/vessel"
)

// Asked is the answer to one question about the vessel as it is now.
type Asked struct {
	Key       string // turned, proof, quiet_gauge, own_gas, leak, gas, chill
	Label     string // "If chilled shut"
	Sentences []string
	Caution   string // empty where the question has no hazard of its own
}

// asked answers what people ask beside the forecast, where the answer means something.
func (v *view) asked() []Asked {
	var out []Asked
	q := &v.f.Questions
	for _, t := range q.Turns[max(0, len(q.Turns)-mostTurns):] {
		out = append(out, v.turned(t))
	}
	for _, p := range q.Proof {
		out = append(out, v.proved(p))
	}
	if q.Quiet != nil && v.nearEnd() {
		out = append(out, v.quiet(q.Quiet))
	}
	if q.Own != nil {
		out = append(out, v.ownGas(q.Own))
	}
	if a, worth := v.losing(&q.Leak); worth {
		out = append(out, a)
	}
	if v.state != Empty {
		out = append(out, v.carbonation(q.Chill))
	}
	if c := q.Chill; c != nil && !v.isCold() {
		out = append(out, v.chill(c))
	}
	return out
}

// mostTurns is how many changes of the temperature that nobody wrote down are asked about, the latest.
const mostTurns = 2

// turned asks about a change of the temperature that was not written down, or was and did not come.
func (v *view) turned(t estimate.Turned) Asked {
	key, ask := "turned cooled", "turned ask"
	switch warmer := t.By.P50 > 0; {
	case t.Kept && warmer:
		key, ask = "kept warmer", "kept ask"
	case t.Kept:
		key, ask = "kept colder", "kept ask"
	case warmer:
		key = "turned warmed"
	}
	size := v.style.Difference(unit.TemperatureDifference(math.Abs(t.By.P50)), unit.TemperatureDifference(width(t.By)))
	return Asked{Key: "turned", Label: v.say("label turned"), Sentences: []string{
		v.say(key, "n", size, "time", v.clock.part(t.Since)), v.say(ask),
	}}
}

// nearEnd says that proof of the finish is worth the trouble: not much is left, and it is not sure.
func (v *view) nearEnd() bool {
	n := &v.f.Now
	return n.PointsLeft.P50 < 4 && n.Finished < 0.97
}

// proved says what a quiet-gauge run in the log showed.
func (v *view) proved(p estimate.Proof) Asked {
	low, high := p.Between()
	key := proofKeys[p.Verdict()]
	switch {
	case p.Opened:
		key = "proof opened"
	case p.Verdict() == vessel.QuietUnsettled: // no number of it says anything of work
		return Asked{Key: "proof", Label: v.say("label proof"), Sentences: []string{v.say(key, "time", v.clock.at(p.Second, 0)), v.say("proof limit", "limit", v.fall(p.Limit, 0.01))}}
	}
	net := v.say("proof net")
	if p.Leak > 0 {
		net = v.say("proof leak", "n", v.style.Mass(unit.Mass(p.Leak*unit.Day), 0))
	}
	a := Asked{Key: "proof", Label: v.say("label proof"), Sentences: []string{
		v.say(key, "lo", v.fall(low, 0.01), "hi", v.fall(high, 0.01), "time", v.clock.at(p.Second, 0)),
	}}
	a.Sentences = append(a.Sentences, v.climbed(&p)...)
	a.Sentences = append(a.Sentences, v.say("proof limit", "limit", v.fall(p.Limit, 0.01)), net)
	return a
}

// climbed says what the gauge itself did in a run, where the log has both its readings. A gauge that climbs does so by itself
// only where the run says that the beer works: else warmth may have done it, or gas coming back.
func (v *view) climbed(p *estimate.Proof) (out []string) {
	first, second := v.gaugeAt(p.First), v.gaugeAt(p.Second)
	if first == nil || second == nil {
		return nil
	}
	rise := unit.Gauge(second.Value - first.Value)
	slots := []string{"rise", v.style.Pressure(unit.Gauge(math.Abs(float64(rise))), 0), "time", v.style.Duration(unit.Duration(p.Second.Sub(p.First).Seconds()), 0)}
	switch least := unit.Gauge(leastRise); {
	case rise <= -least:
		return []string{v.say("proof fell", slots...)}
	case rise < least:
		return []string{v.say("proof stood", slots...)}
	case p.Verdict() == vessel.QuietWorks && !p.Opened:
		out = append(out, v.say("proof climbs"))
	}
	out = append(out, v.say("proof rise", append(slots, "points", v.fall(p.Points, 0.01))...))
	if p.Unsettled > 0 {
		out = append(out, v.say("proof back"))
	}
	return out
}

// leastRise is the least that a dial is said to have moved (assumption: half of what it can be read to).
const leastRise = 0.25 * unit.PSI

// gaugeAt is what the gauge showed at a time; nil where nobody read it then.
func (v *view) gaugeAt(at time.Time) *batch.Reading {
	for i := range v.log.Readings {
		if r := &v.log.Readings[i]; r.Quantity == batch.Pressure && r.Time.Sub(at).Abs() < time.Second {
			return r
		}
	}
	return nil
}

// proofKeys are the sentences of what a test by gauge says.
var proofKeys = map[vessel.QuietVerdict]string{
	vessel.QuietUnknown: "proof cannot", vessel.QuietUnsettled: "proof unsettled", vessel.QuietDone: "proof quiet", vessel.QuietWorks: "proof works",
}

// quiet proposes a test by gauge.
func (v *view) quiet(p *estimate.Proposal) Asked {
	a := Asked{Key: "quiet_gauge", Label: v.say("label quiet")}
	hours := unit.FormatDuration(unit.Duration(p.Hours*unit.Hour), 0)
	switch {
	case p.Times < 0:
		a.Sentences = []string{v.say("quiet no room")}
		return a
	case p.Times == 0:
		a.Sentences = []string{v.say("quiet as it is", "time", hours)}
	case p.Times == 1:
		a.Sentences = []string{v.say("quiet once", "from", v.style.Pressure(p.From, 0), "to", v.style.Pressure(p.To, 0))}
	default:
		a.Sentences = []string{v.say("quiet often", "from", v.style.Pressure(p.From, 0), "to", v.style.Pressure(p.To, 0), "times", v.times(p.Times))}
	}
	if p.Times > 0 {
		a.Sentences = append(a.Sentences, v.say("quiet then", "time", hours))
	}
	a.Sentences = append(a.Sentences, v.say("proof limit", "limit", v.fall(p.Limit, 0.01)), v.say("quiet valve"))
	if p.Times > 0 {
		a.Caution = v.caution("c.room")
	}
	return a
}

// ownGas says whether the last points carbonate the beer, and the setting that keeps them.
func (v *view) ownGas(k *estimate.Keeping) Asked {
	a := Asked{Key: "own_gas", Label: v.say("label own")}
	if !k.Advised {
		a.Sentences = limit.Sentences(limit.Plates(v.batch.Vessel.Rating, v.batch.Vessel.SafetyRelief), limit.In(v.style))
		return a
	}
	key, set, wish := "own set", v.style.Dials(k.Setting, 0), v.style.BareGas(v.batch.Target.CO2, 0)
	if k.Capped {
		key, set = "own capped", v.style.LimitDials(k.Setting)
	}
	low, high := v.edges(unit.OfGas, k.Volumes)
	a.Sentences = []string{
		v.say(key, "set", set, "wish", wish),
		v.say("own ends", "lo", low, "hi", high, "temp", v.style.Temperature(v.f.Questions.Chill.To, 0)),
		v.say("own odds", "odds", v.odds(k.Enough)),
	}
	a.Caution = v.valveCaution()
	return a
}

// gasAhead is how far carbonation is looked at where no date is wished for.
const gasAhead = 3 * 24 * time.Hour

// carbonation says how much gas the beer holds: now, when it is wished for, and if it were chilled as it is.
func (v *view) carbonation(c *estimate.Rehearsal) Asked {
	held := func(key string, b estimate.Band, slots ...string) string {
		low, high := v.edges(unit.OfGas, b)
		return v.say(key, append(slots, "lo", low, "hi", high)...)
	}
	a := Asked{Key: "gas", Label: v.say("label gas"), Sentences: []string{held("gas now", v.f.Now.Volumes)}}
	then := v.f.At.Add(gasAhead)
	if t := v.batch.Target; t != nil && t.Ready.After(v.f.At) {
		then = t.Ready
	}
	if b, ok := v.f.Series.At(v.f.Series.Volumes, then.Sub(v.batch.Pitched).Hours()); ok {
		a.Sentences = append(a.Sentences, held("gas then", b, "time", v.clock.part(then)))
	}
	if c != nil && !v.isCold() {
		a.Sentences = append(a.Sentences, held("gas cold", c.Volumes, "temp", v.style.Temperature(c.To, 0)))
	}
	return a
}

// chill says what cold would do to the vessel as it is, shut.
func (v *view) chill(c *estimate.Rehearsal) Asked {
	low, high := v.edges(unit.OfPressure, c.Pressure)
	a := Asked{Key: "chill", Label: v.say("label chill"), Sentences: []string{
		v.say("chill ends", "temp", v.style.Temperature(c.To, 0), "lo", low, "hi", high),
		v.say("chill pulls", "odds", v.odds(c.PullsIn)),
	}}
	if c.PullsIn > 0.01 {
		a.Caution = v.caution("l.would-pull-in")
	}
	if gas, some := v.gas(c.ToStay.P95, width(c.ToStay)); some {
		a.Sentences = append(a.Sentences, v.say("chill lacks", "gas", gas))
	}
	if gas, some := v.gas(c.ToWish.P50, width(c.ToWish)); some && v.batch.Vessel.Rating != nil {
		a.Sentences = append(a.Sentences, v.say("chill takes", "wish", v.style.BareGas(v.batch.Target.CO2, 0),
			"gas", gas, "set", v.style.Pressure(unit.Gauge(c.Hold.P50), 0)))
	}
	return a
}

// gas writes an amount of gas in kg; some says that it does not read as nothing.
func (v *view) gas(kg, band float64) (words string, some bool) {
	words = v.style.Mass(unit.Mass(kg), unit.Mass(band))
	return words, kg > 0 && words != v.style.Mass(0, unit.Mass(band))
}

// losing answers whether the vessel loses gas. That nobody read a gauge is not worth a line of its own.
func (v *view) losing(l *estimate.Leaking) (Asked, bool) {
	a := Asked{Key: "leak", Label: v.say("label leak")}
	switch l.Verdict {
	case estimate.Yes:
		a.Sentences = []string{v.say("leak yes", "n", v.findingSize(estimate.Finding{Kind: estimate.FindingLeak, Size: l.Size}), "odds", v.odds(l.Probability))}
	case estimate.No:
		a.Sentences = []string{v.say("leak no", "n", v.style.Mass(unit.Mass(l.Size.P95*unit.Day), unit.Mass(width(l.Size)*unit.Day/3)))}
	case estimate.CannotTell:
		key := map[estimate.Hides]string{estimate.BehindValve: "leak valve", estimate.BehindAbsorption: "leak absorption", estimate.BehindSilence: "leak silence", estimate.BehindLetDown: "leak let down"}[l.Hides]
		if key == "" {
			key = "leak open"
		}
		a.Sentences = []string{v.say(key), v.say("leak settle")}
	}
	return a, l.Verdict != "" && l.Hides != estimate.BehindSilence
}
