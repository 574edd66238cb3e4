package calc

import (
	"errors"
	"fmt"

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
