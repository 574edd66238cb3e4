package bayes

import (
	"math"

	"spile/matrix"
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

// learn a surrogate for the step of the bridge at beta from draws, by so many goroutines; nil when there is nothing to learn from.
// The bends are those of the surrogate before, if there is one.
func learn(ds []draw, beta float64, frame *component, nu float64, before *surrogate, workers int) *surrogate {
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
		s.bent = before.bendsIn(frame)
	} else if !s.findBends(near, scores, workers) {
		return nil
	}
	n := len(s.bent) / dim
	s.bends = (&matrix.Matrix{Rows: n, Columns: dim, Data: s.bent}).Transposed().Data
	if n > 0 {
		s.terms = products(n, min(n, mostCubed))
	}
	coef := s.regress(near, scores, workers)
	if coef == nil {
		return nil
	}
	s.coef, s.down = coef.Data, coef.Transposed().Data
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
func (s *surrogate) directions(ds []draw) *matrix.Matrix {
	m := len(ds[0].residuals)
	rs := make([][]float64, len(ds))
	for i := range ds {
		rs[i] = ds[i].residuals
	}
	mean, cov := moments(rs, equalWeights(len(ds)))
	variance, axes, err := matrix.Eigen(cov)
	if err != nil {
		return nil
	}
	for s.dirs < m && variance[s.dirs] > leastDirection {
		s.dirs++
	}
	if s.dirs == 0 {
		return nil
	}
	axes = axes.Top(s.dirs)
	s.mean, s.basis, s.across = mean, axes.Data, axes.Transposed().Data
	scores, off := matrix.New(len(ds), s.dirs), make([]float64, m)
	for i, r := range rs {
		for j, v := range r {
			off[j] = v - mean[j]
		}
		matrix.Combine(scores.Row(i), off, s.across, s.dirs)
	}
	return scores
}

// regress the scores on the features by least squares; the coefficients come feature by direction.
func (s *surrogate) regress(ds []draw, scores *matrix.Matrix, workers int) *matrix.Matrix {
	dim, w := len(s.frame.centre), s.scratch()
	x := matrix.New(len(ds), len(w.features))
	eta, d := make([]float64, dim), s.frame.density()
	for i := range ds {
		d.standard(ds[i].z, eta)
		s.features(eta, w)
		copy(x.Row(i), w.features)
	}
	gram, product := x.Normal(scores, workers)
	for k := range w.features {
		ridge := stiff
		if k <= dim {
			ridge = 1e-6
		}
		gram.Set(k, k, gram.At(k, k)+ridge)
	}
	chol, ok := matrix.NewCholesky(gram)
	if !ok {
		return nil
	}
	return chol.Solve(product)
}

// findBends finds the directions, row after row, along which the residuals bend, most bent first: a polynomial of the second degree in all
// coordinates has for each direction of the residuals a matrix of second derivatives, and the eigenvectors of the sum of their squares
// tell where those are large.
func (s *surrogate) findBends(ds []draw, scores *matrix.Matrix, workers int) bool {
	dim, n := len(s.frame.centre), min(len(ds), bendTraining)
	all := surrogate{frame: s.frame, dirs: s.dirs, mean: s.mean, bends: make([]float64, dim*dim), terms: products(dim)}
	for k := range dim {
		all.bends[k*dim+k] = 1
	}
	coef := all.regress(ds[:n], scores.Top(n), workers)
	if coef == nil {
		return false
	}
	squares, second := matrix.New(dim, dim), matrix.New(dim, dim)
	for k := range s.dirs {
		for i, t := range all.terms {
			v := coef.At(1+dim+i, k)
			if t.of == t.last {
				v *= 2
			}
			second.Set(t.of, t.last, v)
			second.Set(t.last, t.of, v)
		}
		matrix.AddScaled(squares.Data, 1, second.Times(second).Data)
	}
	size, axes, err := matrix.Eigen(squares)
	if err != nil {
		return false
	}
	for k := 0; k < min(dim, mostBends) && size[k] > leastBend; k++ {
		s.bent = append(s.bent, axes.Row(k)...)
	}
	return true
}

// bendsIn gives the bends, row after row, in the standard coordinates of another frame.
func (s *surrogate) bendsIn(frame *component) []float64 {
	dim := len(frame.centre)
	from, to := s.frame.density(), frame.density()
	out := make([]float64, len(s.bent))
	own, along := make([]float64, dim), make([]float64, dim)
	for at := 0; at < len(out); at += dim {
		for k, v := range s.bent[at : at+dim] {
			own[k] = v * from.inverse[1][k]
		}
		matrix.Combine(along, own, from.across, len(along))
		row := out[at : at+dim]
		to.inward(along, row)
		length := math.Sqrt(2 * halfSquare(row))
		for k := range row {
			row[k] /= length
		}
	}
	return out
}
