package bayes

import (
	"math"

	"gonum.org/v1/gonum/optimize"

	"spile/matrix"
)

// plainSurface walks by quasi-Newton steps (BFGS) with slopes by differences, or by
// Nelder and Mead's simplex where those fail.
type plainSurface struct {
	pool *pool
	dim  int
	err  error // first failure inside the optimiser's callbacks, which cannot return one
}

func (s *plainSurface) values(zs [][]float64) ([]float64, error) {
	f := make([]float64, len(zs))
	if err := s.pool.logLik(zs, f); err != nil {
		return nil, err
	}
	for i, z := range zs {
		f[i] = halfSquare(z) - f[i]
	}
	return f, nil
}

func (s *plainSurface) descend(start []float64, near func([]float64) bool) (*mode, error) {
	problem := optimize.Problem{Func: s.at, Grad: s.slope}
	settings := &optimize.Settings{MajorIterations: 60, GradientThreshold: 1e-2}
	// A line search that cannot go on says so by an error, yet leaves a usable place.
	result, err := optimize.Minimize(problem, start, settings, &optimize.BFGS{})
	if s.err == nil && (err != nil || result == nil || !(result.F < math.Inf(1))) {
		from := start
		if result != nil && result.F < s.at(start) {
			from = result.X
		}
		settings = &optimize.Settings{FuncEvaluations: 40 * (s.dim + 1)}
		result, err = optimize.Minimize(optimize.Problem{Func: s.at}, from, settings, &optimize.NelderMead{})
	}
	if s.err != nil {
		return nil, s.err
	}
	if result == nil {
		return nil, err
	}
	if near(result.X) {
		return nil, nil
	}
	h, err := s.curvature(result.X, result.F)
	if err != nil {
		return nil, err
	}
	return newMode(result.X, result.F, h)
}

// at is f at one place for the optimiser, +Inf once anything failed.
func (s *plainSurface) at(z []float64) float64 {
	if s.err != nil {
		return math.Inf(1)
	}
	f, err := s.values([][]float64{z})
	if err != nil {
		s.err = err
		return math.Inf(1)
	}
	return f[0]
}

// plainStep is for central differences of f, in prior standard deviations.
const plainStep = 1e-3

func (s *plainSurface) slope(grad, z []float64) {
	zs := make([][]float64, 0, 2*s.dim)
	for j := range z {
		zs = append(zs, shifted(z, j, plainStep), shifted(z, j, -plainStep))
	}
	clear(grad)
	if s.err != nil {
		return
	}
	f, err := s.values(zs)
	if err != nil {
		s.err = err
		return
	}
	for j := range grad {
		if d := (f[2*j] - f[2*j+1]) / (2 * plainStep); !math.IsNaN(d) && !math.IsInf(d, 0) {
			grad[j] = d
		}
	}
}

// curvature of f by second differences over steps that raise f by about a quarter.
func (s *plainSurface) curvature(z []float64, f float64) (*matrix.Matrix, error) {
	step, err := s.quarterSteps(z, f)
	if err != nil {
		return nil, err
	}
	var zs [][]float64
	for a := range z {
		zs = append(zs, shifted(z, a, step[a]), shifted(z, a, -step[a]))
		for b := 0; b < a; b++ {
			zs = append(zs, shifted(shifted(z, a, step[a]), b, step[b]), shifted(shifted(z, a, -step[a]), b, -step[b]))
		}
	}
	v, err := s.values(zs)
	if err != nil {
		return nil, err
	}
	h := matrix.New(s.dim, s.dim)
	curve := make([]float64, s.dim) // f(+)+f(-)-2f along each axis
	next := 0
	for a := range z {
		curve[a] = v[next] + v[next+1] - 2*f
		next += 2
		h.Set(a, a, finiteOr(curve[a]/(step[a]*step[a]), 1))
		for b := 0; b < a; b++ {
			both := v[next] + v[next+1] - 2*f
			next += 2
			h.Set(b, a, finiteOr((both-curve[a]-curve[b])/(2*step[a]*step[b]), 0))
		}
	}
	h.Mirror()
	return h, nil
}

func finiteOr(v, otherwise float64) float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return otherwise
	}
	return v
}

// quarterSteps finds for each axis about how far f takes to rise by a quarter.
func (s *plainSurface) quarterSteps(z []float64, f float64) ([]float64, error) {
	const probe = 0.05
	zs := make([][]float64, s.dim)
	for j := range zs {
		zs[j] = shifted(z, j, probe)
	}
	v, err := s.values(zs)
	if err != nil {
		return nil, err
	}
	step := make([]float64, s.dim)
	for j := range step {
		rise := math.Max(math.Abs(v[j]-f), 1e-3)
		step[j] = math.Min(0.5, probe*math.Sqrt(0.25/rise))
	}
	return step, nil
}
