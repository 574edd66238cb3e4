package estimate

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"

	"spile/co2"
	"spile/portable"
	"spile/unit"
	"spile/vessel"
	"spile/yeast"
)

const (
	// SettleFor is how long beer stands cold before its first glass, seconds (common practice, no source).
	SettleFor = 2 * unit.Day
	// tooMuch is volumes above the wish at which gas has to be let out again (assumption).
	tooMuch = 0.4
	// pullsIn is the pressure below which a plan is none: what a shut vessel of fresh wort breathes in is above it.
	pullsIn = -5 * unit.Kilopascal
	// restDoubt is ln 2 at 90 %: how far the diketones are known.
	restDoubt = math.Ln2 / NineInTen
)

var errNoSafePlan = errors.New("every plan passes a limit of this vessel, or pulls it in; read the gauge first")

// fate is how one member fared under a programme.
type fate struct {
	ready             float64 // s since pitching, +Inf for not within the days looked at
	gas               float64 // kg from the cylinder after now
	highest, lowest   float64 // Pa gauge, ahead
	warmest, coldest  float64 // K, ahead
	worst, regulator  float64 // Pa gauge
	failed, overdone  bool
	cold              float64 // s since pitching since when it has been cold, +Inf for not
	suppliedBeforeNow float64
}

// follow runs t on n members spread over all, and sums up.
func (s *search) follow(t *attempt, n int) {
	w := newWorld(t.bl.batch, t.bl.tl, t.bl.prior)
	t.fates = t.fates[:0]
	for i := range n {
		m := i * len(s.members) / n
		if f := s.fate(t.bl, w, m); !f.failed {
			t.fates = append(t.fates, f)
		}
	}
	s.sumUp(t)
}

// fate follows one member to where it is ready and no step waits, or to the end of the days looked at.
// As in a forecast, steps that wait are moved by what readings would show.
func (s *search) fate(bl *Belief, w *world, member int) fate {
	p := bl.pilot(w, nil, member)
	next := s.toNow(&p, member)
	p.f = &future{terminal: float64(vessel.TerminalGravity(&w.params))}
	doubt := portable.Exp(restDoubt * rand.New(rand.NewPCG(bl.options.Seed+2, uint64(member))).NormFloat64())
	f := fate{ready: math.Inf(1), cold: math.Inf(1), highest: math.Inf(-1), lowest: math.Inf(1), coldest: math.Inf(1)}
	f.suppliedBeforeNow = float64(w.sim.Ledger().Supplied)
	f.see(bl, w)
	for t := math.Ceil(bl.tl.now/seriesStep) * seriesStep; t <= s.end && !w.failed && !f.overdone; t += seriesStep {
		p.look(t)
		next = p.items(next, t)
		w.advance(t)
		s.judgeAt(&f, &p, doubt, t)
		if !math.IsInf(f.ready, 1) && len(p.waiting) == 0 && next == len(bl.tl.items) {
			break
		}
	}
	f.finish(s, bl, w)
	f.failed = w.failed
	return f
}

// judgeAt looks at the beer at t.
func (s *search) judgeAt(f *fate, p *pilot, doubt, t float64) {
	st := p.w.sim.State()
	f.extremes(st)
	if !p.cold(st) {
		f.cold = math.Inf(1)
	} else {
		f.cold = math.Min(f.cold, t)
	}
	most := float64(s.bl.batch.Target.CO2) + tooMuch
	f.overdone = s.pressure && float64(st.Volumes()) > most
	finished := p.finished > 0 && (float64(st.Gravity())-p.f.terminal)/gravityPoint < onePoint
	rested := yeast.RestDone(st.Acetolactate*doubt, st.Diacetyl*doubt)
	gassed := !s.pressure || p.carbonated(st)
	if math.IsInf(f.ready, 1) && finished && rested && gassed && t-f.cold >= SettleFor {
		f.ready, f.gas = t, float64(p.w.sim.Ledger().Supplied)-f.suppliedBeforeNow
	}
}

func (f *fate) extremes(st *vessel.State) {
	g := float64(st.Gauge())
	f.highest, f.lowest = math.Max(f.highest, g), math.Min(f.lowest, g)
	f.warmest, f.coldest = math.Max(f.warmest, st.Temperature), math.Min(f.coldest, st.Temperature)
}

