package vessel

import (
	"math"

	"spile/portable"
	"spile/unit"
	"spile/wort"
	"spile/yeast"
)

const (
	longestStep = 7200.0            // s, while much happens
	climbStep   = 3600.0            // s, while pressure climbs: then gas comes faster from one hour to the next, and how much of it is still in the beer hangs on the last
	climb       = 2.5e3 / unit.Hour // Pa/s, from which pressure is said to climb
	longestRun  = 100 * 365 * unit.Day
)

// Once most of the ferment is over a step may be longer, up to calmStep, as long as little happens in it: gas is made, as a share
// of that in the vessel, and pressure and temperature change, by no more than this at the pace of the last step.
const (
	calmStep = 28800.0 // s
	calmMade = 0.016
	calmRise = 1e3 // Pa
	calmWarm = 0.4 // K
)

// Averaged is the closure for inference and planning: the thermostat is a duty, a valve that pops is the level half
// way between its opening and its closing, and gas in beer, headspace and fittings is solved exactly over each step.
// Reusable: Reset starts another batch without allocating.
type Averaged struct {
	core
	// Unseen leaves yeast in suspension and diketones, which no instrument shows, as they are at pitching. Reset keeps it.
	Unseen bool

	fit   settings
	rise  float64 // of the pressure of CO2 over the last step, Pa/s
	stood float64 // that pressure over one atmosphere at its end, Pa
	calm  float64 // s for which all seems calm at its end
	paced struct {
		kelvin float64
		part   yeast.Pace // without pressure
	}
	most float64 // that the working valve lets stand, Pa
}

// NewAveraged makes a simulator; call Reset before use.
func NewAveraged() *Averaged { return &Averaged{} }

// Reset starts p at pitching. p is copied.
func (a *Averaged) Reset(p *Params) {
	a.core.reset(p)
	a.rise, a.stood, a.paced.kelvin = 0, a.over(), 0
	a.refit()
}

// CopyFrom makes a the vessel that b is now; each then goes its own way. It does not allocate.
func (a *Averaged) CopyFrom(b *Averaged) {
	*a = *b
	a.s.p, a.s.brew = &a.p, &a.brew
}

// Set changes the controls from now on.
func (a *Averaged) Set(c Controls) {
	a.c = c
	a.refit()
}

// refit reads the fittings, the working valves at the level about which they pop.
func (a *Averaged) refit() {
	a.fit, a.calm = a.fitted(), 0
	if !a.fit.bothWays {
		a.fit.opens -= 0.5 * a.reseats(a.fit.opens)
	}
	a.most = math.Inf(1)
	if a.fit.relief > 0 {
		a.most = a.fit.opens - unit.Atmosphere
	}
	a.fit.safe -= 0.5 * a.reseats(a.fit.safe)
}

// Advance runs to t seconds since pitching; a t that has passed is no step. The
// error says where the figures left the physical.
func (a *Averaged) Advance(t float64) error {
	if !(t > a.s.Time) {
		return nil
	}
	if t > longestRun {
		return &StateError{Time: t, Kelvin: a.s.Temperature, CO2: a.s.HeadCO2}
	}
	for left := t - a.s.Time; left > 1e-6; left = t - a.s.Time {
		if a.over() != a.stood { // gas was let out or in by hand: how it rose before says nothing
			a.rise, a.calm = 0, 0
		}
		a.step(left / math.Max(math.Ceil(left/a.longest()-1e-9), 1)) // one step of what is shorter than rounding
	}
	a.s.Time = t
	return a.sane()
}

// longest is the step that suits the present state.
func (a *Averaged) longest() float64 {
	if a.rise > climb {
		return climbStep
	}
	long := max(longestStep, min(a.calm, calmStep))
	if long > longestStep && a.c.Track != nil && math.Abs(a.c.Track(a.s.Time+long)-a.s.Temperature) > calmWarm {
		return longestStep
	}
	return long
}

// step advances by h seconds: yeast between the temperatures at both ends, then heat, then gas.
func (a *Averaged) step(h float64) {
	s := &a.s
	over, before := a.over(), s.Temperature
	ahead := over + a.rise*h // the pressure goes on as in the last step
	from := a.pace(s.Temperature, over)
	to := from
	if end := a.expected(from, h); end != s.Temperature || ahead != over {
		to = a.pace(end, min(max(ahead, -unit.Atmosphere), a.most))
	}
	used := a.ferment(from, to, h)
	s.Temperature, s.Around = a.kept(used/h*wort.HeatOfFermentation, h)
	s.Time += h
	s.Rate = used * molPerExtract / h
	a.exchange(&a.fit, s.Rate, 0, h)
	a.stood = a.over()
	a.rise = (a.stood - over) / h
	a.calm = a.calms((s.Temperature - before) / h)
}

