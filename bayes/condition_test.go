package bayes_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"sync/atomic"
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

// Without data the posterior is the prior: N(0, 1) in every unknown, evidence 1.
func TestNoDataReturnsThePrior(t *testing.T) {
	none := residuals{4, func([]float64) []float64 { return nil }}
	for _, dim := range []int{1, 5, 30} {
		eye := mat.NewSymDense(dim, nil)
		for i := 0; i < dim; i++ {
			eye.SetSym(i, i, 1)
		}
		for _, tempered := range []bool{false, true} {
			post := condition(t, problem(dim, none), 8, bayes.Options{Members: 500, Tempered: tempered})
			checkGaussian(t, post, make([]float64, dim), eye)
			within(t, "log evidence", post.LogEvidence, 0, 1e-9)
			if !post.Trusted() {
				t.Errorf("%d unknowns, no data: not trusted, k %.2f, %.0f effective", dim, post.ParetoK, post.EffectiveSamples)
			}
		}
	}
}

func TestSameSeedSameAnswer(t *testing.T) {
	m, _ := grown(8, 4, rand.New(rand.NewPCG(5, 5)))
	for _, tempered := range []bool{false, true} {
		one := condition(t, problem(8, m), 42, bayes.Options{Members: 300, Workers: 1, Tempered: tempered})
		two := condition(t, problem(8, m), 42, bayes.Options{Members: 300, Workers: 2, Tempered: tempered})
		five := condition(t, problem(8, m), 42, bayes.Options{Members: 300, Workers: 5, Tempered: tempered})
		if !reflect.DeepEqual(one, two) || !reflect.DeepEqual(one, five) {
			t.Errorf("tempered %v: 1, 2 and 5 workers disagree", tempered)
		}
		other := condition(t, problem(8, m), 43, bayes.Options{Members: 300, Workers: 1, Tempered: tempered})
		if reflect.DeepEqual(one.Z, other.Z) {
			t.Errorf("tempered %v: another seed gave the same members", tempered)
		}
	}
	one := condition(t, problem(6, crooked), 2, bayes.Options{Members: 1000, Workers: 1}) // a run so long that it leaves sweeps out
	if two := condition(t, problem(6, crooked), 2, bayes.Options{Members: 1000, Workers: 2}); !reflect.DeepEqual(one, two) {
		t.Error("a crooked ridge: 1 and 2 workers disagree")
	}
}

// Curves with 25 unknowns known from 5 readings: on average at most 8,000 calls for 1,000 members.
func TestCalls(t *testing.T) {
	const problems = 12 // each takes from 1,500 to 13,000
	rng := rand.New(rand.NewPCG(6, 6))
	calls := 0.0
	for i := range uint64(problems) {
		m, _ := grown(25, 5, rng)
		post := condition(t, problem(25, m), 1+i, bayes.Options{Members: 1000})
		if len(post.Z) != 1000 || len(post.Weight) != 1000 || len(post.LogLik) != 1000 {
			t.Fatalf("members: got %d, %d, %d, want 1000", len(post.Z), len(post.Weight), len(post.LogLik))
		}
		calls += float64(post.Simulations) / problems
		for i, z := range post.Z[:20] {
			within(t, "log likelihood of a member", post.LogLik[i], m.LogLikelihood(z), 1e-9)
		}
	}
	if calls > 8000 {
		t.Errorf("got %.0f calls on average, want at most 8000", calls)
	}
}

func TestProgressNeverFalls(t *testing.T) {
	l := randomLinear(4, 3, rand.New(rand.NewPCG(1, 2)))
	for _, tempered := range []bool{false, true} {
		last, n := 0.0, 0
		condition(t, problem(4, l), 1, bayes.Options{Tempered: tempered, Progress: func(done float64) bool {
			if done < last || done > 1 {
				t.Errorf("progress went from %g to %g", last, done)
			}
			last = done
			n++
			return true
		}})
		if last != 1 || n < 10 {
			t.Errorf("tempered %v: progress ended at %g after %d calls, want 1 after at least 10", tempered, last, n)
		}
	}
}

