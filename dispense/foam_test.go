package dispense

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"spile/internal/oracle"
	"spile/unit"
)

// Published figures by tube at one US gallon a minute (testdata/line_resistance_published.csv, rows that were read): each is
// within what is said of its kind, and what stands in the code is what was read.
func TestPublishedResistance(t *testing.T) {
	copied := 0
	for _, r := range oracle.Table(t, "line_resistance_published") {
		if r["status"] != "read" {
			continue
		}
		kind, l := Hard, Usual()
		if strings.Contains(r["tubing"], "vinyl") {
			kind = SoftVinyl
		}
		l.Bore, l.Tube = unit.Length(oracle.Number(t, r["id_mm"])*unit.Millimetre), kind.Factor
		published := oracle.Number(t, r["published_psi_per_ft"])
		const pour, cold = unit.GallonUS / unit.Minute, unit.Temperature(276.15)
		free, tight := l.Edges(kind, pour, cold)
		low, high := free.Drop(pour, cold)/psiPerFoot, tight.Drop(pour, cold)/psiPerFoot
		if !(published >= low && published <= high) {
			t.Errorf("%s: published %.3g psi/ft, got %.3g to %.3g", r["tubing"], published, low, high)
		}
		for _, f := range Figures() {
			if f.Tube == kind.Name && math.Abs(float64(f.Bore-l.Bore)) < 1e-9 && math.Abs(f.Drop/psiPerFoot-published) < 1e-9 {
				copied++
			}
		}
	}
	if copied != len(Figures()) {
		t.Errorf("%d of %d figures in the code are among those read", copied, len(Figures()))
	}
}

// A pour that the model itself gives calibrates to the tube it was made with, whatever tube the line thinks it has.
func TestCalibrate(t *testing.T) {
	cold, p := unit.Celsius(4), unit.Gauge(12*unit.PSI)
	for _, factor := range []float64{0.6, 1, 1.45, 2.4} {
		l := Usual()
		l.Tube = factor
		flow := l.Flow(p, cold)
		l.Tube = 1.45
		got, err := l.Calibrate(p, cold, 0.5*unit.Litre, unit.Duration(0.5*unit.Litre/flow))
		if err != nil || math.Abs(got.Factor/factor-1) > 1e-6 || got.Low >= got.Factor || got.High <= got.Factor {
			t.Errorf("made with a factor of %g: got %+v, %v", factor, got, err)
		}
	}
	for _, seconds := range []unit.Duration{1, 600} {
		if got, err := Usual().Calibrate(p, cold, 0.5*unit.Litre, seconds); err == nil || strings.Contains(err.Error(), "\n") {
			t.Errorf("half a litre in %g s: expected one line of refusal, got %+v, %v", float64(seconds), got, err)
		}
	}
}

// The pressure falls from the vessel's to the tap's along the line: by hand for 2 m that lose 40 kPa in all, with 70 kPa in
// the vessel, a spot that needs 60 kPa may be half a metre away.
func TestBreakOut(t *testing.T) {
	l, cold := Usual(), unit.Celsius(3)
	l.Rise = 0
	flow := l.Flow(40*unit.Kilopascal, cold)
	l.Loss = 0
	fall := unit.Gauge(l.Drop(flow, cold) * 2)
	for _, c := range []struct {
		hold unit.Gauge
		want float64
	}{{70e3 - fall/4, 0.5}, {70e3 - fall*0.999, 1.998}, {70e3 - 2*fall, 2}, {70e3, 0}, {90e3, 0}} {
		if got := float64(l.BreakOut(70e3, flow, cold, c.hold)); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("a spot that needs %.1f kPa: expected %.3f m, got %.3f m", c.hold.Kilopascals(), c.want, got)
		}
	}
}

