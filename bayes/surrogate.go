package bayes

import (
	"math"

	"spile/matrix"
)

// surrogate is a cheap stand-in for the likelihood of a [ResidualModel]: each principal
// direction of the residuals as a polynomial of the unknowns, linear in all and of higher
// degree along the few directions in which the residuals bend. It only
// proposes; what it gets wrong costs acceptance, never truth.
type surrogate struct {
	frame *component // in whose standard coordinates the polynomial is written
	nu    float64
	mean  []float64
	basis []float64 // direction by residual, row after row
	coef  []float64 // feature by direction, row after row
	bends []float64 // coordinate by bend, each bend a direction of unit length
	// the transposes, for slopes
	across, down, bent []float64
	dirs               int
	terms              []term // products of coordinates along the bends
}

// term is one more coordinate times what stands before it in the list of the coordinates and all terms.
type term struct{ of, last int }

// products of coordinates: of the second degree of the first widths[0], of the third of the first widths[1], and so on, each as
// wide as the one before at most.
func products(widths ...int) []term {
	n := widths[0]
	var out []term
	before := make([]term, n) // of the degree before; of is where they stand in the list
	for i := range before {
		before[i] = term{i, i}
	}
	for _, width := range widths {
		var next []term
		for _, b := range before {
			if b.last >= width {
				continue
			}
			for i := b.last; i < width; i++ {
				next = append(next, term{n + len(out), i})
				out = append(out, term{b.of, i})
			}
		}
		before = next
	}
	return out
}

// scratch is workspace for one goroutine.
type scratch struct {
	features, scores, residuals []float64
	values, pulls               []float64 // of the coordinates along the bends, then of the terms
	turned                      []float64
	bends                       int
}

func (s *surrogate) scratch() *scratch {
	dim := len(s.frame.centre)
	n := len(s.bends)/dim + len(s.terms)
	return &scratch{make([]float64, 1+dim+len(s.terms)), make([]float64, s.dirs), make([]float64, len(s.mean)),
		make([]float64, n), make([]float64, n), make([]float64, dim), len(s.bends) / dim}
}

// features of a place in standard coordinates: one, the coordinates, the terms.
func (s *surrogate) features(eta []float64, w *scratch) {
	w.features[0] = 1
	copy(w.features[1:], eta)
	matrix.Combine(w.values[:w.bends], eta, s.bends, w.bends)
	terms := w.values[w.bends:]
	for i, t := range s.terms {
		terms[i] = w.values[t.of] * w.values[t.last]
	}
	copy(w.features[1+len(eta):], terms)
}

// residuals are about those of the model at a place in standard coordinates of the frame, in the workspace.
func (s *surrogate) residuals(eta []float64, w *scratch) {
	s.features(eta, w)
	matrix.Combine(w.scores, w.features, s.coef, len(w.scores))
	matrix.Combine(w.residuals, w.scores, s.basis, len(w.residuals))
	for i, v := range s.mean {
		w.residuals[i] += v
	}
}

// logLik is about what the model would say at the place that residuals was asked for last.
func (s *surrogate) logLik(w *scratch) float64 { return studentLogLik(w.residuals, s.nu) }

// slope is how logLik rises along each standard coordinate, at the place that residuals was asked for last, whose residuals it uses up.
func (s *surrogate) slope(eta []float64, w *scratch) []float64 {
	for i, r := range w.residuals {
		w.residuals[i] = -r
		if !math.IsInf(s.nu, 1) {
			w.residuals[i] = -(s.nu + 1) * r / (s.nu + float64(r*r))
		}
	}
	matrix.Combine(w.scores, w.residuals, s.across, len(w.scores))
	matrix.Combine(w.features, w.scores, s.down, len(w.features))
	rise := w.features[1 : 1+len(eta)]
	clear(w.pulls[:w.bends])
	copy(w.pulls[w.bends:], w.features[1+len(eta):])
	for i := len(s.terms) - 1; i >= 0; i-- { // each hands its slope on to its factors
		t, pull := s.terms[i], w.pulls[w.bends+i]
		w.pulls[t.of] += float64(pull * w.values[t.last])
		w.pulls[t.last] += float64(pull * w.values[t.of])
	}
	matrix.Combine(w.turned, w.pulls[:w.bends], s.bent, len(w.turned))
	for k, v := range w.turned {
		rise[k] += v
	}
	return rise
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
