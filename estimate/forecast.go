package estimate

import (
	"math"
	"math/rand/v2"
	"sort"
	"sync"
	"time"

	"spile/batch"
	"spile/bayes"
	"spile/limit"
	"spile/unit"
	"spile/vessel"
)

const (
	seriesStep  = 2 * unit.Hour
	longAgo     = 30 * unit.Day // before now, from where the series goes in steps of longAgoStep: a vessel may stand for a year
	longAgoStep = 12 * unit.Hour
	leastAhead  = 14 * unit.Day // of the whole series
	beyondPlan  = 7 * unit.Day  // after the last step of the programme
	lookAhead   = 14 * unit.Day // after now
	onePoint    = 1.0           // points left at which a batch counts as finished
	nineTenths  = 0.9           // of the fall, for the milestone of that name
	coolingStep = 2.0           // K within a day that count as having been cooled
)

// future is one member's run from pitching to the end of the span looked at.
type future struct {
	z                               []float64
	now                             memberNow
	gravity, volumes, gauge, kelvin []float64
	mass                            []float64              // kg
	cylinder, vented                []float64              // kg, where a cylinder was weighed or a meter read
	reach                           [numMilestones]float64 // s since pitching, +Inf for never
	terminal, terminalABV           float64
	worst                           float64 // Pa gauge, contents alone
	regulator                       float64
	lowest                          float64 // Pa gauge, now or ahead
	supplied                        float64 // kg from the cylinder after now, where it set off from there
	stepped                         float64 // s since pitching, of the first step that its own readings brought about; 0 for none
	failed                          bool
}

// memberNow is the present state of one member.
type memberNow struct {
	gravity, abv, volumes, gauge, kelvin, liquid, cylinder float64
	left, perDay, attenuation, oxygen, suspended           float64
	ledger                                                 vessel.Ledger
	predicted                                              []float64
}

// The milestones, in the order of Milestones.
const (
	reachAttenuated90 = iota
	reachFinished
	reachCold
	reachCarbonated
	reachReady
	numMilestones
)

// Forecast runs the belief to the end of the programme and beyond.
func (bl *Belief) Forecast() (*Forecast, error) {
	grid := bl.grid()
	members := bl.members()
	futures := make([]future, len(members))
	bl.each(len(members), func(w *world, i int) {
		bl.run(w, members[i], i, grid, &futures[i])
	})
	futures = sound(futures)
	if len(futures) == 0 {
		return nil, errNoFuture
	}
	return bl.summary(grid, futures)
}

// members draws equally likely sets of unknowns from the weighted ones.
func (bl *Belief) members() [][]float64 {
	rng := rand.New(rand.NewPCG(bl.options.Seed, 0x5eed))
	return bayes.Resample(bl.posterior, len(bl.posterior.Z), rng).Z
}

// grid is the times of the series, seconds since pitching.
func (bl *Belief) grid() []float64 {
	end := math.Max(leastAhead, bl.tl.now+lookAhead)
	for _, s := range bl.batch.Programme {
		if s.AtSet {
			end = math.Max(end, float64(s.At)+beyondPlan)
		}
	}
	if len(bl.tl.waiting) > 0 {
		end = math.Max(end, bl.tl.now+lookAhead+beyondPlan)
	}
	var grid []float64
	coarse := int(math.Max(0, math.Floor((bl.tl.now-longAgo)/longAgoStep)))
	for i := range coarse {
		grid = append(grid, float64(i)*longAgoStep)
	}
	const finer = longAgoStep / seriesStep
	for i := coarse * finer; i <= int(math.Ceil(end/seriesStep)); i++ {
		grid = append(grid, float64(i)*seriesStep)
	}
	return grid
}

// each calls f for every index, in parallel, with a world of its own per worker.
func (bl *Belief) each(n int, f func(w *world, i int)) {
	var wg sync.WaitGroup
	for k := range bl.options.Workers {
		wg.Add(1)
		go func() {
			defer wg.Done()
			w := newWorld(bl.batch, bl.tl, bl.prior)
			for i := k; i < n; i += bl.options.Workers {
				f(w, i)
			}
		}()
	}
	wg.Wait()
}

// run follows one member from pitching through now to the end of the grid.
func (bl *Belief) run(w *world, z []float64, member int, grid []float64, f *future) {
	w.start(z)
	f.z = z
	f.reserve(len(grid))
	if bl.hasAny([]batch.Quantity{batch.CylinderMass, batch.VentedGas}) {
		f.cylinder, f.vented = make([]float64, len(grid)), make([]float64, len(grid))
	}
	for i := range f.reach {
		f.reach[i] = math.Inf(1)
	}
	f.terminal = float64(vessel.TerminalGravity(&w.params))
	f.terminalABV = float64(vessel.TerminalABV(&w.params))
	p := bl.pilot(w, f, member)
	next, tookNow := 0, false
	for i, t := range grid {
		if !tookNow && t >= bl.tl.now {
			next = p.items(next, bl.tl.now)
			w.advance(bl.tl.now)
			bl.present(w, f)
			tookNow = true
		}
		if tookNow {
			p.look(t)
		}
		next = p.items(next, t)
		w.advance(t)
		p.record(i, t)
	}
	f.failed = w.failed
}

