package estimate

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"

	"spile/bayes"
)

// The peer: the four-parameter logistic decline of the published fermentation
// assay [ASBCYeast14], P(t) = P0 - Pd + Pd/(1 + exp(B (t - M))), with a normal
// prior on (ln B, ln M, Pd/P0) learnt from the same other conditions.
type logistic struct {
	start  float64
	hours  []float64
	plato  []float64
	mean   [3]float64
	root   mat.Cholesky // of the prior covariance
	lower  mat.TriDense
	resid  []float64
	spread float64 // sd of a reading, Plato
}

func newLogistic(start float64, hours, plato []float64, mean [3]float64, cov *mat.SymDense) *logistic {
	l := &logistic{start: start, hours: hours, plato: plato, mean: mean, spread: 0.12}
	l.root.Factorize(cov)
	l.root.LTo(&l.lower)
	return l
}

func (l *logistic) parameters(z []float64) [3]float64 {
	var th [3]float64
	for i := range th {
		th[i] = l.mean[i]
		for j := 0; j <= i; j++ {
			th[i] += l.lower.At(i, j) * z[j]
		}
	}
	return th
}

func (l *logistic) value(th [3]float64, h float64) float64 {
	b, m := math.Exp(th[0]), math.Exp(th[1])
	top := 1 / (1 + math.Exp(-b*m))
	fall := l.start * th[2]
	return l.start - fall + fall/(1+math.Exp(b*(h-m)))/top
}

func (l *logistic) Residuals(z, dst []float64) []float64 {
	th := l.parameters(z)
	dst = dst[:0]
	for i, h := range l.hours {
		dst = append(dst, (l.value(th, h)-l.plato[i])/l.spread)
	}
	return dst
}

func (l *logistic) LogLikelihood(z []float64) float64 {
	var sum float64
	l.resid = l.Residuals(z, l.resid)
	for _, r := range l.resid {
		sum -= (studentNu + 1) / 2.0 * math.Log1p(r*r/studentNu)
	}
	return sum
}

func (l *logistic) Nu() float64 { return studentNu }

// posterior draws parameters given the readings.
func (l *logistic) posterior(t testing.TB, seed uint64) [][3]float64 {
	t.Helper()
	problem := bayes.Problem{Dim: 3, NewModel: func() bayes.Model {
		c := *l
		c.resid = nil
		return &c
	}}
	post, err := bayes.Condition(problem, seed, bayes.Options{Members: 1000, Workers: 1})
	if err != nil {
		t.Fatal(err)
	}
	var out [][3]float64
	for _, z := range bayes.Resample(post, 1000, newRand(seed)).Z {
		out = append(out, l.parameters(z))
	}
	return out
}

// wholeFit is the logistic with the most likely parameters for a whole record.
func wholeFit(t testing.TB, f *ferment) [3]float64 {
	t.Helper()
	wide := mat.NewSymDense(3, []float64{1, 0, 0, 0, 1, 0, 0, 0, 0.01})
	var hours, plato []float64
	for h := 0.0; h <= f.last() && h < f.chilledAt(); h += 6 {
		hours, plato = append(hours, h), append(plato, f.at(f.plato, h))
	}
	l := newLogistic(f.start(), hours, plato, [3]float64{math.Log(0.07), math.Log(60), 0.75}, wide)
	draws := l.posterior(t, 1)
	var mean [3]float64
	for _, d := range draws {
		for i := range mean {
			mean[i] += d[i] / float64(len(draws))
		}
	}
	return mean
}

// logisticPrior is the mean and covariance of whole fits, with a little of a broad prior.
func logisticPrior(fits [][3]float64) ([3]float64, *mat.SymDense) {
	var mean [3]float64
	n := float64(len(fits))
	for _, th := range fits {
		for i := range mean {
			mean[i] += th[i] / n
		}
	}
	broad := [3]float64{0.25, 0.16, 0.0016}
	cov := mat.NewSymDense(3, nil)
	for i := range 3 {
		for j := range i + 1 {
			var c float64
			for _, th := range fits {
				c += (th[i] - mean[i]) * (th[j] - mean[j])
			}
			if i == j {
				c += 2 * broad[i]
			}
			cov.SetSym(i, j, c/(n+1)*(1+1/n))
		}
	}
	return mean, cov
}
