package vessel

import (
	"math"
	"math/rand/v2"
	"testing"

	"spile/unit"
)

// means are what instruments would show of one day.
type means struct{ points, psi, kelvin, grams float64 }

// dayOf runs sim through the day from the time it stands at. Where valve and thermostat cycle a reading is the mean of the
// cycle, so all are means over the day but for gravity, which is that at its end.
func dayOf(t *testing.T, sim Simulator) means {
	t.Helper()
	const n = 48
	from, m := sim.State().Time, means{}
	for i := 1; i <= n; i++ {
		if err := sim.Advance(from + unit.Day*float64(i)/n); err != nil {
			t.Fatal(err)
		}
		s := sim.State()
		m.psi += float64(s.Gauge()) / unit.PSI / n
		m.kelvin += s.Temperature / n
		m.grams += float64(s.MassTotal()) / unit.Gram / n
	}
	m.points = sim.State().Gravity().Points()
	return m
}

// programme is a random but ordinary course of a batch: ferment under a valve, perhaps a rest, chill, gas, hand actions.
type programme struct {
	p        Params
	controls map[int]Controls // by day
	hand     map[int]func(Simulator)
}

func randomProgramme(seed uint64) programme {
	r := rand.New(rand.NewPCG(seed, 1))
	between := func(a, b float64) float64 { return a + (b-a)*r.Float64() }
	p := usual()
	p.Original = unit.Plato(between(9, 16))
	p.Attenuation = between(0.68, 0.84)
	p.Liquid = unit.Volume(between(15, 23)) * unit.Litre
	p.Yeast.Start *= math.Exp(between(-1, 1))
	p.Yeast.Uptake *= math.Exp(between(-0.5, 0.5))
	p.KLaStill *= math.Exp(between(-1, 1))
	p.KLaBubbling *= math.Exp(between(-0.7, 0.7))
	p.UA = unit.Conductance(between(1, 4.5))
	p.Ambient = unit.Celsius(between(10, 24))
	p.Swing = unit.TemperatureDifference(between(0, 2))
	if r.IntN(3) == 0 {
		p.Leak = math.Exp(between(math.Log(1e-13), math.Log(2e-10)))
	}
	warm := unit.Celsius(between(15, 23))
	p.Start = warm
	relief := unit.Gauge(between(0, 15)) * unit.PSI
	if r.IntN(4) == 0 {
		relief = 0
	}
	end := 7 + r.IntN(5)
	g := programme{p: p, controls: map[int]Controls{0: {Hold: warm, Relief: relief, Gas: GasOff}}, hand: map[int]func(Simulator){}}
	g.controls[3+r.IntN(3)] = Controls{Hold: warm + unit.Temperature(between(0, 3)), Relief: relief + unit.Gauge(between(0, 5))*unit.PSI, Gas: GasOff}
	g.controls[end] = Controls{Hold: unit.Celsius(between(2, 6)), Relief: 25 * unit.PSI, Gas: unit.Gauge(between(5, 15)) * unit.PSI}
	g.hand[2+r.IntN(10)] = func(s Simulator) { s.Sample(150 * unit.Millilitre) }
	g.hand[2+r.IntN(10)] = func(s Simulator) { s.Vent(s.State().Gauge(), s.State().Gauge()*0.6) }
	g.hand[end+2] = func(s Simulator) { s.Shake(120) }
	g.hand[end+3] = func(s Simulator) { s.Pour(2 * unit.Litre) }
	return g
}

// begin does what is set and done by hand at the beginning of a day.
func (g programme) begin(day int, sims ...Simulator) {
	for _, s := range sims {
		if c, ok := g.controls[day]; ok {
			s.Set(c)
		}
		if do, ok := g.hand[day]; ok {
			do(s)
		}
	}
}

// play runs both closures through g and hands over each day; popped is how often the valve of the full one opened in it.
func (g programme) play(t *testing.T, compare func(day, popped int, full, averaged means)) {
	f, a := NewFull(g.p), NewAveraged()
	a.Reset(&g.p)
	for day := range 14 {
		before := f.Popped()
		g.begin(day, f, a)
		full := dayOf(t, f)
		compare(day, f.Popped()-before, full, dayOf(t, a))
	}
}

// tolerances of a day. A tenth of each instrument's scatter: 0.07 point (hydrometer), 0.05 psi (dial), 0.07 K (strip),
// 5 g (a scale of 50 g). Where a cycle is broken off rather than lived through, the averaged closure says its middle: the
// full one may stand anywhere in the valve's hysteresis (half of 0.4 psi; the fall of temperature that day carries it on)
// or in the thermostat's band. NeedsFull says so to users.
func (g programme) tolerance(day, popped int, psi float64, tracked bool) (m means, tight bool) {
	m = means{points: 0.07, psi: 0.05, kelvin: 0.07, grams: 5}
	c := g.set(day)
	cycles := popped >= 8 || c.Relief == 0
	fed := math.Abs(psi-float64(c.Gas)/unit.PSI) < 0.1 // the regulator holds the pressure
	if tight = (cycles || fed) && !g.changed(day); tight {
		return m, true
	}
	m.psi += 1.5 * float64(g.p.ReliefReseat) / unit.PSI
	if !tracked && (g.changed(day) || g.changed(day-1)) {
		m.kelvin += float64(g.p.HoldBand)
	}
	return m, false
}