func (f *future) reserve(n int) {
	f.gravity, f.volumes = make([]float64, n), make([]float64, n)
	f.gauge, f.kelvin, f.mass = make([]float64, n), make([]float64, n), make([]float64, n)
}

// sound drops members whose run failed.
func sound(fs []future) []future {
	out := fs[:0]
	for i := range fs {
		if !fs[i].failed {
			out = append(out, fs[i])
		}
	}
	return out
}

// present notes the state of the vessel now.
func (bl *Belief) present(w *world, f *future) {
	st, n := w.sim.State(), &f.now
	n.gravity, n.abv, n.volumes = float64(st.Gravity()), float64(st.ABV()), float64(st.Volumes())
	n.gauge = float64(st.Gauge())
	f.lowest = n.gauge
	n.kelvin, n.liquid = st.Temperature, float64(st.Liquid)
	n.ledger = w.sim.Ledger()
	n.cylinder = float64(w.params.Cylinder - n.ledger.Supplied)
	n.left = (n.gravity - f.terminal) / gravityPoint
	n.perDay = w.sim.PointsPerDay()
	n.attenuation = attenuation(float64(w.original()), n.gravity)
	n.oxygen, n.suspended = st.OxygenShare(), st.Suspended
	n.predicted = append([]float64(nil), w.predicted...)
	contents, regulator := bl.worst(w)
	f.worst, f.regulator = contents, regulator
}

func attenuation(og, g float64) float64 {
	if og <= 1 {
		return 0
	}
	return (og - g) / (og - 1)
}

// Hottest is the hottest credible place of b.
func Hottest(b *batch.Batch) unit.Temperature { return max(limit.HottestPlace, b.Place.Ambient) }

// worst is the highest gauge pressure of this member's contents, all fermented, and with the regulator failed.
func (bl *Belief) worst(w *world) (contents, regulator float64) {
	supply := unit.Pressure(0)
	if bl.batch.Gas != nil || bl.tl.gassed {
		supply = vessel.CylinderPressure
	}
	c, r, err := vessel.WorstCase(w.sim.State(), &w.params, Hottest(bl.batch), supply)
	if err != nil {
		return math.Inf(1), math.Inf(1)
	}
	atm := w.params.Atmosphere
	return float64(c.Gauge(atm)), float64(r.Gauge(atm))
}

// pilot does ahead of now what the programme says, judging by what readings would show.
type pilot struct {
	bl       *Belief
	w        *world
	f        *future
	rng      *rand.Rand
	waiting  []batch.Step
	lastLook float64
	finished float64 // s since pitching at which readings first showed it finished, 0 for not yet
}

// pilot is the pilot of one member, with a random stream of its own.
func (bl *Belief) pilot(w *world, f *future, member int) pilot {
	return pilot{bl: bl, w: w, f: f, rng: rand.New(rand.NewPCG(bl.options.Seed+1, uint64(member))), waiting: bl.tl.waiting}
}

// items applies what happens up to t.
func (p *pilot) items(next int, t float64) int {
	for next < len(p.bl.tl.items) && p.bl.tl.items[next].at <= t {
		p.w.apply(&p.bl.tl.items[next])
		next++
	}
	return next
}

// look is the daily look at the instruments, which alone moves a step that waits.
func (p *pilot) look(t float64) {
	if t < p.lastLook+unit.Day && p.lastLook > 0 {
		return
	}
	p.lastLook = t
	if p.finished == 0 && p.looksFinished() {
		p.finished = t
	}
	for len(p.waiting) > 0 && p.holds(p.waiting[0].When, t) {
		p.w.set(&p.waiting[0].Set)
		p.waiting = p.waiting[1:]
		if p.f.stepped == 0 {
			p.f.stepped = t
		}
	}
}

// What a belief at that time would know better than its readings: sds of the
// points left and of the points a day after a few readings (from the scored ferments).
const (
	doubtLeft   = 0.5
	doubtPerDay = 0.2
)

// looksFinished is the finish call as this member's readings would make it.
func (p *pilot) looksFinished() bool {
	left := (float64(p.w.sim.State().Gravity())-p.f.terminal)/gravityPoint + doubtLeft*p.rng.NormFloat64()
	rate := p.w.sim.PointsPerDay() + doubtPerDay*p.rng.NormFloat64()
	return left+1.28*doubtLeft <= onePoint && rate+1.64*doubtPerDay <= 0.5
}

