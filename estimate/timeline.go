package estimate

import (
	"cmp"
	"math"
	"slices"
	"sort"
	"time"

	"spile/batch"
	"spile/portable"
	"spile/unit"
	"spile/vessel"
)

// item is one thing that happens to the vessel at a time since pitching, in seconds.
type item struct {
	at      float64
	set     *batch.Setting // something is set
	event   *batch.Event   // something is done
	fault   *vessel.Fault  // something breaks, or is mended
	reading int            // index of the datum taken then, -1 for none
	unsure  float64        // s, sd of at; 0: as exact as a clock; +Inf: any time between from and until
	shift   int            // index in z of how far at is off, where unsure
	from    float64        // at the earliest, where unsure: what comes before it does so
	until   float64        // at the latest
	depth   int            // index in z of how far a let-down went, 0: as it says
}

// note says that something was noticed.
func (it *item) note() bool { return it.event != nil && it.event.Kind == batch.Noticed }

// letDown is the let-down of it under z. Of one that nobody wrote down half went until nothing hissed, and half anywhere from
// there to what it says (assumption).
func (it *item) letDown(z []float64) batch.Event {
	e := *it.event
	if it.depth > 0 {
		e.To *= unit.Gauge(max(2*portable.Normal(z[it.depth])-1, 0))
	}
	return e
}

// loosen gives what is done and not known exactly one more unknown, and says which.
func (tl *timeline) loosen() int {
	tl.loose++
	return tl.dim() - 1
}

// findShifts gives what has no exact time an unknown of its own; what was done and read in one go shares it. It keeps its
// place among what happened before and after.
func (tl *timeline) findShifts() {
	for i := 0; i < len(tl.items); i++ {
		if tl.items[i].unsure == 0 || tl.items[i].at > tl.now {
			continue
		}
		last := i
		for last+1 < len(tl.items) && tl.items[last+1].unsure > 0 && tl.items[last+1].at <= tl.items[last].at+inOneGo {
			last++
		}
		from, until := 0.0, tl.now
		if i > 0 {
			from = tl.items[i-1].at
		}
		if last+1 < len(tl.items) {
			until = math.Min(tl.items[last+1].at, tl.now)
		}
		shift := tl.loosen()
		for ; i <= last; i++ {
			it := &tl.items[i]
			it.shift, it.from, it.until = shift, from, until
		}
		i--
	}
}

// inOneGo is how far apart the looks at the dial and the let-down between them stand, s.
const inOneGo = 2.0

// when is the time of it under z.
func (it *item) when(z []float64) float64 {
	switch {
	case it.shift == 0:
		return it.at
	case math.IsInf(it.unsure, 1):
		return it.from + portable.Normal(z[it.shift])*(it.until-it.from)
	}
	return math.Min(math.Max(it.at+it.unsure*z[it.shift], it.from), it.until)
}

// datum is one reading as the likelihood sees it.
type datum struct {
	at      float64 // s since pitching
	value   float64 // SI
	scatter float64 // sd of this reading, SI: its instrument's, and what else makes it unsure
	channel int
	n       int     // readings of which it is the mean
	wild    bool    // they jump as no beer does
	course  float64 // of the air: where the measured course of the beer is asked, s since pitching, -1 for nowhere
	within  float64 // sd of them about a line, SI; 0: not known
	// atRelief: a gauge near what the working valve is set to, with no gas on
	atRelief bool
	reading  batch.Reading
}

// timeline is everything known to happen, in order of time, ahead included.
type timeline struct {
	items    []item
	data     []datum
	channels []channel
	tools    map[Tool]Instrument // what was learnt of some of them
	flags    []Flag              // readings that are asked about whatever is believed
	loose    int                 // how many unknowns are of what was done: when, how far, how much
	poured   int                 // index in z of how much more was poured than written, 0: nothing was
	notes    int                 // of what somebody noticed
	forced   []float64           // gravities of samples fermented out warm, SG
	saws     []float64           // ln of how far the working valve was seen to close below where it opens, Pa
	waiting  []batch.Step        // steps that wait for a condition, in the order of the programme
	unkept   bool                // nobody named a temperature to keep from pitching on
	gassed   bool                // gas was turned on: there is a cylinder, whether or not it was named
	now      float64             // s since pitching
	track    track               // measured beer temperature
	last     float64             // s since pitching of the last datum or event, 0 for none
	hold     unit.Temperature    // the hold in force at now, 0 for none
}

