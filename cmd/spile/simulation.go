package main

import (
	"math"
	"math/rand/v2"
	"slices"

	"spile/advice"
	"spile/batch"
	"spile/co2"
	"spile/estimate"
	"spile/internal/batchfile"
	"spile/internal/report"
	"spile/unit"
	"spile/vessel"
	"spile/wort"
)

// simulation is one run of a plan on the full closure, with the brewer's daily
// look at the instruments, on which alone the conditions of the plan are judged.
type simulation struct {
	batchfile.Simulated
	passed bool

	style    unit.Style // of what is said of it
	batch    *batch.Batch
	full     *vessel.Full
	controls vessel.Controls
	params   vessel.Params
	waiting  []batch.Step
	rng      *rand.Rand
	looks    []look
	last     float64 // s since pitching of the last step done, or sure to come
	finished float64 // s at which two looks first agreed, 0 for not yet
	stuck    string  // how the working valve fails, empty for not
	failed   bool    // the regulator is open
}

// look is what one sample showed.
type look struct{ at, gravity float64 }

const (
	simulatedStep  = unit.Hour
	simulatedLeast = 14 * unit.Day
	afterLastStep  = 7 * unit.Day
	waitingSpan    = 28 * unit.Day // after the last step, for a condition that does not come
	lookEvery      = unit.Day
	hydrometerSD   = 0.0007 // SG, scatter of a glass hydrometer
	// safetyReseats is how far below its setting a safety valve that opened may be found an hour later.
	safetyReseats = 2 * unit.PSI
	tasteSD       = 0.1 // volumes, how well a poured glass tells its gas
)

// simulate runs b to a week past the last step of its plan, two weeks at least, and says it in a style.
func simulate(b *batch.Batch, seed uint64, style unit.Style) (*simulation, error) {
	s := &simulation{style: style, batch: b, params: vesselParams(b), rng: rand.New(rand.NewPCG(seed, 1))}
	s.Name, s.Seed = b.Name, seed
	s.full = vessel.NewFull(s.params)
	s.controls = vessel.Controls{Hold: 0, Relief: 0, Gas: vessel.GasOff}
	for _, step := range b.Programme {
		if !step.AtSet {
			s.waiting = append(s.waiting, step)
		}
	}
	changes := s.changes()
	if n := len(changes); n > 0 {
		s.last = changes[n-1].at
	}
	for t := 0.0; t <= s.end(); t += simulatedStep {
		for len(changes) > 0 && changes[0].at <= t {
			if err := s.full.Advance(changes[0].at); err != nil {
				return nil, err
			}
			changes[0].do()
			changes = changes[1:]
		}
		if err := s.full.Advance(t); err != nil {
			return nil, err
		}
		if math.Mod(t, lookEvery) == 0 && t > 0 {
			s.lookAround(t)
		}
		s.record(t)
	}
	s.Limits = s.checkLimits()
	return s, nil
}

// change is something that happens at a time, s since pitching.
type change struct {
	at float64
	do func()
}

// changes are the steps at a time and the planted faults, in order.
func (s *simulation) changes() []change {
	var out []change
	for _, step := range s.batch.Programme {
		if step.AtSet {
			out = append(out, change{float64(step.At), func() { s.set(step.Set, float64(step.At)) }})
		}
	}
	for _, fault := range s.batch.Faults {
		out = append(out, change{float64(fault.At), func() { s.plant(fault) }})
	}
	slices.SortStableFunc(out, func(a, b change) int {
		switch {
		case a.at < b.at:
			return -1
		case a.at > b.at:
			return 1
		}
		return 0
	})
	return out
}

// end is a week past the last step, two weeks at least; longer while a step waits for its condition.
func (s *simulation) end() float64 {
	end := math.Max(simulatedLeast, s.last+afterLastStep)
	if len(s.waiting) > 0 {
		end = math.Max(end, s.last+waitingSpan)
	}
	return end
}

// vesselParams is the vessel of a batch with usual fittings and an ordinary ferment.
func vesselParams(b *batch.Batch) vessel.Params {
	start := b.Place.Ambient
	for _, step := range b.Programme {
		if step.AtSet && step.At == 0 && step.Set.Hold != nil {
			start = *step.Set.Hold
		}
	}
	p := vessel.Standard(b.Vessel.Capacity, b.Vessel.Diameter, b.Wort.Volume, wort.ExtractFromGravity(b.Wort.Gravity), b.Yeast.Kind,
		start, b.Place.Ambient, unit.StandardAtmosphere(b.Place.Altitude))
	if b.Yeast.Attenuation > 0 {
		p.Attenuation = float64(b.Yeast.Attenuation)
	}
	if b.Place.Fridge != nil {
		p.Fridge = vessel.UsualFridge(b.Place.Fridge.Coldest)
	}
	p.Belt = b.Place.Belt
	if b.Vessel.SafetyRelief != nil {
		p.SafetyRelief = *b.Vessel.SafetyRelief
	}
	if b.Gas != nil {
		p.Cylinder = b.Gas.Content
	}
	return p
}

