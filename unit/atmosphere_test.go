package unit

import (
	"math"
	"testing"
)

// Pressures by geopotential altitude from [USSA1976], table I.
func TestStandardAtmosphere(t *testing.T) {
	for _, c := range []struct{ altitude, want float64 }{{0, 101325}, {1000, 89874.6}, {2000, 79495.2}, {5000, 54019.9}} {
		got := float64(StandardAtmosphere(Length(c.altitude)))
		if math.Abs(got-c.want) > 0.5 {
			t.Errorf("%v m: expected %v Pa, got %v, tolerance 0.5 Pa", c.altitude, c.want, got)
		}
	}
}
