package bayes

import (
	"math"
	"math/rand/v2"

	"spile/matrix"
)

// component is one part of a proposal: along its axes a Student t where the data
// inform and a normal where the prior rules, for there the posterior's tails cannot
// be heavier than the prior's. Each axis may be wider on one side than on the other.
//
// References: [Geweke1989] for the split t.
type component struct {
	centre      []float64
	axes        *matrix.Matrix // orthonormal rows; nil for the unit axes
	plus, minus []float64      // scale on either side
	heavy       int            // the first so many axes share one t
}

// proposalNu is the degrees of freedom of the heavy axes.
const proposalNu = 6

// informed is the least precision, against the prior's 1, at which the data are said
// to inform an axis.
const informed = 1.1

// overWide is by how much a proposal at a mode exceeds the curvature's scale on the
// informed axes: on curved problems too narrow costs truth, too wide a few draws.
const overWide = 1.25

// priorComponent is the prior itself.
func priorComponent(dim int) *component {
	one := make([]float64, dim)
	for i := range one {
		one[i] = 1
	}
	return &component{centre: make([]float64, dim), plus: one, minus: one}
}

// laplaceComponent is shaped by the curvature at a mode.
func laplaceComponent(m *mode) *component {
	n := len(m.z)
	c := &component{centre: m.z, axes: m.axes, plus: make([]float64, n), minus: make([]float64, n)}
	for k, p := range m.precision {
		c.plus[k] = 1 / math.Sqrt(p)
		if p > informed {
			c.heavy = k + 1
		}
	}
	for k := range c.heavy {
		c.plus[k] *= overWide
	}
	copy(c.minus, c.plus)
	return c
}

// momentComponent has the given mean and covariance.
func momentComponent(mean []float64, cov *matrix.Matrix) (*component, error) {
	variance, axes, err := matrix.Eigen(cov)
	if err != nil {
		return nil, err
	}
	n := len(mean)
	c := &component{centre: mean, axes: matrix.New(n, n), plus: make([]float64, n)}
	for k := range variance { // smallest variance first, so that the informed axes lead
		from := n - 1 - k
		copy(c.axes.Row(k), axes.Row(from))
		v := math.Max(variance[from], 1e-12)
		c.plus[k] = math.Sqrt(v)
		if v < 1/informed {
			c.heavy = k + 1
		}
	}
	c.minus = c.plus
	return c, nil
}

// probes are the distances, in scales, at which widen looks.
var probes = [...]float64{1, 2.5}

// widen measures f on either side of each axis and widens the scale where f rises less
// than a parabola would. A side where f rises more is left as it is: too wide costs
// draws, too narrow costs truth. So is an axis that the data do not inform given at
// least the prior's width.
func (c *component) widen(s surface, f0 float64) error {
	var zs [][]float64
	for _, far := range probes {
		for k := range c.plus {
			zs = append(zs, c.along(k, far*c.plus[k]), c.along(k, -far*c.minus[k]))
		}
	}
	f, err := s.values(zs)
	if err != nil {
		return err
	}
	for k := range c.plus {
		plus, minus := 1.0, 1.0
		for i, far := range probes {
			at := 2 * (i*len(c.plus) + k)
			plus, minus = math.Max(plus, widening(f[at]-f0, far)), math.Max(minus, widening(f[at+1]-f0, far))
		}
		c.plus[k], c.minus[k] = c.plus[k]*plus, c.minus[k]*minus
		if k >= c.heavy {
			c.plus[k], c.minus[k] = math.Max(c.plus[k], 1), math.Max(c.minus[k], 1)
		}
	}
	return nil
}

// wider is c with its informed axes as many times as wide.
func (c *component) wider(times float64) *component {
	w := *c
	w.plus, w.minus = append([]float64(nil), c.plus...), append([]float64(nil), c.minus...)
	for k := range w.heavy {
		w.plus[k], w.minus[k] = times*w.plus[k], times*w.minus[k]
	}
	return &w
}

// widening is the factor for a rise of f over so many scales; a parabola rises by half
// the square of their number.
func widening(rise, far float64) float64 {
	const most = 2.5
	if rise <= 0 {
		return most
	}
	return math.Min(most, far/math.Sqrt(2*rise))
}

// along is the point a distance from the centre along axis k.
func (c *component) along(k int, distance float64) []float64 {
	z := append([]float64(nil), c.centre...)
	matrix.AddScaled(z, distance, c.axes.Row(k))
	return z
}

// draw n points as antithetic pairs.
func (c *component) draw(n int, rng *rand.Rand) [][]float64 {
	zs := normals(n, len(c.centre), rng)
	eta := make([]float64, len(c.centre))
	d := c.density()
	stretch := 1.0
	for i, z := range zs {
		if i%2 == 0 {
			stretch = math.Sqrt(proposalNu / chiSquare(proposalNu, rng))
		}
		copy(eta, z)
		for k := range eta {
			if k < c.heavy {
				eta[k] *= stretch
			}
		}
		d.place(eta, z)
	}
	return zs
}

// scale of axis k on the side of a coordinate.
func (c *component) scale(k int, eta float64) float64 {
	if eta > 0 {
		return c.plus[k]
	}
	return c.minus[k]
}

// chiSquare draws from the chi-square with n degrees of freedom, n small.
func chiSquare(n int, rng *rand.Rand) float64 {
	s := 0.0
	for range n {
		v := rng.NormFloat64()
		s += v * v
	}
	return s
}
