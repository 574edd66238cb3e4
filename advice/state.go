package advice

import (
	"math"
	"slices"
	"time"

	"spile/batch"
	"spile/estimate"
	"spile/unit"
	"spile/wording"
)

// State is the one word for what a vessel is in.
type State string

// The states, as they are written.
const (
	Clean     State = "Clean"
	Filled    State = "Filled"
	Waking    State = "Waking"
	Working   State = "Working"
	Slowing   State = "Slowing"
	Finished  State = "Finished"
	Cooling   State = "Cooling"
	TakingGas State = "Taking gas"
	Ready     State = "Ready"
	Pouring   State = "Pouring"
	Empty     State = "Empty"
)

// spoken is each state said aloud.
var spoken = map[State]wording.Text{
	Clean:     "Clean and empty.",
	Filled:    "Filled. Add the yeast today.",
	Waking:    "Waking up. Nothing to see yet, and that is normal.",
	Working:   "Working.",
	Slowing:   "Slowing down.",
	Finished:  "Finished fermenting.",
	Cooling:   "Cooling.",
	TakingGas: "Cold, and taking gas.",
	Ready:     "Ready to pour.",
	Pouring:   "Pouring.",
	Empty:     "Empty. Still under pressure until you let it out.",
}

// Spoken is the state said aloud.
func (s State) Spoken() wording.Text { return spoken[s] }

// Wording is the state as it is written, to be said.
func (s State) Wording() wording.Text { return wording.Text(s) }

// States lists them in the order of a vessel's life.
func States() []State {
	return []State{Clean, Filled, Waking, Working, Slowing, Finished, Cooling, TakingGas, Ready, Pouring, Empty}
}

// The words that stand beside a state.
const (
	Stuck        wording.Text = "Stuck"
	LosingGas    wording.Text = "Losing gas"
	HardToTell   wording.Text = "Hard to tell"
	PressureHigh wording.Text = "Pressure high"
)

// What the words of state are held to.
const (
	sureOfFinish  = 0.9          // that at most one point is left
	finishedRate  = 0.5          // points a day at the upper edge
	restAfterCold = 48.0         // h for which a cooled beer cannot be called finished
	stoppedRate   = 1.0          // points a day at the upper edge: stopped
	crawlDays     = 21.0         // days that what is left would take at its pace: stopped too
	fastDays      = 10.0         // the same at the upper edge of its pace
	finishInSight = 7 * 24.0     // h
	sugarLeft     = 3.0          // points, four times in five: with sugar left
	wakingHours   = 48.0         // h in which nothing to see is normal
	leastLag      = 72.0         // h in which a lag is always credible
	mostLag       = 110.0        // h after which it never is
	seenPoints    = 2.0          // points fallen that show in a sample
	slowShare     = 0.2          // of the whole fall still to come: slowing
	nearCold      = 2.0          // K from the cold setting: cold
	emptyBeer     = unit.Litre   // m3 of beer that cannot be drawn, at the upper edge
	nearTarget    = 0.1          // volumes from the wish: carbonated
	oldHours      = 72.0         // h after which readings are too old to lean on
	leakOdds      = 0.65         // from "likely" on
	overSetting   = 5 * unit.PSI // above the highest setting of the working valve
)

// stateOf picks the word, the latest stage that the records show first.
func (v *view) stateOf() State {
	switch {
	case v.lastEvent(batch.Poured) != nil && v.f.Now.Liquid.P95 < emptyBeer:
		return Empty
	case v.lastEvent(batch.Poured) != nil:
		return Pouring
	case v.isCold() && v.fermented() && v.carbonated():
		return Ready
	case v.isCold() && v.fermented() && v.set.gasOn:
		return TakingGas
	case v.wantsCold() && v.fermented() && v.chilled():
		return Cooling
	}
	return v.fermentState()
}

func (v *view) fermentState() State {
	switch {
	case v.isFinished():
		return Finished
	case v.hours() <= v.lagHours() && v.fallen() < seenPoints:
		return Waking
	case v.isStuck() || v.f.Now.PointsLeft.P50 < slowShare*v.wholeFall() && v.fallen() >= seenPoints:
		return Slowing
	}
	return Working
}