// calms is for how long all seems calm after a step in which the temperature changed by warmed, K/s. Where nothing keeps the beer
// and the room goes up and down with the day, it never does.
func (a *Averaged) calms(warmed float64) float64 {
	s := &a.s
	held := s.HeadCO2 + s.Dissolved
	if s.Left > 0.5 || held == 0 || a.p.Swing != 0 && s.Temperature != float64(a.c.Hold) {
		return 0
	}
	return min(calmMade*held/s.Rate, calmRise/math.Abs(a.rise), calmWarm/math.Abs(warmed))
}

// pace is the pace of the yeast, its temperature part kept while that stays.
func (a *Averaged) pace(kelvin, over float64) yeast.Pace {
	if kelvin != a.paced.kelvin {
		a.paced.kelvin, a.paced.part = kelvin, a.p.Yeast.Pace(kelvin, 0)
	}
	return a.p.Yeast.Under(a.paced.part, over)
}

// expected is the temperature h seconds on if the ferment goes on as now. What is kept is expected to be kept.
func (a *Averaged) expected(now yeast.Pace, h float64) float64 {
	if a.c.Track != nil {
		return a.c.Track(a.s.Time + h)
	}
	if a.s.Temperature == float64(a.c.Hold) {
		return a.s.Temperature
	}
	end, _ := a.kept(a.power(now), h)
	return end
}

// power is the heat of the ferment now, W.
func (a *core) power(p yeast.Pace) float64 {
	_, ds := a.p.Yeast.Slopes(p, a.s.X, a.s.Left)
	return -ds * a.s.Usable * a.s.Wort * wort.HeatOfFermentation
}

// ferment advances the yeast by h seconds and gives the extract used, kg.
func (a *Averaged) ferment(from, to yeast.Pace, h float64) float64 {
	s := &a.s
	x0, left0 := s.X, s.Left
	s.X, s.Left = rungeKutta(&a.p.Yeast, from, to, x0, left0, h)
	used := (left0 - s.Left) * s.Usable * s.Wort
	if !a.Unseen {
		a.settle(s.X-x0, used/h, h)
	}
	return used
}

// exhausted is the share of extract below which nothing more is followed.
const exhausted = 1e-12

// rungeKutta is one classical fourth-order step of the kinetics in ln X and ln s, whose slopes stay mild where those
// of X and s do not: uptake near the end is fast, and both stay above zero by themselves.
func rungeKutta(k *yeast.Kinetics, from, to yeast.Pace, x, s, h float64) (x1, s1 float64) {
	if s < exhausted || !(x > 0) {
		return x, s
	}
	mid := yeast.Pace{Growth: 0.5 * (from.Growth + to.Growth), Crop: 0.5 * (from.Crop + to.Crop), Uptake: 0.5 * (from.Uptake + to.Uptake)}
	slope := func(p yeast.Pace, y, z float64) (dy, dz float64) {
		xi := x
		if y != 0 { // grown out, as often
			xi *= portable.Exp(y)
		}
		return k.Rates(p, xi, s*portable.Exp(z))
	}
	y1, z1 := k.Rates(from, x, s)
	y2, z2 := slope(mid, h/2*y1, h/2*z1)
	y3, z3 := slope(mid, h/2*y2, h/2*z2)
	y4, z4 := slope(to, h*y3, h*z3)
	return x * portable.Exp(h/6*(y1+2*y2+2*y3+y4)), s * portable.Exp(h/6*(z1+2*z2+2*z3+z4))
}

// settle moves yeast out of suspension where little gas stirs it, and the diketones along.
func (a *core) settle(grown, rate, h float64) {
	s := &a.s
	s.Suspended = (s.Suspended + grown) * portable.Exp(-s.settling(rate)*h)
	s.Acetolactate += yeast.AcetolactateFormed(grown)
	converts, reduces := s.diketones()
	changed := s.Acetolactate * converts * h * phi(-converts*h)
	s.Acetolactate -= changed
	s.Diacetyl = (s.Diacetyl+0.5*changed)*portable.Exp(-reduces*s.Suspended*h) + 0.5*changed
}

// PointsPerDay is how fast gravity falls now, points (0.001) a day.
func (a *core) PointsPerDay() float64 {
	s := &a.s
	_, slope := a.p.Yeast.Slopes(a.p.Yeast.Pace(s.Temperature, a.over()), s.X, s.Left)
	const grain = 1e-4
	g0 := wort.GravityKernel(s.brew.p0, s.used())
	g1 := wort.GravityKernel(s.brew.p0, s.used()+grain*s.Usable)
	return (g1 - g0) / grain * slope * unit.Day * 1000
}
