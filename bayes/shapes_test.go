package bayes_test

import (
	"fmt"
	"math"
	"testing"

	"spile/bayes"
)

// residuals is a model given by its residuals.
type residuals struct {
	nu float64
	f  func(z []float64) []float64
}

func (m residuals) Residuals(z, _ []float64) []float64 { return m.f(z) }
func (m residuals) Nu() float64                        { return m.nu }
func (m residuals) LogLikelihood(z []float64) float64 {
	s := 0.0
	for _, r := range m.f(z) {
		if math.IsInf(m.nu, 1) {
			s -= r * r / 2
		} else {
			s -= (m.nu + 1) / 2 * math.Log1p(r*r/m.nu)
		}
	}
	return s
}

// plain hides a model's residuals.
type plain func(z []float64) float64

func (p plain) LogLikelihood(z []float64) float64 { return p(z) }

// quadrature of a posterior of one or two unknowns on a fine grid: mean and standard
// deviation of each, and the log evidence.
func quadrature(dim int, logLik func(z []float64) float64) (mean, sd []float64, logEvidence float64) {
	const reach, n = 7.0, 1400
	h := 2 * reach / n
	mean, sd = make([]float64, dim), make([]float64, dim)
	sum, z := 0.0, make([]float64, dim)
	var visit func(k int)
	visit = func(k int) {
		if k < dim {
			for i := 0; i <= n; i++ {
				z[k] = -reach + float64(i)*h
				visit(k + 1)
			}
			return
		}
		p := logLik(z)
		for _, v := range z {
			p -= v * v / 2
		}
		p = math.Exp(p)
		sum += p
		for j, v := range z {
			mean[j] += p * v
			sd[j] += p * v * v
		}
	}
	visit(0)
	for j := range mean {
		mean[j] /= sum
		sd[j] = math.Sqrt(sd[j]/sum - mean[j]*mean[j])
	}
	return mean, sd, math.Log(sum * math.Pow(h/math.Sqrt(2*math.Pi), float64(dim)))
}

var shapes = []struct {
	name string
	dim  int
	m    residuals
}{
	{"banana", 2, residuals{math.Inf(1), func(z []float64) []float64 {
		return []float64{(z[1] - z[0]*z[0] + 0.5) / 0.1}
	}}},
	{"wide banana, Student", 2, residuals{4, func(z []float64) []float64 {
		return []float64{(z[1]*z[1] + z[0] - 1) / 0.3, (z[0] - z[1] - 0.5) / 0.8}
	}}},
	{"product", 2, residuals{math.Inf(1), func(z []float64) []float64 {
		return []float64{(math.Exp(z[0])*math.Exp(0.5*z[1]) - 2) / 0.1}
	}}},
	{"outlier, Student", 1, residuals{4, func(z []float64) []float64 {
		return []float64{(z[0] - 0.1) / 0.3, (z[0] + 0.2) / 0.3, (z[0] - 4) / 0.3}
	}}},
	{"two readings that disagree", 1, residuals{4, func(z []float64) []float64 {
		return []float64{(z[0] - 1.5) / 0.2, (z[0] + 1.2) / 0.2}
	}}},
	{"two modes by symmetry", 1, residuals{math.Inf(1), func(z []float64) []float64 {
		return []float64{(z[0]*z[0] - 2.25) / 0.3, (z[0] - 0.2) / 3}
	}}},
	{"half unknown", 2, residuals{math.Inf(1), func(z []float64) []float64 {
		return []float64{(math.Max(z[0], 0)*2 + 0*z[1] - 0.3) / 0.2}
	}}},
}

func TestAgainstQuadrature(t *testing.T) {
	for _, c := range shapes {
		mean, sd, logEvidence := quadrature(c.dim, c.m.LogLikelihood)
		forms := map[string]bayes.Model{"residuals": c.m, "plain": plain(c.m.LogLikelihood)}
		for form, m := range forms {
			for _, tempered := range []bool{false, true} {
				post := condition(t, problem(c.dim, m), 3, bayes.Options{Members: 1000, Tempered: tempered})
				what := fmt.Sprintf("%s (%s, %s)", c.name, form, post.Method)
				se := 5 / math.Sqrt(post.EffectiveSamples)
				for j := range mean {
					s := bayes.NewSorted(column(post, j), post.Weight)
					within(t, what+" mean in sd", (s.Mean()-mean[j])/sd[j], 0, se)
					within(t, what+" sd ratio", s.SD()/sd[j], 1, 1.5*se)
				}
				within(t, what+" log evidence", post.LogEvidence, logEvidence, 0.4)
			}
		}
	}
}

