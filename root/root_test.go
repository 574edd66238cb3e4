package root

import (
	"math"
	"testing"
)

// Roots known in closed form; their decimals from tables.
func TestFind(t *testing.T) {
	for _, c := range []struct {
		name      string
		low, high float64
		f         func(float64) float64
		want      float64
	}{
		{"√2, rising", 0, 2, func(x float64) float64 { return x*x - 2 }, 1.4142135623730951},
		{"√2, falling", 0, 2, func(x float64) float64 { return 2 - x*x }, 1.4142135623730951},
		{"cos x = x (Dottie's number)", 0, 1, func(x float64) float64 { return x - math.Cos(x) }, 0.7390851332151607},
		{"ln 10, a steep function", 0, 50, func(x float64) float64 { return math.Exp(x) - 10 }, 2.302585092994046},
		{"at the low end", 3, 5, func(x float64) float64 { return x - 3 }, 3},
		{"at the high end", 3, 5, func(x float64) float64 { return 5 - x }, 5},
	} {
		if x, ok := Find(c.low, c.high, c.f); !ok || math.Abs(x-c.want) > 4e-15*c.want {
			t.Errorf("%s: got %.17g, %v; want %.17g within 4e-15", c.name, x, ok, c.want)
		}
	}
	for name, f := range map[string]func(float64) float64{
		"no zero": func(x float64) float64 { return x + 1 },
		"NaN":     func(float64) float64 { return math.NaN() },
	} {
		if x, ok := Find(0, 1, f); ok {
			t.Errorf("%s: found %g; want none", name, x)
		}
	}
}
