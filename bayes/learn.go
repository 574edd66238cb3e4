package bayes

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

const (
	// stiff is what a term of higher degree is held back by, in draws: each starts from none.
	stiff = 0.1
	// leastDirection is the variance of the residuals, in their standard errors squared, that a
	// direction must have to be followed.
	leastDirection = 1e-3
	// mostTraining draws are learnt from, the last ones, bendTraining where they bend.
	mostTraining, bendTraining = 1500, 1000
	// tooFar below the density that half a unit for each coordinate leaves is where nothing is learnt any more: about two standard
	// deviations of a normal in twenty dimensions, so that the polynomial is good where the draws are.
	tooFar = 10
	// mostBends have terms of the second degree, mostCubed of the third.
	mostBends, mostCubed = 10, 6
	// leastBend is the least curvature, in standard errors for a unit of the frame, squared, that makes a bend.
	leastBend = 0.05
)

// learn a surrogate for the step of the bridge at beta from draws; nil when there is nothing to learn from. The bends are those of
// the surrogate before, if there is one.
func learn(ds []draw, beta float64, frame *component, nu float64, before *surrogate) *surrogate {
	near := training(ds, beta)
	dim := len(frame.centre)
	if len(near) < 4*(dim+1) || len(near[0].residuals) == 0 {
		return nil
	}
	s := &surrogate{frame: frame, nu: nu}
	scores := s.directions(near)
	if s.dirs == 0 {
		return nil
	}
	if before != nil {
		s.bends = before.bendsIn(frame)
	} else if !s.findBends(near, scores) {
		return nil
	}
	if n := len(s.bends) / dim; n > 0 {
		s.terms = products(n, min(n, mostCubed))
	}
	s.down = s.regress(near, scores)
	if s.down == nil {
		return nil
	}
	s.coef, s.across = transposed(s.down, s.dirs), transposed(s.basis, s.dirs)
	return s
}

// training draws are those whose density is not far below the best: that of the step, for early on the bridge hardly any
// place is near the posterior.
func training(ds []draw, beta float64) []draw {
	best := math.Inf(-1)
	for i := range ds {
		best = math.Max(best, ds[i].bridged(beta))
	}
	least := best - float64(len(ds[0].z))/2 - tooFar
	var near []draw
	for i := len(ds) - 1; i >= 0 && len(near) < mostTraining; i-- {
		if ds[i].bridged(beta) > least {
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

// regress the scores on the features by least squares; the coefficients come feature by direction.
func (s *surrogate) regress(ds []draw, scores *mat.Dense) []float64 {
	dim, w := len(s.frame.centre), s.scratch()
	x := mat.NewDense(len(ds), len(w.features), nil)
	eta, d := make([]float64, dim), s.frame.density()
	for i := range ds {
		d.standard(ds[i].z, eta)
		s.features(eta, w)
		x.SetRow(i, w.features)
	}
	gram := mat.NewSymDense(len(w.features), nil)
	gram.SymOuterK(1, x.T())
	for k := range w.features {
		ridge := stiff
		if k <= dim {
			ridge = 1e-6
		}
		gram.SetSym(k, k, gram.At(k, k)+ridge)
	}
	var chol mat.Cholesky
	if !chol.Factorize(gram) {
		return nil
	}
	var right, coef mat.Dense
	right.Mul(x.T(), scores)
	if err := chol.SolveTo(&coef, &right); err != nil {
		return nil
	}
	return coef.RawMatrix().Data
}

// findBends finds the directions along which the residuals bend, most bent first: a polynomial of the second degree in all
// coordinates has for each direction of the residuals a matrix of second derivatives, and the eigenvectors of the sum of their squares
// tell where those are large.
func (s *surrogate) findBends(ds []draw, scores *mat.Dense) bool {
	dim, n := len(s.frame.centre), min(len(ds), bendTraining)
	all := surrogate{frame: s.frame, dirs: s.dirs, mean: s.mean, bends: make([]float64, dim*dim), terms: products(dim)}
	for k := range dim {
		all.bends[k*dim+k] = 1
	}
	coef := all.regress(ds[:n], scores.Slice(0, n, 0, s.dirs).(*mat.Dense))
	if coef == nil {
		return false
	}
	squares, second := mat.NewSymDense(dim, nil), mat.NewSymDense(dim, nil)
	for k := range s.dirs {
		for i, t := range all.terms {
			v := coef[(1+dim+i)*s.dirs+k]
			if t.of == t.last {
				v *= 2
			}
			second.SetSym(t.of, t.last, v)
		}
		squares.SymRankK(squares, 1, second)
	}
	axes, size, err := eigen(squares)
	if err != nil {
		return false
	}
	for k := 0; k < min(dim, mostBends) && size[k] > leastBend; k++ {
		s.bends = append(s.bends, mat.Col(nil, k, axes)...)
	}
	return true
}

// bendsIn gives the bends in the standard coordinates of another frame.
func (s *surrogate) bendsIn(frame *component) []float64 {
	dim := len(frame.centre)
	from, to := s.frame.density(), frame.density()
	out := make([]float64, len(s.bends))
	own, along := make([]float64, dim), make([]float64, dim)
	for at := 0; at < len(out); at += dim {
		for k, v := range s.bends[at : at+dim] {
			own[k] = v * from.inverse[1][k]
		}
		timesVec(from.rows, own, along)
		row := out[at : at+dim]
		to.inward(along, row)
		length := math.Sqrt(2 * halfSquare(row))
		for k := range row {
			row[k] /= length
		}
	}
	return out
}
