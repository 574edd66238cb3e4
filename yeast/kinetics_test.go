package yeast

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"spile/ode"
	"spile/unit"
)

// table reads a CSV of testdata: the rows as maps from column to text.
func table(t *testing.T, name string) []map[string]string {
	t.Helper()
	f, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, row := range rows[1:] {
		m := map[string]string{}
		for i, c := range rows[0] {
			m[c] = row[i]
		}
		out = append(out, m)
	}
	return out
}

func number(t *testing.T, row map[string]string, column string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(row[column], 64)
	if err != nil {
		t.Fatalf("column %s of %v: %v", column, row, err)
	}
	return v
}

// The set (5, 20, 30) C at 6 to 29 C is published with the R package macrogrow (function T_lim), formula of [Rosso1993].
func TestCTMI(t *testing.T) {
	for _, row := range table(t, "ctmi_check.csv") {
		n := func(c string) float64 { return number(t, row, c) }
		got := CTMI(n("temp_c"), n("t_min"), n("t_opt"), n("t_max"))
		if want := n("gamma"); math.Abs(got-want) > 1e-6 {
			t.Errorf("CTMI(%v): expected %.6f, got %.6f, tolerance 1e-6", row, want, got)
		}
	}
}

// checkKinetics are the parameters of the vectors in two_state_check.csv.
func checkKinetics(row func(string) float64) Kinetics {
	return Kinetics{
		Growth: 0.14 / unit.Hour, Uptake: 0.027 / unit.Hour, Start: 0.01, HalfLeft: 0.3,
		TMin: row("t_min") + 273.15, TOpt: row("t_opt") + 273.15, TMax: row("t_max") + 273.15,
		WarmSlope: 57e3, ColdSlope: 105e3, PressGrowth: 4 * unit.Bar, PressUptake: 12 * unit.Bar,
	}
}

// temperatures of the cases, K at a time in s.
var temperatures = map[string]func(float64) float64{
	"ale20":      func(float64) float64 { return 293.15 },
	"ale20_1bar": func(float64) float64 { return 293.15 },
	"lager10":    func(float64) float64 { return 283.15 },
	"warm34":     func(float64) float64 { return 307.15 },
	"step20_to_5_at_48h": func(s float64) float64 {
		if s < 48*unit.Hour {
			return 293.15
		}
		return 278.15
	},
}

// grow integrates k from pitching to the given hours, restarting at 48 h where one case steps.
func grow(t *testing.T, k Kinetics, kelvin func(float64) float64, over, hours float64) (x, s float64) {
	t.Helper()
	y := []float64{k.Start, 1}
	solver := ode.NewSolver(2, ode.Options{Relative: 1e-9, Absolute: []float64{1e-12}})
	from := 0.0
	for _, to := range []float64{math.Min(hours, 48), hours} {
		pace := k.Pace(kelvin(from*unit.Hour), over)
		sys := ode.System{Autonomous: true, Slope: func(_ float64, y, d []float64) { d[0], d[1] = k.Slopes(pace, y[0], y[1]) }}
		if _, err := solver.Integrate(sys, nil, from*unit.Hour, to*unit.Hour, y, nil, nil); err != nil {
			t.Fatal(err)
		}
		from = to
	}
	return y[0], y[1]
}

// The vectors were integrated independently (LSODA, relative tolerance 1e-10) from the equations in the package comment.
func TestTwoStates(t *testing.T) {
	for _, row := range table(t, "two_state_check.csv") {
		n := func(c string) float64 { return number(t, row, c) }
		x, s := grow(t, checkKinetics(n), temperatures[row["case"]], n("p_co2_above_atm_bar")*unit.Bar, n("hour"))
		if math.Abs(x-n("X")) > 1e-4 || math.Abs(s-n("s")) > 1e-4 {
			t.Errorf("%s after %s h: expected X %.6f and s %.6f, got %.6f and %.6f, tolerance 1e-4", row["case"], row["hour"], n("X"), n("s"), x, s)
		}
	}
}

