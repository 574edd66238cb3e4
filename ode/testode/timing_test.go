package testode

import (
	"testing"

	"spile/ode"
)

// follow integrates a timing problem and returns its largest error.
func follow(tb testing.TB, p *Timing, s *ode.Solver) (float64, ode.Stats) {
	tb.Helper()
	reference, err := p.Reference()
	if err != nil {
		tb.Fatal(err)
	}
	y, worst := make([]float64, p.N), 0.0
	p.Start(y)
	st, err := s.Integrate(p.System, p.Events, 0, Hours, y, OutputTimes(), func(i int, _ float64, y []float64) {
		worst = max(worst, p.Error(y, reference[i]))
	})
	if err != nil {
		tb.Fatal(err)
	}
	return worst, st
}

func TestExplore(t *testing.T) {
	for _, c := range []struct {
		p *Timing
		m ode.Method
	}{{P1(), ode.RODAS4}, {P1(), ode.DormandPrince}, {P2(Nominal()), ode.RODAS4}} {
		for _, r := range []float64{1e-4, 1e-5, 5e-6, 2e-6, 1e-6, 1e-7, 1e-8} {
			abs := append([]float64(nil), c.p.Absolute...)
			for i := range abs {
				abs[i] *= r / 1e-6
			}
			s := ode.NewSolver(c.p.N, ode.Options{Relative: r, Absolute: abs, Method: c.m})
			e, st := follow(t, c.p, s)
			t.Logf("%s %d rtol %.0e err %.2e %+v", c.p.Name, c.m, r, e, st)
		}
	}
}

func benchmark(b *testing.B, p *Timing, o ode.Options) {
	o.Absolute = p.Absolute
	s, y, at := ode.NewSolver(p.N, o), make([]float64, p.N), OutputTimes()
	for b.Loop() {
		p.Start(y)
		if _, err := s.Integrate(p.System, p.Events, 0, Hours, y, at, func(int, float64, []float64) {}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkP1(b *testing.B)         { benchmark(b, P1(), ode.Options{Relative: 1e-5, Method: ode.DormandPrince}) }
func BenchmarkP1Implicit(b *testing.B) { benchmark(b, P1(), ode.Options{Relative: 1e-6}) }
func BenchmarkP2(b *testing.B)         { benchmark(b, P2(Nominal()), ode.Options{Relative: 1e-6}) }
