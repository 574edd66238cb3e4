package yeast

import (
	"math"
	"testing"

	"spile/unit"
	"spile/working"
)

func TestNeeded(t *testing.T) {
	// common practice, no source: 0.75 million a mL and degree Plato for ales, twice that for lagers
	for _, c := range []struct {
		kind Kind
		want float64
	}{{Ale, 0.75e6 * 20e3 * 12}, {Lager, 1.5e6 * 20e3 * 12}} {
		if got := c.kind.Needed(20*unit.Litre, unit.Plato(12), nil); math.Abs(got/c.want-1) > 1e-12 {
			t.Errorf("%s, 20 L of 12 P: expected %.3g cells, got %.3g", c.kind, c.want, got)
		}
	}
}

func TestViable(t *testing.T) {
	viable := func(p Pack) Band {
		t.Helper()
		b, err := p.Viable(nil)
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	fresh := viable(Pack{Kind: Ale, Form: Dry, Mass: 11.5 * unit.Gram})
	// six products held 8e9 to 18e9 cells a gram, makers promise 5e9 to 6e9 [VandenBerg2003]: the band must span from promise to most
	if per := fresh.P05 / 11.5; per < 5e9 || per > 8e9 {
		t.Errorf("least living cells a gram of dry yeast: expected 5e9 to 8e9, got %.3g", per)
	}
	if per := fresh.P95 / 11.5; per < 15e9 || per > 20e9 {
		t.Errorf("most living cells a gram of dry yeast: expected 15e9 to 20e9, got %.3g", per)
	}
	for _, c := range []struct {
		what            string
		p               Pack
		want, tolerance float64 // share alive
	}{
		// forum statements, weak: 4 % a year at 4 C, 20 % at 20 C
		{"dry, a year at 4 C", Pack{Form: Dry, Mass: 1, Age: 365 * unit.Day}, 0.96, 0.01},
		{"dry, a year at 20 C", Pack{Form: Dry, Mass: 1, Age: 365 * unit.Day, Storage: unit.Celsius(20)}, 0.80, 0.03},
		// trade rule: 0.7 % of the first count a day, 21 % a month
		{"liquid, a month", Pack{Form: Liquid, Age: 30 * unit.Day}, 0.79, 0.03},
		// [McCaig1985]: 7 % lost in six days at 1 C, 14 % at 5 C
		{"slurry, six days at 1 C", Pack{Form: Slurry, Mass: 1, Age: 6 * unit.Day, Storage: unit.Celsius(1)}, 0.93, 0.03},
		{"slurry, six days at 5 C", Pack{Form: Slurry, Mass: 1, Age: 6 * unit.Day, Storage: unit.Celsius(5)}, 0.86, 0.03},
	} {
		young := c.p
		young.Age = 0
		if got := viable(c.p).P50 / viable(young).P50; math.Abs(got-c.want) > c.tolerance {
			t.Errorf("%s: expected %.2f alive, got %.3f, tolerance %.2f", c.what, c.want, got, c.tolerance)
		}
	}
}

func TestViableWorking(t *testing.T) {
	var w working.Sheet
	if _, err := (Pack{Form: Dry, Mass: 11.5 * unit.Gram, Age: 3 * 365 * unit.Day}).Viable(&w); err != nil {
		t.Fatal(err)
	}
	if w.Band == nil || len(w.Steps) < 4 || len(w.Outside) != 1 {
		t.Errorf("working of three-year-old yeast: expected a band, four steps and one range left, got %+v", w)
	}
	for _, p := range []Pack{{Form: Dry}, {Form: Dry, Mass: 1, Age: -1}, {Form: Slurry, Mass: unit.Mass(math.NaN())}} {
		if _, err := p.Viable(nil); err == nil {
			t.Errorf("%+v: expected a refusal, got none", p)
		}
	}
}

func TestLag(t *testing.T) {
	at := func(k Kind, share, c float64) float64 { return k.Lag(share*1e11, 1e11, unit.Celsius(c)).P50 }
	if got := at(Ale, 1, 20); math.Abs(got-29) > 1e-9 {
		t.Errorf("lag at the wanted pitch and 20 C: expected 29 h, got %.2f", got)
	}
	if half := at(Ale, 0.5, 20) - at(Ale, 1, 20); math.Abs(half-math.Ln2/0.14) > 1e-9 {
		t.Errorf("half the pitch: expected a doubling time of %.2f h more, got %.2f", math.Ln2/0.14, half)
	}
	if !(at(Lager, 1, 10) > 2*at(Lager, 1, 20)) || !math.IsInf(at(Ale, 1, 2), 1) {
		t.Errorf("lag in the cold: expected far longer at 10 C and endless for ale at 2 C, got %.0f h and %.0f h", at(Lager, 1, 10), at(Ale, 1, 2))
	}
	k := Ale.Kinetics()
	k.Start = k.StartFor(29)
	if x, _ := grow(t, k, func(float64) float64 { return 293.15 }, 0, 29); math.Abs(x-0.5) > 0.06 { // growth slows as sugar goes
		t.Errorf("activity after a lag of 29 h: expected 0.5, got %.3f, tolerance 0.06", x)
	}
}

// [Knatchbull1987] and [Renger1992]: pressure lowers esters more than fusels; warmth raises both.
func TestExpect(t *testing.T) {
	for _, c := range []struct {
		what           string
		kelvin         unit.Temperature
		over           unit.Pressure
		pitch          float64
		esters, fusels Level
	}{
		{"ordinary ale", unit.Celsius(20), 0, 1, Ordinary, Ordinary},
		{"hot ale", unit.Celsius(27), 0, 1, Much, Much},
		{"hot ale under 1.5 bar", unit.Celsius(23), 1.5 * unit.Bar, 1, Ordinary, Much},
		{"cool ale under 2 bar", unit.Celsius(18), 2 * unit.Bar, 1, Little, Little},
		{"ale at 20 C under 2 bar", unit.Celsius(20), 2 * unit.Bar, 1, Little, Ordinary},
	} {
		if got := Ale.Expect(c.kelvin, c.over, c.pitch); got.Esters != c.esters || got.Fusels != c.fusels {
			t.Errorf("%s: expected %s esters and %s fusels, got %s and %s (%v)", c.what, c.esters, c.fusels, got.Esters, got.Fusels, got.Because)
		}
	}
}

// Warmth speeds the slow step by 2 to 3.5 times in 10 K (memory, low confidence; read is only that it is the slow step and that warmth helps).
func TestDiketones(t *testing.T) {
	c20, r20 := DiketoneRates(293.15, 1)
	c10, r10 := DiketoneRates(283.15, 1)
	if q := c20 / c10; q < 2 || q > 3.5 || !(r20 > r10) {
		t.Errorf("conversion 10 K warmer: expected 2 to 3.5 times as fast and reduction faster, got %.2f times, %.3g to %.3g", q, r10, r20)
	}
	if !(r20 > c20) {
		t.Errorf("with a full crop the conversion must be the slow step [KrogerusGibson2013], got %.3g against %.3g", c20, r20)
	}
	left := RestLeft(3e-4, 1e-4, unit.Celsius(20))
	after := (3e-4 + 1e-4) * math.Exp(-c20*float64(left))
	if math.Abs(after-DiketoneThreshold) > 1e-12 || RestDone(3e-4, 1e-4) || !RestDone(5e-5, 4e-5) || RestLeft(5e-5, 4e-5, unit.Celsius(20)) != 0 {
		t.Errorf("rest: expected to end at the threshold, got %.3g kg/m3 after %.1f h", after, float64(left)/unit.Hour)
	}
}
