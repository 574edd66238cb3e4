package calibration

import (
	"math"

	"spile/bayes"
)

// tooNarrow is the factor on a belief that must be found out.
const tooNarrow = 0.8

// narrowed draws x in to its weighted mean.
func narrowed(x, w []float64, by float64) []float64 {
	centre := bayes.NewSorted(x, w).Mean()
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = centre + by*(v-centre)
	}
	return out
}

// controls shows that the test of drawn batches finds a belief that is a fifth too
// narrow: on the beliefs themselves, and on an exact one of as many batches that passes as it is.
func controls(r *run) error {
	narrow := ranksOf(r.ranks, func(x *ranked) map[string]float64 { return x.Narrow })
	found := count(narrow.holm())
	r.doc.heading("Controls that must fail")
	r.doc.bar("controls", "belief 20 % too narrow, same test", "rejected", found > 0, "too few batches to see it", "%d of %d quantities rejected", found, len(narrow))
	n := max(r.Budget.Drawn[0], leastRanks) // fewer make no test
	exactly, tight := r.normalControl(n)
	r.doc.bar("controls", "an exact belief, as many batches", "not rejected", count(exactly.holm()) == 0, "the test itself is off", "p = %.2g", exactly[0].p)
	r.doc.say("An exact normal belief of %d batches: p = %.2g as it is, %.2g a fifth too narrow. The log likelihood is ranked beside the unknowns in every group.", n, exactly[0].p, tight[0].p)
	return nil
}

func count(x []bool) (n int) {
	for _, v := range x {
		if v {
			n++
		}
	}
	return n
}

// normalControl ranks n truths in an exact normal posterior, as it is and too narrow.
func (r *run) normalControl(n int) (exactly, tight tests) {
	rng := r.rng(streamControl, n)
	var all [numGroups][]ranked
	x := make([]float64, r.Budget.Members)
	for range n {
		truth := rng.NormFloat64()
		reading := truth + rng.NormFloat64() // posterior: half the reading, variance a half
		for i := range x {
			x[i] = reading/2 + math.Sqrt(0.5)*rng.NormFloat64()
		}
		all[0] = append(all[0], ranked{
			PIT:    map[string]float64{"normal": bayes.PIT(x, nil, truth, rng)},
			Narrow: map[string]float64{"normal": bayes.PIT(narrowed(x, nil, tooNarrow), nil, truth, rng)},
		})
	}
	return ranksOf(all, func(x *ranked) map[string]float64 { return x.PIT }), ranksOf(all, func(x *ranked) map[string]float64 { return x.Narrow })
}
