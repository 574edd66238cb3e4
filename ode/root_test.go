package ode

import (
	"math"
	"testing"
)

// TestRoot holds the quick fifth root against the standard library's power.
func TestRoot(t *testing.T) {
	const tolerance = 2e-4
	for e := 1e-10; e < 1e12; e *= 1.003 {
		if got, want := root(e), math.Pow(e, -0.2); math.Abs(got/want-1) > tolerance {
			t.Fatalf("root(%g): got %.6g, want %.6g within %g relative", e, got, want, tolerance)
		}
	}
}