// holds says whether what a step waits for is seen.
func (p *pilot) holds(c batch.Condition, t float64) bool {
	st := p.w.sim.State()
	switch c.Kind {
	case batch.GravityAtMost:
		_, ins := lookup(batch.Gravity, "")
		seen := float64(st.Gravity()) + ins.Scatter*p.rng.NormFloat64()
		return seen <= float64(c.Gravity)
	case batch.FinishedFor:
		return p.finished > 0 && t-p.finished >= float64(c.For)
	case batch.Carbonated:
		return p.carbonated(st)
	}
	return false
}

// almostThere is the share of the wished carbonation that counts as reached.
const almostThere = 0.97

func (p *pilot) carbonated(st *vessel.State) bool {
	t := p.bl.batch.Target
	return t != nil && t.CO2 > 0 && float64(st.Volumes()) >= almostThere*float64(t.CO2)
}

// record notes the state at grid time i.
func (p *pilot) record(i int, t float64) {
	st, f := p.w.sim.State(), p.f
	g := float64(st.Gravity())
	f.gravity[i], f.volumes[i] = g, float64(st.Volumes())
	f.gauge[i], f.kelvin[i], f.mass[i] = float64(st.Gauge()), st.Temperature, float64(st.MassTotal())
	if f.vented != nil {
		l := p.w.sim.Ledger()
		f.cylinder[i], f.vented[i] = float64(p.w.params.Cylinder-l.Supplied), float64(l.Vented)
	}
	if t >= p.bl.tl.now {
		f.lowest = math.Min(f.lowest, f.gauge[i])
	}
	og := float64(p.w.original())
	fall := (og - g) / math.Max(og-f.terminal, 1e-6)
	finished := (g-f.terminal)/gravityPoint < onePoint
	f.reached(reachAttenuated90, t, fall >= nineTenths)
	f.reached(reachFinished, t, finished)
	cold, gassed := p.cold(st), p.carbonated(st)
	if now := p.bl.tl.now; t >= now {
		since := t
		if t < now+seriesStep {
			since = now // cold already, as far as this grid can tell
		}
		f.reached(reachCold, since, cold && p.bl.chills)
	}
	f.reached(reachCarbonated, t, gassed && cold)
	f.reached(reachReady, t, gassed && cold && finished)
}

// ServedCold is what counts as cold where no temperature is wished for (common practice, no source).
const ServedCold unit.Temperature = 273.15 + 4

// coldEnough is K above the wished temperature that counts as cold.
const coldEnough = 1.0

func (p *pilot) cold(st *vessel.State) bool {
	t := p.bl.batch.Target
	want := ServedCold
	if t != nil && t.Temperature > 0 {
		want = t.Temperature
	}
	return st.Temperature <= float64(want)+coldEnough
}

func (f *future) reached(m int, t float64, yes bool) {
	if yes && t < f.reach[m] {
		f.reach[m] = t
	}
}

// band is the quantiles of what get gives over the futures.
func band(fs []future, get func(*future) float64) Band {
	x := make([]float64, len(fs))
	for i := range fs {
		x[i] = get(&fs[i])
	}
	return bandOf(x)
}

// bandOf sorts x and reads its band off.
func bandOf(x []float64) Band {
	sort.Float64s(x)
	return Band{quantile(x, 0.05), quantile(x, 0.5), quantile(x, 0.95)}
}

// quantile of sorted x, between neighbours.
func quantile(x []float64, p float64) float64 {
	h := p * float64(len(x)-1)
	i := int(h)
	if i+1 >= len(x) || x[i] == x[i+1] {
		return x[i]
	}
	return x[i] + (h-float64(i))*(x[i+1]-x[i])
}

// milestone is the time at which futures reach m.
func (bl *Belief) milestone(fs []future, m int) Milestone {
	x := make([]float64, len(fs))
	never, byWish := 0, 0
	wish := bl.wish()
	for i := range fs {
		x[i] = fs[i].reach[m]
		if math.IsInf(x[i], 1) {
			never++
		}
		if x[i] <= wish {
			byWish++
		}
	}
	q := bandOf(x)
	ms := Milestone{P05: bl.time(q.P05), P50: bl.time(q.P50), P95: bl.time(q.P95), Probability: math.NaN()}
	ms.Never = float64(never) / float64(len(fs))
	for k := range ms.Futures {
		ms.Futures[k] = bl.time(quantile(x, (float64(k)+0.5)/Dots)) // in order since bandOf
	}
	if !math.IsNaN(wish) {
		ms.Probability = float64(byWish) / float64(len(fs))
	}
	return ms
}

// wish is the wished date in seconds since pitching, NaN for none.
func (bl *Belief) wish() float64 {
	t := bl.batch.Target
	if t == nil || t.Ready.IsZero() {
		return math.NaN()
	}
	return t.Ready.Sub(bl.batch.Pitched).Seconds()
}

// time of s seconds since pitching; zero for never.
func (bl *Belief) time(s float64) time.Time {
	if math.IsInf(s, 1) || math.IsNaN(s) {
		return time.Time{}
	}
	return bl.batch.Pitched.Add(time.Duration(s * float64(time.Second)))
}
