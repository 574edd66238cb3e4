package ode_test

import (
	"math"
	"testing"

	"spile/ode"
	"spile/ode/testode"
)

// fixed integrates with n equal steps and returns the largest error at the end
// and, from the dense output, in the middle of the steps.
func fixed(t *testing.T, p testode.Problem, m ode.Method, n int) (end, inside float64) {
	t.Helper()
	h := (p.T1 - p.T0) / float64(n)
	s := ode.NewSolver(len(p.Start), ode.Options{Relative: 0.9, Absolute: []float64{1e6}, FirstStep: h, MaxStep: h, Method: m})
	var at []float64
	for i := range n {
		at = append(at, p.T0+(float64(i)+0.4)*h)
	}
	exact, y := make([]float64, len(p.Start)), append([]float64(nil), p.Start...)
	off := func(t float64, y []float64) (worst float64) {
		p.Exact(t, exact)
		for i := range y {
			worst = max(worst, math.Abs(y[i]-exact[i]))
		}
		return worst
	}
	st, err := s.Integrate(p.System, nil, p.T0, p.T1, y, at, func(_ int, t float64, y []float64) { inside = max(inside, off(t, y)) })
	if err != nil {
		t.Fatal(err)
	}
	if st.Steps != n || st.Rejected != 0 {
		t.Fatalf("%s: %d steps and %d rejected, want %d equal ones", p.Name, st.Steps, st.Rejected, n)
	}
	return off(p.T1, y), inside
}

// TestOrder measures how the error falls when the step is halved. The orders are
// those of [Steinebach2023] (RODAS5P: 5, dense output 4) and
// [HairerNorsettWanner1993] II.5, II.6 (5, dense output 4). A dense output of
// order p errs by h^(p+1) within a step, so what it shows is p+1 or the order of
// the method, whichever is less. On stiff problems order is lost, as the source
// says; at least 2 must stay.
func TestOrder(t *testing.T) {
	for _, p := range testode.Problems() {
		for _, c := range []struct {
			m       ode.Method
			n       int
			nominal float64
		}{{ode.RODAS5P, 20, 5}, {ode.DormandPrince, 20, 5}} {
			if p.Stiff && c.m == ode.DormandPrince {
				continue
			}
			e1, i1 := fixed(t, p, c.m, c.n)
			e2, i2 := fixed(t, p, c.m, 2*c.n)
			end, inside := math.Log2(e1/e2), math.Log2(i1/i2)
			t.Logf("%-20s method %d: order %.2f, dense %.2f (errors %.1e %.1e)", p.Name, c.m, end, inside, e2, i2)
			least := c.nominal - 0.4
			if p.Stiff {
				least = 1.8
			}
			if end < least || inside < least {
				t.Errorf("%s, method %d: order %.2f, dense %.2f; want at least %.2f", p.Name, c.m, end, inside, least)
			}
		}
	}
}

// TestStability: the method is L-stable, as [Steinebach2023] says. On y' = i w y no
// step is longer than the last [HairerWanner1996, IV.3], and what decays within far
// less than a step is gone after it.
func TestStability(t *testing.T) {
	one := func(sys ode.System, y ...float64) []float64 {
		s := ode.NewSolver(len(y), ode.Options{Relative: 0.9, Absolute: []float64{1e6}, FirstStep: 1, MaxStep: 1})
		if st, err := s.Integrate(sys, nil, 0, 1, y, nil, nil); err != nil || st.Steps != 1 {
			t.Fatalf("%d steps, want 1: %v", st.Steps, err)
		}
		return y
	}
	for w := 1e-3; w < 1e8; w *= 1.1 {
		turn := ode.System{Autonomous: true, Slope: func(_ float64, y, d []float64) { d[0], d[1] = -w*y[1], w*y[0] },
			Jacobian: func(_ float64, _, j []float64) { j[1], j[2] = -w, w }}
		if y := one(turn, 1, 0); math.Hypot(y[0], y[1]) > 1+1e-9 {
			t.Errorf("after one step of %g radians: length %.12g, want at most 1", w, math.Hypot(y[0], y[1]))
		}
	}
	for _, rate := range []float64{1e4, 1e6, 1e8} {
		decay := ode.System{Autonomous: true, Slope: func(_ float64, y, d []float64) { d[0] = -rate * y[0] },
			Jacobian: func(_ float64, _, j []float64) { j[0] = -rate }}
		if y := one(decay, 1); math.Abs(y[0]) > 100/rate {
			t.Errorf("after one step of %g time constants: %.3g, want 0 within %.0e", rate, y[0], 100/rate)
		}
	}
}

