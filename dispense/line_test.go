package dispense

import (
	"encoding/json"
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"spile/internal/oracle"
	"spile/unit"
)

const litrePerMinute = unit.Litre / unit.Minute

// Cases H1 to H9 of a table of worked examples computed with python3-fluids (Churchill 1977), beer viscosity of
// [LigerBelair2021] scaled by IAPWS water; tolerances as stated there.
func TestLine(t *testing.T) {
	cold := unit.Celsius(3)
	five := Line{Bore: 5 * unit.Millimetre, Rough: 1.5e-6, Loss: 5, TapBore: 6 * unit.Millimetre}
	high := five
	high.Rise = 0.5
	bare := five
	bare.Loss = 0
	narrow := Usual()
	pour := 3.8 * litrePerMinute
	length := func(l Line) float64 {
		x, err := l.LengthFor(10*unit.PSI, pour, cold)
		if err != nil {
			t.Fatal(err)
		}
		return float64(x)
	}
	figures := Figures()
	for _, c := range []struct {
		id             string
		got, want, tol float64
	}{
		{"H1 Reynolds number, 3.8 L/min in 5 mm at 3 C", five.Reynolds(pour, cold), 6117.84, 0.005},
		{"H2 drop of H1, kPa/m", five.Drop(pour, cold) / 1e3, 37.9141, 0.01},
		{"H3 length for 10 psi, m", length(bare), 1.81852, 0.01},
		{"H4 the same with 0.5 m lift and tap, m", length(high), 1.35375, 0.01},
		{"H5 length for 10 psi by the published 3.0 psi/ft, m", 10 * unit.PSI / figures[0].Drop, 1.016, 0.001},
		{"H6 length for 10 psi by the published 2.2 psi/ft, m", 10 * unit.PSI / figures[1].Drop, 1.38545, 0.001},
		{"H7 drop at 1 US gal/min in 4.76 mm, psi/ft", narrow.Drop(unit.GallonUS/unit.Minute, cold) / psiPerFoot, 2.10091, 0.01},
		{"H8 flow through 2 m at 12 psi, L/min", narrow.Flow(12*unit.PSI, cold) / litrePerMinute, 3.14252, 0.02},
		{"H9 static head, kPa/m", Line{Rise: 1}.Head().Kilopascals(), 9.90472, 0.001},
	} {
		if math.Abs(c.got/c.want-1) > c.tol {
			t.Errorf("%s: expected %.6g, got %.6g, tolerance %.2g", c.id, c.want, c.got, c.tol*c.want)
		}
	}
}

// Sources: tables computed with python3-fluids 1.0.22 (their headers), printed to two or three digits.
func TestComputedTables(t *testing.T) {
	number := func(r oracle.Row, name string) float64 { return oracle.Number(t, r[name]) }
	tube := func(r oracle.Row) Line {
		l := Usual()
		l.Bore = unit.Length(number(r, "id_mm") * unit.Millimetre)
		return l
	}
	drops := oracle.NewCheck(t, "line_drop_computed, kPa/m", 0.01)
	for _, r := range oracle.Table(t, "line_drop_computed") {
		if number(r, "drop_kpa_per_m") > 1 { // below, two decimals are no 1 %
			got := tube(r).Drop(number(r, "flow_l_min")*litrePerMinute, unit.Celsius(number(r, "temp_c")))
			drops.Relative(fmt.Sprint(r), got/unit.Kilopascal, number(r, "drop_kpa_per_m"))
		}
	}
	lengths := oracle.NewCheck(t, "line_length_computed", 0.015)
	for _, r := range oracle.Table(t, "line_length_computed") {
		l := tube(r)
		l.Rise, l.Loss = 0, 0
		got, err := l.LengthFor(unit.Gauge(number(r, "pressure_psi")*unit.PSI), number(r, "flow_l_min")*litrePerMinute, unit.Celsius(number(r, "temp_c")))
		if err != nil {
			t.Fatal(err)
		}
		lengths.Relative(fmt.Sprint(r), float64(got), number(r, "length_m"))
	}
	flows := oracle.NewCheck(t, "pour_flow_computed", 0.01)
	for _, r := range oracle.Table(t, "pour_flow_computed") {
		l := tube(r)
		l.Length, l.Rise = unit.Length(number(r, "length_m")), unit.Length(number(r, "lift_m"))
		flows.Relative(fmt.Sprint(r), l.Flow(unit.Gauge(number(r, "pressure_psi")*unit.PSI), unit.Celsius(3))/litrePerMinute, number(r, "flow_l_min"))
	}
}

