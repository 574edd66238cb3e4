package bayes

import (
	"math"
	"math/rand/v2"
	"sort"

	"spile/matrix"
)

// mode is a local minimum of f = z'z/2 - log likelihood, and the shape of f there.
type mode struct {
	z []float64
	f float64
	// axes are the eigenvectors of the curvature in rows, precision its eigenvalues.
	axes      *matrix.Matrix
	precision []float64
}

// surface is f as the search for modes sees it.
type surface interface {
	// values of f at many points; +Inf where the model cannot run.
	values(zs [][]float64) ([]float64, error)
	// descend walks down from z, where f is finite. It stops early and returns nil
	// when near says that the place is known already.
	descend(z []float64, near func([]float64) bool) (*mode, error)
}

// newSurface picks the cheapest way down that the model allows.
func newSurface(p *pool, dim int) surface {
	if rm, ok := p.models[0].(ResidualModel); ok {
		return &residualSurface{pool: p, dim: dim, nu: rm.Nu()}
	}
	return &plainSurface{pool: p, dim: dim}
}

const (
	// scouts are prior draws among which further starts are chosen.
	scouts = 60
	// extraStarts are walks besides the one from the prior mean and those that were asked for.
	extraStarts = 2
	// modeDepth is how much lower in log density a second mode may lie and still be kept.
	modeDepth = 15
)

// findModes returns the distinct modes found, the best first. The first walk starts
// from the prior mean, or the best scout where the model cannot run there; the next ones
// from the starts that were asked for; each further one from the scout that the modes so
// far explain worst.
func findModes(p *pool, dim int, starts [][]float64, rng *rand.Rand) ([]*mode, error) {
	s := newSurface(p, dim)
	zs := normals(scouts+1, dim, rng)
	clear(zs[0])
	zs = append(zs, starts...)
	f, err := s.values(zs)
	if err != nil {
		return nil, err
	}
	var modes []*mode
	for walk := 0; walk <= len(starts)+extraStarts; walk++ {
		from := nextStart(zs[:scouts+1], f, modes)
		if asked := scouts + walk; walk > 0 && walk <= len(starts) && !math.IsInf(f[asked], 1) {
			from = asked
		}
		if from < 0 {
			break
		}
		m, err := s.descend(zs[from], func(z []float64) bool { return anyNear(modes, z) })
		if err != nil {
			return nil, err
		}
		f[from] = math.Inf(1)
		if m != nil && !anyNear(modes, m.z) {
			modes = append(modes, m)
		}
	}
	if len(modes) == 0 {
		return nil, ErrImpossible
	}
	sort.SliceStable(modes, func(i, j int) bool { return modes[i].f < modes[j].f })
	for len(modes) > 1 && modes[len(modes)-1].f > modes[0].f+modeDepth {
		modes = modes[:len(modes)-1]
	}
	return modes, nil
}

// nextStart is the index of the point with the most posterior density against what
// the known modes lead one to expect; -1 when none is left.
func nextStart(zs [][]float64, f []float64, modes []*mode) int {
	if len(modes) == 0 && !math.IsInf(f[0], 1) {
		return 0
	}
	best, least := -1, math.Inf(1)
	for i, z := range zs {
		surprise := math.Inf(-1)
		if len(modes) == 0 {
			surprise = f[i]
		}
		for _, m := range modes {
			surprise = math.Max(surprise, f[i]-m.f-m.distance2(z)/2)
		}
		if !math.IsInf(f[i], 1) && surprise < least {
			best, least = i, surprise
		}
	}
	return best
}

// normals draws n points of the prior as antithetic pairs, which takes odd moments' noise out.
func normals(n, dim int, rng *rand.Rand) [][]float64 {
	flat := make([]float64, n*dim)
	zs := make([][]float64, n)
	for i := range zs {
		zs[i] = flat[i*dim : (i+1)*dim : (i+1)*dim]
		for j := range zs[i] {
			if i%2 == 0 {
				zs[i][j] = rng.NormFloat64()
			} else {
				zs[i][j] = -zs[i-1][j]
			}
		}
	}
	return zs
}

// anyNear tells whether z lies within three standard deviations of a known mode.
func anyNear(modes []*mode, z []float64) bool {
	for _, m := range modes {
		if m.distance2(z) < 9 {
			return true
		}
	}
	return false
}

// distance2 is the squared distance of z from the mode in the metric of its curvature.
func (m *mode) distance2(z []float64) float64 {
	s := 0.0
	for k, p := range m.precision {
		u := 0.0
		for i, v := range m.axes.Row(k) {
			u += v * (z[i] - m.z[i])
		}
		s += p * u * u
	}
	return s
}

// leastPrecision keeps a direction where the likelihood curves the wrong way from
// giving a proposal much wider than the prior.
const leastPrecision = 0.25

// newMode takes the eigenvectors of the curvature h, largest precision first.
func newMode(z []float64, f float64, h *matrix.Matrix) (*mode, error) {
	values, axes, err := matrix.Eigen(h)
	if err != nil {
		return nil, err
	}
	for i := range values {
		values[i] = math.Max(values[i], leastPrecision)
	}
	return &mode{z: append([]float64(nil), z...), f: f, axes: axes, precision: values}, nil
}
