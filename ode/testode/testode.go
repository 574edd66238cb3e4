// Package testode keeps initial-value problems with known answers, for the tests
// of package ode and for timing it against other integrators.
//
// Problems lists the textbook ones with their analytic solutions. Beer is the
// published beer fermentation model of de Andres-Toro et al.; P1 and P2 build
// the two timing problems on it and carry their reference trajectories. Beer is
// here to check integrators: it holds from 10 to 16 C only and does not tie
// ethanol to sugar, so nothing that Spile tells its user rests on it.
//
// References: [AndresToro1998], [Robertson1966], [HairerWanner1996]
package testode

import (
	"math"

	"spile/ode"
)

// Problem is an initial-value problem whose solution is known in closed form.
type Problem struct {
	Name   string
	Source string // where problem and solution are found
	Stiff  bool
	System ode.System
	T0, T1 float64
	Start  []float64
	Exact  func(t float64, y []float64) // writes the solution at t
}

// Problems returns the problems with analytic solutions.
func Problems() []Problem {
	return []Problem{decay(), oscillator(), logistic(), forced(), protheroRobinson(), kaps()}
}

func decay() Problem {
	return Problem{
		Name: "decay", Source: "exponential", T1: 4, Start: []float64{1},
		System: ode.System{Autonomous: true,
			Slope:    func(_ float64, y, d []float64) { d[0] = -y[0] },
			Jacobian: func(_ float64, _, j []float64) { j[0] = -1 }},
		Exact: func(t float64, y []float64) { y[0] = math.Exp(-t) },
	}
}

func oscillator() Problem {
	return Problem{
		Name: "harmonic oscillator", Source: "cosine and sine", T1: 8, Start: []float64{1, 0},
		System: ode.System{Autonomous: true,
			Slope:    func(_ float64, y, d []float64) { d[0], d[1] = y[1], -y[0] },
			Jacobian: func(_ float64, _, j []float64) { j[1], j[2] = 1, -1 }},
		Exact: func(t float64, y []float64) { y[0], y[1] = math.Cos(t), -math.Sin(t) },
	}
}

// logistic leaves the Jacobian to finite differences.
func logistic() Problem {
	return Problem{
		Name: "logistic growth", Source: "Verhulst's curve", T1: 6, Start: []float64{0.1},
		System: ode.System{Autonomous: true, Slope: func(_ float64, y, d []float64) { d[0] = y[0] * (1 - y[0]) }},
		Exact:  func(t float64, y []float64) { y[0] = 1 / (1 + 9*math.Exp(-t)) },
	}
}

// forced depends on time strongly and leaves all derivatives to the solver.
func forced() Problem {
	return Problem{
		Name: "forced growth", Source: "y = exp(sin t^2)", T1: 2, Start: []float64{1},
		System: ode.System{Slope: func(t float64, y, d []float64) { d[0] = y[0] * 2 * t * math.Cos(t*t) }},
		Exact:  func(t float64, y []float64) { y[0] = math.Exp(math.Sin(t * t)) },
	}
}

// protheroRobinson pulls the solution to sin t at a rate of 1e4, which an
// explicit method cannot follow with long steps.
func protheroRobinson() Problem {
	const rate = 1e4
	return Problem{
		Name: "stiff linear", Source: "[HairerWanner1996] section IV.15, equation 15.1", Stiff: true, T1: 3, Start: []float64{0},
		System: ode.System{
			Slope:    func(t float64, y, d []float64) { d[0] = -rate*(y[0]-math.Sin(t)) + math.Cos(t) },
			Jacobian: func(_ float64, _, j []float64) { j[0] = -rate }},
		Exact: func(t float64, y []float64) { y[0] = math.Sin(t) },
	}
}

// kaps is nonlinear and stiff, with a smooth solution for any stiffness.
func kaps() Problem {
	const k = 1e5
	return Problem{
		// References: [DekkerVerwer1984]
		Name: "Kaps", Source: "[DekkerVerwer1984]", Stiff: true, T1: 2, Start: []float64{1, 1},
		System: ode.System{Autonomous: true,
			Slope: func(_ float64, y, d []float64) {
				d[0] = -(k+2)*y[0] + k*y[1]*y[1]
				d[1] = y[0] - y[1] - y[1]*y[1]
			},
			Jacobian: func(_ float64, y, j []float64) {
				j[0], j[1] = -(k + 2), 2*k*y[1]
				j[2], j[3] = 1, -1-2*y[1]
			}},
		Exact: func(t float64, y []float64) { y[0], y[1] = math.Exp(-2*t), math.Exp(-t) },
	}
}

// Robertson is the autocatalytic reaction of three species whose rates span nine
// orders of magnitude; it starts from (1, 0, 0). No closed form, but every
// integrator publishes its values. References: [Robertson1966]
func Robertson() ode.System {
	return ode.System{Autonomous: true,
		Slope: func(_ float64, y, d []float64) {
			a, b, c := 0.04*y[0], 1e4*y[1]*y[2], 3e7*y[1]*y[1]
			d[0], d[1], d[2] = b-a, a-b-c, c
		},
		Jacobian: func(_ float64, y, j []float64) {
			b2, b3, c := 1e4*y[2], 1e4*y[1], 6e7*y[1]
			j[0], j[1], j[2] = -0.04, b2, b3
			j[3], j[4], j[5] = 0.04, -b2-c, -b3
			j[7] = c
		},
	}
}

// VanDerPol is the relaxation oscillator y” = mu (1 - y^2) y' - y as a system
// of two; large mu makes it stiff. References: [HairerWanner1996], section IV.10
func VanDerPol(mu float64) ode.System {
	return ode.System{Autonomous: true,
		Slope: func(_ float64, y, d []float64) {
			d[0], d[1] = y[1], mu*(1-y[0]*y[0])*y[1]-y[0]
		},
		Jacobian: func(_ float64, y, j []float64) {
			j[1] = 1
			j[2], j[3] = -2*mu*y[0]*y[1]-1, mu*(1-y[0]*y[0])
		},
	}
}

// Ball is a body that falls from height 1 and leaves each impact with the part
// Restitution of its speed; the state is height and upward speed.
type Ball struct {
	Gravity, Restitution float64
	Bounces              int
}

// System is free fall.
func (b *Ball) System() ode.System {
	return ode.System{Autonomous: true,
		Slope:    func(_ float64, y, d []float64) { d[0], d[1] = y[1], -b.Gravity },
		Jacobian: func(_ float64, _, j []float64) { j[1] = 1 }}
}

// Events is the impact.
func (b *Ball) Events() []ode.Event {
	return []ode.Event{{
		Value:     func(_ float64, y []float64) float64 { return y[0] },
		Direction: -1,
		Act: func(_ float64, y []float64) bool {
			b.Bounces++
			y[0], y[1] = 0, -b.Restitution*y[1]
			return false
		},
	}}
}

// Impact is the time of impact k, counted from 0.
func (b *Ball) Impact(k int) float64 {
	fall := math.Sqrt(2 / b.Gravity)
	t, flight := fall, 2*fall
	for range k {
		flight *= b.Restitution
		t += flight
	}
	return t
}

// Height is the exact height at t.
func (b *Ball) Height(t float64) float64 {
	t0, speed := b.Impact(0), math.Sqrt(2*b.Gravity)
	if t <= t0 {
		return 1 - b.Gravity*t*t/2
	}
	for {
		speed *= b.Restitution
		if flight := 2 * speed / b.Gravity; t > t0+flight {
			t0 += flight
			continue
		}
		return speed*(t-t0) - b.Gravity*(t-t0)*(t-t0)/2
	}
}
