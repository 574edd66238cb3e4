package bayes

import (
	"math"
	"math/rand/v2"
)

// mixture is a density made of components, each with a share.
type mixture struct {
	parts []*component
	share []float64
	eta   []float64
}

func newMixture(parts []*component, share []float64) *mixture {
	share = append([]float64(nil), share...)
	normalise(share)
	return &mixture{parts: parts, share: share, eta: make([]float64, len(parts[0].centre))}
}

// logDensity at z.
func (m *mixture) logDensity(z []float64) float64 {
	sum := math.Inf(-1)
	for k, c := range m.parts {
		sum = logAdd(sum, math.Log(m.share[k])+c.logDensity(z, m.eta))
	}
	return sum
}

// draw n points, each part its share of them to the nearest whole pair.
func (m *mixture) draw(n int, rng *rand.Rand) [][]float64 {
	zs := make([][]float64, 0, n+len(m.parts))
	cum := 0.0
	for k, c := range m.parts {
		cum += m.share[k]
		zs = append(zs, c.draw(int(math.Round(cum*float64(n)))-len(zs), rng)...)
	}
	return zs
}

// turn takes z some of the way, b, toward a fresh draw of c, which leaves c invariant, and
// returns with the place the log ratio of c's densities, from z to there.
//
// References: [Rudolf2018] for the turn under a normal; a t is a normal given its
// scale, which is drawn first.
func (c *component) turn(z, eta []float64, b float64, rng *rand.Rand) ([]float64, float64) {
	before := c.logDensity(z, eta)
	stretch := 1.0
	if c.heavy > 0 { // scale given place: (nu + |eta|^2) / chi-square with nu + heavy degrees of freedom
		stretch = math.Sqrt((proposalNu + 2*halfSquare(eta[:c.heavy])) / chiSquare(proposalNu+c.heavy, rng))
	}
	keep := math.Sqrt(1 - b*b)
	for k := range eta {
		new := b * rng.NormFloat64()
		if k < c.heavy {
			new *= stretch
		}
		eta[k] = keep*eta[k] + new
	}
	after := c.logAt(eta)
	for k := range eta {
		eta[k] *= c.scale(k, eta[k])
	}
	to := make([]float64, len(z))
	c.place(eta, to)
	return to, before - after
}