// see notes the worst case of what is in the vessel.
func (f *fate) see(bl *Belief, w *world) {
	contents, regulator := bl.worst(w)
	f.worst, f.regulator = math.Max(f.worst, contents), math.Max(f.regulator, regulator)
	f.extremes(w.sim.State())
}

// finish looks where the last gas setting leads: too much of it, and the beer is not ready as wished.
func (f *fate) finish(s *search, bl *Belief, w *world) {
	f.see(bl, w)
	if s.pressure && !w.failed && comesTo(w.sim.State(), w.controls.Gas, w.params.Atmosphere) > float64(s.bl.batch.Target.CO2)+tooMuch {
		f.overdone = true
	}
	if f.overdone {
		f.ready = math.Inf(1)
	}
	if math.IsInf(f.ready, 1) {
		f.gas = float64(w.sim.Ledger().Supplied) - f.suppliedBeforeNow
	}
}

// comesTo is the carbonation in volumes that beer left as it stands comes to: under gas, or sharing what is above it.
func comesTo(st *vessel.State, gas unit.Gauge, air unit.Pressure) float64 {
	settled := float64(st.Settled()) // under what is above it now
	ratio := settled * st.Liquid / co2.IdealMolarVolume / st.HeadCO2
	sealed := (st.Dissolved + st.HeadCO2) * ratio / (1 + ratio) * co2.IdealMolarVolume / st.Liquid
	if gas < 0 {
		return sealed
	}
	return math.Max(sealed, settled*float64(gas.Absolute(air)/st.Pressure()))
}

// sumUp turns fates into an outcome.
func (s *search) sumUp(t *attempt) {
	n := len(t.fates)
	if t.Outcome = (Outcome{sure: math.Inf(1), strain: math.Inf(1)}); n == 0 {
		return
	}
	over := func(get func(*fate) float64) []float64 {
		x := make([]float64, n)
		for i := range t.fates {
			x[i] = get(&t.fates[i])
		}
		slices.Sort(x)
		return x
	}
	t.Gas = unit.Mass(quantile(over(func(f *fate) float64 { return f.gas }), 0.5))
	t.Highest = unit.Gauge(quantile(over(func(f *fate) float64 { return f.highest }), 0.95))
	t.Lowest = unit.Gauge(quantile(over(func(f *fate) float64 { return f.lowest }), 0.01))
	t.Warmest = unit.Temperature(quantile(over(func(f *fate) float64 { return f.warmest }), 0.95))
	t.Coldest = unit.Temperature(quantile(over(func(f *fate) float64 { return f.coldest }), 0.05))
	t.Worst = Worst{
		Contents:  unit.Gauge(quantile(over(func(f *fate) float64 { return f.worst }), 0.95)),
		Regulator: unit.Gauge(quantile(over(func(f *fate) float64 { return f.regulator }), 0.95)),
		Hottest:   Hottest(s.bl.batch),
	}
	ready := over(func(f *fate) float64 { return f.ready })
	at := func(p float64) float64 { return ready[min(int(math.Ceil(p*float64(n)))-1, n-1)] }
	t.sure, t.Probability = at(VeryLikely), t.readyBy(s.wish)
	for _, r := range ready {
		t.mean += math.Min(r, s.end) / float64(n)
	}
	t.Ready = Milestone{P05: s.bl.time(at(0.05)), P50: s.bl.time(at(0.5)), P95: s.bl.time(at(0.95)), Probability: t.Probability, Never: 1 - t.readyBy(s.end)}
	t.strain, t.VeryLikely = s.strain(t), s.bl.time(t.sure)
}

// readyBy is the share of members that are ready at s since pitching.
func (t *attempt) readyBy(at float64) float64 {
	n := 0
	for i := range t.fates {
		if t.fates[i].ready <= at {
			n++
		}
	}
	return float64(n) / float64(max(len(t.fates), 1))
}

// strain is how far from the gentlest a programme is: its warmest ferment in the ordinary range of the yeast, and its
// pressure beside the weakest part.
func (s *search) strain(t *attempt) float64 {
	low, high := s.bl.batch.Yeast.Kind.Range()
	warmest := low
	for _, p := range t.programme {
		if p.Set.Hold != nil && !(p.AtSet && p.At < s.from) {
			warmest = max(warmest, *p.Set.Hold)
		}
	}
	strain := float64((warmest - low) / (high - low))
	if s.pressure {
		strain += float64(t.Highest / s.weak)
	}
	return strain
}
