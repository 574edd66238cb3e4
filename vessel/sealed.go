package vessel

import (
	"fmt"
	"math"

	"spile/co2"
	"spile/unit"
	"spile/working"
	"spile/wort"
)

// Sealed is a shut vessel of finished beer and CO2 whose temperature changes.
type Sealed struct {
	From, To   unit.Temperature
	Beer       unit.Volume // at From
	Capacity   unit.Volume
	Pressure   unit.Pressure // absolute at From; 0: what Volumes holds in equilibrium
	Volumes    unit.Volumes  // at From; 0: what Pressure holds. With both, the gas is not in equilibrium at first
	Atmosphere unit.Pressure // local air, for the words of the working
	Factor     co2.BeerFactor
}

// SealedResult is where a Sealed began and where it settles.
type SealedResult struct {
	Start, End   unit.Pressure // absolute
	StartVolumes unit.Volumes
	EndVolumes   unit.Volumes
	Full         bool // the beer fills the vessel: End is only a lower bound, the true pressure tens of bar
}

// SealedPressure is the pressure a shut vessel comes to: the CO2 in beer and headspace together stays the same, the
// beer expands, and days later the two are in equilibrium. No air, no further ferment. Range -1 to 40 C and up to
// 6 bar; error 4 % of the absolute pressure, from how much gas beer holds.
// References: [Weiss1974], [BrewingTechniques1994]
func SealedPressure(v Sealed, w *working.Sheet) (SealedResult, error) {
	if err := v.check(); err != nil {
		return SealedResult{}, err
	}
	r, err := v.start()
	if err != nil {
		return r, err
	}
	moles := float64(r.StartVolumes)*float64(v.Beer)/co2.IdealMolarVolume + v.headMoles(r.Start, v.From, v.Capacity-v.Beer)
	beer := v.Beer * unit.Volume(finishedDensity(v.From)/finishedDensity(v.To))
	head := v.Capacity - beer
	if head < leastHead*v.Capacity {
		head, r.Full = leastHead*v.Capacity, true
	}
	r.End = unit.Pressure(rise(0, 400*unit.Bar, func(p float64) float64 {
		return v.beerMoles(unit.Pressure(p), v.To) + v.headMoles(unit.Pressure(p), v.To, head) - moles
	}))
	r.EndVolumes = unit.Volumes(v.beerMoles(r.End, v.To) * co2.IdealMolarVolume / float64(v.Beer))
	v.explain(r, head, w)
	return r, nil
}

func (v Sealed) check() error {
	for _, t := range []unit.Temperature{v.From, v.To} {
		if c := t.Celsius(); !(c >= -2 && c <= 60) {
			return fmt.Errorf("temperature %.1f °C: accepted are -2 to 60 °C, for example 20 °C", c)
		}
	}
	if !(v.Beer > 0 && v.Beer < v.Capacity) {
		return fmt.Errorf("%.1f L of beer in a vessel of %.1f L: the beer must be above zero and leave a headspace", float64(v.Beer)/unit.Litre, float64(v.Capacity)/unit.Litre)
	}
	if !(v.Pressure > 0) && !(v.Volumes > 0) {
		return fmt.Errorf("neither pressure nor carbonation at the start: give one, for example 10 psi")
	}
	return nil
}

// start fills in what was not given at the start.
func (v Sealed) start() (SealedResult, error) {
	r := SealedResult{Start: v.Pressure, StartVolumes: v.Volumes}
	if !(v.Pressure > 0) {
		p, err := co2.EquilibriumPressure(v.From, v.Volumes, v.Factor, nil)
		if err != nil {
			return r, err
		}
		r.Start = p
	}
	if !(v.Volumes > 0) {
		r.StartVolumes = co2.Equilibrium(v.From, r.Start, v.Factor, nil)
	}
	return r, nil
}

// beerMoles is the CO2 in the beer under pressure p at t, the beer counted at its volume when it was shut in, as its mass does not change.
func (v Sealed) beerMoles(p unit.Pressure, t unit.Temperature) float64 {
	return float64(co2.Equilibrium(t, p, v.Factor, nil)) * float64(v.Beer) / co2.IdealMolarVolume
}

// headMoles is the CO2 in a headspace of the given volume.
func (v Sealed) headMoles(p unit.Pressure, t unit.Temperature, head unit.Volume) float64 {
	pc := math.Max(float64(p-co2.VapourPressure(t)), 0)
	rt := co2.GasConstant * float64(t)
	z := math.Max(1+co2.SecondVirial(t)*pc/rt, 0.3) // beyond 6 bar only a guard
	return pc * float64(head) / (z * rt)
}

