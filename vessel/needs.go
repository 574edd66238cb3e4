package vessel

import "math"

// Unfit is why the averaged closure would not do; "" where it does.
type Unfit string

const (
	Simmers     Unfit = "the working valve passes so little that it simmers between opening and closing"
	NoHeadspace Unfit = "next to no headspace is left"
	WideBand    Unfit = "the thermostat's band is so wide that the yeast notices it"
)

// NeedsFull says why the averaged closure would not do for p under c, in words; "" where both agree within a tenth of
// every instrument's scatter: 0.07 point, 0.05 psi, 0.07 K, 5 g. It would not:
//   - where a valve simmers, since the yeast's strongest gas is more than it passes between its reseat and its opening;
//   - where next to no headspace is left, since the pressure then answers within seconds;
//   - where the thermostat's band is so wide that the yeast notices where in it the beer stands.
//
// What a cycle leaves behind is beyond it: once a valve pops less than some times a day, or is shut, the averaged
// closure stands at the middle of its hysteresis and the true one anywhere in it.
func NeedsFull(p *Params, c Controls) Unfit {
	if c.Relief > 0 && !math.IsInf(float64(c.Relief), 1) {
		least := 0.5 * float64(p.ReliefReseat) * p.ReliefFlow // mol/s that passes as the valve is about to reseat
		if p.strongest() > least && float64(c.Relief) > float64(p.ReliefReseat) {
			return Simmers
		}
	}
	if float64(p.Liquid) > 0.99*float64(p.Capacity) {
		return NoHeadspace
	}
	if c.Hold > 0 && c.Track == nil && p.HoldBand > widestBand {
		return WideBand
	}
	return ""
}

// widestBand is K to either side.
const widestBand = 0.15

// strongest is an upper bound of the gas that the yeast makes, mol/s, at the start temperature.
func (p *Params) strongest() float64 {
	pace := p.Yeast.Pace(float64(p.Start), 0)
	b := newBrew(float64(p.Original), p.Attenuation)
	return pace.Uptake / (1 + p.Yeast.HalfLeft) * b.usable * 1040 * float64(p.Liquid) * molPerExtract
}
