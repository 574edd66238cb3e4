package bayes_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
	"spile/bayes"
)

func ExampleSorted() {
	gravity := []float64{1.010, 1.012, 1.011, 1.009}
	weight := []float64{0.4, 0.1, 0.2, 0.3}
	s := bayes.NewSorted(gravity, weight)
	fmt.Printf("median %.4f, below 1.0105: %.1f\n", s.Quantile(0.5), s.Below(1.0105))
	// Output: median 1.0100, below 1.0105: 0.7
}

// Hazen's rule by hand: of 1, 2, 3, 4 the median is 2.5, the 1/8 quantile 1, the 3/8
// quantile 2 (Hyndman and Fan 1996, definition 5).
func TestQuantileHazen(t *testing.T) {
	x := []float64{3, 1, 4, 2}
	for p, want := range map[float64]float64{0: 1, 0.125: 1, 0.25: 1.5, 0.375: 2, 0.5: 2.5, 0.875: 4, 1: 4} {
		within(t, fmt.Sprint("quantile ", p), bayes.Quantile(x, nil, p), want, 1e-12)
	}
	s := bayes.NewSorted([]float64{1, 2, math.Inf(1)}, []float64{1, 2, 1})
	if !math.IsInf(s.Quantile(0.9), 1) || s.Quantile(0.5) != 2 {
		t.Errorf("with one value of four parts infinite: got %g at 0.9 and %g at 0.5, want +Inf and 2", s.Quantile(0.9), s.Quantile(0.5))
	}
}

// Weights of 1, 2 and 5 parts by hand, far below what a float64 can hold unlogged.
func TestNormalise(t *testing.T) {
	never := math.Inf(-1)
	for _, c := range []struct{ logs, want []float64 }{
		{[]float64{-5000, -5000 + math.Log(2), -5000 + math.Log(5)}, []float64{0.125, 0.25, 0.625}},
		{[]float64{never, 900, 900}, []float64{0, 0.5, 0.5}},
		{[]float64{never, never}, []float64{0, 0}},
		{nil, nil},
	} {
		got := bayes.Normalise(c.logs)
		if len(got) != len(c.want) {
			t.Fatalf("weights of %v: got %d, want %d", c.logs, len(got), len(c.want))
		}
		for i, w := range c.want {
			within(t, fmt.Sprintf("weight %d of %v", i, c.logs), got[i], w, 1e-12)
		}
	}
}

func TestQuantileProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 40).Draw(t, "n")
		x := rapid.SliceOfN(rapid.Float64Range(-5, 5), n, n).Draw(t, "x")
		w := rapid.SliceOfN(rapid.Float64Range(0, 1), n, n).Draw(t, "w")
		w[0] += 0.1
		s := bayes.NewSorted(x, w)
		last := math.Inf(-1)
		for p := 0.0; p <= 1; p += 0.01 {
			q := s.Quantile(p)
			if q < last-1e-12 {
				t.Fatalf("quantile at %g: got %g after %g, want no less", p, q, last)
			}
			if q != bayes.Quantile(x, w, p) {
				t.Fatalf("sorted once and sorted anew differ at %g", p)
			}
			last = q
		}
		y := rapid.Float64Range(-6, 6).Draw(t, "y")
		// The score as the double sum that defines it (Gneiting and Raftery 2007, eq. 21).
		sum, a, b := 0.0, 0.0, 0.0
		for i := range x {
			sum += w[i]
		}
		for i := range x {
			a += w[i] / sum * math.Abs(x[i]-y)
			for j := range x {
				b += w[i] / sum * w[j] / sum * math.Abs(x[i]-x[j]) / 2
			}
		}
		if got := bayes.CRPSEnsemble(x, w, y); math.Abs(got-(a-b)) > 1e-9 {
			t.Fatalf("CRPS: got %.12g, want %.12g, tolerance 1e-9", got, a-b)
		}
	})
}

// Closed form for a normal forecast: sigma (z (2 Phi(z) - 1) + 2 phi(z) - 1/sqrt(pi))
// (Gneiting and Raftery 2007, section 4.2). The ensemble is the normal's quantiles.
func TestCRPSOfANormal(t *testing.T) {
	const n, mu, sigma = 4000, 1.0, 2.0
	x := make([]float64, n)
	for i := range x {
		x[i] = mu + sigma*distuv.UnitNormal.Quantile((float64(i)+0.5)/n)
	}
	for _, y := range []float64{-4, 0, 1, 2.5, 9} {
		z := (y - mu) / sigma
		phi := math.Exp(-z*z/2) / math.Sqrt(2*math.Pi)
		want := sigma * (z*(2*distuv.UnitNormal.CDF(z)-1) + 2*phi - 1/math.Sqrt(math.Pi))
		within(t, fmt.Sprint("CRPS of N(1, 2) at ", y), bayes.CRPSEnsemble(x, nil, y), want, 1e-3)
	}
}

// Gneiting and Raftery 2007, eq. 43: width 4; 2/0.1 = 20 for each unit outside.
func TestIntervalScore(t *testing.T) {
	within(t, "inside", bayes.IntervalScore(1, 5, 0.1, 3), 4, 1e-12)
	within(t, "half a unit above", bayes.IntervalScore(1, 5, 0.1, 5.5), 14, 1e-12)
	within(t, "a unit below", bayes.IntervalScore(1, 5, 0.1, 0), 24, 1e-12)
}

// The interval score is proper: of all bands, the true quantiles score best on average.
func TestIntervalScoreIsProper(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 2))
	mean := map[float64]float64{}
	for range 20000 {
		y := rng.NormFloat64()
		for _, half := range []float64{1.2, 1.6449, 2.2} {
			mean[half] += bayes.IntervalScore(-half, half, 0.1, y) / 20000
		}
	}
	if mean[1.6449] >= mean[1.2] || mean[1.6449] >= mean[2.2] {
		t.Errorf("mean scores by half width: %v, want the least at 1.6449", mean)
	}
}

func TestSortedRefusesNonsense(t *testing.T) {
	for name, f := range map[string]func(){
		"lengths":    func() { bayes.NewSorted([]float64{1}, []float64{1, 2}) },
		"NaN":        func() { bayes.NewSorted([]float64{math.NaN()}, nil) },
		"no weights": func() { bayes.NewSorted([]float64{1}, []float64{0}) },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s: no panic", name)
				}
			}()
			f()
		}()
	}
}
