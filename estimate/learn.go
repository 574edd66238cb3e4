package estimate

import (
	"math"

	"spile/batch"
	"spile/bayes"
	"spile/portable"
)

// Experience is what one finished batch taught: equally likely sets of its
// unknowns on the scale of their priors, and the prior under which they were found;
// and the fixed offsets of its instruments, SI.
type Experience struct {
	Draws   [][numUnknowns]float64
	Under   Prior
	Offsets map[Tool][]float64
}

// Tool is one instrument by what it reads and its name.
type Tool struct {
	Quantity batch.Quantity
	Name     string
}

// Experience draws from the belief what it holds of the unknowns that batches share.
func (bl *Belief) Experience() Experience {
	e := Experience{Under: bl.prior, Offsets: map[Tool][]float64{}}
	for _, z := range bl.members() {
		var d [numUnknowns]float64
		for u := range numUnknowns {
			d[u] = bl.prior.natural(u, z[u])
		}
		e.Draws = append(e.Draws, d)
		for i := range bl.tl.channels {
			c := &bl.tl.channels[i]
			tool := Tool{c.quantity, c.name}
			e.Offsets[tool] = append(e.Offsets[tool], bl.tl.off(i, z))
		}
	}
	return e
}

// Weights of the generic prior against experience, in batches: so many batches
// must speak before the mean, or the spread, is as much theirs as the kind's.
const (
	meanWorth   = 1.0
	spreadWorth = 3.0
	poolRounds  = 30
	// oddNu is the tail of how batches scatter about their group: one odd batch counts for little.
	oddNu = 4.0
)

// Learn sharpens the unknowns of one group by what past batches of that group taught: partial pooling by
// expectation and maximisation, each batch's draws reweighted to the prior in hand, batches scattering with
// Student's tails so that one odd batch cannot wreck a prior. With no batches it is generic.
//
// References: [DempsterLairdRubin1977], [LangeLittleTaylor1989]
func Learn(generic Prior, past []Experience, of Group) Prior {
	learnt := generic
	if len(past) == 0 {
		return learnt
	}
	for range poolRounds {
		means, squares := moments(learnt, past, of)
		for u := range numUnknowns {
			if table[u].of == of {
				learnt[u] = pool(table[u].shape, generic[u], learnt[u], means[u], squares[u])
			}
		}
	}
	return learnt
}

// LearnTool is the offset of one instrument by what past batches taught of it, and in how many it was read.
// An instrument that was never read keeps what is usual.
func LearnTool(t Tool, past []Experience) (Instrument, int) {
	_, ins := lookup(t.Quantity, t.Name)
	var means, squares []float64
	for i := range past {
		var m, s float64
		x := past[i].Offsets[t]
		if len(x) == 0 {
			continue
		}
		for _, v := range x {
			m += v / float64(len(x))
			s += v * v / float64(len(x))
		}
		means, squares = append(means, m), append(squares, s)
	}
	generic := Normal{ins.Mean, ins.Offset}
	learnt := generic
	for range poolRounds {
		learnt = pool(plain, generic, learnt, means, squares)
	}
	if len(means) > 0 {
		ins.Mean, ins.Offset = learnt.Mean, learnt.SD
	}
	return ins, len(means)
}

// moments gives, by unknown of the group, each batch's mean and mean square under prior p.
func moments(p Prior, past []Experience, of Group) (means, squares [numUnknowns][]float64) {
	for i := range past {
		w := past[i].reweighted(&p, of)
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

// reweighted gives normalised weights that turn draws under e.Under into draws under p, as far as the group goes.
func (e *Experience) reweighted(p *Prior, of Group) []float64 {
	w := make([]float64, len(e.Draws))
	for k := range e.Draws {
		for u := range numUnknowns {
			if table[u].of == of {
				w[k] += p.logDensity(u, e.Draws[k][u]) - e.Under.logDensity(u, e.Draws[k][u])
			}
		}
	}
	return bayes.Normalise(w)
}

// logDensity of unknown u at x on the scale of its prior, up to a constant.
func (p *Prior) logDensity(u Unknown, x float64) float64 {
	n := p[u]
	if table[u].shape != heavy {
		d := (x - n.Mean) / n.SD
		return -d*d/2 - math.Log(n.SD)
	}
	z := math.Asinh((x-n.Mean)/n.SD*heavyTail) / heavyTail
	return -z*z/2 - math.Log(n.SD*portable.Cosh(heavyTail*z))
}

// heavySpread is the sd of sinh(a z)/a for a standard normal z: sqrt((exp(2a²)-1)/2)/a.
var heavySpread = math.Sqrt(math.Expm1(2*heavyTail*heavyTail)/2) / heavyTail

// pool weighs the moments of batches against the generic prior. A batch that lies far from what is learnt so far
// counts for less.
func pool(sh shape, generic, learnt Normal, means, squares []float64) Normal {
	spread := 1.0
	if sh == heavy {
		spread = heavySpread
	}
	weight, n := make([]float64, len(means)), 0.0
	mean := meanWorth * generic.Mean
	for i, m := range means {
		within := math.Max(squares[i]-m*m, 0)
		d := (m - learnt.Mean) * (m - learnt.Mean) / (learnt.SD*learnt.SD*spread*spread + within)
		weight[i] = math.Min((oddNu+1)/(oddNu+d), 1)
		mean += weight[i] * m
		n += weight[i]
	}
	mean /= meanWorth + n
	variance := spreadWorth * generic.SD * generic.SD * spread * spread
	for i := range means {
		variance += weight[i] * (squares[i] - 2*mean*means[i] + mean*mean)
	}
	variance /= spreadWorth + n
	// the mean itself is known only to variance/n
	variance *= 1 + 1/(meanWorth+n)
	return Normal{Mean: mean, SD: math.Sqrt(variance) / spread}
}

// Passport is what was learnt of one unknown of a vessel or a yeast, nine times in ten, in its own unit.
type Passport struct {
	Unknown   Unknown
	Band      Band
	Generic   Band // before the first batch
	Batches   int
	Sharpened float64 // share of the generic spread that is gone
}

// Passports lists what n batches taught of a group.
func Passports(generic, learnt Prior, of Group, n int) []Passport {
	var out []Passport
	for u := range numUnknowns {
		if table[u].of == of {
			out = append(out, Passport{u, learnt.band(u), generic.band(u), n, 1 - learnt[u].SD/generic[u].SD})
		}
	}
	return out
}

// band is the prior of u, nine times in ten.
func (p *Prior) band(u Unknown) Band {
	return Band{p.value(u, -NineInTen), p.value(u, 0), p.value(u, NineInTen)}
}