// finishedDensity is that of an ordinary finished beer, kg/m3.
func finishedDensity(t unit.Temperature) float64 {
	f := wort.FromApparent(unit.Plato(11.4), unit.Plato(2.6))
	return wort.BeerDensity(f.Real, f.Ethanol, t)
}

func (v Sealed) explain(r SealedResult, head unit.Volume, w *working.Sheet) {
	if w == nil {
		return
	}
	gauge := func(p unit.Pressure) float64 { return float64(p.Gauge(v.Atmosphere)) / 1e3 }
	w.Input("t1", "temperature when shut", v.From.Celsius(), "°C", working.Given)
	w.Input("t2", "temperature it comes to", v.To.Celsius(), "°C", working.Given)
	w.Input("VL", "beer", float64(v.Beer)/unit.Litre, "L", working.Given)
	w.Input("V", "vessel", float64(v.Capacity)/unit.Litre, "L", working.Given)
	w.Step("p1", "pressure at the start", "equilibrium of carbonation and pressure, or as given", gauge(r.Start), "kPa", "Weiss1974")
	w.Step("c1", "carbonation at the start", "equilibrium of carbonation and pressure, or as given", float64(r.StartVolumes), "volumes", "BrewingTechniques1994")
	w.Step("VG", "headspace at t2", "VG = V - VL rho(t1)/rho(t2)", float64(head)/unit.Litre, "L", "OIML1975")
	w.Step("p2", "pressure once settled", "the p2 at which c(t2, p2) VL + n(p2, t2) VG is what was shut in", gauge(r.End), "kPa", "Weiss1974")
	w.Step("c2", "carbonation once settled", "equilibrium at t2 and p2", float64(r.EndVolumes), "volumes", "")
	w.Range("beer from -1 to 40 °C", v.To.Celsius(), -1, 40)
	w.Range("absolute pressure up to 600 kPa", float64(r.End), 0, 6*unit.Bar)
	low, high := gauge(r.End-unit.Pressure(0.04*float64(r.End))), gauge(r.End+unit.Pressure(0.04*float64(r.End)))
	w.Error(low, high, "how much gas beer holds is known to about 4 %")
	if r.Full {
		w.Caution("At this temperature the beer fills the vessel to the brim. The pressure can rise to tens of bar: leave more headspace.")
	}
	if r.End < v.Atmosphere {
		w.Caution("The pressure falls below that of the air. Many vessels are not made for it, and a lid or seal may let air in.")
	}
}

// rise finds where the rising f passes zero between low and high, to 1e-12 of high.
func rise(low, high float64, f func(float64) float64) float64 {
	for range 60 {
		mid := 0.5 * (low + high)
		if f(mid) < 0 {
			low = mid
		} else {
			high = mid
		}
	}
	return 0.5 * (low + high)
}

// FullError says that the beer of a worst case would fill the vessel.
type FullError struct{ At unit.Temperature }

// Error is one line.
func (e *FullError) Error() string {
	return fmt.Sprintf("at %.0f °C the beer would fill the vessel to the brim; no pressure can be named", e.At.Celsius())
}

// accumulation is how far above its set pressure a safety valve must be to pass all it can.
// References: [API520]
const accumulation = 1.10

// WorstCase is the absolute pressure that today's contents s come to with all that can still ferment (s.Left of
// s.Usable) fermented, the working valve stuck shut and the place at hottest; and the pressure with a regulator
// failed fully open on a cylinder at the pressure supply (0: no gas connected): the supply itself, or, where a safety
// valve is fitted, what that valve lets stand if it is large enough. It leaves the safety valve out of the first, and
// knows nothing of the strength of any part. Error 5 % up to 6 bar, more beyond. A FullError says that no headspace is left.
// References: [Weiss1974], [BrewingTechniques1994], [Balling1865], [API520]
func WorstCase(s *State, p *Params, hottest unit.Temperature, supply unit.Pressure) (contents, regulator unit.Pressure, err error) {
	w := *s
	w.Dissolved += s.Left * s.Usable * s.Wort * molPerExtract
	w.Left = 0
	w.Temperature = math.Max(float64(hottest), s.Temperature)
	w.equilibrate()
	regulator = supply
	if supply > 0 && p.SafetyRelief > 0 {
		regulator = min(supply, p.Atmosphere+unit.Pressure(accumulation*p.SafetyRelief))
	}
	w.derive()
	if w.Full {
		return 0, regulator, &FullError{unit.Temperature(w.Temperature)}
	}
	return w.Pressure(), regulator, nil
}

// equilibrate brings beer and headspace to rest with each other, the CO2 of both together unchanged.
func (s *State) equilibrate() {
	total := s.Dissolved + s.HeadCO2
	rise(0, total, func(head float64) float64 {
		s.HeadCO2, s.Dissolved = head, total-head
		g := s.gasAt()
		return head/g.beta*g.alpha - s.Dissolved
	})
}