// One cause for each state, first the one that would spoil the pour whatever else is done. The pressures that hold the gas
// are those of worked examples E2 and E3: 11.72 psi for 2.5 volumes at 4 C, 29.55 psi at 20 C.
func TestFoam(t *testing.T) {
	for _, c := range []struct {
		what                   string
		psi, warmest, gas, len float64
		cause                  Cause
		shown, fix             string
	}{
		{"all well", 12, 4, 2.5, 2, Dirty, "3.2 L/min", "Clean line and tap"},
		{"too fast", 12, 4, 2.5, 0.5, TooFast, "norm of the trade is 3.5 L/min", "Take 1.6 m of this tube"},
		{"warm line", 12, 20, 2.5, 2, OutInLine, "29.5 psi", "Keep line and tap at 4 °C or colder"},
		{"warm line, more pressure", 16, 20, 2.5, 3, OutInLine, "holds 15.5 psi", "7.5 °C or colder"},
		{"too little pressure", 9, 4, 2.5, 2, OutInVessel, "need 11.5 psi (0.80 bar). The dial shows 9 psi", "Cool the beer to 1 °C"},
		{"far too little pressure", 3, 4, 2.5, 2, OutInVessel, "The dial shows 3 psi", "Let it down to 1.7 volumes"},
		{"too much gas", 20, 4, 3.3, 4, TooMuchGas, "3.3 volumes need", "Let it down to about 2.5 volumes"},
		{"too much gas before all else", 8, 20, 3.3, 0.5, TooMuchGas, "20 °C", "longer line does not help"},
		{"vessel before line", 9, 20, 2.5, 0.5, OutInVessel, "need 11.5 psi", "never by less pressure"},
		{"line before speed", 13, 20, 2.5, 0.5, OutInLine, "29.5 psi", "colder"},
	} {
		l := Usual()
		l.Length = unit.Length(c.len)
		p := unit.Gauge(c.psi * unit.PSI)
		d, err := Pour{l, p, l.Flow(p, unit.Celsius(4)), unit.Celsius(4), unit.Celsius(c.warmest), unit.Volumes(c.gas), unit.Atmosphere}.Foam()
		if err != nil || d.Cause != c.cause || !strings.Contains(d.Shown.String(), c.shown) || !strings.Contains(d.Fix.String(), c.fix) {
			t.Errorf("%s: expected %q with %q and %q, got %+v, %v", c.what, c.cause, c.shown, c.fix, d, err)
		}
		if c.gas == 2.5 && c.warmest == 20 && math.Abs(d.HoldWarm.PSI()/29.5549-1) > 0.02 || c.gas == 2.5 && math.Abs(d.Hold.PSI()/11.7185-1) > 0.02 {
			t.Errorf("%s: expected 11.72 and 29.55 psi, tolerance 2 %%, got %.2f and %.2f", c.what, d.Hold.PSI(), d.HoldWarm.PSI())
		}
		for sentence := range strings.SplitSeq(d.Shown.String()+" "+d.Fix.String(), ". ") {
			if n := len(strings.Fields(sentence)); n > 18 {
				t.Errorf("%s: a sentence of %d words, 18 are allowed: %q", c.what, n, sentence)
			}
		}
		if strings.Contains(d.Fix.String(), "lower the pressure") || strings.Contains(d.Fix.String(), "down the pressure") {
			t.Errorf("%s: advice to slow by pressure: %q", c.what, d.Fix)
		}
	}
	rest := Pour{Line: Usual(), Pressure: 11.7185 * unit.PSI, Flow: 5e-5, Beer: unit.Celsius(4), Warmest: unit.Celsius(20), Air: unit.Atmosphere}
	if d, err := rest.Foam(); err != nil || math.Abs(d.HoldWarm.PSI()/29.5549-1) > 0.02 || math.Abs(d.Hold.PSI()-11.7185) > 1e-9 {
		t.Errorf("gas not given, at rest: expected 11.72 psi, and 29.55 psi at 20 C, tolerance 2 %%, got %+v, %v", d, err)
	}
	bad := Pour{Usual(), 70e3, 5e-5, unit.Celsius(4), unit.Celsius(50), 2.5, unit.Atmosphere}
	if d, err := bad.Foam(); err == nil {
		t.Errorf("a line at 50 C is beyond the solubility: expected an error, got %+v", d)
	}
}

func ExamplePour_Foam() {
	line := Usual()
	line.Length = 1
	p := unit.Gauge(12 * unit.PSI)
	d, err := Pour{line, p, line.Flow(p, unit.Celsius(4)), unit.Celsius(4), unit.Celsius(4), 2.5, unit.Atmosphere}.Foam()
	if err != nil {
		fmt.Println(err)
	}
	fmt.Println(d.Cause)
	fmt.Println(d.Shown)
	fmt.Println(d.Fix)
	// Output:
	// it runs too fast
	// It runs at 4.4 L/min. The norm of the trade is 3.5 L/min.
	// Take 1.6 m of this tube. Leave the pressure as it is: it holds the gas.
}
