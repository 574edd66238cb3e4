package ode_test

import (
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"spile/ode"
	"spile/ode/testode"
)

// TestBall: impacts of a bouncing ball fall where elementary mechanics puts them,
// and closer when the tolerance is tightened.
func TestBall(t *testing.T) {
	const t1, bounces, tolerance = 3.0, 6, 1e-7
	for _, m := range []ode.Method{ode.RODAS5P, ode.DormandPrince} {
		b := &testode.Ball{Gravity: 9.81, Restitution: 0.8}
		events := b.Events()
		act := events[0].Act
		events[0].Act = func(t0 float64, y []float64) bool {
			if want := b.Impact(b.Bounces); math.Abs(t0-want) > tolerance {
				t.Errorf("method %d, impact %d: got %.12f s, want %.12f within %g", m, b.Bounces, t0, want, tolerance)
			}
			return act(t0, y)
		}
		s := ode.NewSolver(2, ode.Options{Relative: 1e-10, Absolute: []float64{1e-10}, Method: m})
		y := []float64{1, 0}
		st, err := s.Integrate(b.System(), events, 0, t1, y, []float64{0.5, 1.25, 2.9}, func(i int, at float64, y []float64) {
			if want := b.Height(at); math.Abs(y[0]-want) > 1e-6 {
				t.Errorf("method %d, height at %g: got %.9f, want %.9f within 1e-6", m, at, y[0], want)
			}
		})
		if err != nil || st.Events != b.Bounces || b.Bounces != bounces {
			t.Errorf("method %d: %d bounces, %d counted, want %d: %v", m, b.Bounces, st.Events, bounces, err)
		}
	}
}

// TestEventOrder: the time of the first crossing of cos t = 1/2 is pi/3; its
// error falls with the order of the method, not with that of the dense output.
func TestEventOrder(t *testing.T) {
	at := func(h float64) float64 {
		var fired float64
		e := ode.Event{Value: func(_ float64, y []float64) float64 { return y[0] - 0.5 }, Direction: -1,
			Act: func(t float64, _ []float64) bool { fired = t; return true }}
		s := ode.NewSolver(2, ode.Options{Relative: 0.9, Absolute: []float64{1e6}, FirstStep: h, MaxStep: h})
		y := []float64{1, 0}
		p := testode.Problems()[1]
		st, err := s.Integrate(p.System, []ode.Event{e}, 0, 2, y, nil, nil)
		if err != nil || st.End != fired || fired == 0 {
			t.Fatalf("stopped at %g, event at %g: %v", st.End, fired, err)
		}
		return math.Abs(fired - math.Pi/3)
	}
	// Steps of which pi/3 is 3.4 and 6.8: the event lies inside a step each time.
	h := math.Pi / 3 / 3.4
	if order := math.Log2(at(h) / at(h/2)); order < 4.5 {
		t.Errorf("order of event time: got %.2f, want 5 within 0.5", order)
	}
}

func TestEventDirectionsAndTies(t *testing.T) {
	var log strings.Builder
	watch := func(name string, direction int, level float64) ode.Event {
		return ode.Event{Value: func(_ float64, y []float64) float64 { return y[0] - level }, Direction: direction,
			Act: func(float64, []float64) bool { log.WriteString(name); return false }}
	}
	p := testode.Problems()[1] // cos t, over 8: falls, rises, falls
	events := []ode.Event{watch("f", -1, 0), watch("r", 1, 0), watch("b", 0, 0), watch("x", 0, 2)}
	y := []float64{1, 0}
	st, err := ode.NewSolver(2, ode.Options{}).Integrate(p.System, events, 0, 8, y, nil, nil)
	if got, want := log.String(), "fbrbfb"; err != nil || got != want || st.Events != len(want) {
		t.Errorf("fired %q (%d counted), want %q: %v", got, st.Events, want, err)
	}
}

// TestDips: cos t dips below -1 + d near pi and 3 pi for a time that is shorter
// than a step when d is small; both crossings of both dips must be seen, at
// arccos(-1 + d) and its mirror images.
func TestDips(t *testing.T) {
	for _, d := range []float64{1e-2, 1e-3, 1e-4, 1e-5} {
		half := math.Pi - math.Acos(-1+d)
		want := []float64{math.Pi - half, math.Pi + half, 3*math.Pi - half, 3*math.Pi + half}
		for start := 0.0; start < 0.3; start += 0.02 {
			var got []float64
			level := ode.Event{Value: func(_ float64, y []float64) float64 { return y[0] + 1 - d },
				Act: func(t float64, _ []float64) bool { got = append(got, t); return false }}
			y := []float64{math.Cos(start), -math.Sin(start)}
			s := ode.NewSolver(2, ode.Options{Relative: 1e-8, Absolute: []float64{1e-8}})
			if _, err := s.Integrate(testode.Problems()[1].System, []ode.Event{level}, start, 11, y, nil, nil); err != nil || len(got) != len(want) {
				t.Errorf("depth %g from %.2f: crossings at %v, want %v: %v", d, start, got, want, err)
				continue
			}
			for i := range want {
				if math.Abs(got[i]-want[i]) > 1e-6/half {
					t.Errorf("depth %g, crossing %d: got %.9f, want %.9f within %g", d, i, got[i], want[i], 1e-6/half)
				}
			}
		}
	}
}

