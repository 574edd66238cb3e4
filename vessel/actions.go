package vessel

import (
	"math"

	"spile/unit"
	"spile/wort"
	"spile/yeast"
)

// openMixed is the share of the headspace that air replaces when a lid is lifted (assumption).
const openMixed = 0.5

// Vent lets gas out by hand until the gauge shows to; nothing where it shows less already.
// from is what it was said to show before and is not used: the vessel knows.
func (a *Averaged) Vent(_, to unit.Gauge) {
	for range 2 { // compressibility is that of the pressure let down to
		g := a.s.gasAt()
		a.release(a.s.HeadCO2+a.s.HeadAir-g.beta*(float64(to.Absolute(a.p.Atmosphere))-g.vapour), false)
	}
}

// Sample takes v of beer through the tap.
func (a *Averaged) Sample(v unit.Volume) { a.Pour(v) }

// Pour takes v of beer, or what there is, with the gas it holds.
func (a *Averaged) Pour(v unit.Volume) {
	s := &a.s
	share := math.Min(float64(v)/s.volume(), 1)
	u, w := s.used(), s.Wort*share
	a.l.drawn += s.Dissolved * share
	a.l.wort += w
	a.l.ethanol += w * wort.EthanolPerExtract * u
	a.l.extract += w * (s.brew.p0 - u)
	a.l.yeast += w * wort.YeastPerExtract * u
	a.l.water += w*(1-s.brew.p0) - s.WaterLost*share
	s.Wort -= w
	s.Dissolved *= 1 - share
	s.WaterLost *= 1 - share
}

// Open lifts the lid: the pressure goes, and air mixes in.
func (a *Averaged) Open() {
	s := &a.s
	a.Vent(0, 0)
	g := s.gasAt()
	n := g.beta * (float64(a.p.Atmosphere) - g.vapour)
	a.release(s.HeadCO2+s.HeadAir-n, true)
	out := s.HeadCO2 * openMixed
	s.HeadCO2 -= out
	s.HeadAir += out
	a.l.vented += out
	a.l.airIn += out
}

// Shake brings the gas nearer to its equilibrium for so many seconds.
func (a *Averaged) Shake(seconds float64) {
	s := &a.s
	g := s.gasAt()
	a.feed(&g)
	ratio := g.alpha / g.beta
	gap := (s.Dissolved - ratio*s.HeadCO2) * math.Exp(-shakenKLa*(1+ratio)*seconds)
	total := s.Dissolved + s.HeadCO2
	s.HeadCO2 = math.Max((total-gap)/(1+ratio), 0)
	s.Dissolved = total - s.HeadCO2
	a.feed(&g)
}

// Dose lets m of CO2 in from the cylinder, whatever the regulator says.
func (a *Averaged) Dose(m unit.Mass) { a.s.HeadCO2 += a.supply(float64(m) / molarCO2) }

// DryHop puts m of hops in through the lid and raises the attenuation limit by extra (0 to 0.08), which can wake the yeast.
func (a *Averaged) DryHop(m unit.Mass, extra float64) {
	a.Open()
	s := &a.s
	s.Hops += float64(m)
	if extra <= 0 {
		return
	}
	a.p.Attenuation = math.Min(a.p.Attenuation+extra, 0.98)
	u := s.used()
	s.Usable = math.Max(usable(float64(a.p.Original), a.p.Attenuation), u)
	s.Left = 1 - u/s.Usable
	a.paceT = 0
}

// PointsPerDay is how fast gravity falls now, points (0.001) a day.
func (a *Averaged) PointsPerDay() float64 {
	s := &a.s
	k := &a.p.Yeast
	_, slope := k.Slopes(k.Pace(s.Temperature, a.overpressure()), s.X, s.Left)
	const grain = 1e-4
	g0 := wort.GravityKernel(s.brew.p0, s.used())
	g1 := wort.GravityKernel(s.brew.p0, s.used()+grain*s.Usable)
	return (g1 - g0) / grain * slope * unit.Day * 1000
}

// RestLeft is how much longer a rest for the diketones needs at the present temperature.
func (s *State) RestLeft() unit.Duration {
	return yeast.RestLeft(s.Acetolactate, s.Diacetyl, unit.Temperature(s.Temperature))
}
