package bayes

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// surrogate is a cheap stand-in for the likelihood of a [ResidualModel]: each principal
// direction of the residuals as a second-degree polynomial of the unknowns. It only
// proposes; what it gets wrong costs acceptance, never truth.
type surrogate struct {
	frame *component // in whose standard coordinates the polynomial is written
	nu    float64
	mean  []float64
	basis []float64 // residual by direction, row after row
	coef  []float64 // direction by feature, row after row
	// the transposes, for slopes
	across, down []float64
	dirs         int
	pairs        [][2]int // coordinates whose products are features
}

const (
	// stiff is what a second-degree term is held back by, in draws: each term starts from none.
	stiff = 0.1
	// leastDirection is the variance of the residuals, in their standard errors squared, that a
	// direction must have to be followed.
	leastDirection = 1e-3
	// leastProduct is the square, in standard errors, by which a product of two coordinates must move the residuals to be kept.
	leastProduct = 1e-2
	// mostTraining draws are learnt from, the last ones.
	mostTraining = 1500
)

// learn a surrogate for the step of the bridge at beta from draws; nil when there is nothing to learn from.
func learn(ds []draw, beta float64, frame *component, nu float64) *surrogate {
	near := training(ds, beta)
	if len(near) < 4*(len(frame.centre)+1) || len(near[0].residuals) == 0 {
		return nil
	}
	s := &surrogate{frame: frame, nu: nu, pairs: allPairs(len(frame.centre))}
	scores := s.directions(near)
	if s.dirs == 0 || !s.regress(near, scores) {
		return nil
	}
	return s
}

// training draws are those whose density is not far below the best: that of the step, for early on the bridge hardly any
// place is near the posterior.
func training(ds []draw, beta float64) []draw {
	best := math.Inf(-1)
	for i := range ds {
		best = math.Max(best, ds[i].bridged(beta))
	}
	var near []draw
	for i := len(ds) - 1; i >= 0 && len(near) < mostTraining; i-- {
		if ds[i].bridged(beta) > best-float64(len(ds[i].z))-10 {
			near = append(near, ds[i])
		}
	}
	return near
}

// directions finds the principal directions of the residuals, and returns each draw's scores along them.
func (s *surrogate) directions(ds []draw) *mat.Dense {
	m := len(ds[0].residuals)
	rs := make([][]float64, len(ds))
	for i := range ds {
		rs[i] = ds[i].residuals
	}
	mean, cov := moments(rs, equalWeights(len(ds)))
	axes, variance, err := eigen(cov)
	if err != nil {
		return nil
	}
	for s.dirs < m && variance[s.dirs] > leastDirection {
		s.dirs++
	}
	if s.dirs == 0 {
		return nil
	}
	s.mean, s.basis = mean, make([]float64, m*s.dirs)
	for i := range m {
		for k := range s.dirs {
			s.basis[i*s.dirs+k] = axes.At(i, k)
		}
	}
	scores := mat.NewDense(len(ds), s.dirs, nil)
	for i, r := range rs {
		row := scores.RawRowView(i)
		for j, v := range r {
			for k := range row {
				row[k] += (v - mean[j]) * s.basis[j*s.dirs+k]
			}
		}
	}
	return scores
}

// regress the scores on the features by least squares.
func (s *surrogate) regress(ds []draw, scores *mat.Dense) bool {
	dim := len(s.frame.centre)
	n := 1 + dim + len(s.pairs)
	x := mat.NewDense(len(ds), n, nil)
	eta, d := make([]float64, dim), s.frame.density()
	for i := range ds {
		d.standard(ds[i].z, eta)
		s.features(eta, x.RawRowView(i))
	}
	gram := mat.NewSymDense(n, nil)
	gram.SymOuterK(1, x.T())
	for k := range n {
		ridge := stiff
		if k <= dim {
			ridge = 1e-6
		}
		gram.SetSym(k, k, gram.At(k, k)+ridge)
	}
	var chol mat.Cholesky
	if !chol.Factorize(gram) {
		return false
	}
	var right, coef mat.Dense
	right.Mul(x.T(), scores)
	if err := chol.SolveTo(&coef, &right); err != nil {
		return false
	}
	s.prune(coef.RawMatrix().Data)
	return true
}

