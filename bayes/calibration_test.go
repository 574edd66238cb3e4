package bayes_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"spile/bayes"
)

// The band's stated coverage against plain simulation.
func TestECDFBandCoverage(t *testing.T) {
	const runs, alpha = 4000, 0.1
	for _, n := range []int{20, 250} {
		band := bayes.ECDFBand(n, 19, alpha)
		rng := rand.New(rand.NewPCG(1, uint64(n)))
		inside := 0.0
		for range runs {
			u := make([]float64, n)
			for i := range u {
				u[i] = rng.Float64()
			}
			if band.Inside(u) {
				inside++
			}
		}
		// the counts are whole numbers, so the coverage may exceed what was asked
		if got := inside / runs; got < 1-alpha-0.02 || got > 1-alpha+0.06 {
			t.Errorf("coverage for %d values: got %.3f, want %.2f to %.2f", n, got, 1-alpha-0.02, 1-alpha+0.06)
		}
	}
}

// P values of uniform samples are themselves at most uniform; the band and the p value
// are one test.
func TestUniformP(t *testing.T) {
	const runs, n = 1000, 100
	rng := rand.New(rand.NewPCG(5, 1))
	band := bayes.ECDFBand(n, 19, 0.05)
	low := 0.0
	for range runs {
		u := make([]float64, n)
		for i := range u {
			u[i] = rng.Float64()
		}
		p := bayes.UniformP(u, 19)
		if p <= 0.05 {
			low++
		}
		if inside := band.Inside(u); inside != (p > band.Alpha) && math.Abs(p-0.05) > 0.01 {
			t.Fatalf("p = %.4f, inside the 5 %% band: %v", p, inside)
		}
	}
	within(t, "share of p at or below 0.05", low/runs, 0.05, 5*math.Sqrt(0.05*0.95/runs))
}

// One value: at the single point 1/2 both counts have probability 1/2, so nothing can
// be surprising; ten values all below 1/2 have probability 2 * 2^-10 (by hand).
func TestUniformPByHand(t *testing.T) {
	within(t, "one value", bayes.UniformP([]float64{0.2}, 1), 1, 1e-12)
	u := make([]float64, 10)
	for i := range u {
		u[i] = 0.04 * float64(i)
	}
	within(t, "ten on one side", bayes.UniformP(u, 1), 2.0/1024, 1e-9)
}

// Holm 1979 by hand: 0.01 <= 0.05/3, 0.02 <= 0.05/2, 0.2 > 0.05.
func TestHolmRejects(t *testing.T) {
	got := bayes.HolmRejects([]float64{0.2, 0.01, 0.02}, 0.05)
	if got[0] || !got[1] || !got[2] {
		t.Errorf("rejected: got %v, want [false true true]", got)
	}
	if got := bayes.HolmRejects([]float64{0.03, 0.04}, 0.05); got[0] || got[1] {
		t.Errorf("0.03 and 0.04 at 0.05: got %v, want none", got)
	}
}

// The rank of a truth among equal draws of its own distribution is uniform, ties
// included; so is its weighted form.
func TestPITIsUniform(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 1))
	var plainU, tiedU []float64
	for range 2000 {
		x, r := make([]float64, 9), make([]float64, 9)
		for i := range x {
			x[i] = rng.NormFloat64()
			r[i] = math.Round(x[i])
		}
		truth := rng.NormFloat64()
		plainU = append(plainU, bayes.PIT(x, nil, truth, rng))
		tiedU = append(tiedU, bayes.PIT(r, nil, math.Round(truth), rng))
	}
	for name, u := range map[string][]float64{"plain": plainU, "tied": tiedU} {
		if p := bayes.UniformP(u, 19); p < 0.001 {
			t.Errorf("%s: p = %.5f, want above 0.001", name, p)
		}
	}
}

// Simulation-based calibration (Talts et al. 2018) on linear-Gaussian problems:
// truths from the prior, data from the truth, ranks of every unknown and of the log
// likelihood uniform, Holm at 1 %. As a control the same posteriors, drawn 20 %
// toward their mean, must fail.
func TestSimulationBasedCalibration(t *testing.T) {
	const dim, runs = 3, 500
	for _, tempered := range []bool{false, true} {
		if tempered && testing.Short() {
			continue
		}
		rng := rand.New(rand.NewPCG(7, 1))
		right, narrow := make([][]float64, dim+1), make([][]float64, dim+1)
		for run := range uint64(runs) {
			l, truth := simulated(dim, 4, rng)
			post := condition(t, problem(dim, l), run, bayes.Options{Members: 300, Tempered: tempered})
			for j := range truth {
				x := column(post, j)
				right[j] = append(right[j], bayes.PIT(x, post.Weight, truth[j], rng))
				narrow[j] = append(narrow[j], bayes.PIT(narrowed(x, post.Weight), post.Weight, truth[j], rng))
			}
			right[dim] = append(right[dim], bayes.PIT(post.LogLik, post.Weight, l.LogLikelihood(truth), rng))
		}
		if p, bad := failures(right); bad > 0 {
			t.Errorf("tempered %v: %d of %d ranks not uniform, p = %.4f", tempered, bad, dim+1, p)
		}
		if p, bad := failures(narrow[:dim]); bad == 0 {
			t.Errorf("tempered %v: a posterior 20 %% too narrow passed, p = %.4f", tempered, p)
		}
	}
}

func failures(u [][]float64) (p []float64, bad int) {
	for _, v := range u {
		p = append(p, bayes.UniformP(v, 39))
	}
	for _, rejected := range bayes.HolmRejects(p, 0.01) {
		if rejected {
			bad++
		}
	}
	return p, bad
}

// simulated draws unknowns from the prior and data from them.
func simulated(dim, data int, rng *rand.Rand) (linear, []float64) {
	l := randomLinear(dim, data, rng)
	z := make([]float64, dim)
	for i := range z {
		z[i] = rng.NormFloat64()
	}
	for i := range l.y {
		l.y[i] = 0
	}
	for i, r := range l.Residuals(z, nil) {
		l.y[i] = r + rng.NormFloat64()
	}
	return l, z
}

// narrowed draws values 20 % toward their mean.
func narrowed(x, w []float64) []float64 {
	mean := bayes.NewSorted(x, w).Mean()
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = mean + 0.8*(v-mean)
	}
	return out
}

// The same on a curved problem of ten unknowns, where the posterior is far from
// normal: the value that the model foretells beyond its data, and the log likelihood.
func TestCalibrationOnACurvedProblem(t *testing.T) {
	if testing.Short() {
		t.Skip("seconds of model runs")
	}
	const dim, runs = 10, 150
	rng := rand.New(rand.NewPCG(3, 3))
	ranks := make([][]float64, dim+2)
	for run := range uint64(runs) {
		m, truth := grown(dim, 2+int(run)%5, rng)
		post := condition(t, problem(dim, m), run, bayes.Options{Members: 400})
		for j := range truth {
			ranks[j] = append(ranks[j], bayes.PIT(column(post, j), post.Weight, truth[j], rng))
		}
		ahead := make([]float64, len(post.Z))
		for i, z := range post.Z {
			ahead[i] = m.at(z, 9)
		}
		ranks[dim] = append(ranks[dim], bayes.PIT(ahead, post.Weight, m.at(truth, 9), rng))
		ranks[dim+1] = append(ranks[dim+1], bayes.PIT(post.LogLik, post.Weight, m.LogLikelihood(truth), rng))
	}
	if p, bad := failures(ranks); bad > 0 {
		t.Errorf("%d of %d ranks not uniform, p = %.4f", bad, dim+2, p)
	}
}
