package vessel

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"spile/unit"
	"spile/yeast"
)

func usual() Params {
	p := Standard(26*unit.Litre, 0.3, 20*unit.Litre, unit.Plato(11.4), yeast.Ale, unit.Celsius(20), unit.Celsius(16), unit.Atmosphere)
	p.Belt = 30
	p.Fridge = UsualFridge(unit.Celsius(1))
	p.SafetyRelief = 2.2 * unit.Bar
	p.Cylinder = 1.9
	return p
}

// conserved compares what is in the vessel and what crossed its walls with what was put in, substance by substance.
func conserved(t interface{ Fatalf(string, ...any) }, s *State, l *ledger, wort0 float64) {
	check := func(what string, got, want, scale float64) {
		if math.Abs(got-want) > 1e-9*scale {
			t.Fatalf("%s: expected %.15g, got %.15g, tolerance 1e-9 of %.3g", what, want, got, scale)
		}
	}
	in := l.startCO2 + l.made + l.supplied
	check("CO2, mol", s.Dissolved+s.HeadCO2+l.vented+l.leaked+l.drawn, in, in)
	check("air, mol", s.HeadAir+l.airOut, l.startAir+l.airIn, l.startAir+l.airIn)
	s.derive()
	check("wort, kg", s.Wort+l.wort, wort0, wort0)
	made := wort0 * s.brew.p0
	u := s.used() * s.Wort
	check("extract, kg", s.Extract+l.extract+u+(l.ethanol)*usedPerEthanol, made, made)
	check("CO2 of extract, mol", (u+l.ethanol*usedPerEthanol)*molPerExtract, l.made, math.Max(l.made, 1e-3))
	check("water, kg", s.Wort*(1-s.brew.p0)-s.WaterLost+l.vapour+l.water, wort0*(1-s.brew.p0), wort0)
}

const usedPerEthanol = 2.0665 // kg/kg [Balling1865]

// wild is a vessel far from the ordinary, but possible.
func wild(r *rand.Rand) Params {
	log := func(low, high float64) float64 { return low * math.Exp(r.Float64()*math.Log(high/low)) }
	p := usual()
	p.Original = unit.Plato(4 + 20*r.Float64())
	p.Attenuation = 0.5 + 0.45*r.Float64()
	p.Liquid = unit.Volume(5+20.5*r.Float64()) * unit.Litre
	p.Leak = log(1e-15, 1e-6)
	p.KLaStill, p.KLaBubbling = log(1e-7, 1e-3), log(1e-3, 10)
	p.Yeast.Start = log(1e-6, 1)
	p.Yeast.Uptake *= log(0.05, 10)
	p.Yeast.Growth *= log(0.1, 5)
	p.Yeast.HalfLeft = log(0.01, 5)
	p.UA = unit.Conductance(log(0.1, 10))
	p.Ambient = unit.Celsius(-5 + 40*r.Float64())
	p.Swing = unit.TemperatureDifference(5 * r.Float64())
	p.Air = r.Float64()
	p.Cylinder = unit.Mass(log(0.01, 5))
	p.ReliefOffset = unit.Gauge((r.Float64() - 0.5) * 4 * unit.PSI)
	if r.IntN(3) == 0 {
		p.Fridge = nil
	}
	if r.IntN(3) == 0 {
		p.SafetyRelief = 0
	}
	return p
}

// act does one random thing to the vessel.
func act(r *rand.Rand, a Simulator, c *Controls) {
	switch r.IntN(11) {
	case 0:
		c.Hold = unit.Celsius(30 * r.Float64())
	case 1:
		c.Relief = unit.Gauge(2 * r.Float64() * unit.Bar)
	case 2:
		c.Gas = unit.Gauge(2 * r.Float64() * unit.Bar)
	case 3:
		c.Gas = GasOff
	case 4:
		a.Vent(a.State().Gauge(), unit.Gauge(r.Float64())*a.State().Gauge())
	case 5:
		a.Sample(unit.Volume(0.5 * r.Float64() * unit.Litre))
	case 6:
		a.Open()
	case 7:
		a.Shake(600 * r.Float64())
	case 8:
		a.DryHop(0.06, 0.04*r.Float64())
	case 9:
		c.Relief = unit.Gauge(math.Inf(1))
	case 10:
		a.Dose(unit.Mass(0.02 * r.Float64()))
	}
	a.Set(*c)
}

// abuse runs sim through up to most random actions, checking after each that every substance is conserved and nothing is negative.
func abuse(t *rapid.T, r *rand.Rand, sim Simulator, k *core, most int, days float64) {
	wort0 := k.s.Wort
	c := Controls{Hold: unit.Celsius(20), Gas: GasOff}
	for range 1 + r.IntN(most) {
		act(r, sim, &c)
		if err := sim.Advance(k.s.Time + days*unit.Day*r.Float64()); err != nil {
			t.Fatal(err)
		}
		conserved(t, &k.s, &k.l, wort0)
		for what, v := range map[string]float64{"CO2": k.s.HeadCO2, "air": k.s.HeadAir, "dissolved": k.s.Dissolved, "left": k.s.Left, "X": k.s.X, "cylinder": k.s.Cylinder, "vented": k.l.vented, "leaked": k.l.leaked, "supplied": k.l.supplied, "diacetyl": k.s.Diacetyl} {
			if v < 0 || math.IsNaN(v) {
				t.Fatalf("%s is %g", what, v)
			}
		}
		if p := float64(sim.State().Pressure()); !(p > 0 && p < 1000*unit.Bar) {
			t.Fatalf("pressure is %g Pa", p)
		}
	}
}

