package vessel

import (
	"errors"
	"fmt"
	"math"

	"spile/co2"
	"spile/unit"
	"spile/working"
	"spile/yeast"
)

// settle brings the gas of s to its equilibrium at the temperature of s, nothing crossing the walls.
func (s *State) settle() {
	total := s.Dissolved + s.HeadCO2
	for range 60 {
		g := s.gasAt()
		head := total / (1 + g.alpha/g.beta)
		change := math.Abs(head - s.HeadCO2)
		s.HeadCO2, s.Dissolved = head, total-head
		if change < 1e-12*total {
			return
		}
	}
}

// hopsLimit is how far dry hops may raise the attenuation limit, as a share of the original extract (assumption).
const hopsLimit = 0.04

// valveFull is the rise above its setting at which a safety valve is fully open.
const valveFull = 1.10

// WorstCase is the absolute pressure that credible mishaps could bring: contents, everything that can still
// ferment fermented (more where dry hops are in), the working valve stuck shut, at the hottest credible
// temperature; and regulator, the same with the cylinder let in up to the supply pressure, the safety valve
// counted on where there is one. supply 0: no gas connected. s is not changed. Up to 10 bar error 3 %; +Inf where the vessel would be full of liquid.
// References: [Balling1865], [Weiss1974]
func WorstCase(s *State, p *Params, hottest unit.Temperature, supply unit.Pressure) (contents, regulator unit.Pressure, err error) {
	w, b := *s, *s.brew
	limit := p.Attenuation
	if s.Hops > 0 {
		limit = math.Min(limit+hopsLimit, 0.99)
	}
	most := math.Max(usable(b.p0, limit), s.used())
	made := (most - s.used()) * s.Wort * molPerExtract
	w.Usable, w.Left = most, 0
	w.Temperature = float64(hottest)
	w.Dissolved += made
	w.settle()
	if w.derive(); w.Full {
		return unit.Pressure(math.Inf(1)), unit.Pressure(math.Inf(1)), nil
	}
	contents = w.Pressure()
	if !(contents > 0) {
		return 0, 0, fmt.Errorf("worst case: no equilibrium at %.1f C", hottest.Celsius())
	}
	if supply <= 0 {
		return contents, contents, nil
	}
	w.Dissolved += s.Cylinder / molarCO2
	w.settle()
	regulator = min(max(w.Pressure(), contents), max(supply, contents))
	if p.SafetyRelief > 0 {
		regulator = min(regulator, (p.SafetyRelief * valveFull).Absolute(p.Atmosphere))
	}
	return contents, regulator, nil
}

// Sealed is a shut vessel of finished beer that is warmed or cooled, nothing crossing its walls.
type Sealed struct {
	Volume     unit.Volume // of beer, at From
	Capacity   unit.Volume
	From, To   unit.Temperature
	Pressure   unit.Pressure // absolute at the start, in equilibrium; 0: given by Volumes
	Volumes    unit.Volumes  // of CO2 at the start, all gas above the beer being CO2; used where Pressure is 0
	Beer       co2.BeerFactor
	Original   unit.Extract // 0: 11.4 P
	Final      unit.Extract // apparent; 0: 2.5 P
	GasIsFixed bool         // the beer takes up and gives off nothing: quick changes
}

// SealedResult is what becomes of it.
type SealedResult struct {
	Start, End unit.Pressure // absolute
	Volumes    unit.Volumes  // of CO2 at the end
	Full       bool          // no headspace left: the true pressure is far above End
}

var errSealed = errors.New("the beer must be less than the vessel holds, with some headspace")

// Equilibrium gives the pressure after the change. -2 to 40 C, to 6 bar; error 3 %. Working goes to w.
// References: [Weiss1974], [Balling1865]
func (x Sealed) Equilibrium(w *working.Sheet) (SealedResult, error) {
	if x.Volume <= 0 || float64(x.Volume) > (1-leastHead)*float64(x.Capacity) {
		return SealedResult{}, errSealed
	}
	s, start := x.state()
	total := s.Dissolved + s.HeadCO2
	w.Input("T1", "temperature at the start", x.From.Celsius(), "C", working.Given)
	w.Input("T2", "temperature at the end", x.To.Celsius(), "C", working.Given)
	w.Step("p1", "pressure at the start, absolute", "equilibrium of the beer and the gas above it", float64(start)/unit.Kilopascal, "kPa", "Weiss1974")
	w.Step("n", "carbon dioxide in the vessel", "n = dissolved + above the beer, conserved", total, "mol", "")
	s.Temperature = float64(x.To)
	if !x.GasIsFixed {
		s.settle()
	}
	s.derive()
	r := SealedResult{Start: start, End: s.Pressure(), Volumes: s.Volumes(), Full: s.Full}
	w.Step("VG", "headspace at the end", "VG = capacity - beer at T2", float64(s.headspace())/unit.Litre, "L", "Bubnik1995")
	w.Step("p2", "pressure at the end, absolute", "n = s(T2) VL p + p VG/(Z R T2), with water vapour", float64(r.End)/unit.Kilopascal, "kPa", "Weiss1974")
	w.Range("-2 to 40 C, up to 6 bar", x.To.Celsius(), -2, 40)
	w.Error(0.97*float64(r.End), 1.03*float64(r.End), "solubility of carbon dioxide in beer, 2.5 %")
	return r, nil
}

// state is x at its start, in equilibrium.
func (x Sealed) state() (*State, unit.Pressure) {
	original, final := x.Original, x.Final
	if original == 0 {
		original, final = unit.Plato(11.4), unit.Plato(2.5)
	}
	p := Standard(x.Capacity, 0.3, x.Volume, original, yeast.Ale, x.From, x.From, unit.Atmosphere)
	p.Beer = x.Beer
	p.Attenuation = 1 - float64(final/original)
	b := newBrew(float64(original), p.Attenuation)
	s := start(&p, &b)
	s.Left, s.HeadAir, s.HeadCO2 = 0, 0, 1e-6
	at := x.Pressure
	if at == 0 {
		s.Dissolved = float64(x.Volumes) * oneVolume * float64(x.Volume)
	}
	for range 40 { // the beer's own volume with its gas is x.Volume
		s.Wort *= float64(x.Volume) / s.volume()
		g := s.gasAt()
		if x.Pressure > 0 {
			pc := float64(at) - g.vapour
			s.HeadCO2, s.Dissolved = pc*g.beta, pc*g.alpha
		} else {
			s.HeadCO2 = s.Dissolved / g.alpha * g.beta
			at = unit.Pressure(g.vapour + s.HeadCO2/g.beta)
		}
	}
	return &s, at
}
