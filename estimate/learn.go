package estimate

import "math"

// Experience is what one finished batch taught: equally likely sets of its
// unknowns on the scale of their priors, and the prior under which they were found.
type Experience struct {
	Draws [][numUnknowns]float64
	Under Prior
}

// Experience draws from the belief what it holds of the unknowns that batches of one yeast share.
func (bl *Belief) Experience() Experience {
	e := Experience{Under: bl.prior}
	for _, z := range bl.members() {
		var d [numUnknowns]float64
		for u := range numUnknowns {
			d[u] = bl.prior.natural(u, z[u])
		}
		e.Draws = append(e.Draws, d)
	}
	return e
}

// Weights of the generic prior against experience, in batches: so many batches
// must speak before the mean, or the spread, is as much theirs as the kind's.
const (
	meanWorth   = 1.0
	spreadWorth = 3.0
	poolRounds  = 30
)

// Learn sharpens generic by what past batches taught: partial pooling by
// expectation and maximisation, each batch's draws reweighted to the prior in hand.
// With no batches it is generic.
//
// References: [DempsterLairdRubin1977]
func Learn(generic Prior, past []Experience) Prior {
	learnt := generic
	if len(past) == 0 {
		return learnt
	}
	for range poolRounds {
		means, squares := moments(learnt, past)
		for u := range numUnknowns {
			if table[u].pooled {
				learnt[u] = pool(u, generic[u], means[u], squares[u])
			}
		}
	}
	return learnt
}

// moments gives, by unknown, each batch's mean and mean square under prior p.
func moments(p Prior, past []Experience) (means, squares [numUnknowns][]float64) {
	for i := range past {
		w := past[i].reweighted(&p)
		for u := range numUnknowns {
			var m, s float64
			for k, d := range past[i].Draws {
				m += w[k] * d[u]
				s += w[k] * d[u] * d[u]
			}
			means[u], squares[u] = append(means[u], m), append(squares[u], s)
		}
	}
	return means, squares
}

// reweighted gives normalised weights that turn draws under e.Under into draws under p.
func (e *Experience) reweighted(p *Prior) []float64 {
	w := make([]float64, len(e.Draws))
	best := math.Inf(-1)
	for k := range e.Draws {
		for u := range numUnknowns {
			if table[u].pooled {
				w[k] += p.logDensity(u, e.Draws[k][u]) - e.Under.logDensity(u, e.Draws[k][u])
			}
		}
		best = math.Max(best, w[k])
	}
	var sum float64
	for k := range w {
		w[k] = math.Exp(w[k] - best)
		sum += w[k]
	}
	for k := range w {
		w[k] /= sum
	}
	return w
}

// logDensity of unknown u at x on the scale of its prior, up to a constant.
func (p *Prior) logDensity(u Unknown, x float64) float64 {
	n := p[u]
	if table[u].shape != heavy {
		d := (x - n.Mean) / n.SD
		return -d*d/2 - math.Log(n.SD)
	}
	z := math.Asinh((x-n.Mean)/n.SD*heavyTail) / heavyTail
	return -z*z/2 - math.Log(n.SD*math.Cosh(heavyTail*z))
}

// heavySpread is the sd of sinh(a z)/a for a standard normal z: sqrt((exp(2a²)-1)/2)/a.
var heavySpread = math.Sqrt(math.Expm1(2*heavyTail*heavyTail)/2) / heavyTail

// pool weighs the moments of batches against the generic prior.
func pool(u Unknown, generic Normal, means, squares []float64) Normal {
	n := float64(len(means))
	spread := 1.0
	if table[u].shape == heavy {
		spread = heavySpread
	}
	mean := meanWorth * generic.Mean
	for _, m := range means {
		mean += m
	}
	mean /= meanWorth + n
	variance := spreadWorth * generic.SD * generic.SD * spread * spread
	for i := range means {
		variance += squares[i] - 2*mean*means[i] + mean*mean
	}
	variance /= spreadWorth + n
	// the mean itself is known only to variance/n
	variance *= 1 + 1/(meanWorth+n)
	return Normal{Mean: mean, SD: math.Sqrt(variance) / spread}
}