func TestBadModelsAreRefused(t *testing.T) {
	nan := plain(func(z []float64) float64 { return math.NaN() })
	if _, err := bayes.Condition(problem(2, nan), 1, bayes.Options{}); err == nil || errors.Is(err, bayes.ErrImpossible) {
		t.Errorf("a log likelihood of NaN: got error %v, want one that says so", err)
	}
	never := plain(func(z []float64) float64 { return math.Inf(-1) })
	if _, err := bayes.Condition(problem(2, never), 1, bayes.Options{}); !errors.Is(err, bayes.ErrImpossible) {
		t.Errorf("impossible data: got %v, want %v", err, bayes.ErrImpossible)
	}
	ragged := residuals{4, func(z []float64) []float64 { return make([]float64, 1+int(math.Abs(z[0])*50)%3) }}
	if _, err := bayes.Condition(problem(2, ragged), 1, bayes.Options{}); err == nil {
		t.Error("a changing number of residuals: got no error")
	}
}

// A model that cannot run at the prior mean, nor on half of the space: z0 must exceed
// 0.5. The posterior is a normal cut off there; mean by the textbook hazard rate
// phi(0.5)/(1 - Phi(0.5)) = 1.1411.
func TestModelThatCannotRunEverywhere(t *testing.T) {
	cut := plain(func(z []float64) float64 {
		if z[0] < 0.5 {
			return math.Inf(-1)
		}
		return 0
	})
	cutResiduals := residuals{4, func(z []float64) []float64 {
		if z[0] < 0.5 {
			return []float64{math.Inf(1)}
		}
		return []float64{0}
	}}
	for _, m := range []bayes.Model{cut, cutResiduals} {
		for _, tempered := range []bool{false, true} {
			post := condition(t, problem(2, m), 4, bayes.Options{Tempered: tempered})
			s := bayes.NewSorted(column(post, 0), post.Weight)
			within(t, "mean above the cut", s.Mean(), 1.1411, 0.1)
			within(t, "lowest value", math.Min(s.Quantile(0), 0.5), 0.5, 0)
			within(t, "log evidence", post.LogEvidence, math.Log(0.3085), 0.25)
		}
	}
}

// Kalman smoothing of a random walk: x0 ~ N(0, 1), steps of sd 0.5, each x read with
// sd 0.4. Unknowns are the whitened start and steps; the exact answer is the
// Rauch-Tung-Striebel recursion (textbook).
func TestKalmanSmoother(t *testing.T) {
	const n, q, r = 8, 0.5, 0.4
	y := []float64{0.3, 0.9, 0.7, 1.6, 1.2, 2.2, 1.9, 2.4}
	walk := func(z []float64) []float64 {
		x := make([]float64, n)
		x[0] = z[0]
		for i := 1; i < n; i++ {
			x[i] = x[i-1] + q*z[i]
		}
		return x
	}
	m := residuals{math.Inf(1), func(z []float64) []float64 {
		x := walk(z)
		for i := range x {
			x[i] = (x[i] - y[i]) / r
		}
		return x
	}}
	mean, variance := smoother(y, q*q, r*r)
	for _, tempered := range []bool{false, true} {
		post := condition(t, problem(n, m), 9, bayes.Options{Tempered: tempered})
		se := 5 / math.Sqrt(post.EffectiveSamples)
		for i := range mean {
			x := make([]float64, len(post.Z))
			for j, z := range post.Z {
				x[j] = walk(z)[i]
			}
			s := bayes.NewSorted(x, post.Weight)
			sd := math.Sqrt(variance[i])
			within(t, "smoothed mean in sd", (s.Mean()-mean[i])/sd, 0, se)
			within(t, "smoothed sd ratio", s.SD()/sd, 1, se)
		}
	}
}

func smoother(y []float64, q, r float64) (mean, variance []float64) {
	n := len(y)
	m, p := make([]float64, n), make([]float64, n)   // filtered
	mp, pp := make([]float64, n), make([]float64, n) // predicted
	for i := range y {
		mp[i], pp[i] = 0, 1
		if i > 0 {
			mp[i], pp[i] = m[i-1], p[i-1]+q
		}
		gain := pp[i] / (pp[i] + r)
		m[i], p[i] = mp[i]+gain*(y[i]-mp[i]), (1-gain)*pp[i]
	}
	for i := n - 2; i >= 0; i-- {
		c := p[i] / pp[i+1]
		m[i] += c * (m[i+1] - mp[i+1])
		p[i] += c * c * (p[i+1] - pp[i+1])
	}
	return m, p
}