// besides lists the words that hold beside the state.
func (v *view) besides() []string {
	var also []string
	for _, w := range []struct {
		word  wording.Text
		holds func() bool
	}{{Stuck, v.isStuck}, {LosingGas, v.losingGas}, {HardToTell, v.hardToTell}, {PressureHigh, v.pressureHigh}} {
		if w.holds() {
			also = append(also, v.style.Word(w.word))
		}
	}
	return also
}

// isFinished is the only test that lets the word Finished be said.
func (v *view) isFinished() bool {
	n := &v.f.Now
	return n.Finished >= sureOfFinish && n.PointsPerDay.P95 <= finishedRate && v.f.CooledHours >= restAfterCold
}

// fermented: nothing worth waiting for is left, cooled or not.
func (v *view) fermented() bool { return v.f.Now.Finished >= 0.5 && !v.isStuck() }

// lagHours is how long after pitching a lag is still credible: the upper edge of
// the kind's lag at the warmest the beer has been, a cold yeast being slow to start.
func (v *view) lagHours() float64 {
	warmest := float64(unit.Celsius(coldestStart))
	for i, h := range v.f.Series.Hours {
		if h <= v.hours() {
			warmest = math.Max(warmest, v.f.Series.Temperature[i].P50)
		}
	}
	lag := v.batch.Yeast.Kind.Lag(1, 1, unit.Temperature(warmest)).P95
	return math.Min(math.Max(lag, leastLag), mostLag)
}

// coldestStart is C below which nobody would expect a start.
const coldestStart = 12

// isStuck: stopped with sugar left, and not merely waking.
func (v *view) isStuck() bool {
	past := v.hours() > v.lagHours() || v.hours() > wakingHours && v.fallen() >= seenPoints
	return past && v.stopped() && quantile(v.f.Now.PointsLeft, z20) > sugarLeft
}

// stopped: at its fastest it hardly moves, or it crawls: what is left would take
// weeks at its pace, and no finish is in sight.
func (v *view) stopped() bool {
	n := &v.f.Now
	if n.PointsPerDay.P95 < stoppedRate {
		return true
	}
	finish := v.f.Milestones.Finished.P50
	soon := !finish.IsZero() && finish.Sub(v.now).Hours() < finishInSight
	return !soon && n.PointsPerDay.P50*crawlDays < n.PointsLeft.P50 && n.PointsPerDay.P95*fastDays < n.PointsLeft.P50
}

// fallen and wholeFall are points of gravity since pitching, and to the end.
func (v *view) fallen() float64 {
	return v.batch.Wort.Gravity.Points() - unit.Gravity(v.f.Now.Gravity.P50).Points()
}

func (v *view) wholeFall() float64 {
	return v.batch.Wort.Gravity.Points() - unit.Gravity(v.f.TerminalGravity.P50).Points()
}

// losingGas looks for a leak that is likely.
func (v *view) losingGas() bool {
	for _, f := range v.f.Findings {
		if f.Kind == estimate.FindingLeak && f.Probability >= leakOdds {
			return true
		}
	}
	return false
}

// hardToTell: readings disagree or are too old, or the inference is not to be trusted.
func (v *view) hardToTell() bool {
	if !v.f.Diagnostics.Trusted || len(v.f.Flags) > 0 {
		return true
	}
	for _, f := range v.f.Findings {
		if f.Kind == estimate.FindingCannotTell && f.Of != estimate.FindingDialOffset { // a dial in doubt hides nothing else
			return true
		}
	}
	return v.age() > oldHours && v.state != Ready && v.state != Pouring && v.state != Empty
}

// age is how old the last reading is, in hours; the age of the batch where there is none.
func (v *view) age() float64 {
	if v.f.LastReading.IsZero() {
		return v.hours()
	}
	return v.now.Sub(v.f.LastReading).Hours()
}

// isCold, wantsCold and chilled tell a beer at its cold setting, one on the way
// there, and one that has begun to cool.
func (v *view) isCold() bool {
	return v.wantsCold() && v.f.Now.Temperature.P50 <= float64(v.set.cold)+nearCold
}

func (v *view) wantsCold() bool {
	return v.set.cold > 0 && v.set.hold > 0 && v.set.hold <= v.set.cold+1
}

func (v *view) chilled() bool {
	return v.f.Now.Temperature.P50 < float64(v.f.Fermenting)-nearCold || !math.IsInf(v.f.CooledHours, 1)
}

func (v *view) carbonated() bool {
	t := v.batch.Target
	return t != nil && t.CO2 > 0 && v.f.Now.Volumes.P50 >= float64(t.CO2)-nearTarget
}

