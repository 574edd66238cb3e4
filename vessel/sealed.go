package vessel

import (
	"math"

	"spile/co2"
	"spile/unit"
	"spile/wording"
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
	most := math.Max(usable(b.p0, limit), s.Usable)
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
		return 0, 0, wording.Unsaid("worst case: no equilibrium at %.1f C", hottest.Celsius())
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
	Atmosphere unit.Pressure // local air, for the caution below it; 0: none
	Beer       co2.BeerFactor
	Original   unit.Extract // 0: 11.4 P
	Final      unit.Extract // apparent; 0: 2.5 P
	GasIsFixed bool         // the beer takes up and gives off nothing: quick changes
	Made       unit.Mass    // of CO2 made meanwhile by what still ferments
}

// SealedResult is what becomes of it.
type SealedResult struct {
	Start, End unit.Pressure // absolute
	Volumes    unit.Volumes  // of CO2 at the end
	Full       bool          // no headspace left: the true pressure is far above End
	start      State
}

// check says in one line what is wrong with x.
func (x Sealed) check() error {
	for _, t := range []unit.Temperature{x.From, x.To} {
		if c := t.Celsius(); !(c >= -2 && c <= 60) {
			return wording.Unsaid("temperature %.1f °C: accepted are -2 to 60 °C, for example 20 °C", c)
		}
	}
	if !(x.Volume > 0 && float64(x.Volume) <= (1-leastHead)*float64(x.Capacity)) {
		return wording.Unsaid("%.1f L of beer in a vessel of %.1f L: the beer must be above zero and leave some headspace", float64(x.Volume)/unit.Litre, float64(x.Capacity)/unit.Litre)
	}
	if !(x.Pressure > 0 && x.Pressure < 10*unit.Bar) && !(x.Pressure == 0 && x.Volumes > 0 && x.Volumes < 10) {
		return wording.Unsaid("neither a pressure (up to 10 bar absolute) nor a carbonation (up to 10 volumes) at the start: give one, for example 10 psi")
	}
	return nil
}

// cautions stand beside a result that is not harmless.
func (x Sealed) cautions(r SealedResult, w *working.Sheet) {
	if r.Full {
		w.Caution("At this temperature the beer fills the vessel to the brim. The pressure can rise to tens of bar: leave more headspace.")
	}
	if air := x.Atmosphere; air > 0 && r.End < air {
		w.Caution("The pressure falls below that of the air. Many vessels are not made for it, and a lid or seal may let air in.")
	}
}

// Equilibrium gives the pressure after the change. -2 to 40 C, to 6 bar; error 3 %. Working goes to w.
// References: [Weiss1974], [Balling1865]
func (x Sealed) Equilibrium(w *working.Sheet) (SealedResult, error) {
	if err := x.check(); err != nil {
		return SealedResult{}, err
	}
	s, start := x.state()
	return x.end(s, start, w), nil
}

// Onward is Equilibrium of x where it starts as r did: another end of the same beginning, found sooner.
func (x Sealed) Onward(r SealedResult) (SealedResult, error) {
	if err := x.check(); err != nil {
		return SealedResult{}, err
	}
	s := r.start
	return x.end(&s, r.Start, nil), nil
}

// end is what becomes of x that stands so at its start.
func (x Sealed) end(s *State, start unit.Pressure, w *working.Sheet) SealedResult {
	begin := *s
	made := float64(x.Made) / molarCO2
	total := s.Dissolved + s.HeadCO2 + made
	w.Input("T1", "temperature at the start", x.From.Celsius(), "°C", working.Given)
	w.Input("T2", "temperature at the end", x.To.Celsius(), "°C", working.Given)
	w.Input("VL", "beer", float64(x.Volume)/unit.Litre, "L", working.Given)
	w.Input("V", "vessel", float64(x.Capacity)/unit.Litre, "L", working.Given)
	w.Step("p1", "pressure at the start, absolute", "equilibrium of the beer and the gas above it", float64(start)/unit.Kilopascal, "kPa", "Weiss1974")
	w.Step("n", "carbon dioxide in the vessel", "n = dissolved + above the beer + made meanwhile, conserved", total, "mol", "")
	s.Temperature = float64(x.To)
	s.Dissolved += made
	if !x.GasIsFixed {
		s.settle()
	}
	s.derive()
	r := SealedResult{start: begin, Start: start, End: s.Pressure(), Volumes: s.Volumes(), Full: s.Full}
	w.Step("VG", "headspace at the end", "VG = capacity - beer at T2", float64(s.headspace())/unit.Litre, "L", "Bubnik1995")
	w.Step("p2", "pressure at the end, absolute", "n = s(T2) VL p + p VG/(Z R T2), with water vapour", float64(r.End)/unit.Kilopascal, "kPa", "Weiss1974")
	x.cautions(r, w)
	w.Range("beer from -2 to 40 °C", x.To.Celsius(), -2, 40)
	w.Range("absolute pressure up to 600 kPa", float64(r.End), 0, 6*unit.Bar)
	w.Error(0.97*float64(r.End), 1.03*float64(r.End), "solubility of carbon dioxide in beer, 2.5 %")
	return r
}

// The beer where nothing is said of it.
var (
	usualOriginal, usualFinal = unit.Plato(11.4), unit.Plato(2.5)
	usualBeer                 = newBrew(float64(usualOriginal), 1-float64(usualFinal/usualOriginal))
)

// state is x at its start, in equilibrium.
func (x Sealed) state() (*State, unit.Pressure) {
	original, final, b := x.Original, x.Final, usualBeer
	if original == 0 {
		original, final = usualOriginal, usualFinal
	} else {
		b = newBrew(float64(original), 1-float64(final/original))
	}
	p := Standard(x.Capacity, 0.3, x.Volume, original, yeast.Ale, x.From, x.From, unit.Atmosphere)
	p.Beer = x.Beer
	p.Attenuation = 1 - float64(final/original)
	s := start(&p, &b)
	s.Left, s.HeadAir, s.HeadCO2 = 0, 0, 1e-6
	at := x.Pressure
	if at == 0 {
		s.Dissolved = float64(x.Volumes) * oneVolume * float64(x.Volume)
	}
	for range 40 { // the beer's own volume with its gas is x.Volume
		grows, before := float64(x.Volume)/s.volume(), s.HeadCO2
		s.Wort *= grows
		g := s.gasAt()
		if x.Pressure > 0 {
			pc := float64(at) - g.vapour
			s.HeadCO2, s.Dissolved = pc*g.beta, pc*g.alpha
		} else {
			s.HeadCO2 = s.Dissolved / g.alpha * g.beta
			at = unit.Pressure(g.vapour + s.HeadCO2/g.beta)
		}
		if math.Abs(grows-1) < 1e-11 && math.Abs(s.HeadCO2-before) < 1e-11*before { // each round brings three digits
			break
		}
	}
	return &s, at
}
