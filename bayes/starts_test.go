package bayes_test

import (
	"math"
	"testing"

	"spile/bayes"
)

// A narrow explanation far out is missed from the prior mean, where a worse one lies, and
// found from a start that was asked for. With phi the standard normal density, the integral of
// phi(z) exp(-(z-m)^2/2s^2) is s/sqrt(1+s^2) exp(-m^2/(2(1+s^2))), textbook Gaussian algebra.
func TestStarts(t *testing.T) {
	const far, narrow, near, wide, worse = 4, 0.05, -0.5, 0.3, 20
	term := func(z, m, s float64) float64 { return -(z - m) * (z - m) / (2 * s * s) }
	model := plain(func(z []float64) float64 {
		return math.Log(math.Exp(term(z[0], far, narrow)) + math.Exp(term(z[0], near, wide)-worse) + 1e-300)
	})
	evidence := func(m, s float64) float64 { return math.Log(s/math.Hypot(1, s)) - m*m/(2*(1+s*s)) }
	p := bayes.Problem{Dim: 1, NewModel: func() bayes.Model { return model }}
	for _, c := range []struct {
		what   string
		starts [][]float64
		want   float64
	}{
		{"from the prior mean", nil, evidence(near, wide) - worse},
		{"from a start beside it", [][]float64{{far + 0.2}}, evidence(far, narrow)},
	} {
		p.Starts = c.starts
		post, err := bayes.Condition(p, 1, bayes.Options{Workers: 2})
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(post.LogEvidence-c.want) > 0.1 {
			t.Errorf("%s: log evidence %.2f, expected %.2f", c.what, post.LogEvidence, c.want)
		}
	}
}