// Conjugate: a share p with a uniform prior, p = Phi(z), and 7 hits in 9 has the
// posterior Beta(8, 3): mean 8/11, variance 24/(121*12) (textbook); the evidence of
// the kernel p^7 (1-p)^2 is B(8, 3) = 1/360.
func TestBetaBinomial(t *testing.T) {
	share := func(z float64) float64 { return 0.5 * math.Erfc(-z/math.Sqrt2) }
	m := plain(func(z []float64) float64 {
		return 7*math.Log(share(z[0])) + 2*math.Log(share(-z[0]))
	})
	for _, tempered := range []bool{false, true} {
		post := condition(t, problem(1, m), 10, bayes.Options{Tempered: tempered})
		x := column(post, 0)
		for i := range x {
			x[i] = share(x[i])
		}
		s := bayes.NewSorted(x, post.Weight)
		sd := math.Sqrt(24.0 / (121 * 12))
		within(t, "mean in sd", (s.Mean()-8.0/11)/sd, 0, 5/math.Sqrt(post.EffectiveSamples))
		within(t, "sd ratio", s.SD()/sd, 1, 5/math.Sqrt(post.EffectiveSamples))
		within(t, "log evidence", post.LogEvidence, -math.Log(360), 0.25)
	}
}

func BenchmarkCondition(b *testing.B) {
	l := randomLinear(25, 10, rand.New(rand.NewPCG(7, 7)))
	b.ReportAllocs()
	calls := 0
	for i := 0; b.Loop(); i++ {
		calls += condition(b, problem(25, l), uint64(i), bayes.Options{Members: 1000}).Simulations
	}
	b.ReportMetric(float64(calls)/float64(b.N), "calls/op")
}

func BenchmarkReweight(b *testing.B) {
	l := randomLinear(25, 10, rand.New(rand.NewPCG(7, 7)))
	post := condition(b, problem(25, l), 1, bayes.Options{Members: 1000})
	b.ReportAllocs()
	for b.Loop() {
		if _, err := bayes.Reweight(post, func(_ int, z []float64) float64 { return -z[0] * z[0] / 2 }); err != nil {
			b.Fatal(err)
		}
	}
}

// The evidence is known before the members are drawn, by either way, and the members are those of one call.
func TestApproach(t *testing.T) {
	m, _ := grown(12, 6, rand.New(rand.NewPCG(12, 12)))
	for _, tempered := range []bool{false, true} {
		p, o := problem(12, m), bayes.Options{Members: 200, Tempered: tempered}
		want := condition(t, p, 3, o)
		var calls atomic.Int64
		of := p.NewModel
		p.NewModel = func() bayes.Model { return counted{of().(bayes.ResidualModel), &calls} }
		a, err := bayes.Approach(p, 3, o)
		if err != nil {
			t.Fatal(err)
		}
		if a.LogEvidence() != want.LogEvidence {
			t.Errorf("tempered %v: expected %v, got %v", tempered, want.LogEvidence, a.LogEvidence())
		}
		approached := calls.Load()
		for range 2 { // asked for twice it is drawn once
			if got, err := a.Posterior(); err != nil || !reflect.DeepEqual(got, want) {
				t.Errorf("tempered %v: members of one call and those drawn later differ, %v", tempered, err)
			}
		}
		if drawn := calls.Load() - approached; tempered && drawn < 900 {
			t.Errorf("%d runs before the members were asked for, %d after; want the last step's 900 at least after", approached, drawn)
		}
	}
}

// counted counts the runs of a model.
type counted struct {
	bayes.ResidualModel
	calls *atomic.Int64
}

func (c counted) Residuals(z, dst []float64) []float64 {
	c.calls.Add(1)
	return c.ResidualModel.Residuals(z, dst)
}