// With activity tied to the sugar used and uptake of first order, the model is the logistic decline of the assay
// [Speers2003]: s = (1 + x0)/(1 + x0 exp(B t)), B = k (1 + x0). The uptake is Slopes with Ks so great that s/(Ks + s) is s/Ks.
func TestLogisticEquivalence(t *testing.T) {
	const great = 1e9
	for _, row := range table(t, "logistic_equivalence_check.csv") {
		n := func(c string) float64 { return number(t, row, c) }
		k := Kinetics{HalfLeft: great}
		pace := Pace{Crop: 1, Uptake: n("k") / unit.Hour * great}
		y := []float64{1}
		sys := ode.System{Autonomous: true, Slope: func(_ float64, y, d []float64) { _, d[0] = k.Slopes(pace, n("x0")+1-y[0], y[0]) }}
		solver := ode.NewSolver(1, ode.Options{Relative: 1e-9, Absolute: []float64{1e-12}})
		if _, err := solver.Integrate(sys, nil, 0, n("hour")*unit.Hour, y, nil, nil); err != nil {
			t.Fatal(err)
		}
		if math.Abs(y[0]-n("s")) > 1e-5 {
			t.Errorf("k %g, x0 %g, %g h: expected s %.6f, got %.6f, tolerance 1e-5", n("k"), n("x0"), n("hour"), n("s"), y[0])
		}
	}
}

// Fits to the growth of [Gause1932]: the rate rises with slopes of about 110 kJ/mol from 5.7 to 15 C and 57 from 15 to
// 28. A growth factor with the cardinal temperatures fitted to that strain (-0.7, 37, 44.5 C) must show the same, and the
// uptake of the engine takes its slope above 15 C from there.
func TestGauseGrowth(t *testing.T) {
	rate := map[float64][]float64{}
	for _, row := range table(t, "gause_1932_fits.csv") {
		rate[number(t, row, "temp_c")] = append(rate[number(t, row, "temp_c")], math.Log(number(t, row, "r")))
	}
	mean := func(x []float64) float64 {
		sum := 0.0
		for _, v := range x {
			sum += v
		}
		return sum / float64(len(x))
	}
	slope := func(lnRate func(float64) float64, from, to float64) float64 { // kJ/mol
		return -gasConstant * (lnRate(to) - lnRate(from)) / (1/(to+273.15) - 1/(from+273.15)) / 1e3
	}
	measured := func(c float64) float64 { return mean(rate[c]) }
	ctmi := func(c float64) float64 { return math.Log(CTMI(c, -0.7, 37, 44.5)) }
	for _, r := range []struct{ from, to, published, tolerance float64 }{{5.7, 15, 110, 15}, {15, 28, 57, 10}} {
		if got := slope(measured, r.from, r.to); math.Abs(got-r.published) > r.tolerance {
			t.Errorf("measured slope %g to %g C: expected %g kJ/mol, got %.0f, tolerance %g", r.from, r.to, r.published, got, r.tolerance)
		}
		if got := slope(ctmi, r.from, r.to); math.Abs(got-r.published) > 35 {
			t.Errorf("slope of the cardinal model %g to %g C: expected %g kJ/mol, got %.0f, tolerance 35", r.from, r.to, r.published, got)
		}
	}
	if w := Ale.Kinetics().WarmSlope / 1e3; w != 57 {
		t.Errorf("uptake above 15 C: expected 57 kJ/mol, got %g", w)
	}
}

// Yeast that has grown is slowed but not killed by pressure, nothing rises that falls, and s stays within 0 and 1.
func TestSlopesSigns(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := rapid.SampledFrom(Kinds).Draw(t, "kind").Kinetics()
		x, s := rapid.Float64Range(1e-9, 2).Draw(t, "x"), rapid.Float64Range(0, 1).Draw(t, "s")
		dx, ds := k.Slopes(k.Pace(rapid.Float64Range(265, 320).Draw(t, "kelvin"), rapid.Float64Range(-1e5, 5e5).Draw(t, "over")), x, s)
		if dx < 0 || ds > 0 || math.IsNaN(dx+ds) {
			t.Fatalf("X %g, s %g: expected growth not below and uptake not above zero, got %g and %g", x, s, dx, ds)
		}
	})
}

func TestUptakeJoins(t *testing.T) {
	k := WarmFarmhouse.Kinetics()
	for _, at := range []float64{breakKelvin, k.TOpt} {
		below, above := k.uptakeFactor(at-1e-7), k.uptakeFactor(at+1e-7)
		if math.Abs(below/above-1) > 1e-6 {
			t.Errorf("uptake at %.2f K: expected no jump, got %.9f below and %.9f above", at, below, above)
		}
	}
	if f := k.uptakeFactor(referenceKelvin); math.Abs(f-1) > 1e-12 {
		t.Errorf("uptake at 20 C: expected 1, got %g", f)
	}
}
