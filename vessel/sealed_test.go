package vessel

import (
	"errors"
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

// Cases S1 to S5 and T4 of a table of worked examples made with the relations of [Weiss1974], the chart of
// [BrewingTechniques1994] and IAPWS-IF97 water, for a vessel of 25 L; tolerances as stated there.
func TestSealedWorkedExamples(t *testing.T) {
	const atm = unit.Atmosphere
	cold, warm := unit.Celsius(1), unit.Celsius(30)
	cases := []struct {
		id    string
		v     Sealed
		unit  float64
		end   float64
		share float64
	}{
		{"S1 2.5 vol, 1 to 30 C, 5 % headspace, psi", Sealed{From: cold, To: warm, Beer: 23.75e-3, Capacity: 25e-3, Volumes: 2.5}, unit.PSI, 41.6944, 0.03},
		{"S1b the same, bar", Sealed{From: cold, To: warm, Beer: 23.75e-3, Capacity: 25e-3, Volumes: 2.5}, unit.Bar, 2.87472, 0.03},
		{"S2 2.5 vol, 1 to 30 C, 20 % headspace, psi", Sealed{From: cold, To: warm, Beer: 20e-3, Capacity: 25e-3, Volumes: 2.5}, unit.PSI, 35.3629, 0.03},
		{"S2b the same, bar", Sealed{From: cold, To: warm, Beer: 20e-3, Capacity: 25e-3, Volumes: 2.5}, unit.Bar, 2.43819, 0.03},
		{"S4 headspace at 15 psi over 1.4 vol, 4 C, supply shut, psi", Sealed{From: unit.Celsius(4), To: unit.Celsius(4), Beer: 23e-3, Capacity: 28e-3, Volumes: 1.4, Pressure: atm + 15*unit.PSI}, unit.PSI, 2.06215, 0.03},
		{"T4 20 L and 5 L of CO2 shut at 20 C without pressure, cooled to 1 C, bar", Sealed{From: unit.Celsius(20), To: cold, Beer: 20e-3, Capacity: 25e-3, Pressure: atm}, unit.Bar, -0.416916, 0.03},
	}
	for _, c := range cases {
		r, err := SealedPressure(c.v, nil)
		if err != nil {
			t.Fatal(err)
		}
		near(t, c.id, float64(r.End-atm)/c.unit, c.end, c.share)
	}
	r, err := SealedPressure(cases[0].v, nil)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "S3 start of S1 and S2, psi", float64(r.Start-atm)/unit.PSI, 8.99253, 0.02)
}

// Water fills a rigid vessel at 40 C that had about 0.8 % of headspace at 1 C (IAPWS-IF97 expansion); beer near 1 %.
func TestSealedHydraulicallyFull(t *testing.T) {
	v := Sealed{From: unit.Celsius(1), To: unit.Celsius(40), Capacity: 25e-3, Volumes: 2.5, Atmosphere: unit.Atmosphere}
	for _, c := range []struct {
		head float64
		full bool
	}{{0.007, true}, {0.03, false}} {
		v.Beer = v.Capacity * unit.Volume(1-c.head)
		var w working.Sheet
		r, err := SealedPressure(v, &w)
		if err != nil {
			t.Fatal(err)
		}
		if r.Full != c.full || (len(w.Cautions) > 0) != c.full {
			t.Errorf("headspace %.1f %% at 1 C warmed to 40 C: expected full %v with a caution to match, got %v and %d cautions", 100*c.head, c.full, r.Full, len(w.Cautions))
		}
	}
}

func TestSealedRefuses(t *testing.T) {
	good := Sealed{From: unit.Celsius(1), To: unit.Celsius(30), Beer: 20e-3, Capacity: 25e-3, Volumes: 2.5}
	for what, change := range map[string]func(*Sealed){
		"beer that overfills": func(v *Sealed) { v.Beer = 26e-3 },
		"no gas named":        func(v *Sealed) { v.Volumes = 0 },
		"not a number":        func(v *Sealed) { v.To = unit.Temperature(math.NaN()) },
		"frozen":              func(v *Sealed) { v.To = unit.Celsius(-10) },
	} {
		v := good
		change(&v)
		if _, err := SealedPressure(v, nil); err == nil {
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
	r, err := SealedPressure(Sealed{From: s.Beer(), To: unit.Celsius(40), Beer: unit.Volume(s.Liquid), Capacity: p.Capacity, Pressure: s.Pressure(), Volumes: s.Volumes()}, nil)
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
	w.equilibrate()
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
	var full *FullError
	if _, _, err := WorstCase(a.State(), &p, unit.Celsius(40), 0); !errors.As(err, &full) {
		t.Errorf("26 L vessel filled to 25.99 L at 20 C and warmed to 40 C: expected a FullError, got %v", err)
	}
}
