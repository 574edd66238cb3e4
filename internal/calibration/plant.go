package calibration

import (
	"fmt"
	"math"
	"math/rand/v2"
	"sort"

	"spile/batch"
	"spile/co2"
	"spile/estimate"
	"spile/internal/ferment"
	"spile/unit"
	"spile/vessel"
	"spile/wort"
	"spile/yeast"
)

// plant is one batch in the full closure, with truths of its own: even spreads of
// other widths than the priors', a room that swings, cycling valves and thermostats, and
// instruments that are read to the nearest mark, the dial with a hand that hangs.
type plant struct {
	rng      *rand.Rand
	batch    batch.Batch // as written down
	log      batch.Log
	params   vessel.Params
	controls vessel.Controls
	sim      *vessel.Full
	deeds    []deed
	// fixed errors of the instruments, SI, and the tare of the scale
	hydrometer, dial, strip, tare, regulator float64
	hangs, hand                              float64 // Pa that the hand of the dial hangs behind, and where it hangs
	left                                     float64 // points that tired yeast leaves
}

// deed is something done or broken at an hour.
type deed struct {
	hour float64
	do   func(*plant)
}

// even is a number anywhere from lo to hi.
func (p *plant) even(lo, hi float64) float64 { return lo + (hi-lo)*p.rng.Float64() }

// newPlant draws a healthy batch of ale at 20 C under 10 psi.
func newPlant(rng *rand.Rand) *plant {
	p := &plant{rng: rng}
	hold, relief := unit.Celsius(20), unit.Gauge(10*unit.PSI)
	rating, safety := unit.Gauge(2.5*unit.Bar), unit.Gauge(2.2*unit.Bar)
	label := unit.Gravity(p.even(1.038, 1.060))
	p.batch = batch.Batch{
		Name: "planted", Pitched: ferment.Pitched,
		Wort:      batch.Wort{Volume: 20 * unit.Litre, Gravity: label},
		Yeast:     batch.Yeast{Kind: yeast.Ale},
		Vessel:    batch.Vessel{Capacity: 26 * unit.Litre, Diameter: 0.3, Rating: &rating, SafetyRelief: &safety},
		Place:     batch.Place{Ambient: unit.Celsius(17), Fridge: &batch.Fridge{Coldest: unit.Celsius(0)}, Belt: 40},
		Gas:       &batch.Gas{Cylinder: 2.6, Content: 2},
		Programme: []batch.Step{{AtSet: true, Set: batch.Setting{Hold: &hold, Relief: &relief}}},
	}
	p.controls = vessel.Controls{Hold: hold, Relief: relief, Gas: vessel.GasOff}
	p.hydrometer, p.dial = p.even(-1, 1)*0.001, p.even(-0.8, 0.8)*unit.PSI
	p.strip, p.tare, p.regulator = p.even(-1, 1), p.even(4, 6), p.even(-1.2, 1.2)*unit.PSI
	p.hangs = p.even(0, 0.3) * unit.PSI
	p.truths(label)
	return p
}

