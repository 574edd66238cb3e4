package vessel

import (
	"math"
	"testing"

	"spile/unit"
	"spile/working"
)

// near fails where got is further from want than the tolerance, a fraction of want.
func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance*math.Abs(want)) {
		t.Errorf("%s: expected %.6g, got %.6g, tolerance %.3g", what, want, got, tolerance*math.Abs(want))
	}
}

// Water fills a rigid vessel at 40 C that had about 0.8 % of headspace at 1 C (IAPWS-IF97 expansion); beer near 1 %.
func TestSealedHydraulicallyFull(t *testing.T) {
	v := Sealed{From: unit.Celsius(1), To: unit.Celsius(40), Capacity: 25e-3, Volumes: 2.5, Atmosphere: unit.Atmosphere}
	for _, c := range []struct {
		head float64
		full bool
	}{{0.007, true}, {0.03, false}} {
		v.Volume = v.Capacity * unit.Volume(1-c.head)
		var w working.Sheet
		r, err := v.Equilibrium(&w)
		if err != nil {
			t.Fatal(err)
		}
		if r.Full != c.full || (len(w.Cautions) > 0) != c.full {
			t.Errorf("headspace %.1f %% at 1 C warmed to 40 C: expected full %v with a caution to match, got %v and %d cautions", 100*c.head, c.full, r.Full, len(w.Cautions))
		}
	}
}

func TestSealedRefuses(t *testing.T) {
	good := Sealed{From: unit.Celsius(1), To: unit.Celsius(30), Volume: 20e-3, Capacity: 25e-3, Volumes: 2.5}
	for what, change := range map[string]func(*Sealed){
		"beer that overfills": func(v *Sealed) { v.Volume = 26e-3 },
		"no gas named":        func(v *Sealed) { v.Volumes = 0 },
		"not a number":        func(v *Sealed) { v.To = unit.Temperature(math.NaN()) },
		"frozen":              func(v *Sealed) { v.To = unit.Celsius(-10) },
	} {
		v := good
		change(&v)
		if _, err := v.Equilibrium(nil); err == nil {
			t.Errorf("%s: expected a refusal, got none", what)
		}
	}
}

// With nothing left to ferment and the place at the beer's own temperature, the worst case is what a shut vessel settles at.
func TestWorstCaseOfFinishedBeerIsSealed(t *testing.T) {
	p := usual()
	p.Air = 0
	p.Attenuation = 0.77
	a := NewAveraged()
	a.Reset(&p)
	a.Set(Controls{Hold: unit.Celsius(20), Relief: 10 * unit.PSI, Gas: GasOff})
	if err := a.Advance(30 * unit.Day); err != nil {
		t.Fatal(err)
	}
	s := a.State()
	contents, regulator, err := WorstCase(s, &p, unit.Celsius(40), 57.3*unit.Bar)
	if err != nil {
		t.Fatal(err)
	}
	r, err := Sealed{From: s.Beer(), To: unit.Celsius(40), Volume: unit.Volume(s.Liquid), Capacity: p.Capacity, Volumes: s.Volumes(), Original: p.Original, Final: p.Original * 0.23}.Equilibrium(nil)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "worst case of finished beer, Pa", float64(contents), float64(r.End), 0.01)
	near(t, "regulator failed, safety valve at 2.2 bar and a tenth, Pa", float64(regulator), unit.Atmosphere+2.42*unit.Bar, 1e-9)
}

// Wort shut in from the start: all the CO2 of the ferment stays, 757 g in the case R1 (20 L of 12 P, 65 % real attenuation).
func TestWorstCaseHoldsTheWholeFerment(t *testing.T) {
	p := usual()
	a := NewAveraged()
	a.Reset(&p)
	s := a.State()
	contents, _, err := WorstCase(s, &p, unit.Celsius(40), 0)
	if err != nil {
		t.Fatal(err)
	}
	made := s.Usable * s.Wort * molPerExtract
	w := *s
	w.Dissolved, w.Left, w.Temperature = made, 0, 313.15
	w.settle()
	near(t, "CO2 in the worst case, mol", w.Dissolved+w.HeadCO2, made+s.HeadCO2, 1e-9)
	if contents < 15*unit.Bar || contents > 60*unit.Bar {
		t.Errorf("20 L of wort shut in a 26 L vessel at 40 C: expected 15 to 60 bar, got %.1f bar", float64(contents)/unit.Bar)
	}
}

func TestWorstCaseNamesAFullVessel(t *testing.T) {
	p := usual()
	p.Liquid = 25.99 * unit.Litre
	a := NewAveraged()
	a.Reset(&p)
	contents, _, err := WorstCase(a.State(), &p, unit.Celsius(40), 0)
	if err != nil || !math.IsInf(float64(contents), 1) {
		t.Errorf("26 L vessel filled to 25.99 L at 20 C and warmed to 40 C: expected no bound on the pressure, got %g Pa, %v", float64(contents), err)
	}
}
