package bayes

import (
	"math"
	"math/rand/v2"
	"testing"

	"spile/matrix"
)

// checkSlope holds a slope against central differences.
func checkSlope(t *testing.T, what string, at []float64, f func([]float64) float64, slope func([]float64) []float64) {
	t.Helper()
	got := append([]float64(nil), slope(at)...)
	for i := range at {
		const h = 1e-5
		want := (f(shifted(at, i, h)) - f(shifted(at, i, -h))) / (2 * h)
		if math.Abs(got[i]-want) > 1e-5*(1+math.Abs(want)) {
			t.Errorf("%s at %.2f along %d: expected %.8g, got %.8g, tolerance 1e-5", what, at, i, want, got[i])
		}
	}
}

// The slopes that glides follow are those of the densities: of a mixture with a heavy and lopsided part, and of a surrogate.
func TestSlopes(t *testing.T) {
	const dim = 3
	rng := rand.New(rand.NewPCG(8, 8))
	cov := &matrix.Matrix{Rows: dim, Columns: dim, Data: []float64{0.5, 0.3, 0.1, 0.3, 0.4, 0, 0.1, 0, 2}}
	part, err := momentComponent([]float64{0.5, -1, 0.2}, cov)
	if err != nil {
		t.Fatal(err)
	}
	part.minus = []float64{0.4, 1, 2}
	m := newMixture([]*component{priorComponent(dim), part}, []float64{0.3, 0.7})
	frame, err := momentComponent([]float64{0.1, 0, -0.1}, cov)
	if err != nil {
		t.Fatal(err)
	}
	for _, nu := range []float64{5, math.Inf(1)} {
		var ds []draw
		for _, z := range normals(300, dim, rng) {
			r := []float64{z[0] + z[1]*z[1], 3*z[1] - z[0]*z[2], z[2] + 0.5*z[0]*z[0], z[0] - z[1]}
			ds = append(ds, draw{z: z, residuals: r, logLik: studentLogLik(r, nu)})
		}
		s := learn(ds, 0, frame, nu, nil, 1)
		if s == nil {
			t.Fatal("nothing was learnt")
		}
		w := s.scratch()
		for range 20 {
			at := []float64{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()}
			checkSlope(t, "mixture", at, m.logDensity, func(z []float64) []float64 {
				m.logDensity(z)
				out := make([]float64, dim)
				m.slope(out)
				return out
			})
			checkSlope(t, "surrogate", at, func(eta []float64) float64 { s.residuals(eta, w); return s.logLik(w) }, func(eta []float64) []float64 {
				s.residuals(eta, w)
				return s.slope(eta, w)
			})
		}
	}
}

// What a step learns from is near that step: early on the bridge nearly all of the prior, at its end the posterior's
// surroundings alone.
func TestLearningIsNearTheStep(t *testing.T) {
	const dim, sharp = 3, 30.0
	m := newMixture([]*component{priorComponent(dim)}, []float64{1})
	var ds []draw
	for _, z := range normals(500, dim, rand.New(rand.NewPCG(9, 9))) {
		d := draw{z: z, logLik: -sharp * sharp * halfSquare(z)}
		if err := d.against(m); err != nil {
			t.Fatal(err)
		}
		ds = append(ds, d)
	}
	for _, c := range []struct {
		beta        float64
		least, most int
	}{{0, 480, 500}, {1 / (sharp * sharp), 450, 500}, {1, 1, 25}} {
		if got := len(training(ds, c.beta)); got < c.least || got > c.most {
			t.Errorf("at %.3f of the bridge it learns from %d of 500 draws, want %d to %d", c.beta, got, c.least, c.most)
		}
	}
}

// Among six unknowns that all speak linearly one direction bends: that one is found, in whatever frame, and followed to the third degree.
func TestBendsAreFound(t *testing.T) {
	const dim = 6
	rng := rand.New(rand.NewPCG(10, 10))
	bend := []float64{0.5, -0.5, 0.1, 0, 0.7, 0}
	residuals := func(z []float64) []float64 {
		u := 0.0
		for i, v := range z {
			u += bend[i] * v
		}
		return []float64{z[0] + u*u - 0.5*u*u*u, z[1] - z[2], z[3] + 2*z[4], z[5] - 0.7*u*u}
	}
	var ds []draw
	for _, z := range normals(600, dim, rng) {
		r := residuals(z)
		ds = append(ds, draw{z: z, residuals: r, logLik: studentLogLik(r, 5)})
	}
	frames := make([]*component, 2)
	for i := range frames {
		cov := matrix.New(dim, dim)
		for k := range dim {
			next := (k + 1) % dim
			cov.Set(k, k, 0.5+0.2*float64(k*i))
			cov.Set(k, next, 0.2)
			cov.Set(next, k, 0.2)
		}
		var err error
		if frames[i], err = momentComponent(make([]float64, dim), cov); err != nil {
			t.Fatal(err)
		}
	}
	first := learn(ds, 0, frames[0], 5, nil, 1)
	for name, s := range map[string]*surrogate{"found": first, "carried over": learn(ds, 0, frames[1], 5, first, 2), "found anew": learn(ds, 0, frames[1], 5, nil, 1)} {
		if got := len(s.bends) / dim; got != 1 {
			t.Errorf("%s: expected 1 bend, got %d", name, got)
		}
		w, d, eta := s.scratch(), s.frame.density(), make([]float64, dim)
		for _, z := range normals(50, dim, rng) {
			d.standard(z, eta)
			s.residuals(eta, w)
			want, got := studentLogLik(residuals(z), 5), s.logLik(w)
			if math.Abs(got-want) > 0.02 {
				t.Errorf("%s: at %.2f expected a log likelihood of %.3f, got %.3f, tolerance 0.02", name, z, want, got)
			}
		}
	}
}
