package calibration

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"spile/bayes"
	"spile/estimate"
	"spile/internal/ferment"
)

// logistic is the peer: the four-parameter decline of the published fermentation
// assay, P(t) = P0 - Pd + Pd/(1 + exp(B (t - M))), with a normal
// prior on (ln B, ln M, Pd/P0) learnt from the same other conditions.
//
// References: [Speers2003]
type logistic struct {
	start float64 // Plato
	hours []float64
	plato []float64
	prior curvePrior
	resid []float64
}

// curve is ln B, ln M and Pd/P0.
type curve [3]float64

// curvePrior is a mean and the lower root of a covariance.
type curvePrior struct {
	mean  curve
	lower mat.TriDense
}

const (
	platoScatter  = 0.12 // Plato, sd of a reading about the curve
	peerDraws     = 1000
	pointsToLimit = 0.9 // of the fall, for the time to 90 % attenuation
)

func (l *logistic) parameters(z []float64) curve {
	th := l.prior.mean
	for i := range th {
		for j := 0; j <= i; j++ {
			th[i] += l.prior.lower.At(i, j) * z[j]
		}
	}
	return th
}

func (l *logistic) value(th curve, h float64) float64 {
	b, m := math.Exp(th[0]), math.Exp(th[1])
	top := 1 / (1 + math.Exp(-b*m))
	fall := l.start * th[2]
	return l.start - fall + fall/(1+math.Exp(b*(h-m)))/top
}

// hourOf is when a share of the fall is behind, h.
func (l *logistic) hourOf(th curve, share float64) float64 {
	b, m := math.Exp(th[0]), math.Exp(th[1])
	top := 1 / (1 + math.Exp(-b*m))
	return m + math.Log(1/((1-share)*top)-1)/b
}

// Residuals of the readings under z.
func (l *logistic) Residuals(z, dst []float64) []float64 {
	th := l.parameters(z)
	dst = dst[:0]
	for i, h := range l.hours {
		dst = append(dst, (l.value(th, h)-l.plato[i])/platoScatter)
	}
	return dst
}

// LogLikelihood of z.
func (l *logistic) LogLikelihood(z []float64) float64 {
	var sum float64
	l.resid = l.Residuals(z, l.resid)
	for _, r := range l.resid {
		sum -= (estimate.ReadingTail + 1) / 2.0 * math.Log1p(r*r/estimate.ReadingTail)
	}
	return sum
}

// Nu is the tail of the errors.
func (l *logistic) Nu() float64 { return estimate.ReadingTail }

// draws are curves that the readings leave possible, equally likely.
func (l *logistic) draws(seed uint64) ([]curve, error) {
	problem := bayes.Problem{Dim: len(curve{}), NewModel: func() bayes.Model {
		c := *l
		c.resid = nil
		return &c
	}}
	post, err := bayes.Condition(problem, seed, bayes.Options{Members: peerDraws, Workers: 1})
	if err != nil {
		return nil, err
	}
	var out []curve
	for _, i := range bayes.Systematic(post.Weight, peerDraws, newRand(seed)) {
		out = append(out, l.parameters(post.Z[i]))
	}
	return out, nil
}

// wholeCurve is the mean curve of a whole record, up to its chilling.
func wholeCurve(f *ferment.Ferment) (curve, error) {
	var wide mat.Cholesky
	if !wide.Factorize(mat.NewSymDense(3, []float64{1, 0, 0, 0, 1, 0, 0, 0, 0.01})) {
		return curve{}, errNotPositive
	}
	l := logistic{start: f.Start(), prior: curvePrior{mean: curve{math.Log(0.07), math.Log(60), 0.75}}}
	wide.LTo(&l.prior.lower)
	for h := 0.0; h <= f.Last() && h < f.ChilledAt(); h += 6 {
		l.hours, l.plato = append(l.hours, h), append(l.plato, f.Extract(h))
	}
	draws, err := l.draws(1)
	if err != nil {
		return curve{}, err
	}
	var mean curve
	for _, d := range draws {
		for i := range mean {
			mean[i] += d[i] / float64(len(draws))
		}
	}
	return mean, nil
}

// pooled is the mean and spread of whole curves, with a little of a broad prior.
func pooled(fits []curve) (curvePrior, error) {
	var p curvePrior
	n := float64(len(fits))
	for _, th := range fits {
		for i := range p.mean {
			p.mean[i] += th[i] / n
		}
	}
	broad := curve{0.25, 0.16, 0.0016}
	cov := mat.NewSymDense(3, nil)
	for i := range 3 {
		for j := range i + 1 {
			var c float64
			for _, th := range fits {
				c += (th[i] - p.mean[i]) * (th[j] - p.mean[j])
			}
			if i == j {
				c += 2 * broad[i]
			}
			cov.SetSym(i, j, c/(n+1)*(1+1/n))
		}
	}
	var root mat.Cholesky
	if !root.Factorize(cov) {
		return p, errNotPositive
	}
	root.LTo(&p.lower)
	return p, nil
}
