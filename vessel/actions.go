package vessel

import (
	"math"

	"spile/unit"
	"spile/wort"
	"spile/yeast"
)

// openMixed is the share of the headspace that air replaces when a lid is lifted (assumption).
const openMixed = 0.5

// Vent lets gas out by hand, from one reading of the gauge to a lower one. The gauge may be off, so the fall
// counts, not the reading, but for a fall to nothing: then the vessel stands open.
func (a *core) Vent(from, to unit.Gauge) {
	target := float64(a.p.Atmosphere)
	if to > 0 {
		target = math.Max(float64(a.s.Pressure())-float64(from-to), target)
	}
	for range 2 { // compressibility is that of the pressure let down to
		g := a.s.headAt()
		if out := a.s.HeadCO2 + a.s.HeadAir - g.beta*(target-g.vapour); out > 0 {
			a.release(out)
		}
	}
}

// Sample takes v of beer through the tap.
func (a *core) Sample(v unit.Volume) { a.Pour(v) }

// Pour takes v of beer, or what there is, with the gas it holds.
func (a *core) Pour(v unit.Volume) {
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
	a.beta = s.headAt().beta
}

// Open lifts the lid: the pressure goes, and air mixes in.
func (a *core) Open() {
	s := &a.s
	a.Vent(math.MaxFloat64, 0)
	g := s.headAt()
	n := g.beta * (float64(a.p.Atmosphere) - g.vapour)
	a.release(s.HeadCO2 + s.HeadAir - n)
	out := s.HeadCO2 * openMixed
	s.HeadCO2 -= out
	s.HeadAir += out
	a.l.vented += out
	a.l.airIn += out
}

// Shake stirs gas into the beer, or out of it, for so many seconds, with the fittings as they are set; the clock of the batch does not move.
func (a *core) Shake(seconds float64) {
	if !(seconds > 0) {
		return
	}
	f := a.fitted()
	a.exchange(&f, 0, shakenKLa, seconds)
}

// Dose lets m of CO2 in from the cylinder, whatever the regulator says.
func (a *core) Dose(m unit.Mass) { a.s.HeadCO2 += a.supply(float64(m) / molarCO2) }

// DryHop puts m of hops in through the lid and raises the attenuation limit by extra (0 to 0.08), which can wake the yeast.
func (a *core) DryHop(m unit.Mass, extra float64) {
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
}

// RestLeft is how much longer a rest for the diketones needs at the present temperature.
func (s *State) RestLeft() unit.Duration {
	return yeast.RestLeft(s.Acetolactate, s.Diacetyl, unit.Temperature(s.Temperature))
}
