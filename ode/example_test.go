package ode_test

import (
	"fmt"

	"spile/ode"
)

// A ball dropped from 1 m bounces with half its speed: it lands for the first
// time after sqrt(2/g) = 0.4515 s, for the second after as long again. The answer is
// elementary mechanics.
func Example() {
	fall := ode.System{Autonomous: true, Slope: func(_ float64, y, d []float64) { d[0], d[1] = y[1], -9.81 }}
	impact := ode.Event{
		Value:     func(_ float64, y []float64) float64 { return y[0] },
		Direction: -1,
		Act: func(t float64, y []float64) bool {
			fmt.Printf("lands at %.4f s with %.3f m/s\n", t, -y[1])
			y[0], y[1] = 0, -0.5*y[1]
			return false
		},
	}
	solver := ode.NewSolver(2, ode.Options{Relative: 1e-8})
	y := []float64{1, 0}
	_, err := solver.Integrate(fall, []ode.Event{impact}, 0, 1, y, nil, nil)
	fmt.Println(err)
	// Output:
	// lands at 0.4515 s with 4.429 m/s
	// lands at 0.9030 s with 2.215 m/s
	// <nil>
}