// settings is what was set and is in force, as far as records and belief tell.
type settings struct {
	hold       unit.Temperature // 0: left to the room
	cold       unit.Temperature // the cold that is meant at the end, 0: none
	relief     *unit.Gauge      // in force; nil: not told
	highRelief *unit.Gauge      // the highest, plan included
	highGas    *unit.Gauge
	gas        unit.Gauge
	gasOn      bool
	next       *batch.Step // of the plan
	nextAt     time.Time   // zero where it waits for a condition
}

// settingsOf walks plan and log in order of time. A step that waits for a
// condition counts as done where the log or the beer itself shows it.
func settingsOf(b *batch.Batch, log batch.Log, f *estimate.Forecast, now time.Time) settings {
	var s settings
	if b.Target != nil {
		s.cold = b.Target.Temperature
	}
	type change struct {
		at  time.Time
		set batch.Setting
	}
	var done []change
	for i := range b.Programme {
		p := &b.Programme[i]
		s.extremes(p.Set)
		at := b.After(p.At)
		switch {
		case p.AtSet && !at.After(now):
			done = append(done, change{at, p.Set})
		case !p.AtSet && seems(p, f, log):
			done = append(done, change{now, p.Set})
		case s.next == nil:
			s.next = p
			if p.AtSet {
				s.nextAt = at
			}
		}
	}
	for i := range log.Events {
		if set := log.Events[i].Setting(); set != nil {
			s.extremes(*set)
			done = append(done, change{log.Events[i].Time, *set})
		}
	}
	slices.SortStableFunc(done, func(a, b change) int { return a.at.Compare(b.at) })
	for _, c := range done {
		s.apply(c.set)
	}
	return s
}

// Waits are the steps of the plan that wait for a condition and were not done, as far as log and beer show.
func Waits(b *batch.Batch, log batch.Log, f *estimate.Forecast) (out []batch.Step) {
	for i := range b.Programme {
		if p := &b.Programme[i]; !p.AtSet && !seems(p, f, log) {
			out = append(out, *p)
		}
	}
	return out
}

// asSet is how close a pressure that was set comes to the one that was meant.
const asSet = 1.5 * unit.PSI

// seems tells whether a step that waits for a condition was done: the log says so, or it is to be colder by more than a
// little and the beer is.
func seems(p *batch.Step, f *estimate.Forecast, log batch.Log) bool {
	if p.Set.Hold == nil {
		return slices.ContainsFunc(log.Events, func(e batch.Event) bool {
			meant := map[batch.EventKind]*unit.Gauge{batch.SetRelief: p.Set.Relief, batch.GasOn: p.Set.Gas}[e.Kind]
			return meant != nil && math.Abs(float64(e.Pressure-*meant)) < asSet || e.Kind == batch.GasOff && p.Set.GasOff
		})
	}
	for _, e := range log.Events {
		if e.Kind == batch.HoldAt && math.Abs(float64(e.Temperature-*p.Set.Hold)) < nearCold {
			return true
		}
	}
	was := float64(f.Fermenting)
	return was-float64(*p.Set.Hold) > 2*nearCold && f.Now.Temperature.P50 < was-2*nearCold
}

func (s *settings) apply(set batch.Setting) {
	if set.Hold != nil {
		s.hold = *set.Hold
	}
	if set.Relief != nil {
		s.relief = set.Relief
	}
	if set.Gas != nil {
		s.gas, s.gasOn = *set.Gas, true
	}
	if set.GasOff {
		s.gasOn = false
	}
}

// overGas is what the working valve must be set to over the highest gas; nil: there is none.
func (s *settings) overGas() *unit.Gauge {
	if s.highGas == nil {
		return nil
	}
	return gauge(float64(*s.highGas + estimate.AboveGas))
}

// extremes keeps the extremes of what is set at any time.
func (s *settings) extremes(set batch.Setting) {
	if set.Relief != nil && (s.highRelief == nil || *set.Relief > *s.highRelief) {
		s.highRelief = set.Relief
	}
	if set.Gas != nil && (s.highGas == nil || *set.Gas > *s.highGas) {
		s.highGas = set.Gas
	}
	if set.Hold != nil && (s.cold == 0 || *set.Hold < s.cold) && *set.Hold < unit.Celsius(8) {
		s.cold = *set.Hold
	}
}
