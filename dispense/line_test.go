package dispense

import (
	"fmt"
	"math"
	"testing"

	"spile/unit"
)

// Cases H1 to H9 of a table of worked examples computed with python3-fluids (Churchill 1977), beer viscosity of
// [LigerBelair2021] scaled by IAPWS water; tolerances as stated there.
func TestLine(t *testing.T) {
	cold := unit.Celsius(3)
	five := Line{Bore: 5 * unit.Millimetre, Rough: 1.5e-6, Loss: 5, TapBore: 6 * unit.Millimetre}
	narrow := Usual()
	pour := 3.8 * unit.Litre / unit.Minute
	tap := float64(five.Needs(pour, cold)) // of no length and no rise: the tap alone
	for _, c := range []struct {
		id             string
		got, want, tol float64
	}{
		{"H1 Reynolds number, 3.8 L/min in 5 mm at 3 C", five.Reynolds(pour, cold), 6117.84, 0.005},
		{"H2 drop of H1, kPa/m", five.Drop(pour, cold) / 1e3, 37.9141, 0.01},
		{"H3 length for 10 psi, m", 10 * unit.PSI / five.Drop(pour, cold), 1.81852, 0.01},
		{"H4 the same with 0.5 m lift and tap, m", (10*unit.PSI - density*gravity*0.5 - tap) / five.Drop(pour, cold), 1.35375, 0.01},
		{"H7 drop at 1 US gal/min in 4.76 mm, psi/ft", narrow.Drop(unit.GallonUS/unit.Minute, cold) / unit.PSI * unit.Foot, 2.10091, 0.01},
		{"H8 flow through 2 m at 12 psi, L/min", narrow.Flow(12*unit.PSI, cold) * unit.Minute / unit.Litre, 3.14252, 0.02},
		{"H9 static head, kPa/m", density * gravity / 1e3, 9.90472, 0.001},
	} {
		if math.Abs(c.got/c.want-1) > c.tol {
			t.Errorf("%s: expected %.6g, got %.6g, tolerance %.2g", c.id, c.want, c.got, c.tol*c.want)
		}
	}
}

func TestFlowInvertsNeeds(t *testing.T) {
	l := Usual()
	for psi := 2.0; psi < 40; psi += 1.7 {
		q := l.Flow(unit.Gauge(psi*unit.PSI), unit.Celsius(4))
		if back := float64(l.Needs(q, unit.Celsius(4))) / unit.PSI; math.Abs(back-psi) > 1e-6 {
			t.Errorf("%.1f psi: expected the flow to need as much, got %.7f", psi, back)
		}
	}
	if q := l.Flow(0.5*unit.PSI, unit.Celsius(4)); q != 0 {
		t.Errorf("0.5 psi under a tap 0.5 m up: expected no flow, got %g m3/s", q)
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

// Two metres of 4.76 mm tube at 12 psi, the tap half a metre up.
func ExampleLine_Flow() {
	fmt.Printf("%.1f L/min\n", Usual().Flow(12*unit.PSI, unit.Celsius(3))*unit.Minute/unit.Litre)
	// Output: 3.1 L/min
}
