package testode

import (
	"math"
	"testing"
)

// TestRateConstants: the tabulated rate constants are those of the formula
// exp(a + b/T), to rounding.
func TestRateConstants(t *testing.T) {
	const tolerance = 5e-14 // either side sums terms up to 140, which are rounded at 1.4e-14
	var n nodes
	var k [rateConstants]float64
	for T := 272.0; T < 310; T += 0.0137 {
		n.at(T, &k)
		for c := range k {
			if want := math.Exp(rateA[c] + rateB[c]/T); math.Abs(k[c]/want-1) > tolerance {
				t.Fatalf("constant %d at %.4f K: got %.17g, want %.17g within %g relative", c, T, k[c], want, tolerance)
			}
		}
	}
}