// truths of the wort, the yeast and the fittings.
func (p *plant) truths(label unit.Gravity) {
	b := &p.batch
	og := label + unit.Gravity(p.even(-1.5, 1.5)*0.001)
	v := vessel.Standard(b.Vessel.Capacity, b.Vessel.Diameter, b.Wort.Volume, wort.ExtractFromGravity(og), b.Yeast.Kind, unit.Celsius(p.even(18, 22)), b.Place.Ambient, unit.Atmosphere)
	v.Attenuation = p.even(0.73, 0.82)
	k := &v.Yeast
	growth, lag := p.even(0.10, 0.24), p.even(14, 42) // 1/h, h
	k.Growth, k.Start = growth/unit.Hour, 1/(1+math.Exp(growth*lag))
	k.Uptake, k.HalfLeft = p.even(0.013, 0.030)/unit.Hour, p.even(0.1, 0.35)
	k.Wander = [yeast.WanderModes]float64{p.even(-0.6, 0.6), p.even(-0.5, 0.4), p.even(-0.4, 0.6)}
	v.KLaStill *= p.even(0.6, 1.7)
	v.KLaBubbling *= p.even(0.6, 1.7)
	v.UA *= unit.Conductance(p.even(0.75, 1.3))
	v.Swing = unit.TemperatureDifference(p.even(0, 2))
	v.Leak = p.even(0, 0.4) * unit.Gram / unit.Day / co2.MolarMass / unit.Bar
	v.ReliefOffset = unit.Gauge(p.even(-1.5, 1.5) * unit.PSI)
	v.ReliefReseat = unit.Gauge(p.even(0.2, 0.8) * unit.PSI)
	v.Beer = co2.BeerFactor{Level: p.even(-0.03, 0.03), Slope: p.even(-0.02, 0.02)}
	v.SafetyRelief, v.Cylinder, v.Belt = *b.Vessel.SafetyRelief, b.Gas.Content, b.Place.Belt
	v.Fridge = vessel.UsualFridge(b.Place.Fridge.Coldest)
	p.params = v
}

// at plans something for an hour.
func (p *plant) at(hour float64, do func(*plant)) { p.deeds = append(p.deeds, deed{hour, do}) }

// set is a step of the programme, done when it says.
func (p *plant) set(hour float64, s batch.Setting) {
	p.batch.Programme = append(p.batch.Programme, batch.Step{At: unit.Duration(hour * unit.Hour), AtSet: true, Set: s})
	p.at(hour, func(p *plant) {
		estimate.Turn(&p.controls, &s)
		if s.Gas != nil {
			p.controls.Gas += unit.Gauge(p.regulator)
		}
		p.sim.Set(p.controls)
	})
}

// read plans readings of q every so many hours from one hour to another.
func (p *plant) read(q batch.Quantity, from, to, every float64) {
	for h := from; h <= to; h += every {
		p.at(h, func(p *plant) {
			p.log.Readings = append(p.log.Readings, batch.Reading{Time: ferment.At(h), Quantity: q, Value: p.shown(q)})
		})
	}
}

// shown is what a person writes down, to the nearest mark.
func (p *plant) shown(q batch.Quantity) float64 {
	s, noise := p.sim.State(), p.rng.NormFloat64()
	mark := func(x, step float64) float64 { return math.Round(x/step) * step }
	switch q {
	case batch.Gravity:
		return 1 + mark(float64(s.Gravity())-1+p.hydrometer+0.0005*noise, 0.0005)
	case batch.Pressure:
		return mark(p.hand+p.dial+0.3*unit.PSI*noise, 0.5*unit.PSI)
	case batch.Temperature:
		return mark(s.Temperature+p.strip+0.4*noise, 0.5)
	default: // the vessel's weight
		return mark(float64(s.MassTotal())+p.tare+0.02*noise, 0.02)
	}
}

// grow runs the batch to an hour, doing what is planned.
func (p *plant) grow(until float64) error {
	if p.left > 0 {
		p.tire()
	}
	p.sim = vessel.NewFull(p.params)
	p.sim.Set(p.controls)
	sort.SliceStable(p.deeds, func(i, j int) bool { return p.deeds[i].hour < p.deeds[j].hour })
	for _, d := range p.deeds {
		if d.hour > until {
			break
		}
		if err := p.sim.Advance(d.hour * unit.Hour); err != nil {
			return fmt.Errorf("at %g h: %w", d.hour, err)
		}
		p.drag()
		d.do(p)
		p.drag()
	}
	return nil
}

// drag takes the hand of the dial along with the pressure.
func (p *plant) drag() {
	gauge := float64(p.sim.State().Gauge())
	p.hand = min(max(p.hand, gauge-p.hangs), gauge+p.hangs)
}

// tire lowers what the yeast ferments by the points that it leaves.
func (p *plant) tire() {
	start, end := wort.GravityFromExtract(unit.Plato(p.params.Original.Plato())), vessel.TerminalGravity(&p.params)
	p.params.Attenuation *= 1 - p.left*0.001/float64(start-end)
}