func TestAveragedConserves(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 2))
		p := wild(r)
		a := NewAveraged()
		a.Reset(&p)
		abuse(t, r, a, &a.core, 20, 5)
	})
}

func TestFullConserves(t *testing.T) {
	runs := 0
	rapid.Check(t, func(t *rapid.T) {
		seed := rapid.Uint64().Draw(t, "seed")
		if runs++; runs > 25 { // each costs as much as thousands of the averaged one
			return
		}
		r := rand.New(rand.NewPCG(seed, 3))
		p := randomProgramme(seed).p
		f := NewFull(p)
		abuse(t, r, f, &f.core, 8, 2)
	})
}

// Raising the working valve late slows yeast that has grown, and does not kill it.
func TestLateReliefKillsNoYeast(t *testing.T) {
	bothWith(t, usual(), 0, func(name string, sim Simulator, _ *core) {
		sim.Set(Controls{Hold: unit.Celsius(20), Relief: 2 * unit.PSI, Gas: GasOff})
		if err := sim.Advance(60 * unit.Hour); err != nil {
			t.Fatal(err)
		}
		before := sim.State().X
		sim.Set(Controls{Hold: unit.Celsius(20), Relief: 30 * unit.PSI, Gas: GasOff})
		if err := sim.Advance(90 * unit.Hour); err != nil {
			t.Fatal(err)
		}
		s := sim.State()
		if s.X < before || s.Gauge() < 20*unit.PSI {
			t.Errorf("%s closure: expected yeast activity to stay at %.4f or more under a valve raised to 30 psi, got %.4f at %.1f psi", name, before, s.X, float64(s.Gauge())/unit.PSI)
		}
	})
}

// The usual course: ferment at 20 C under 10 psi, chill on day 7 with gas on at 10 psi.
func TestUsualCourse(t *testing.T) {
	p := usual()
	a := NewAveraged()
	a.Reset(&p)
	a.Set(Controls{Hold: unit.Celsius(20), Relief: 10 * unit.PSI, Gas: GasOff})
	volumes := map[float64]float64{}
	for h := 12.0; h <= 14*24; h += 12 {
		if h == 7*24+12 {
			a.Set(Controls{Hold: unit.Celsius(1), Relief: 15 * unit.PSI, Gas: 10 * unit.PSI})
		}
		if err := a.Advance(h * unit.Hour); err != nil {
			t.Fatal(err)
		}
		s := a.State()
		volumes[h] = float64(s.Volumes())
		t.Logf("%4.0f h  SG %.4f  %5.1f C  %5.1f psi  %.3f vol  air %.3f X %.2f", h, float64(s.Gravity()), s.Beer().Celsius(), float64(s.Gauge())/unit.PSI, float64(s.Volumes()), s.OxygenShare()/0.209, s.X)
	}
	// common practice, no source: 10 psi at 20 C holds 1.30 to 1.48 volumes; after two to three days of cold
	// under 10 psi the beer is drinkable, between 1.8 and 2.4, and still taking gas.
	if v := volumes[7*24]; v < 1.30 || v > 1.55 {
		t.Errorf("volumes at the end of the ferment under 10 psi at 20 C: expected 1.30 to 1.55, got %.3f", v)
	}
	cold := volumes[7*24+60]
	if cold < 1.8 || cold > 2.4 || volumes[7*24+84] <= cold {
		t.Errorf("volumes two and a half days into the cold: expected 1.8 to 2.4 and rising, got %.3f then %.3f", cold, volumes[7*24+84])
	}
}

func BenchmarkAveraged14Days(b *testing.B) {
	p := usual()
	a := NewAveraged()
	b.ReportAllocs()
	for b.Loop() {
		a.Reset(&p)
		a.Set(Controls{Hold: unit.Celsius(20), Relief: 10 * unit.PSI, Gas: GasOff})
		for h := 24.0; h <= 14*24; h += 24 {
			if h == 8*24 {
				a.Set(Controls{Hold: unit.Celsius(1), Relief: 15 * unit.PSI, Gas: 10 * unit.PSI})
			}
			if err := a.Advance(h * unit.Hour); err != nil {
				b.Fatal(err)
			}
		}
	}
}

// Two things may happen within microseconds of each other: the step between them is short, and no more than that.
func TestShortestSteps(t *testing.T) {
	p := usual()
	a := NewAveraged()
	a.Reset(&p)
	a.Set(Controls{Hold: unit.Celsius(20), Relief: 10 * unit.PSI, Gas: GasOff})
	at := 40 * unit.Hour
	for _, step := range []float64{0, 1e-9, 1.1e-6, 5e-6, 7.2e-6, 1e-5, 1e-3} {
		before := a.State().Made
		if err := a.Advance(at + step); err != nil {
			t.Fatalf("a step of %g s: %v", step, err)
		}
		if s := a.State(); s.Time != at+step || !(s.Made >= before && s.Made-before < 1e-3 || step == 0) {
			t.Fatalf("a step of %g s: now %v s, %g mol made", step, s.Time, s.Made-before)
		}
		at += step
	}
}