// set does what a step says, as far as planted faults let it.
func (s *simulation) set(set batch.Setting, t float64) {
	estimate.Turn(&s.controls, &set)
	s.apply()
	s.Steps = append(s.Steps, batchfile.SimulatedStep{Hours: t / unit.Hour, Set: report.SettingWords(set, s.style)})
}

// apply hands the settings to the vessel, faults on top.
func (s *simulation) apply() {
	c := s.controls
	switch s.stuck {
	case "stuck", "foamed shut":
		c.Relief = unit.Gauge(math.Inf(1))
	case "open":
		c.Relief = 0
	}
	if s.failed && c.Gas >= 0 {
		c.Gas = vessel.CylinderPressure.Gauge(s.params.Atmosphere)
	}
	s.full.Set(c)
}

// plant begins a fault. A leak loses what it says at the highest pressure that
// the plan sets, 10 psi where it sets none.
func (s *simulation) plant(f batch.Fault) {
	switch f.Kind {
	case "leak":
		s.full.SetLeak(float64(f.Rate) / co2.MolarMass / float64(s.workingPressure()))
	case "relief":
		s.stuck = f.How
	case "regulator":
		s.failed = f.How == "open"
	}
	s.apply()
}

func (s *simulation) workingPressure() unit.Gauge {
	high := unit.Gauge(0)
	for _, step := range s.batch.Programme {
		for _, p := range []*unit.Gauge{step.Set.Relief, step.Set.Gas} {
			if p != nil {
				high = max(high, *p)
			}
		}
	}
	if high == 0 {
		return 10 * unit.PSI
	}
	return high
}

// lookAround takes the day's sample and does the next step that waits, if what it waits for is seen.
func (s *simulation) lookAround(t float64) {
	sample := float64(s.full.State().Gravity()) + hydrometerSD*s.rng.NormFloat64()
	s.looks = append(s.looks, look{t, math.Round(sample*1000) / 1000})
	if s.finished == 0 && s.agree() {
		s.finished = t
	}
	for len(s.waiting) > 0 && s.holds(s.waiting[0].When, t) {
		s.set(s.waiting[0].Set, t)
		s.waiting, s.last = s.waiting[1:], math.Max(s.last, t)
	}
}

// agree is the trade's finish rule on what was read: two equal readings on
// different days, well down from the start.
func (s *simulation) agree() bool {
	n := len(s.looks)
	if n < 2 {
		return false
	}
	last, before := s.looks[n-1].gravity, s.looks[n-2].gravity
	fallen := float64(s.batch.Wort.Gravity) - last
	return math.Abs(last-before) < 0.0015 && fallen > (float64(s.batch.Wort.Gravity)-1)/2
}

func (s *simulation) holds(c batch.Condition, t float64) bool {
	switch c.Kind {
	case batch.GravityAtMost:
		return s.looks[len(s.looks)-1].gravity <= float64(c.Gravity)
	case batch.FinishedFor:
		// The first of two equal readings was a day ago: so long it has been finished already.
		return s.finished > 0 && t-(s.finished-lookEvery) >= float64(c.For)
	case batch.Carbonated:
		glass := float64(s.full.State().Volumes()) + tasteSD*s.rng.NormFloat64()
		return s.batch.Target != nil && s.batch.Target.CO2 > 0 && glass >= float64(s.batch.Target.CO2)
	}
	return false
}

func (s *simulation) record(t float64) {
	st := s.full.State()
	s.Hours = append(s.Hours, t/unit.Hour)
	s.Gravity, s.Volumes = append(s.Gravity, float64(st.Gravity())), append(s.Volumes, float64(st.Volumes()))
	s.Pressure, s.Temperature = append(s.Pressure, float64(st.Gauge())), append(s.Temperature, st.Temperature)
	s.ABV, s.Ledger = append(s.ABV, float64(st.ABV())), append(s.Ledger, s.full.Ledger())
}

// checkLimits looks at the extremes of the run and at the worst case of its beginning.
func (s *simulation) checkLimits() []advice.Limit {
	high, low, cold := slices.Max(s.Pressure), slices.Min(s.Pressure), slices.Min(s.Temperature)
	if v := float64(s.params.SafetyRelief); v > 0 && high > v-safetyReseats {
		high = math.Max(high, v) // it opened between two hours
	}
	var supply unit.Pressure
	if s.batch.Gas != nil {
		supply = vessel.CylinderPressure
	}
	start := vessel.NewFull(s.params)
	contents, regulator, err := vessel.WorstCase(start.State(), &s.params, estimate.Hottest(s.batch), supply)
	if err != nil {
		contents, regulator = unit.Pressure(math.Inf(1)), unit.Pressure(math.Inf(1))
	}
	limits := advice.CheckPlan(s.batch, advice.Extremes{
		High: unit.Gauge(high), Low: unit.Gauge(low), Coldest: unit.Temperature(cold), Hottest: estimate.Hottest(s.batch),
		WorstCase: contents.Gauge(s.params.Atmosphere), Regulator: regulator.Gauge(s.params.Atmosphere), Gravity: unit.Gravity(s.Gravity[slices.Index(s.Temperature, cold)]),
	}, s.style)
	s.passed = advice.Passed(limits)
	return limits
}
