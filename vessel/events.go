package vessel

import (
	"math"

	"spile/ode"
	"spile/unit"
	"spile/wort"
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
	events := f.turns(func() (float64, bool) { return f.fit.set, f.fit.regulator > 0 })
	events = append(events, f.turns(func() (float64, bool) { return f.fit.air, f.fit.leak > 0 || f.fit.bothWays })...)
	return append(events, ode.Event{Direction: -1, Value: func(_ float64, y []float64) float64 {
		if f.fit.regulator == 0 {
			return 1
		}
		return f.s.Cylinder/molarCO2 - y[ySupplied]
	}, Act: func(float64, []float64) bool { f.fit.regulator = 0; return false }})
}

// passed is how far, Pa, a pressure must be beyond the place where a flow turns before the solver restarts there: one that
// settles on it must not restart for ever.
const passed = 0.5

// turns marks where a flow turns, at a pressure while it is fitted.
func (f *Full) turns(at func() (pressure float64, fitted bool)) []ode.Event {
	value := func(side float64) func(float64, []float64) float64 {
		return func(t float64, y []float64) float64 {
			p, fitted := at()
			if !fitted {
				return -side
			}
			return f.pressure(t, y) - p - side*passed
		}
	}
	mark := func(float64, []float64) bool { return false }
	return []ode.Event{{Direction: 1, Value: value(1), Act: mark}, {Direction: -1, Value: value(-1), Act: mark}}
}

// changeover is how many bands of the thermostat the beer must be off before heating gives way to cooling or the other way
// round, so that the two do not fight.
const changeover = 2.0

// lies is how far the beer is from the wanted temperature in bands of the thermostat; never moves where nothing is wanted.
func (f *Full) lies(beer, never float64) float64 {
	if f.c.Hold == 0 || f.c.Track != nil {
		return never
	}
	return (beer - float64(f.c.Hold)) / float64(f.p.HoldBand)
}

// turnsTo gives the bands at which belt (below) and compressor (above) come on.
func (m *mode) turnsTo() (below, above float64) {
	below, above = -1, 1
	switch {
	case m.chilling:
		below = -changeover
	case m.heating:
		above = changeover
	}
	return below, above
}

// coming is how low the beer will still go by the cold air of the fridge once the compressor stops; the thermostat
// anticipates it. The air returns to its rest with time constant tau, and cools the beer until it has passed it.
func (f *Full) coming(t float64, y []float64) float64 {
	fr, beer := f.p.Fridge, y[yBeer]
	if fr == nil || f.p.UA == 0 {
		return beer
	}
	state, g, _ := f.at(t, y)
	_, ds := f.p.Yeast.Slopes(f.p.Yeast.Pace(beer, state.HeadCO2/g.beta-atmosphere), state.X, state.Left)
	heats := -ds * state.Usable * state.Wort * wort.HeatOfFermentation / float64(f.p.UA) // K that the ferment keeps beer above air
	share := float64(f.p.UA / (f.p.UA + fr.UA))
	rest := share*beer + (1-share)*f.p.room(t)
	above := math.Max(rest-(beer-heats), 1e-6)
	gap := math.Max(rest-y[yAround], above)
	return beer - share*fr.Heat/(state.Wort*cpBeer)*(gap-above-above*math.Log(gap/above))
}

// heatEvents: belt and compressor by the temperature of the beer, the compressor also by that of the air and its rest.
func (f *Full) heatEvents() []ode.Event {
	m := &f.mode
	beer := func(y []float64, never float64) float64 { return f.lies(y[yBeer], never) }
	air := func(y []float64) float64 {
		if f.p.Fridge == nil {
			return 0
		}
		return (y[yAround] - float64(f.p.Fridge.Coldest)) / airBand
	}
	return []ode.Event{
		{Direction: -1, Value: func(_ float64, y []float64) float64 { below, _ := m.turnsTo(); return beer(y, 9) - below },
			Act: func(float64, []float64) bool { f.heatUp(); return false }},
		{Direction: 1, Value: func(_ float64, y []float64) float64 { return beer(y, -9) - 1 },
			Act: func(float64, []float64) bool { m.belt = false; return false }},
		{Direction: 1, Value: func(_ float64, y []float64) float64 { _, above := m.turnsTo(); return beer(y, -9) - above },
			Act: func(t float64, _ []float64) bool { f.coolDown(t); return false }},
		{Direction: -1, Value: func(t float64, y []float64) float64 { return f.lies(f.coming(t, y), 9) + 1 },
			Act: func(t float64, _ []float64) bool { m.wanting = false; f.stop(t); return false }},
		{Direction: -1, Value: func(_ float64, y []float64) float64 { return air(y) + 1 },
			Act: func(t float64, _ []float64) bool { m.cold = true; f.stop(t); return false }},
		{Direction: 1, Value: func(_ float64, y []float64) float64 { return air(y) - 1 },
			Act: func(t float64, _ []float64) bool { m.cold = false; f.start(t); return false }},
		{Direction: 1, Value: func(t float64, _ []float64) float64 { return t - m.rested },
			Act: func(t float64, _ []float64) bool { f.start(t); return false }},
	}
}

// heatUp turns the belt on, where there is one.
func (f *Full) heatUp() {
	if f.p.Belt > 0 {
		f.mode.belt, f.mode.heating, f.mode.chilling = true, true, false
	}
}

// coolDown asks for cold, where there is a fridge.
func (f *Full) coolDown(t float64) {
	if f.mode.belt = false; f.p.Fridge != nil {
		f.mode.wanting, f.mode.heating, f.mode.chilling = true, false, true
		f.start(t)
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

// agree sets the modes that the state implies, after settings or contents were changed by hand.
func (f *Full) agree(t float64, y []float64) {
	m, fit := &f.mode, &f.fit
	p := f.pressure(t, y)
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
	off := f.lies(y[yBeer], 0)
	m.belt = m.belt && off < 1
	if m.wanting = m.wanting && f.lies(f.coming(t, y), 0) > -1; !m.wanting {
		f.stop(t)
	}
	switch below, above := m.turnsTo(); {
	case off <= below:
		f.heatUp()
	case off >= above:
		f.coolDown(t)
	}
}
