package bayes_test

import (
	"math"
	"math/rand/v2"

	"spile/bayes"
)

// growthCurve is a saturating curve known from a few readings, with a wandering rate
// and an offset of the instrument: many unknowns, few data, strong curvature.
type growthCurve struct {
	dim   int
	times []float64
	y     []float64
	nu    float64
	sigma float64
}

func (m growthCurve) at(z []float64, t float64) float64 {
	start, limit := 50+z[0], 40+5*z[1]
	lag, rate := 0.6*math.Exp(0.5*z[2]), 1.1*math.Exp(0.4*z[3])
	progress, step := 0.0, 0.2
	for s := 0.0; s < t-step/2; s += step {
		wander := 0.0
		for k := 5; k < m.dim; k++ {
			wander += 0.3 / float64(k-4) * z[k] * math.Cos(float64(k-4)*math.Pi*s/7)
		}
		progress += step * rate * math.Exp(wander) * 0.5 * (1 + math.Tanh(4*(s-lag)))
	}
	return start - limit*(1-math.Exp(-progress)*(1+0.3*progress)) + z[4]
}

func (m growthCurve) Residuals(z, dst []float64) []float64 {
	dst = dst[:0]
	for i, t := range m.times {
		dst = append(dst, (m.at(z, t)-m.y[i])/m.sigma)
	}
	return dst
}

func (m growthCurve) Nu() float64 { return m.nu }

func (m growthCurve) LogLikelihood(z []float64) float64 {
	return residuals{m.nu, func(z []float64) []float64 { return m.Residuals(z, nil) }}.LogLikelihood(z)
}

// grown draws a truth from the prior and readings from it.
func grown(dim, readings int, rng *rand.Rand) (growthCurve, []float64) {
	m := growthCurve{dim: dim, nu: 4, sigma: 0.7}
	z := make([]float64, dim)
	for i := range z {
		z[i] = rng.NormFloat64()
	}
	for i := range readings {
		t := 7 * float64(i) / math.Max(1, float64(readings-1))
		chi := 0.0
		for range 4 {
			v := rng.NormFloat64()
			chi += v * v
		}
		m.times = append(m.times, t)
		m.y = append(m.y, m.at(z, t)+m.sigma*rng.NormFloat64()*math.Sqrt(4/chi))
	}
	return m, z
}

var _ bayes.ResidualModel = growthCurve{}