// TestOutputs: times outside the interval are left out, those at its ends are not,
// and an output at an event shows the state before the act.
func TestOutputs(t *testing.T) {
	sys := ode.System{Autonomous: true, Slope: func(_ float64, _, d []float64) { d[0] = 1 }}
	jump := ode.Event{Value: func(t float64, _ []float64) float64 { return t - 2 }, Direction: 1,
		Act: func(_ float64, y []float64) bool { y[0] += 10; return false }}
	var got []float64
	y := []float64{1}
	at := []float64{0, 1, 1.5, 2.5, 4, 5}
	_, err := ode.NewSolver(1, ode.Options{}).Integrate(sys, []ode.Event{jump}, 1, 4, y, at, func(i int, at float64, y []float64) { got = append(got, float64(i), at, y[0]) })
	want := []float64{1, 1, 1, 2, 1.5, 1.5, 3, 2.5, 12.5, 4, 4, 14}
	if err != nil || len(got) != len(want) {
		t.Fatalf("got %v, want %v: %v", got, want, err)
	}
	for i := range want {
		if math.Abs(got[i]-want[i]) > 1e-9 {
			t.Errorf("got %v, want %v within 1e-9", got, want)
			break
		}
	}
}

func TestFailures(t *testing.T) {
	plain := func(f func(t, y float64) float64) ode.System {
		return ode.System{Slope: func(t float64, y, d []float64) { d[0], d[1] = 0, f(t, y[1]) }}
	}
	never := func(float64, []float64) bool { return false }
	for _, c := range []struct {
		name      string
		sys       ode.System
		events    []ode.Event
		t1        float64
		o         ode.Options
		want      error
		component int
		from, to  float64 // where it must stop
	}{
		{"NaN at once", plain(func(_, _ float64) float64 { return math.NaN() }), nil, 1, ode.Options{}, ode.ErrNotFinite, 1, 0, 0},
		{"NaN after 0.5", plain(func(t, _ float64) float64 { return math.Sqrt(0.5 - t) }), nil, 1, ode.Options{}, ode.ErrNotFinite, 1, 0.4, 0.5},
		{"blows up at 1", plain(func(_, y float64) float64 { return y * y }), nil, 2, ode.Options{}, nil, 1, 0.99, 1.001},
		{"too many steps", plain(func(t, _ float64) float64 { return math.Sin(1e4 * t) }), nil, 1, ode.Options{MaxSteps: 20}, ode.ErrTooManySteps, 1, 0, 0.9},
		{"backward", plain(func(_, _ float64) float64 { return 0 }), nil, -1, ode.Options{}, ode.ErrInterval, -1, 0, 0},
		{"infinite", plain(func(_, _ float64) float64 { return 0 }), nil, math.Inf(1), ode.Options{}, ode.ErrInterval, -1, 0, 0},
		{"event NaN", plain(func(_, _ float64) float64 { return 0 }), []ode.Event{{Value: func(float64, []float64) float64 { return math.NaN() }, Act: never}}, 1, ode.Options{}, ode.ErrEventValue, 0, 0, 0},
		{"event returns", plain(func(_, _ float64) float64 { return 1 }), []ode.Event{{Value: func(_ float64, y []float64) float64 { return y[1] - 2 },
			Act: func(_ float64, y []float64) bool { y[1] = math.Nextafter(2, 0); return false }}}, 5, ode.Options{}, ode.ErrEventsPileUp, 0, 1, 1.001},
	} {
		for _, m := range []ode.Method{ode.RODAS5P, ode.DormandPrince} {
			c.o.Method = m
			y := []float64{0, 1}
			st, err := ode.NewSolver(2, c.o).Integrate(c.sys, c.events, 0, c.t1, y, nil, nil)
			var f *ode.Failure
			if !errors.As(err, &f) {
				t.Errorf("%s, method %d: got %v, want a Failure", c.name, m, err)
				continue
			}
			if c.want != nil && !errors.Is(err, c.want) || f.Component != c.component || f.T != st.End || f.T < c.from || f.T > c.to {
				t.Errorf("%s, method %d: got %v; want %v, component %d, t in [%g, %g]", c.name, m, err, c.want, c.component, c.from, c.to)
			}
		}
	}
}