// prune leaves out the products that hardly move the residuals, and keeps the other coefficients, given feature by direction.
func (s *surrogate) prune(coef []float64) {
	linear := 1 + len(s.frame.centre)
	kept := s.pairs[:0:0]
	rows := append([]float64(nil), coef[:linear*s.dirs]...)
	for i, pair := range s.pairs {
		row := coef[(linear+i)*s.dirs : (linear+i+1)*s.dirs]
		if 2*halfSquare(row) > leastProduct {
			kept, rows = append(kept, pair), append(rows, row...)
		}
	}
	s.pairs, s.coef, s.down = kept, transposed(rows, s.dirs), rows
	s.across = transposed(s.basis, s.dirs)
}

// allPairs of so many coordinates, each with itself too.
func allPairs(dim int) [][2]int {
	var out [][2]int
	for i := range dim {
		for j := i; j < dim; j++ {
			out = append(out, [2]int{i, j})
		}
	}
	return out
}

// features of a place in standard coordinates: one, the coordinates, their products.
func (s *surrogate) features(eta, out []float64) {
	out[0] = 1
	copy(out[1:], eta)
	products := out[1+len(eta):]
	for i, p := range s.pairs {
		products[i] = eta[p[0]] * eta[p[1]]
	}
}

// scratch is workspace for one goroutine.
type scratch struct{ features, scores, residuals []float64 }

func (s *surrogate) scratch() *scratch {
	return &scratch{make([]float64, 1+len(s.frame.centre)+len(s.pairs)), make([]float64, s.dirs), make([]float64, len(s.mean))}
}

// slope is how logLik rises along each standard coordinate, at the place that it was asked for last.
func (s *surrogate) slope(eta []float64, w *scratch) []float64 {
	for i, r := range w.residuals {
		w.residuals[i] = -r
		if !math.IsInf(s.nu, 1) {
			w.residuals[i] = -(s.nu + 1) * r / (s.nu + float64(r*r))
		}
	}
	timesVec(s.across, w.residuals, w.scores)
	timesVec(s.down, w.scores, w.features)
	rise, products := w.features[1:1+len(eta)], w.features[1+len(eta):]
	for i, p := range s.pairs {
		rise[p[0]] += float64(products[i] * eta[p[1]])
		rise[p[1]] += float64(products[i] * eta[p[0]])
	}
	return rise
}

// logLik is about what the model would say at a place in standard coordinates of the frame.
func (s *surrogate) logLik(eta []float64, w *scratch) float64 {
	s.features(eta, w.features)
	timesVec(s.coef, w.features, w.scores)
	timesVec(s.basis, w.scores, w.residuals)
	for i, v := range s.mean {
		w.residuals[i] += v
	}
	return studentLogLik(w.residuals, s.nu)
}

// studentLogLik is the log likelihood of independent Student-t (or normal) residuals,
// without its constant; -Inf where one is not finite.
func studentLogLik(r []float64, nu float64) float64 {
	if math.IsInf(nu, 1) {
		return minusInfinite(-halfSquare(r))
	}
	logs, product := 0.0, 1.0
	for _, v := range r { // the log of a product is that of its factors, and quicker
		if product *= 1 + v*v/nu; product > 1e100 {
			logs += math.Log(product)
			product = 1
		}
	}
	return minusInfinite(-(nu + 1) / 2 * (logs + math.Log(product)))
}

func minusInfinite(v float64) float64 {
	if math.IsNaN(v) {
		return math.Inf(-1)
	}
	return v
}