// Source: Debian's python3-fluids, Churchill 1977 and the pressure drop of a pipe in one phase, run now; the viscosity is
// that of IAPWS water, by python3-iapws, times 1.645.
func TestAgainstFluids(t *testing.T) {
	const python = "/usr/bin/python3"
	script := `import json, math
from fluids.friction import friction_factor, one_phase_dP
from iapws import IAPWS95
rows = []
for c in (1, 4, 8, 14, 20):
    mu = 1.645 * IAPWS95(T=c + 273.15, P=0.101325).mu
    for d in (3e-3, 4e-3, 4.76e-3, 5e-3, 6.35e-3, 8e-3, 9.53e-3):
        for q in (0.2, 0.5, 1, 2, 3, 3.785, 5, 8):
            v = q / 6e4 / (math.pi / 4 * d * d)
            f = friction_factor(Re=1010 * v * d / mu, eD=1.5e-6 / d, Method="Churchill_1977")
            p = one_phase_dP(m=1010 * q / 6e4, rho=1010, mu=mu, D=d, roughness=1.5e-6, L=2, Method="Churchill_1977")
            rows.append([c, d, q, f, p])
print(json.dumps(rows))`
	out := oracle.Run(t, []string{python, "-c", "import fluids, iapws"}, script, python, "-")
	var rows [][5]float64
	if err := json.Unmarshal([]byte(out), &rows); err != nil {
		t.Fatal(err, out)
	}
	friction, drop := oracle.NewCheck(t, "python3-fluids friction factor", 0.01), oracle.NewCheck(t, "python3-fluids pressure drop of 2 m", 0.01)
	for _, r := range rows {
		l, at := Usual(), fmt.Sprintf("%.0f C, %.2f mm, %.1f L/min", r[0], r[1]*1e3, r[2])
		l.Bore, l.Rise, l.Loss = unit.Length(r[1]), 0, 0
		flow, warm := r[2]*litrePerMinute, unit.Celsius(r[0])
		friction.Relative(at, Friction(l.Reynolds(flow, warm), float64(l.Rough/l.Bore)), r[3])
		drop.Relative(at, float64(l.Needs(flow, warm)), r[4])
	}
}

// Smooth and laminar pipe: f = 64/Re exactly known.
func TestFrictionLaminar(t *testing.T) {
	for _, re := range []float64{10, 100, 1000} {
		if f := Friction(re, 0); math.Abs(f*re/64-1) > 0.001 {
			t.Errorf("Re %g: expected f %.5f, got %.5f, tolerance 0.1 %%", re, 64/re, f)
		}
	}
}

// drawLine is any line that people pour through, and its temperature.
func drawLine(t *rapid.T) (Line, unit.Temperature) {
	l := Usual()
	l.Bore = unit.Length(rapid.Float64Range(2e-3, 12e-3).Draw(t, "bore"))
	l.Length = unit.Length(rapid.Float64Range(0.1, 12).Draw(t, "length"))
	l.Rise = unit.Length(rapid.Float64Range(-2, 3).Draw(t, "rise"))
	l.Tube = rapid.Float64Range(0.5, 2.5).Draw(t, "tube")
	l.Loss = rapid.Float64Range(0, 10).Draw(t, "loss")
	return l, unit.Celsius(rapid.Float64Range(0, 25).Draw(t, "temperature"))
}

// Solving for each unknown in turn gives the others back.
func TestUnknownsGiveEachOtherBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l, warm := drawLine(t)
		flow := rapid.Float64Range(0.05, 15).Draw(t, "flow") * litrePerMinute
		p := l.Needs(flow, warm)
		if got := l.Flow(p, warm); math.Abs(got/flow-1) > 1e-6 {
			t.Errorf("flow: expected %.9g, got %.9g m3/s", flow, got)
		}
		got, err := l.LengthFor(p, flow, warm)
		if err != nil || math.Abs(float64(got/l.Length)-1) > 1e-6 {
			t.Errorf("length: expected %.9g, got %.9g m, %v", float64(l.Length), float64(got), err)
		}
	})
}

// A longer line, a narrower bore, a higher tap and a rougher tube never pour faster; more pressure never slower.
func TestFlowIsMonotone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l, warm := drawLine(t)
		p := unit.Gauge(rapid.Float64Range(0, 40).Draw(t, "psi") * unit.PSI)
		more := rapid.Float64Range(1, 1.5).Draw(t, "more")
		base := l.Flow(p, warm)
		longer, narrower, higher, rougher := l, l, l, l
		longer.Length *= unit.Length(more)
		narrower.Bore /= unit.Length(more)
		higher.Rise += unit.Length(more - 1)
		rougher.Tube *= more
		for what, slower := range map[string]Line{"longer": longer, "narrower": narrower, "higher": higher, "rougher": rougher} {
			if got := slower.Flow(p, warm); got > base*(1+1e-9) {
				t.Errorf("%s: expected at most %.9g, got %.9g m3/s", what, base, got)
			}
		}
		if got := l.Flow(p*unit.Gauge(more), warm); got < base*(1-1e-9) {
			t.Errorf("more pressure: expected at least %.9g, got %.9g m3/s", base, got)
		}
	})
}

// No flow where the pressure does not reach the tap, and no length where none could do.
func TestNoFlow(t *testing.T) {
	l, cold := Usual(), unit.Celsius(4)
	if q := l.Flow(0.5*unit.PSI, cold); q != 0 {
		t.Errorf("0.5 psi under a tap 0.5 m up: expected no flow, got %g m3/s", q)
	}
	if q := (Line{Bore: l.Bore, TapBore: l.TapBore}).Flow(1, cold); !math.IsInf(q, 1) {
		t.Errorf("nothing in the way: expected +Inf, got %g", q)
	}
	for _, flow := range []float64{0, 20 * litrePerMinute} {
		if x, err := l.LengthFor(10*unit.PSI, flow, cold); err == nil {
			t.Errorf("%g m3/s at 10 psi: expected an error, got %g m", flow, float64(x))
		}
	}
}

// Two metres of 4.76 mm tube at 12 psi, the tap half a metre up.
func ExampleLine_Flow() {
	fmt.Printf("%.1f L/min\n", Usual().Flow(12*unit.PSI, unit.Celsius(3))/litrePerMinute)
	// Output: 3.1 L/min
}

func BenchmarkFlow(b *testing.B) {
	l := Usual()
	for b.Loop() {
		l.Flow(12*unit.PSI, 276.15)
	}
}
