package vessel

import (
	"math"

	"spile/co2"
	"spile/unit"
	"spile/wort"
)

// oneVolume is the concentration of one volume of CO2, mol/m3.
const oneVolume = 1 / co2.IdealMolarVolume

// shakenKLa is the transfer while a vessel is shaken, 1/s (memory: 1e-3 to 1e-2).
const shakenKLa = 3e-3

// FilmVelocity is the liquid-side transfer velocity, m/s, of still beer under gas:
// beer that has taken up gas is heavier and sinks, so kL = 0.14 (g drho D^2/mu)^(1/3)
// whatever the depth, with drho = gap (M - v rho). gap is the distance from equilibrium. 0 to 25 C; error 50 %.
// The law of turbulent convection is from memory; times it gives agree with 10 to 14 days reported.
// References: [Jahne1987]
func FilmVelocity(gap unit.Volumes, t unit.Temperature) float64 {
	mu := wort.BeerViscosity(t)
	diffusivity := co2.Diffusivity(t) * wort.WaterViscosity(t) / mu // Stokes and Einstein
	rho := wort.WaterDensity(t)
	excess := math.Abs(float64(gap)) * oneVolume * (co2.MolarMass - convectiveVolume*rho)
	return 0.14 * math.Cbrt(9.80665*excess*diffusivity*diffusivity/mu)
}

// convectiveVolume is the partial molar volume of CO2 in water, m3/mol, of the reference cases.
const convectiveVolume = 34e-6

// StillKLa is the transfer of still beer in 1/s at 1 C and a gap of one volume, for beer of volume v under a free
// surface of the given diameter. Error 50 %; shape, films on the surface and draughts change it.
func StillKLa(v unit.Volume, diameter unit.Length) float64 {
	area := math.Pi / 4 * float64(diameter*diameter)
	return FilmVelocity(1, unit.Celsius(1)) * area / float64(v)
}

const (
	// The film of still beer is faster where it is warmer, by diffusivity and viscosity: 1 + filmWarming d + filmBend d^2
	// over 1 C, within 1.5 % of FilmVelocity from 0 to 35 C.
	filmWarming = 0.03195
	filmBend    = 3.69e-4
	// stillest keeps the film of beer at equilibrium from stopping dead: volumes.
	stillest = 0.02
	// nucleation is the supersaturation, mol/m3, over which bubbles set in.
	nucleation = 3.0
)

// film is the transfer of the free surface, 1/s, at a gap of mol in the beer from what the CO2 above it would hold.
func (s *State) film(gap, volume float64) float64 {
	g := gap / volume / oneVolume
	d := s.Temperature - 274.15
	return s.p.KLaStill * math.Cbrt(math.Sqrt(g*g+stillest*stillest)) * max(1+d*(filmWarming+filmBend*d), 0.1)
}

// bubbles is the transfer by bubbles, 1/s, at a rate of gas made (mol/s). A bubble holds CO2 at the full pressure,
// so it grows only where the beer holds more (excess, mol) than under CO2 alone at that pressure.
func (s *State) bubbles(excess, rate, volume float64) float64 {
	x := min(max(excess/volume/nucleation, 0), 1)
	return s.p.KLaBubbling * max(rate, 0) / volume * x * x * (3 - 2*x)
}