// TestNeverHangs: slopes that turn NaN or infinite anywhere end in an error or an
// answer, within the steps allowed, and no NaN is handed out as a state.
func TestNeverHangs(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		bad := rapid.SampledFrom([]float64{math.NaN(), math.Inf(1), math.Inf(-1), 1e308}).Draw(t, "bad")
		where, byTime := rapid.Float64Range(-2, 2).Draw(t, "where"), rapid.Bool().Draw(t, "byTime")
		k := rapid.Float64Range(-1e6, 1e2).Draw(t, "rate")
		sys := ode.System{Slope: func(x float64, y, d []float64) {
			d[0], d[1] = k*(y[0]-1), y[0]
			if byTime && x > where || !byTime && y[1] > where {
				d[1] = bad
			}
		}}
		method := rapid.SampledFrom([]ode.Method{ode.RODAS5P, ode.DormandPrince}).Draw(t, "method")
		s := ode.NewSolver(2, ode.Options{MaxSteps: 2000, Method: method})
		y := []float64{0, 0}
		st, err := s.Integrate(sys, nil, 0, 1, y, []float64{0.3, 1}, func(_ int, _ float64, y []float64) {
			if math.IsNaN(y[0] + y[1]) {
				t.Fatalf("output holds NaN: %v", y)
			}
		})
		if st.Steps+st.Rejected > 2000 {
			t.Fatalf("%d steps", st.Steps+st.Rejected)
		}
		if err == nil && st.End != 1 || math.IsNaN(y[0]+y[1]) {
			t.Fatalf("ended at %g with %v and %v", st.End, y, err)
		}
	})
}

// TestStructure: a random sparse linear system gives the same trajectory whether
// or not its equations are shuffled, so the order found by the solver is sound.
// The oracle is the unshuffled system solved by the explicit method.
func TestStructure(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 9).Draw(t, "n")
		a := make([]float64, n*n)
		for i := range a {
			if rapid.IntRange(0, 3).Draw(t, "entry") == 0 {
				a[i] = rapid.Float64Range(-1, 1).Draw(t, "a")
			}
		}
		sys := ode.System{Autonomous: true,
			Slope: func(_ float64, y, d []float64) {
				for i := range d {
					d[i] = 1
					for k, v := range y {
						d[i] += a[i*n+k] * v
					}
				}
			},
			Jacobian: func(_ float64, _, j []float64) { copy(j, a) }}
		end := func(m ode.Method) []float64 {
			y := make([]float64, n)
			s := ode.NewSolver(n, ode.Options{Relative: 1e-9, Absolute: []float64{1e-9}, Method: m})
			if _, err := s.Integrate(sys, nil, 0, 1, y, nil, nil); err != nil {
				t.Fatal(err)
			}
			return y
		}
		got, want := end(ode.RODAS5P), end(ode.DormandPrince)
		for i := range got {
			if math.Abs(got[i]-want[i]) > 1e-6*(1+math.Abs(want[i])) {
				t.Fatalf("component %d of %d: got %.12g, want %.12g within 1e-6", i, n, got[i], want[i])
			}
		}
	})
}

// TestNothingRemembered: a used solver gives, bit for bit, what a new one gives.
func TestNothingRemembered(t *testing.T) {
	p := testode.P2(testode.Nominal())
	end := func(s *ode.Solver, hours float64) []float64 {
		y := make([]float64, p.N)
		p.Start(y)
		if _, err := s.Integrate(p.System, p.Events, 0, hours, y, nil, nil); err != nil {
			t.Fatal(err)
		}
		return y
	}
	fresh := func() *ode.Solver { return ode.NewSolver(p.N, ode.Options{Absolute: p.Absolute}) }
	used := fresh()
	end(used, 200)
	got, want := end(used, 50), end(fresh(), 50)
	for i := range got {
		if got[i] != want[i] {
			t.Errorf("component %d: a used solver gives %v, a new one %v", i, got[i], want[i])
		}
	}
}

// TestNoAllocation: after the first call Integrate allocates nothing.
func TestNoAllocation(t *testing.T) {
	for _, p := range []*testode.Timing{testode.P1(), testode.P2(testode.Nominal())} {
		for _, m := range []ode.Method{ode.RODAS5P, ode.DormandPrince} {
			s := ode.NewSolver(p.N, ode.Options{Absolute: p.Absolute, Method: m})
			y, at := make([]float64, p.N), testode.OutputTimes()
			out := func(int, float64, []float64) {}
			run := func() {
				p.Start(y)
				if _, err := s.Integrate(p.System, p.Events, 0, 24, y, at, out); err != nil {
					t.Fatal(err)
				}
			}
			if n := testing.AllocsPerRun(5, run); n != 0 {
				t.Errorf("%s, method %d: %g allocations a call, want 0", p.Name, m, n)
			}
		}
	}
}

// A try whose slope is not finite tells nothing of the order: the step after it, rejected for its error, is still a number.
// y' = -sqrt(y) from 1 has the answer (1 - t/2)², and is none where a stage overshoots zero.
func TestRejectedAfterNotFinite(t *testing.T) {
	for _, method := range []ode.Method{ode.RODAS5P, ode.DormandPrince} {
		s := ode.NewSolver(1, ode.Options{Method: method, Relative: 1e-10, Absolute: []float64{1e-12}, FirstStep: 10, MaxSteps: 2000})
		y := []float64{1}
		_, err := s.Integrate(ode.System{Slope: func(_ float64, y, dy []float64) { dy[0] = -math.Sqrt(y[0]) }}, nil, 0, 1.9, y, nil, nil)
		if want := 0.05 * 0.05; err != nil || math.Abs(y[0]-want) > 1e-8 {
			t.Errorf("%v: got %.10f (%v), want %.10f, tolerance 1e-8", method, y[0], err, want)
		}
	}
}
