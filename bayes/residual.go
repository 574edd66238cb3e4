package bayes

import (
	"fmt"
	"math"
	"slices"

	"spile/matrix"
)

// residualSurface walks by Gauss-Newton steps with Levenberg's damping. Student-t
// errors enter as iteratively reweighted least squares: the weight (nu+1)/(nu+r^2)
// gives a parabola above the t's log density, so that an undamped step still descends.
//
// References: [Nocedal2006] chapter 10, [Lange1989] for the weights.
type residualSurface struct {
	pool *pool
	dim  int
	nu   float64
}

// residuals at many points, each in its own slice.
func (s *residualSurface) residuals(zs [][]float64) ([][]float64, error) {
	out := make([][]float64, len(zs))
	err := s.pool.each(len(zs), func(w, i int) {
		out[i] = s.pool.models[w].(ResidualModel).Residuals(zs[i], nil)
	})
	for _, r := range out {
		if err == nil && len(r) != len(out[0]) {
			err = fmt.Errorf("bayes: the number of residuals changes with z: %d and %d", len(out[0]), len(r))
		}
	}
	return out, err
}

func (s *residualSurface) values(zs [][]float64) ([]float64, error) {
	rs, err := s.residuals(zs)
	if err != nil {
		return nil, err
	}
	f := make([]float64, len(zs))
	for i := range zs {
		f[i] = s.f(zs[i], rs[i])
	}
	return f, nil
}

// f is minus the log posterior, from the residuals; +Inf where they are not finite.
func (s *residualSurface) f(z, r []float64) float64 {
	return halfSquare(z) - studentLogLik(r, s.nu)
}

// weight is the reweighting factor of a residual.
func (s *residualSurface) weight(r float64) float64 {
	if math.IsInf(s.nu, 1) {
		return 1
	}
	return (s.nu + 1) / (s.nu + r*r)
}

// curve is the second derivative of the residual's term, not less than 0.
func (s *residualSurface) curve(r float64) float64 {
	if math.IsInf(s.nu, 1) {
		return 1
	}
	q := s.nu + r*r
	return math.Max(0, (s.nu+1)*(s.nu-r*r)/(q*q))
}

const (
	maxSteps = 25
	// enough is the drop of f still promised at which a walk ends, in natural log units.
	enough = 1e-3
	// slopeStep is the step for slopes, in prior standard deviations: wide enough to
	// step over the noise of an adaptive integrator inside the model.
	slopeStep = 0.02
)

func (s *residualSurface) descend(start []float64, near func([]float64) bool) (*mode, error) {
	z := append([]float64(nil), start...)
	rs, err := s.residuals([][]float64{z})
	if err != nil {
		return nil, err
	}
	r, f, damp := rs[0], s.f(z, rs[0]), 1e-3
	for step := 0; ; step++ {
		if near(z) {
			return nil, nil
		}
		jac, err := s.slopes(z, r)
		if err != nil {
			return nil, err
		}
		g, h := normalEquations(z, jac, r, s.weight)
		next, err := s.damped(z, f, g, h, &damp)
		if err != nil {
			return nil, err
		}
		if next == nil || step == maxSteps {
			_, h = normalEquations(z, jac, r, s.curve)
			return newMode(z, f, h)
		}
		z, r, f = next.z, next.r, next.f
	}
}

// trial is a point tried and what was found there.
type trial struct {
	z, r []float64
	f    float64
}

// damped tries steps with rising damping and returns the first place that is lower,
// or nil when there is none or the drop in prospect is too small to matter.
func (s *residualSurface) damped(z []float64, f float64, g []float64, h *matrix.Matrix, damp *float64) (*trial, error) {
	for try := 0; try < 6; try++ {
		var zs [][]float64
		for _, d := range []float64{*damp, *damp * 10} {
			if to, promise := levenbergStep(z, g, h, d); promise > enough {
				zs = append(zs, to)
			}
		}
		if len(zs) == 0 {
			return nil, nil
		}
		rs, err := s.residuals(zs)
		if err != nil {
			return nil, err
		}
		best := trial{f: f}
		for i := range zs {
			if v := s.f(zs[i], rs[i]); v < best.f {
				best = trial{zs[i], rs[i], v}
			}
		}
		if best.z != nil {
			*damp = math.Max(*damp/10, 1e-6)
			return &best, nil
		}
		*damp *= 100
	}
	return nil, nil
}

// longestStep in any one unknown, in prior standard deviations.
const longestStep = 2.5

// levenbergStep solves (H + d diag H) step = -g and returns where it leads and half
// the drop of f along the slope, which is what the quadratic model promises.
func levenbergStep(z, g []float64, h *matrix.Matrix, d float64) ([]float64, float64) {
	n := len(z)
	a := h.Clone()
	for i := 0; i < n; i++ {
		a.Set(i, i, h.At(i, i)*(1+d))
	}
	chol, ok := matrix.NewCholesky(a)
	if !ok {
		return nil, 0 // so ill-conditioned that a step means nothing; more damping follows
	}
	step := chol.SolveVec(g)
	longest := math.Max(slices.Max(step), -slices.Min(step))
	scale := math.Min(1, longestStep/longest)
	to, promise := make([]float64, n), 0.0
	for i := range to {
		to[i] = z[i] - scale*step[i]
		promise += scale * step[i] * g[i] / 2
	}
	return to, promise
}

// slopes of the residuals, one slice for each unknown, by one-sided differences
// toward the prior mean; away from it where the model cannot run there.
func (s *residualSurface) slopes(z, r []float64) ([][]float64, error) {
	zs := make([][]float64, s.dim)
	h := make([]float64, s.dim)
	for j := range zs {
		h[j] = -math.Copysign(slopeStep, z[j])
		zs[j] = shifted(z, j, h[j])
	}
	rs, err := s.residuals(zs)
	if err != nil {
		return nil, err
	}
	for j := range rs {
		if math.IsInf(s.f(zs[j], rs[j]), 1) {
			h[j] = -h[j]
			again, err := s.residuals([][]float64{shifted(z, j, h[j])})
			if err != nil {
				return nil, err
			}
			rs[j] = again[0]
		}
		slope(rs[j], r, h[j])
	}
	return rs, nil
}

func shifted(z []float64, j int, by float64) []float64 {
	to := append([]float64(nil), z...)
	to[j] += by
	return to
}

// slope turns values into slopes; a slope that cannot be had is taken as none, and
// the proposal keeps the prior's width there.
func slope(r, base []float64, h float64) {
	for i := range r {
		r[i] = (r[i] - base[i]) / h
		if math.IsNaN(r[i]) || math.IsInf(r[i], 0) {
			r[i] = 0
		}
	}
}

// normalEquations returns the slope of f and its Gauss-Newton curvature, the prior's
// included, with each residual weighted.
func normalEquations(z []float64, jac [][]float64, r []float64, weight func(float64) float64) ([]float64, *matrix.Matrix) {
	n := len(z)
	g := append([]float64(nil), z...)
	h := matrix.New(n, n)
	w := make([]float64, len(r))
	for i := range r {
		w[i] = weight(r[i])
	}
	for a := 0; a < n; a++ {
		for i := range r {
			g[a] += jac[a][i] * w[i] * r[i]
		}
		for b := a; b < n; b++ {
			sum := 0.0
			for i := range r {
				sum += jac[a][i] * w[i] * jac[b][i]
			}
			if a == b {
				sum++
			}
			h.Set(a, b, sum)
		}
	}
	h.Mirror()
	return g, h
}