// newTimeline orders what b plans and log tells up to now, read with instruments of which tools was learnt.
func newTimeline(b *batch.Batch, log batch.Log, now time.Time, tools map[Tool]Instrument) *timeline {
	tl := &timeline{now: now.Sub(b.Pitched).Seconds(), tools: tools}
	tl.addReadings(b, log)
	tl.addEvents(b, log)
	tl.addProgramme(b)
	slices.SortStableFunc(tl.items, func(x, y item) int { return cmp.Or(cmp.Compare(x.at, y.at), cmp.Compare(x.says(), y.says())) })
	tl.smooth(b)
	tl.findShifts()
	if slices.ContainsFunc(tl.items, func(it item) bool { return it.event != nil && it.event.Kind == batch.Poured }) {
		tl.poured = tl.loosen()
	}
	if hold := tl.inForce(tl.now).hold; hold != nil {
		tl.hold = *hold
	}
	tl.unkept = tl.inForce(unit.Hour).hold == nil
	tl.unsettle()
	tl.heedAir(b)
	tl.seeSaws()
	tl.repeat()
	return tl
}

// says is the order of what falls on one moment: what was read before anything was touched, what was planned, and what was done
// instead.
func (it *item) says() int {
	switch {
	case it.reading >= 0:
		return 0
	case it.event == nil:
		return 1
	}
	return 2
}

func (tl *timeline) addReadings(b *batch.Batch, log batch.Log) {
	readings := append([]batch.Reading(nil), log.Readings...)
	for i := range log.Events {
		if e := &log.Events[i]; e.Kind == batch.VentedTo {
			sideBySide(readings, e)
		}
	}
	for _, e := range log.Events { // letting gas out is two looks at the dial
		if e.Kind == batch.VentedTo {
			readings = append(readings,
				batch.Reading{Time: e.Time.Add(-time.Second), Uncertain: e.Uncertain, Quantity: batch.Pressure, Value: float64(e.From), Line: e.Line},
				batch.Reading{Time: e.Time.Add(time.Second), Uncertain: e.Uncertain, Quantity: batch.Pressure, Value: float64(e.To), Line: e.Line})
		}
	}
	sort.SliceStable(readings, func(i, j int) bool { return readings[i].Time.Before(readings[j].Time) })
	var done []time.Time
	for _, e := range log.Events {
		done = append(done, e.Time)
	}
	slices.SortFunc(done, time.Time.Compare)
	for _, r := range thin(tl.asked(b, readings), done, mostOfOne) {
		at := r.Time.Sub(b.Pitched).Seconds()
		tl.last = math.Max(tl.last, at)
		c := tl.channel(r.Quantity, r.Instrument)
		scatter := scatterOf(math.Max(tl.channels[c].Scatter, r.wild), r.n)
		if r.Quantity == batch.Temperature {
			tl.track.looks = append(tl.track.looks, look{math.Max(at, 0), r.Value, scatter, c, r.Reading})
			continue
		}
		tl.items = append(tl.items, item{at: math.Max(at, 0), unsure: float64(r.Uncertain), reading: len(tl.data)})
		tl.data = append(tl.data, datum{at: math.Max(at, 0), value: r.Value, scatter: scatter, channel: c, n: r.n, wild: r.wild > 0, within: r.sd, reading: r.Reading})
	}
}

// sameVisit is within what time people write down what they read and did in any order.
const sameVisit = 5 * time.Minute

// sideBySide puts readings of the gauge from the same visit as a let-down on the side of it that they show: before, where they
// are nearer to what it was let down from, else after.
func sideBySide(readings []batch.Reading, e *batch.Event) {
	for i := range readings {
		r := &readings[i]
		apart := r.Time.Sub(e.Time)
		if r.Quantity != batch.Pressure || apart.Abs() > sameVisit {
			continue
		}
		before := math.Abs(r.Value-float64(e.From)) < math.Abs(r.Value-float64(e.To))
		switch {
		case before && apart >= 0:
			r.Time = e.Time.Add(-2 * time.Second)
		case !before && apart <= 0:
			r.Time = e.Time.Add(2 * time.Second)
		}
	}
}

