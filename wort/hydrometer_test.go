package wort

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"spile/internal/oracle"
	"spile/unit"
	"spile/working"
)

// reads is Hydrometer.Reading or the end of the test.
func reads(t testing.TB, h Hydrometer, g unit.Gravity, tk unit.Temperature, original unit.Gravity) float64 {
	t.Helper()
	r, err := h.Reading(g, tk, original)
	if err != nil {
		t.Fatal(err)
	}
	return float64(r)
}

// Source: readings by a separate program from the same densities and ISO 1768
// glass: water, wort of 1.010 and 1.050, and beer of 1.010 from 12 P.
func TestHydrometerTable(t *testing.T) {
	og := GravityFromExtract(unit.Plato(11.9946))
	c := oracle.NewCheck(t, "readings of a 20 C hydrometer", 0.00002)
	for _, r := range oracle.Table(t, "hydrometer_correction_20C") {
		tk := celsius(t, r)
		for _, column := range []struct {
			name        string
			g, original unit.Gravity
		}{{"R_water", 1, 0}, {"R_1.010_sucrose", 1.010, 0}, {"R_1.050_sucrose", 1.050, 0}, {"R_1.010_beer5abv", 1.010, og}} {
			c.Absolute(column.name+" "+r["t_C"], reads(t, Hydrometer{}, column.g, tk, column.original), oracle.Number(t, r[column.name]))
		}
	}
}

// Source: a correction table of a home brewers' association for 15 C instruments: it equals
// water with the expansion of the glass left out, to its printed 0.0001. Ours, with the glass, by a separate program.
func TestHydrometerFor15C(t *testing.T) {
	h := Hydrometer{Calibrated: unit.Celsius(15)}
	printed := oracle.NewCheck(t, "printed table by water alone", 0.0001)
	water, wort := oracle.NewCheck(t, "water in a 15 C hydrometer", 0.00002), oracle.NewCheck(t, "1.040 in a 15 C hydrometer", 0.00003)
	for _, r := range oracle.Table(t, "hydrometer_correction_15C_compare") {
		tk := celsius(t, r)
		ratio := WaterDensity(tk) / WaterDensity(h.Calibrated)
		printed.Absolute(r["t_C"], math.Abs(1-ratio), oracle.Number(t, r["wiki_abs"]))
		if tk.Celsius() > 40 {
			continue
		}
		water.Absolute(r["t_C"], 1-reads(t, h, 1, tk, 0), oracle.Number(t, r["phys_1.000_water"]))
		// The table means 1.040 at 15/15 C, which is what the instrument reads at 15 C.
		g, err := h.True(1.040, h.Calibrated, 0, nil)
		if err != nil {
			t.Fatal(err)
		}
		wort.Absolute(r["t_C"], 1.040-reads(t, h, g, tk, 0), oracle.Number(t, r["phys_1.040_sucrose"]))
	}
}

func TestHydrometerRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := Hydrometer{
			Calibrated: unit.Celsius(rapid.Float64Range(10, 25).Draw(t, "t0")),
			Offset:     unit.Gravity(rapid.Float64Range(-0.003, 0.003).Draw(t, "offset")),
		}
		tk := unit.Celsius(rapid.Float64Range(0, 40).Draw(t, "C"))
		og := unit.Gravity(rapid.Float64Range(1.030, 1.100).Draw(t, "og"))
		g := 1 + (og-1)*unit.Gravity(rapid.Float64Range(0.1, 1).Draw(t, "share left"))
		if rapid.Bool().Draw(t, "unfermented") {
			og = 0
		}
		reading, err := h.Reading(g, tk, og)
		if err != nil {
			t.Fatal(err)
		}
		back, err := h.True(reading, tk, og, nil)
		if err != nil || math.Abs(float64(back-g)) > 1e-9 {
			t.Fatalf("expected %v, got %v, %v", g, back, err)
		}
	})
}

func TestHydrometerReadsTrueAtItsTemperature(t *testing.T) {
	for _, og := range []unit.Gravity{0, 1.050} {
		got, err := Hydrometer{}.True(1.0123, unit.Celsius(20), og, nil)
		if err != nil || math.Abs(float64(got)-1.0123) > 1e-12 {
			t.Errorf("at 20 C: expected 1.0123, got %v, %v", got, err)
		}
		got, err = Hydrometer{Offset: 0.002}.True(1.0123, unit.Celsius(20), og, nil)
		if err != nil || math.Abs(float64(got)-1.0103) > 1e-12 {
			t.Errorf("at 20 C, offset 0.002: expected 1.0103, got %v, %v", got, err)
		}
	}
}

func TestHydrometerRefuses(t *testing.T) {
	for name, f := range map[string]func() error{
		"reading of 1048":       func() error { _, err := Hydrometer{}.True(1048, 293, 0, nil); return err },
		"NaN":                   func() error { _, err := Hydrometer{}.True(unit.Gravity(math.NaN()), 293, 0, nil); return err },
		"sample at 60 C":        func() error { _, err := Hydrometer{}.True(1.048, 333, 0, nil); return err },
		"instrument for 80 C":   func() error { _, err := Hydrometer{Calibrated: 353}.True(1.048, 293, 0, nil); return err },
		"original below water":  func() error { _, err := Hydrometer{}.True(1.010, 293, 0.9, nil); return err },
		"far above original":    func() error { _, err := Hydrometer{}.True(1.090, 293, 1.040, nil); return err },
		"reading for no liquid": func() error { _, err := Hydrometer{}.Reading(2, 293, 0); return err },
	} {
		if err := f(); err == nil || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: expected one clear line, got %v", name, err)
		}
	}
}

func TestHydrometerWorking(t *testing.T) {
	var w working.Sheet
	g, err := Hydrometer{}.True(1.048, unit.Celsius(30), 0, &w)
	if err != nil || w.Band == nil || w.Band.Low >= float64(g) || w.Band.High <= float64(g) || len(w.Cautions) != 1 {
		t.Errorf("expected a band around %v and one caution, got %+v, %v, %v", g, w.Band, w.Cautions, err)
	}
}
