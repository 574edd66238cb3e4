package testode

import (
	"math"
	"strings"
	"testing"

	"spile/ode"
)

// follow integrates a timing problem and returns its largest error.
func follow(tb testing.TB, p *Timing, o ode.Options) (float64, ode.Stats) {
	tb.Helper()
	reference, err := p.Reference()
	if err != nil {
		tb.Fatal(err)
	}
	y, worst, seen := make([]float64, p.N), 0.0, 0
	p.Start(y)
	st, err := ode.NewSolver(p.N, o).Integrate(p.System, p.Events, 0, Hours, y, OutputTimes(), func(i int, _ float64, y []float64) {
		seen++
		worst = max(worst, p.Error(y, reference[i]))
	})
	if err != nil || seen != Outputs {
		tb.Fatalf("%s: %d outputs of %d: %v", p.Name, seen, Outputs, err)
	}
	return worst, st
}

// TestReferences: both timing problems against trajectories by SUNDIALS CVODE at
// 1e-12 and 1e-11 (headers of testdata/ref_p1.csv, ref_p2.csv), at the settings
// that are timed and at tighter ones, and with differences for a Jacobian.
func TestReferences(t *testing.T) {
	differences := P2(Nominal())
	differences.System.Jacobian = nil
	for _, c := range []struct {
		name   string
		p      *Timing
		o      ode.Options
		bar    float64
		events int
	}{
		{"P1 explicit", P1(), P1().Settings(), 5e-6, 0},
		{"P1 Rosenbrock", P1(), ode.Options{Absolute: P1().Absolute}, 5e-6, 0},
		{"P1 tight", P1(), ode.Options{Relative: 1e-9, Absolute: []float64{1e-11}}, 5e-9, 0},
		{"P2", P2(Nominal()), P2(Nominal()).Settings(), 1e-5, 106},
		{"P2 differences", differences, differences.Settings(), 1e-5, 106},
		{"P2 tight", P2(Nominal()), ode.Options{Relative: 1e-8, Absolute: scaled(P2(Nominal()).Absolute, 1e-2)}, 2e-7, 106},
	} {
		e, st := follow(t, c.p, c.o)
		t.Logf("%-15s error %.2e %+v", c.name, e, st)
		if !(e <= c.bar) || st.Events != c.events {
			t.Errorf("%s: error %.2e with %d events, want at most %.0e and %d", c.name, e, st.Events, c.bar, c.events)
		}
	}
}

// TestJacobian holds the analytic Jacobians against central differences.
func TestJacobian(t *testing.T) {
	for _, p := range []*Timing{P1(), P2(Nominal())} {
		y := make([]float64, p.N)
		p.Start(y)
		if _, err := ode.NewSolver(p.N, p.Settings()).Integrate(p.System, p.Events, 0, 60, y, nil, nil); err != nil {
			t.Fatal(err)
		}
		j, low, high := make([]float64, p.N*p.N), make([]float64, p.N), make([]float64, p.N)
		p.System.Jacobian(60, y, j)
		for k := range y {
			at, d := y[k], 1e-5*math.Max(math.Abs(y[k]), 1e-3)
			y[k] = at - d
			p.System.Slope(60, y, low)
			y[k] = at + d
			p.System.Slope(60, y, high)
			y[k] = at
			for i := range y {
				want := (high[i] - low[i]) / (2 * d)
				noise := 1e-11 * (math.Abs(high[i]) + 1) / d
				if got := j[i*p.N+k]; math.Abs(got-want) > 1e-4*math.Abs(want)+noise {
					t.Errorf("%s: d f(%s)/d %s: got %.10g, want %.10g", p.Name, p.Variables[i], p.Variables[k], got, want)
				}
			}
		}
	}
}

// TestRandomMember: the ensemble is defined by its generator; splitmix64 seeded 0
// gives 0xE220A8397B1DCDAF first [SteeleLeaFlood2014], and every factor lies in
// the range of the definition.
func TestRandomMember(t *testing.T) {
	if got, want := splitmix(new(uint64)), uint64(0xE220A8397B1DCDAF); got != want {
		t.Errorf("splitmix64 from seed 0: got %#x, want %#x", got, want)
	}
	for k := range 2000 {
		m := RandomMember(k)
		ok := m.Growth >= 0.95 && m.Growth < 1.05 && m.Uptake >= 0.8 && m.Uptake < 1.2 && m.Pitch >= 0.7 && m.Pitch < 1.3 &&
			m.Sugar0 >= 110 && m.Sugar0 < 150 && m.UA >= 1.2 && m.UA < 1.8 && m.Air >= 286.15 && m.Air < 292.15
		if !ok {
			t.Fatalf("member %d out of range: %+v", k, m)
		}
	}
}

func TestReferenceRefused(t *testing.T) {
	for _, text := range []string{"", "t_h,XA\n0,1\n", "0,0.08,1.92,2,130,0,0,x\n", "6,0.08,1.92,2,130,0,0,0\n"} {
		if _, err := P1().ReadReference(strings.NewReader(text)); err == nil {
			t.Errorf("%q was read as a reference", text)
		}
	}
}

func benchmark(b *testing.B, p *Timing) {
	s, y, at := ode.NewSolver(p.N, p.Settings()), make([]float64, p.N), OutputTimes()
	b.ReportAllocs()
	for b.Loop() {
		p.Start(y)
		if _, err := s.Integrate(p.System, p.Events, 0, Hours, y, at, func(int, float64, []float64) {}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkP1(b *testing.B) { benchmark(b, P1()) }
func BenchmarkP2(b *testing.B) { benchmark(b, P2(Nominal())) }
