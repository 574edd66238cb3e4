package calc

import (
	"errors"

	"spile/root"
)

// errNoRoot says that nothing in the range searched gives what was asked for.
var errNoRoot = errors.New("no value within reach gives that")

// solve finds x between low and high at which f, which is monotone there, is zero.
func solve(low, high float64, f func(float64) (float64, error)) (float64, error) {
	var failed error
	x, ok := root.Find(low, high, func(x float64) float64 {
		v, err := f(x)
		if err != nil {
			failed = err
			return 0 // ends the search
		}
		return v
	})
	switch {
	case failed != nil:
		return 0, failed
	case !ok:
		return 0, errNoRoot
	}
	return x, nil
}
