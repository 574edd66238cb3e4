package vessel

import (
	"spile/ode"
	"spile/unit"
)

// atmosphere is the pressure of CO2 above which it slows the yeast, Pa.
const atmosphere = unit.Atmosphere

const (
	airBand = 0.5 // K either way of the coldest air of a fridge
)

// allEvents are the places where a fitting changes what it does. Each reads the settings as they are when it is asked.
func (f *Full) allEvents() []ode.Event {
	events := append(f.valve(&f.mode.relief, func() float64 { return f.fit.opens }, func() bool { return f.fit.relief > 0 && !f.fit.bothWays }, true),
		f.valve(&f.mode.safety, func() float64 { return f.fit.safe }, func() bool { return f.fit.safety > 0 }, false)...)
	return append(append(events, f.supplyEvents()...), f.heatEvents()...)
}

// valve is one that opens at a pressure and reseats lower.
func (f *Full) valve(open *bool, opens func() float64, fitted func() bool, counted bool) []ode.Event {
	return []ode.Event{
		{Direction: 1, Value: func(t float64, y []float64) float64 {
			if *open || !fitted() {
				return -1
			}
			return f.pressure(t, y) - opens()
		}, Act: func(float64, []float64) bool {
			*open = true
			if counted {
				f.opened++
			}
			return false
		}},
		{Direction: -1, Value: func(t float64, y []float64) float64 {
			if !*open || !fitted() {
				return 1
			}
			return f.pressure(t, y) - (opens() - f.reseats(opens()))
		}, Act: func(float64, []float64) bool { *open = false; return false }},
	}
}

func (f *Full) pressure(t float64, y []float64) float64 {
	_, _, p := f.at(t, y)
	return p
}

// supplyEvents: the regulator feeds below its setting and never takes back, the cylinder ends, and what is open to the
// air lets gas out above its pressure and air in below.
func (f *Full) supplyEvents() []ode.Event {
	return []ode.Event{
		{Value: func(t float64, y []float64) float64 {
			if f.fit.regulator == 0 {
				return 1
			}
			return f.pressure(t, y) - f.fit.set
		}, Act: func(t float64, y []float64) bool { f.mode.feeding = !f.mode.feeding; return false }},
		{Direction: -1, Value: func(_ float64, y []float64) float64 {
			if f.fit.regulator == 0 {
				return 1
			}
			return f.s.Cylinder/molarCO2 - y[ySupplied]
		}, Act: func(float64, []float64) bool { f.fit.regulator, f.mode.feeding = 0, false; return false }},
		{Value: func(t float64, y []float64) float64 { return f.pressure(t, y) - f.fit.air },
			Act: func(float64, []float64) bool { f.mode.inward = !f.mode.inward; return false }},
	}
}

// heatEvents: belt and compressor by the temperature of the beer, the compressor also by that of the air and its rest.
func (f *Full) heatEvents() []ode.Event {
	beerOver := func(above float64, off float64) func(float64, []float64) float64 {
		return func(t float64, y []float64) float64 {
			if f.c.Hold == 0 || f.c.Track != nil {
				return off
			}
			return y[yBeer] - float64(f.c.Hold) - above*float64(f.p.HoldBand)
		}
	}
	airOver := func(above float64) func(float64, []float64) float64 {
		return func(_ float64, y []float64) float64 {
			if f.p.Fridge == nil {
				return 0
			}
			return y[yAround] - float64(f.p.Fridge.Coldest) - above
		}
	}
	start := func(t float64, _ []float64) bool { f.start(t); return false }
	return []ode.Event{
		{Direction: -1, Value: beerOver(-1, 1), Act: func(float64, []float64) bool { f.mode.belt = f.p.Belt > 0; return false }},
		{Direction: 1, Value: beerOver(1, -1), Act: func(t float64, y []float64) bool { f.mode.belt, f.mode.wanting = false, true; return start(t, y) }},
		{Direction: -1, Value: beerOver(0, 1), Act: func(t float64, _ []float64) bool { f.mode.wanting = false; f.stop(t); return false }},
		{Direction: -1, Value: airOver(-airBand), Act: func(t float64, _ []float64) bool { f.mode.cold = true; f.stop(t); return false }},
		{Direction: 1, Value: airOver(airBand), Act: func(t float64, y []float64) bool { f.mode.cold = false; return start(t, y) }},
		{Direction: 1, Value: func(t float64, _ []float64) float64 { return t - f.mode.rested }, Act: start},
	}
}

// start runs the compressor where cold is asked for, the air is warm enough and the rest is over.
func (f *Full) start(t float64) {
	if f.p.Fridge != nil && f.mode.wanting && !f.mode.cold && t >= f.mode.rested {
		f.mode.compressor = true
	}
}

// stop ends a run of the compressor and begins its rest.
func (f *Full) stop(t float64) {
	if f.mode.compressor {
		f.mode.compressor = false
		f.mode.rested = t + float64(f.p.Fridge.Rest)
	}
}

// falling says whether the pressure of y is about to fall.
func (f *Full) falling(t float64, y []float64) bool {
	var d, next [numY]float64
	f.slope(t, y, d[:])
	for i := range next {
		next[i] = y[i] + d[i]
	}
	return f.pressure(t, next[:]) < f.pressure(t, y)
}

// agree sets the modes that the state implies, after settings or contents were changed by hand.
func (f *Full) agree(t float64, y []float64) {
	m, fit := &f.mode, &f.fit
	p := f.pressure(t, y)
	m.feeding = fit.regulator > 0 && p < fit.set
	m.inward = p < fit.air || p == fit.air && f.falling(t, y)
	m.relief = fit.relief > 0 && (fit.bothWays || p >= fit.opens || m.relief && p > fit.opens-f.reseats(fit.opens))
	m.safety = fit.safety > 0 && (p >= fit.safe || m.safety && p > fit.safe-f.reseats(fit.safe))
	if fr := f.p.Fridge; fr != nil {
		over := y[yAround] - float64(fr.Coldest)
		m.cold = over <= -airBand || m.cold && over < airBand
	}
	if f.c.Hold == 0 || f.c.Track != nil {
		m.belt, m.wanting = false, false
		f.stop(t)
		return
	}
	over, band := y[yBeer]-float64(f.c.Hold), float64(f.p.HoldBand)
	m.belt = f.p.Belt > 0 && over < band && (m.belt || over <= -band)
	if m.wanting = over > 0 && (m.wanting || over >= band); !m.wanting {
		f.stop(t)
	}
	f.start(t)
}