// set is the controls in force on day.
func (g programme) set(day int) Controls {
	for ; day > 0; day-- {
		if c, ok := g.controls[day]; ok {
			return c
		}
	}
	return g.controls[0]
}

func (g programme) changed(day int) bool { _, ok := g.controls[day]; return ok }

// tracked gives g measured temperatures in place of belt and fridge.
func (g programme) tracked() programme {
	out := g
	out.controls = map[int]Controls{}
	for day, c := range g.controls {
		hold := float64(c.Hold)
		c.Track = func(at float64) float64 {
			return hold + 0.4*math.Sin(at/unit.Day*2*math.Pi) + (float64(g.p.Start)-hold)*math.Exp(-(at-float64(day)*unit.Day)/(6*unit.Hour))
		}
		out.controls[day] = c
	}
	return out
}

func TestClosuresAgree(t *testing.T) {
	seeds := 10
	if testing.Short() {
		seeds = 4
	}
	var most means
	tight, days := 0, 0
	for seed := range seeds {
		g := randomProgramme(uint64(seed))
		tracked := seed%2 == 1
		if tracked {
			g = g.tracked()
		}
		if why := NeedsFull(&g.p, g.controls[0]); why != "" {
			t.Logf("programme %d left out: %s", seed, why)
			continue
		}
		g.play(t, func(day, popped int, full, averaged means) {
			tol, strict := g.tolerance(day, popped, full.psi, tracked)
			check := func(what string, got, want, tolerance float64, most *float64) {
				t.Helper()
				d := math.Abs(got - want)
				*most = math.Max(*most, d/tolerance)
				if !(d <= tolerance) {
					t.Errorf("programme %d (tracked %v), day %d, %s: full closure %.4f, averaged %.4f, tolerance %.2g", seed, tracked, day+1, what, want, got, tolerance)
				}
			}
			check("gravity, points", averaged.points, full.points, tol.points, &most.points)
			check("pressure, psi", averaged.psi, full.psi, tol.psi, &most.psi)
			check("temperature, K", averaged.kelvin, full.kelvin, tol.kelvin, &most.kelvin)
			check("contents, g", averaged.grams, full.grams, tol.grams, &most.grams)
			if days++; strict {
				tight++
			}
		})
	}
	t.Logf("%d of %d days at a tenth of every scatter; largest differences as shares of the tolerance: gravity %.2f, pressure %.2f, temperature %.2f, mass %.2f", tight, days, most.points, most.psi, most.kelvin, most.grams)
	if tight < days/3 {
		t.Errorf("only %d of %d days were compared at a tenth of every scatter", tight, days)
	}
}

// A day in one go, whose steps are as long as its calm allows, says what the same in spans of two hours does, within a tenth of every scatter.
func TestLongStepsAgree(t *testing.T) {
	for seed := range uint64(100) {
		g := randomProgramme(seed)
		if seed%2 == 1 {
			g = g.tracked()
		}
		long, short := NewAveraged(), NewAveraged()
		for _, a := range []*Averaged{long, short} {
			a.Reset(&g.p)
		}
		for day := range 14 {
			g.begin(day, long, short)
			for from, k := float64(day)*unit.Day, 1; k <= 12; k++ {
				if err := short.Advance(from + 2*unit.Hour*float64(k)); err != nil {
					t.Fatal(err)
				}
			}
			if err := long.Advance(short.State().Time); err != nil {
				t.Fatal(err)
			}
			check := func(what string, got, want, tolerance float64) {
				t.Helper()
				if !(math.Abs(got-want) <= tolerance) {
					t.Errorf("programme %d, day %d, %s: %.4f in spans of two hours, %.4f in one, tolerance %.2g", seed, day+1, what, want, got, tolerance)
				}
			}
			a, b := long.State(), short.State()
			check("gravity, points", a.Gravity().Points(), b.Gravity().Points(), 0.07)
			check("pressure, psi", float64(a.Gauge())/unit.PSI, float64(b.Gauge())/unit.PSI, 0.05)
			check("temperature, K", a.Temperature, b.Temperature, 0.07)
			check("contents, g", float64(a.MassTotal())/unit.Gram, float64(b.MassTotal())/unit.Gram, 5)
		}
	}
}
