package calc

import (
	"errors"
	"fmt"
	"math"
)

// errNoRoot says that nothing in the range searched gives what was asked for.
var errNoRoot = errors.New("no value within reach gives that")

// root finds x between low and high at which f, which is monotone there, is zero: by
// regula falsi with the Illinois rule, to 1e-12 of the range. References: [DowellJarratt1971]
func root(low, high float64, f func(float64) (float64, error)) (float64, error) {
	a, b := low, high
	fa, err := f(a)
	if err != nil {
		return 0, err
	}
	fb, err := f(b)
	if err != nil {
		return 0, err
	}
	if fa*fb > 0 || math.IsNaN(fa+fb) {
		return 0, errNoRoot
	}
	side := 0
	for range 100 {
		if fa == fb || math.Abs(b-a) <= 1e-12*(high-low) {
			break
		}
		x := (fa*b - fb*a) / (fa - fb)
		fx, err := f(x)
		if err != nil {
			return 0, err
		}
		switch {
		case fx == 0:
			return x, nil
		case fx*fb > 0:
			b, fb = x, fx
			if side == -1 {
				fa /= 2
			}
			side = -1
		default:
			a, fa = x, fx
			if side == 1 {
				fb /= 2
			}
			side = 1
		}
		if math.Abs(fx) <= 1e-13*(math.Abs(fa)+math.Abs(fb)) {
			return x, nil
		}
	}
	return (a + b) / 2, nil
}

// exactly tells whether so many of the flags were given.
func (in Inputs) exactly(n int, names ...string) bool {
	for _, name := range names {
		if in.Has(name) {
			n--
		}
	}
	return n == 0
}

// oneLeftOut is the one of the flags that was not given, for which to solve.
func (in Inputs) oneLeftOut(names ...string) (string, error) {
	if !in.exactly(len(names)-1, names...) {
		all := ""
		for i, name := range names {
			switch {
			case i == len(names)-1:
				all += " and "
			case i > 0:
				all += ", "
			}
			all += "--" + name
		}
		return "", fmt.Errorf("give all but one of %s", all)
	}
	for _, name := range names {
		if !in.Has(name) {
			return name, nil
		}
	}
	return "", errNoRoot // cannot be: one is missing
}
