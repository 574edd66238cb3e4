package bayes_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
	"spile/bayes"
)

// linear is y = A z + noise with standard deviation 1 (A and y already standardised).
type linear struct {
	a *mat.Dense
	y []float64
}

func (l linear) Residuals(z, dst []float64) []float64 {
	dst = dst[:0]
	for i, y := range l.y {
		r := -y
		for j, v := range l.a.RawRowView(i) {
			r += v * z[j]
		}
		dst = append(dst, r)
	}
	return dst
}

func (l linear) Nu() float64 { return math.Inf(1) }

func (l linear) LogLikelihood(z []float64) float64 {
	s := 0.0
	for _, r := range l.Residuals(z, nil) {
		s -= r * r / 2
	}
	return s
}

func randomLinear(dim, data int, rng *rand.Rand) linear {
	l := linear{a: mat.NewDense(data, dim, nil), y: make([]float64, data)}
	for i := range l.y {
		for j := 0; j < dim; j++ {
			l.a.Set(i, j, 2*rng.NormFloat64())
		}
		l.y[i] = 3 * rng.NormFloat64()
	}
	return l
}

// exact posterior of the linear-Gaussian problem: covariance (I + A'A)^-1, mean
// covariance A'y; log evidence of the standardised likelihood without its constant is
// -log det(I + AA')/2 - y'(I + AA')^-1 y/2 (textbook Gaussian algebra).
func (l linear) exact() (mean []float64, cov *mat.SymDense, logEvidence float64) {
	m, d := l.a.Dims()
	h := mat.NewSymDense(d, nil)
	h.SymOuterK(1, l.a.T())
	s := mat.NewSymDense(m, nil)
	s.SymOuterK(1, l.a)
	for i := 0; i < d; i++ {
		h.SetSym(i, i, h.At(i, i)+1)
	}
	for i := 0; i < m; i++ {
		s.SetSym(i, i, s.At(i, i)+1)
	}
	var ch, cs mat.Cholesky
	ch.Factorize(h)
	cs.Factorize(s)
	cov = mat.NewSymDense(d, nil)
	_ = ch.InverseTo(cov)
	y := mat.NewVecDense(m, l.y)
	var aty, mv, sy mat.VecDense
	aty.MulVec(l.a.T(), y)
	mv.MulVec(cov, &aty)
	_ = cs.SolveVecTo(&sy, y)
	return mv.RawVector().Data, cov, -cs.LogDet()/2 - mat.Dot(y, &sy)/2
}

func problem(dim int, m bayes.Model) bayes.Problem {
	return bayes.Problem{Dim: dim, NewModel: func() bayes.Model { return m }}
}

func condition(t testing.TB, p bayes.Problem, seed uint64, o bayes.Options) *bayes.Posterior {
	t.Helper()
	post, err := bayes.Condition(p, seed, o)
	if err != nil {
		t.Fatal(err)
	}
	return post
}

// within fails when got strays from want by more than the tolerance.
func within(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %.5g, want %.5g, tolerance %.2g", what, got, want, tolerance)
	}
}

func column(post *bayes.Posterior, j int) []float64 {
	x := make([]float64, len(post.Z))
	for i, z := range post.Z {
		x[i] = z[j]
	}
	return x
}

// checkGaussian compares means, variances and tail quantiles with a normal posterior,
// within five standard errors of the stated effective size.
func checkGaussian(t *testing.T, post *bayes.Posterior, mean []float64, cov mat.Symmetric) {
	t.Helper()
	se := 5 / math.Sqrt(post.EffectiveSamples)
	for j := range mean {
		sd := math.Sqrt(cov.At(j, j))
		s := bayes.NewSorted(column(post, j), post.Weight)
		within(t, "mean", (s.Mean()-mean[j])/sd, 0, se)
		within(t, "sd ratio", s.SD()/sd, 1, se)
		within(t, "5 % quantile", (s.Quantile(0.05)-mean[j])/sd, -1.6449, 2.2*se)
		within(t, "95 % quantile", (s.Quantile(0.95)-mean[j])/sd, 1.6449, 2.2*se)
	}
}

func TestLinearGaussianExact(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	for dim := 1; dim <= 10; dim++ {
		for _, tempered := range []bool{false, true} {
			l := randomLinear(dim, 1+dim/2, rng)
			mean, cov, logEvidence := l.exact()
			post := condition(t, problem(dim, l), 5, bayes.Options{Members: 1000, Tempered: tempered})
			t.Logf("dim %d %s k %.2f ess %.0f calls %d ev %.3f (%.3f)", dim, post.Method, post.ParetoK, post.EffectiveSamples, post.Simulations, post.LogEvidence, logEvidence)
			if tempered == (post.Method == bayes.Importance) {
				t.Errorf("dim %d: method %s with tempered asked: %v", dim, post.Method, tempered)
			}
			checkGaussian(t, post, mean, cov)
			within(t, "log evidence", post.LogEvidence, logEvidence, 0.6) // sd 0.15 over 40 seeds when tempered
			for j := range mean {
				within(t, "mode", post.Mode[j], mean[j], 0.3)
			}
		}
	}
}

func TestRefusesAndStops(t *testing.T) {
	if _, err := bayes.Condition(bayes.Problem{}, 1, bayes.Options{}); err == nil {
		t.Error("a problem without unknowns: got no error")
	}
	stop := bayes.Options{Progress: func(float64) bool { return false }}
	l := randomLinear(3, 3, rand.New(rand.NewPCG(1, 2)))
	if _, err := bayes.Condition(problem(3, l), 1, stop); !errors.Is(err, bayes.ErrStopped) {
		t.Errorf("stopped by progress: got %v, want %v", err, bayes.ErrStopped)
	}
}
