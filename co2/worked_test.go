package co2

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"spile/internal/oracle"
	"spile/unit"
	"spile/working"
)

// must makes a result of a pair or stops the test.
func must[T any](v T, err error) func(*testing.T) T {
	return func(t *testing.T) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

// Source: worked examples by a separate program (see the file); S5 uses the equation of 40 CFR 1065.644.
func TestWorkedExamples(t *testing.T) {
	psi := func(p float64) unit.Pressure { return unit.Gauge(p * unit.PSI).Absolute(sealevel) }
	gaugePSI := func(tC, v float64) float64 {
		p := must(EquilibriumPressure(unit.Celsius(tC), unit.Volumes(v), BeerFactor{}, nil))(t)
		return float64(p.Gauge(sealevel)) / unit.PSI
	}
	cycles := func(p float64) float64 {
		return float64(must(PurgeCycles(sealevel, psi(p), 1000/0.2095e6))(t))
	}
	share := func(tC float64) float64 { return float64(must(GaugeFallShare(unit.Celsius(tC), 680, nil))(t)) }
	hour := must(Leak(5*unit.Litre, State{0, 293.15, psi(15)}, State{unit.Hour, 293.15, psi(14)}, nil))(t)
	got := map[string]float64{
		"E1": float64(Equilibrium(unit.Celsius(1), psi(10), BeerFactor{}, nil)),
		"E2": gaugePSI(4, 2.5),
		"E3": gaugePSI(20, 2.5),
		"E4": float64(Equilibrium(unit.Celsius(20), sealevel, BeerFactor{}, nil)),
		"G1": float64(Carbonate(0.86, 2.5, 20*unit.Litre, nil)) / unit.Gram,
		"G2": float64(Push(20*unit.Litre, unit.Celsius(3), psi(10), nil)) / unit.Gram,
		"G3": 0.2095e6 * float64(must(PurgeResidual(sealevel, psi(15), 5))(t)),
		"G4": cycles(15),
		"G5": cycles(30),
		"G6": share(0),
		"G7": share(25),
		"S5": -1e3 * float64(must(Leak(2*unit.Litre, State{0, 293.15, 25300}, State{70, 293.15, 50600}, nil))(t)),
		"S6": hour.Volume(293.15, sealevel) * 60e6,
		"S7": float64(hour.Mass()) / unit.Gram * unit.Day,
		"S8": float64(Warmed(psi(15), unit.Celsius(20), unit.Celsius(10))-psi(15)) / unit.PSI,
		"R2": 757.009 / GasDensity(unit.Celsius(20), sealevel),
	}
	for _, r := range oracle.Table(t, "worked_examples") {
		tolerance := 0.0
		if r["tolerance"] != "exact" {
			tolerance = oracle.Number(t, r["tolerance"]) / 100
		}
		value, ok := got[r["id"]]
		if !ok {
			t.Errorf("%s: not computed", r["id"])
			continue
		}
		oracle.NewCheck(t, r["id"]+" "+r["case"], tolerance).Relative(r["unit"], value, oracle.Number(t, r["value"]))
		delete(got, r["id"])
	}
	if len(got) != 0 {
		t.Errorf("without an example: %v", got)
	}
}

// The ideal law of Warmed and Leak against the virial equation, up to 4 bar: the errors their comments state.
func TestIdealShortcuts(t *testing.T) {
	for _, bar := range []float64{1.01325, 2, 3, 4} {
		p := unit.Pressure(bar * unit.Bar)
		from, to := unit.Celsius(20), unit.Celsius(2)
		moles := GasDensity(from, p) / MolarMass
		change := PressureKernel(moles, float64(to)) - float64(p)
		if ideal := float64(Warmed(p, from, to) - p); math.Abs(ideal/change-1) > 0.065 || math.Abs(ideal) > math.Abs(change) {
			t.Errorf("cooling at %g bar: expected %.0f Pa less up to 6.5 %%, got %.0f", bar, change, ideal)
		}
		less := p * 0.95
		real := moles - GasDensity(from, less)/MolarMass
		leak := must(Leak(1, State{0, from, p}, State{1, from, less}, nil))(t)
		if math.Abs(float64(leak)/real-1) > 0.045 {
			t.Errorf("leak at %g bar: expected %.4g mol/s within 4.5 %%, got %.4g", bar, real, float64(leak))
		}
	}
}

func TestCylinderContent(t *testing.T) {
	if got := must(Content(5.2, 3.1))(t); math.Abs(float64(got)-2.1) > 1e-12 {
		t.Errorf("content: expected 2.1 kg, got %v", got)
	}
}

func TestSweepAgainstManySmallCycles(t *testing.T) {
	// Many small cycles that pass one vessel volume in all tend to a sweep of one volume.
	n := 100000
	got := must(PurgeResidual(sealevel, sealevel*unit.Pressure(1+1/float64(n)), n))(t)
	if want := SweepResidual(1); math.Abs(float64(got/want)-1) > 1e-4 {
		t.Errorf("expected %.6f, got %.6f", want, got)
	}
}

func TestRefusals(t *testing.T) {
	nan := math.NaN()
	for name, f := range map[string]func() error{
		"pressure at 60 C":         func() error { _, err := EquilibriumPressure(333.15, 2.5, BeerFactor{}, nil); return err },
		"pressure for 20 volumes":  func() error { _, err := EquilibriumPressure(277, 20, BeerFactor{}, nil); return err },
		"pressure for -1 volumes":  func() error { _, err := EquilibriumPressure(277, -1, BeerFactor{}, nil); return err },
		"pressure for NaN":         func() error { _, err := EquilibriumPressure(277, unit.Volumes(nan), BeerFactor{}, nil); return err },
		"temperature at 8 bar":     func() error { _, err := EquilibriumTemperature(8e5, 2.5, BeerFactor{}, nil); return err },
		"temperature out of reach": func() error { _, err := EquilibriumTemperature(1e5, 4, BeerFactor{}, nil); return err },
		"temperature of NaN":       func() error { _, err := EquilibriumTemperature(unit.Pressure(nan), 2, BeerFactor{}, nil); return err },
		"cylinder below empty":     func() error { _, err := Content(2, 3); return err },
		"fill of nothing":          func() error { _, err := GaugeFallShare(277, 0, nil); return err },
		"gauge at 40 C":            func() error { _, err := GaugeFallShare(313, 680, nil); return err },
		"purge downwards":          func() error { _, err := PurgeResidual(2e5, 1e5, 1); return err },
		"cycles upside down":       func() error { _, err := PurgeCycles(2e5, 1e5, 0.1); return err },
		"cycles to nothing":        func() error { _, err := PurgeCycles(1e5, 2e5, 0); return err },
		"leak in no time":          func() error { _, err := Leak(1, State{0, 280, 1e5}, State{0, 280, 1e5}, nil); return err },
	} {
		err := f()
		if err == nil {
			t.Errorf("%s: expected an error, got none", name)
			continue
		}
		if strings.Contains(err.Error(), "\n") || len(err.Error()) < 20 {
			t.Errorf("%s: expected one clear line, got %q", name, err)
		}
	}
}

func TestWorkingIsComplete(t *testing.T) {
	var w working.Sheet
	v := Equilibrium(unit.Celsius(1), unit.Pressure(1.7*unit.Bar), BeerFactor{}, &w)
	if got := w.Steps[len(w.Steps)-2]; got.Symbol != "V" || got.Value != float64(v) {
		t.Errorf("expected the carbonation %v in the working, got %+v", v, got)
	}
	if w.Band == nil || w.Band.Low >= float64(v) || w.Band.High <= float64(v) {
		t.Errorf("expected a band around %v, got %+v", v, w.Band)
	}
	if len(w.Outside) != 0 || fmt.Sprint(w.Sources()) != "[Weiss1974 BrewingTechniques1994 WagnerPruss2002]" {
		t.Errorf("expected all ranges held and three sources, got %v, %v", w.Outside, w.Sources())
	}
	var hot working.Sheet
	Equilibrium(unit.Celsius(60), unit.Pressure(7*unit.Bar), BeerFactor{}, &hot)
	if len(hot.Outside) != 2 {
		t.Errorf("60 C and 7 bar: expected two ranges left, got %v", hot.Outside)
	}
}