// asked are the readings up to now that take part, each once; those that are odd in themselves are flagged.
func (tl *timeline) asked(b *batch.Batch, readings []batch.Reading) []batch.Reading {
	out := make([]batch.Reading, 0, len(readings))
	for i, r := range readings {
		at := r.Time.Sub(b.Pitched).Seconds()
		switch {
		case at > LongestBatch.Seconds():
			tl.flags = append(tl.flags, Flag{Kind: FlagLate, Reading: r})
			continue
		case at > tl.now:
			continue
		case again(readings, i):
			tl.flags = append(tl.flags, Flag{Kind: FlagTwice, Reading: r})
			continue
		case at < -earliest:
			tl.flags = append(tl.flags, Flag{Kind: FlagEarly, Reading: r})
		}
		out = append(out, r)
	}
	return out
}

// earliest is how long before pitching a reading of the wort is nothing to ask about, s.
const earliest = 12 * unit.Hour

func (tl *timeline) addEvents(b *batch.Batch, log batch.Log) {
	for i := range log.Events {
		e := &log.Events[i]
		at := math.Max(e.Time.Sub(b.Pitched).Seconds(), 0)
		if at > tl.now {
			continue
		}
		tl.last = math.Max(tl.last, at)
		if e.Kind == batch.ForcedSample {
			tl.forced = append(tl.forced, float64(e.Gravity))
		}
		tl.gassed = tl.gassed || e.Kind == batch.GasOn
		it := item{at: at, unsure: float64(e.Uncertain), event: e, set: e.Setting(), reading: -1}
		if it.note() {
			tl.notes++
		}
		tl.items = append(tl.items, it)
	}
}

// addProgramme takes steps at a time as they stand, and keeps those that wait
// for a condition unless the log says that they were done, after the steps before them.
func (tl *timeline) addProgramme(b *batch.Batch) {
	since := -1.0
	for i := range b.Programme {
		s := &b.Programme[i]
		switch {
		case s.AtSet:
			at := math.Max(float64(s.At), 0)
			since = math.Max(since, at)
			tl.items = append(tl.items, item{at: at, set: &s.Set, reading: -1})
		case !tl.done(&s.Set, since):
			tl.waiting = append(tl.waiting, *s)
		}
	}
}

// done says whether the log holds an event later than since that sets what s sets.
func (tl *timeline) done(s *batch.Setting, since float64) bool {
	for _, it := range tl.items {
		e := it.set
		if it.event == nil || e == nil || it.at <= since {
			continue
		}
		sameHold := s.Hold != nil && e.Hold != nil && math.Abs(float64(*s.Hold-*e.Hold)) < 2
		sameGas := s.Hold == nil && s.Gas != nil && e.Gas != nil
		if sameHold || sameGas {
			return true
		}
	}
	return false
}

// inForce is what is set at a time; nil where nobody has named it.
type inForce struct {
	hold   *unit.Temperature
	relief *unit.Gauge
	gas    *unit.Gauge // nil: off
}

// take goes on with what s sets.
func (f *inForce) take(s *batch.Setting) {
	if s.Hold != nil {
		f.hold = s.Hold
	}
	if s.Relief != nil {
		f.relief = s.Relief
	}
	if s.Gas != nil {
		f.gas = s.Gas
	}
	if s.GasOff {
		f.gas = nil
	}
}

// inForce is what is set at a time, s since pitching.
func (tl *timeline) inForce(at float64) inForce {
	var f inForce
	for i := range tl.items {
		if it := &tl.items[i]; it.at <= at && it.set != nil {
			f.take(it.set)
		}
	}
	return f
}

const (
	// A regulator locks up about a tenth above what it is set to, and creeps: a gauge on open gas shows that, not the beer
	// (common practice, no source).
	lockUp = 0.05
	// A working valve opens and closes again a little lower: between the two the gauge may stand anywhere (common practice, no source).
	sawTooth = 0.2 * psi
	// onTheLine is what a gas line that hangs on the vessel carries of it, or adds, kg (assumption).
	onTheLine = 0.05
	// nearRelief is how near its setting a valve is taken to be at work.
	nearRelief = 2 * psi
)

