package vessel

import (
	"spile/co2"
	"spile/unit"
	"spile/wort"
	"spile/yeast"
)

const (
	gasR      = co2.GasConstant
	molarCO2  = co2.MolarMass
	molarAir  = 0.0289652 // kg/mol, dry air
	molarH2O  = 0.0180153 // kg/mol
	oxygenAir = 0.20946   // mol/mol in dry air

	molPerExtract = wort.CO2PerExtract / molarCO2 // mol of CO2 made per kg of extract used

	// leastHead is the share of the capacity that the headspace never falls below: from there on the vessel
	// counts as hydraulically full and the pressure shown is a lower bound.
	leastHead = 1e-3
)

// Temperatures at which a brew's volume is worked out; a cubic joins them within 1e-5 of the volume.
var volumeKnots = [4]float64{272.15, 284.15, 298.15, 313.15} // K

// brew is what one fill keeps from beginning to end, worked out once: the volume
// of flat beer in m3 per kg of wort, a cubic in temperature (about 285 K) for a start, half and end of the ferment.
type brew struct {
	p0     float64 // extract of the wort, kg/kg
	usable float64 // kg of extract per kg of wort that can be used at the label's attenuation
	volume [3][4]float64
}

const volumeOrigin = 285.0 // K

func newBrew(p0, attenuation float64) brew {
	b := brew{p0: p0, usable: usable(p0, attenuation)}
	for i := range b.volume {
		f := wort.FromUsed(unit.Extract(p0), b.usable*float64(i)/2)
		var v [4]float64
		for k, t := range volumeKnots {
			v[k] = f.Beer / wort.BeerDensity(f.Real, f.Ethanol, unit.Temperature(t))
		}
		b.volume[i] = cubic(v)
	}
	return b
}

// usable is the extract, kg per kg of wort, used once the apparent attenuation is reached.
func usable(p0, attenuation float64) float64 {
	return wort.FromApparent(unit.Extract(p0), unit.Extract(p0*(1-attenuation))).Used
}

// cubic gives the coefficients, in powers of T - volumeOrigin, of the cubic through v at volumeKnots (Newton's divided differences).
func cubic(v [4]float64) [4]float64 {
	x := volumeKnots
	for k := 1; k < 4; k++ {
		for i := 3; i >= k; i-- {
			v[i] = (v[i] - v[i-1]) / (x[i] - x[i-k])
		}
	}
	c := [4]float64{v[3]}
	for i := 2; i >= 0; i-- { // multiply by T - x_i and add v_i
		d := x[i] - volumeOrigin
		for k := 3; k > 0; k-- {
			c[k] = c[k-1] - d*c[k]
		}
		c[0] = v[i] - d*c[0]
	}
	return c
}

// flat is the volume in m3 of flat beer per kg of wort after u kg of extract per kg of wort is used.
func (b *brew) flat(u, kelvin float64) float64 {
	x := 2 * u / b.usable // 0, 1, 2 at the knots
	t := kelvin - volumeOrigin
	var v [3]float64
	for i := range v {
		c := &b.volume[i]
		v[i] = c[0] + t*(c[1]+t*(c[2]+t*c[3]))
	}
	return v[0] + x*(v[1]-v[0]) + 0.5*x*(x-1)*(v[2]-2*v[1]+v[0])
}

// gas holds what gas and beer are to each other at one temperature and fill.
type gas struct {
	vapour float64 // water vapour, Pa
	head   float64 // headspace, m3
	volume float64 // beer, m3
	alpha  float64 // dissolved at equilibrium per partial pressure of CO2, mol/Pa
	beta   float64 // headspace gas per pressure, mol/Pa
}

// gasAt works out the gas constants of s. The small factors for fugacity and compressibility are taken at
// the pressures of s as it stands.
// References: [Weiss1974], [WagnerPruss2002]
func (s *State) gasAt() gas {
	g := s.headAt()
	g.alpha = co2.SolutionKernel(s.at.henry, s.at.virial, s.Temperature, 1, g.vapour+(s.HeadCO2+s.HeadAir)/g.beta) * g.volume
	return g
}

// headAt is gasAt without alpha, which costs most: what the headspace needs.
func (s *State) headAt() gas {
	t := s.Temperature
	if t != s.at.kelvin {
		s.at = warmth{t, co2.VirialKernel(t), co2.VapourKernel(t), co2.HenryKernel(t, s.p.Beer.Level, s.p.Beer.Slope), 0, 0}
	}
	volume := s.volume()
	head := max(float64(s.p.Capacity)-volume, leastHead*float64(s.p.Capacity))
	crowding := s.at.virial * s.HeadCO2 / head // of CO2 at its own pressure
	z := 1 + crowding*s.HeadCO2/((1-crowding)*max(s.HeadCO2+s.HeadAir, 1e-12))
	return gas{vapour: s.at.vapour, head: head, volume: volume, beta: head / (gasR * t * z)}
}

// warmth is what depends on temperature alone, kept while that does not change.
type warmth struct {
	kelvin, virial, vapour, henry float64
	converts, reduces             float64 // as diketones gives them, 0 until they are asked for
}

// diketones are the rates at which they form and go by a full crop in suspension, 1/s, at the temperature of the last step.
func (s *State) diketones() (converts, reduces float64) {
	if s.at.converts == 0 {
		s.at.converts, s.at.reduces = yeast.DiketoneRates(s.at.kelvin, 1)
	}
	return s.at.converts, s.at.reduces
}

// volume is the beer in m3 with what it holds dissolved.
func (s *State) volume() float64 {
	return s.Wort*s.brew.flat(s.used(), s.Temperature) - s.WaterLost*(1./997) + s.Dissolved*co2.PartialMolarVolume
}

// headspace in m3, never less than leastHead of the capacity.
func (s *State) headspace() float64 {
	v, c := s.volume(), float64(s.p.Capacity)
	return max(c-v, leastHead*c)
}

// used is the extract used so far, kg per kg of wort.
func (s *State) used() float64 { return s.Usable * (1 - s.Left) }