// TestTolerance: the error over the whole interval stays within a small multiple
// of the tolerance asked for, against the analytic solutions named in testode.
func TestTolerance(t *testing.T) {
	const multiple = 100
	for _, p := range testode.Problems() {
		for _, m := range []ode.Method{ode.RODAS5P, ode.DormandPrince} {
			for _, tol := range []float64{1e-4, 1e-6, 1e-8} {
				s := ode.NewSolver(len(p.Start), ode.Options{Relative: tol, Absolute: []float64{tol}, Method: m})
				y, exact, worst := append([]float64(nil), p.Start...), make([]float64, len(p.Start)), 0.0
				at := []float64{}
				for i := range 50 {
					at = append(at, p.T0+(p.T1-p.T0)*float64(i)/49)
				}
				seen := 0
				_, err := s.Integrate(p.System, nil, p.T0, p.T1, y, at, func(i int, t float64, y []float64) {
					seen++
					p.Exact(t, exact)
					for k := range y {
						worst = max(worst, math.Abs(y[k]-exact[k]))
					}
				})
				if err != nil || seen != len(at) || worst > multiple*tol {
					t.Errorf("%s, method %d, tolerance %g: error %.2e, want at most %.0e; %d outputs of %d; %v", p.Name, m, tol, worst, multiple*tol, seen, len(at), err)
				}
			}
		}
	}
}

// TestRobertson: y1(4e4) = 0.03898338 at t = 4e4, as the documentation of
// SUNDIALS (cvRoberts_dns), SciPy and deSolve prints it to the same digits; the
// masses add up to 1.
func TestRobertson(t *testing.T) {
	const want, tolerance = 0.03898338, 5e-8
	s := ode.NewSolver(3, ode.Options{Relative: 1e-9, Absolute: []float64{1e-12, 1e-14, 1e-12}})
	y := []float64{1, 0, 0}
	st, err := s.Integrate(testode.Robertson(), nil, 0, 4e4, y, nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(y[0]-want) > tolerance {
		t.Errorf("y1(4e4): got %.9f, want %.8f within %g", y[0], want, tolerance)
	}
	if sum := y[0] + y[1] + y[2]; math.Abs(sum-1) > 1e-12 {
		t.Errorf("sum of species: got %.16g, want 1 within 1e-12", sum)
	}
	if st.Steps > 2000 {
		t.Errorf("%d steps; a stiff method needs a few hundred", st.Steps)
	}
}

// TestVanDerPol: mu = 1000 from (2, 0) to t = 2000 against the reference values
// that the Bari/CWI test set for initial value problem solvers gives for the
// problem in scaled time, mu^2 = 1e6: y(2) = 1.706167732170469, y'(2) =
// -0.8928097010248125e-3. The figures are recalled; TestPeers computes the same
// problem with three other integrators. References: [MazziaMagherini2008]
func TestVanDerPol(t *testing.T) {
	const mu = 1000
	s := ode.NewSolver(2, ode.Options{Relative: 1e-9, Absolute: []float64{1e-10, 1e-11}})
	y := []float64{2, 0}
	if _, err := s.Integrate(testode.VanDerPol(mu), nil, 0, 2*mu, y, nil, nil); err != nil {
		t.Fatal(err)
	}
	// Scaled time is t/mu, so the scaled derivative is mu y'.
	if got, want := y[0], 1.706167732170469; math.Abs(got-want) > 1e-6 {
		t.Errorf("y(2): got %.12f, want %.12f within 1e-6", got, want)
	}
	if got, want := mu*y[1], -0.8928097010248125; math.Abs(got-want) > 1e-6 {
		t.Errorf("y'(2): got %.12g, want %.12g within 1e-6", got, want)
	}
}