// unsettle gives readings the scatter that regulator, working valve and gas line add.
func (tl *timeline) unsettle() {
	var set inForce
	for i := range tl.items {
		it := &tl.items[i]
		if it.set != nil {
			set.take(it.set)
		}
		if it.reading < 0 {
			continue
		}
		d := &tl.data[it.reading]
		q := tl.channels[d.channel].quantity
		if set.gas != nil {
			d.scatter = math.Hypot(d.scatter, lineAdds(q, *set.gas))
		} else if q == batch.Pressure && set.relief != nil && math.Abs(d.value-float64(*set.relief)) < nearRelief {
			d.atRelief, d.scatter = true, math.Hypot(d.scatter, scatterOf(sawTooth, d.n))
		}
	}
}

// lineAdds is the scatter, SI, that a line open to the regulator adds to a reading of q.
func lineAdds(q batch.Quantity, gas unit.Gauge) float64 {
	switch q {
	case batch.Pressure:
		return lockUp * float64(gas)
	case batch.VesselMass:
		return onTheLine
	}
	return 0
}

// repeat lets of a run of equal readings only the first and the last speak: what shows the same again and again rounds,
// hangs or was copied, and its readings do not err apart from each other.
func (tl *timeline) repeat() {
	for c := range tl.channels {
		var run []int
		end := func() {
			for k := 1; k < len(run)-1; k++ {
				tl.data[run[k]].scatter = math.Inf(1)
			}
			run = run[:0]
		}
		for i := range tl.data {
			if tl.data[i].channel != c {
				continue
			}
			if len(run) > 0 && tl.data[i].value != tl.data[run[0]].value {
				end()
			}
			run = append(run, i)
		}
		end()
	}
}

// channel finds or makes the channel of an instrument.
func (tl *timeline) channel(q batch.Quantity, name string) int {
	name, ins := lookup(q, name)
	for i := range tl.channels {
		if tl.channels[i].quantity == q && tl.channels[i].name == name {
			return i
		}
	}
	c := channel{quantity: q, name: name, Instrument: ins, offset: tl.dim()}
	if ins.Scale > 0 || ins.Drift > 0 || ins.Stick > 0 {
		c.more = c.offset + 1
	}
	if learnt, ok := tl.tools[Tool{q, name}]; ok {
		c.Mean, c.Offset, c.Scatter, c.Broken = learnt.Mean, learnt.Offset, learnt.Scatter, learnt.Broken
	}
	tl.channels = append(tl.channels, c)
	return len(tl.channels) - 1
}

// dim is the number of unknowns, those of the instruments included.
func (tl *timeline) dim() int {
	n := int(numUnknowns)
	for i := range tl.channels {
		n++
		if tl.channels[i].more > 0 {
			n++
		}
	}
	return n + tl.track.modes + tl.loose
}

// fed says whether a regulator has let gas in by now.
func (tl *timeline) fed() bool {
	return slices.ContainsFunc(tl.items, func(it item) bool { return it.at < tl.now && it.set != nil && it.set.Gas != nil })
}

// active lists the unknowns that the readings can speak of. Gas cannot be heard
// in a gravity reading, nor cold in a warm ferment; what cannot be heard keeps its prior.
func (tl *timeline) active() []int {
	none := len(tl.data) == 0
	gas, late, air := none || tl.notes > 0, none, false
	for i := range tl.data {
		q := tl.channels[tl.data[i].channel].quantity
		if q == batch.AirTemperature && math.IsInf(tl.data[i].scatter, 1) {
			continue
		}
		gas, air = gas || q != batch.Gravity && q != batch.AirTemperature, air || q == batch.AirTemperature
		late = late || tl.data[i].at > tl.track.end()
	}
	var out []int
	for u := range numUnknowns {
		switch {
		case table[u].gas && !gas:
		case u == HeatLoss && !late && !gas && !air:
		case u == ColdSlope && tl.track.warm() && !late:
		case u == HoldOffset && !late:
		case u == RegulatorOffset && !tl.fed():
		case u == ReliefReseat && len(tl.saws) == 0:
		default:
			out = append(out, int(u))
		}
	}
	for i := int(numUnknowns); i < tl.dim(); i++ {
		out = append(out, i)
	}
	return out
}
