package bayes

import (
	"math"
	"math/rand/v2"

	"spile/portable"
)

// mixture is a density made of components, each with a share; one for each goroutine.
type mixture struct {
	parts    []*density
	share    []float64
	logShare []float64
	basis    []int // the first part with the same centre and axes
	along    [][]float64
	log      []float64 // of the place asked for last, by part
	total    float64   // the same, of all
}

func newMixture(parts []*component, share []float64) *mixture {
	m := &mixture{share: append([]float64(nil), share...), log: make([]float64, len(parts))}
	normalise(m.share)
	for k, c := range parts {
		m.parts, m.along = append(m.parts, c.density()), append(m.along, make([]float64, len(c.centre)))
		m.logShare, m.basis = append(m.logShare, math.Log(m.share[k])), append(m.basis, k)
		for j, other := range parts[:k] {
			if c.axes == other.axes && &c.centre[0] == &other.centre[0] {
				m.basis[k] = j
				break
			}
		}
	}
	return m
}

// another of the same, for another goroutine.
func (m *mixture) another() *mixture {
	parts := make([]*component, len(m.parts))
	for k, d := range m.parts {
		parts[k] = d.component
	}
	return newMixture(parts, m.share)
}

// logDensity at z.
func (m *mixture) logDensity(z []float64) float64 {
	top := math.Inf(-1)
	for k, d := range m.parts {
		along := m.along[m.basis[k]]
		if m.basis[k] == k {
			d.project(z, along)
		}
		m.log[k] = m.logShare[k] + d.logAlong(along)
		top = math.Max(top, m.log[k])
	}
	sum := 0.0
	for _, v := range m.log {
		sum += portable.Exp(v - top)
	}
	m.total = top + math.Log(sum)
	return m.total
}

// slope writes how logDensity rises along z, at the place that it was asked for last.
func (m *mixture) slope(out []float64) {
	clear(out)
	for k, d := range m.parts {
		d.addSlope(m.along[m.basis[k]], portable.Exp(m.log[k]-m.total), out)
	}
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