// twoModes is a likelihood of two normal bumps of spread s at +a and -a on every axis,
// the first with share p. With the prior N(0, I) the posterior is two normals with the
// same shares (the bumps are equally far from the prior mean): conjugate, exact.
type twoModes struct {
	a, s, p float64
}

func (m twoModes) LogLikelihood(z []float64) float64 {
	up, down := math.Log(m.p), math.Log(1-m.p)
	for _, v := range z {
		up -= (v - m.a) * (v - m.a) / (2 * m.s * m.s)
		down -= (v + m.a) * (v + m.a) / (2 * m.s * m.s)
	}
	top := math.Max(up, down)
	return top + math.Log(math.Exp(up-top)+math.Exp(down-top))
}

func TestTwoModesKeepTheirWeights(t *testing.T) {
	for _, dim := range []int{1, 2, 4, 8} {
		m := twoModes{a: 2.4 / math.Sqrt(float64(dim)), s: 0.25, p: 0.3}
		for _, tempered := range []bool{false, true} {
			for seed := uint64(0); seed < 4; seed++ {
				post := condition(t, problem(dim, m), seed, bayes.Options{Members: 1000, Tempered: tempered})
				share := 0.0
				for i, z := range post.Z {
					if z[0] > 0 {
						share += post.Weight[i]
					}
				}
				what := fmt.Sprintf("%d unknowns, %s: share of the upper mode", dim, post.Method)
				within(t, what, share, 0.3, 5*math.Sqrt(0.21/math.Min(150, post.EffectiveSamples)))
			}
		}
	}
}

// crooked is a ridge bent again and again: each unknown follows the square of the one
// before. No proposal around its mode covers it.
var crooked = residuals{math.Inf(1), func(z []float64) []float64 {
	var r []float64
	for i := 1; i < len(z); i++ {
		r = append(r, (z[i]-z[i-1]*z[i-1]+0.7)/0.05)
	}
	return r
}}

// ridgeEnd is the log likelihood of the ridge's first unknown, with the others
// integrated out one after another from the last, each on a fine grid: exact, because
// each unknown touches only its neighbours.
func ridgeEnd(dim int) func(z []float64) float64 {
	const reach, n = 6.0, 1200
	h := 2 * reach / n
	beyond := make([]float64, n+1) // integral over all later unknowns, given this one
	for i := range beyond {
		beyond[i] = 1
	}
	given := func(z float64) float64 {
		centre := z*z - 0.7
		sum := 0.0
		lo, hi := int((centre-0.4+reach)/h), int((centre+0.4+reach)/h)
		for j := max(0, lo); j <= min(n, hi); j++ {
			x := -reach + float64(j)*h
			r := (x - centre) / 0.05
			sum += h / math.Sqrt(2*math.Pi) * math.Exp(-r*r/2-x*x/2) * beyond[j]
		}
		return sum
	}
	for step := 2; step < dim; step++ {
		next := make([]float64, n+1)
		for i := range next {
			next[i] = given(-reach + float64(i)*h)
		}
		beyond = next
	}
	return func(z []float64) float64 { return math.Log(given(z[0])) }
}

// The ends of the ridge are what a short run misses: over 8 seeds the spread comes out 2.6 % too small in 4 unknowns
// (14,000 calls), and 3.1 % in 6 (21,000).
func TestCrookedRidge(t *testing.T) {
	for _, dim := range []int{4, 6} {
		const runs = 5
		mean, sd, logEvidence := quadrature(1, ridgeEnd(dim))
		meanSum, sdSum, evidenceSum := 0.0, 0.0, 0.0
		for seed := range uint64(runs) {
			post := condition(t, problem(dim, crooked), seed, bayes.Options{Members: 1000})
			if post.Method != bayes.Tempered {
				t.Errorf("a crooked ridge: method %s with k %.2f and %.0f effective samples, want %s", post.Method, post.ParetoK, post.EffectiveSamples, bayes.Tempered)
			}
			if post.Simulations > 45000 {
				t.Errorf("%d calls, want at most 45000", post.Simulations)
			}
			s := bayes.NewSorted(column(post, 0), post.Weight)
			meanSum += s.Mean() / runs
			sdSum += s.SD() / runs
			evidenceSum += post.LogEvidence / runs
		}
		within(t, "mean over the runs, in sd", (meanSum-mean[0])/sd[0], 0, 0.25)
		within(t, "sd ratio over the runs", sdSum/sd[0], 1, 0.12)
		within(t, "log evidence over the runs", evidenceSum, logEvidence, 0.3)
	}
}
