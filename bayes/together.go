package bayes

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
)

// ErrTooFew is returned by [Together] when hardly any draw agrees with what is known of all together.
var ErrTooFew = errors.New("bayes: what is known of all together contradicts what is believed of each")

// leastTogether is the effective number of joint draws that still stands for their distribution.
const leastTogether = 30

// Together ties independent posteriors by something that is known of them jointly, as a sum: of n joint draws, one member of
// each, every draw is weighed by logWeight of the members drawn, and each posterior gets its members' share of the weight.
// It returns ErrTooFew where the draws that agree are too few to stand for anything.
func Together(ps []*Posterior, n int, seed uint64, logWeight func(members []int) float64) ([]*Posterior, error) {
	if len(ps) < 2 || n < 1 {
		return nil, fmt.Errorf("bayes: %d posteriors and %d draws; at least two and one", len(ps), n)
	}
	draws := make([][]int, len(ps))
	for k, p := range ps {
		rng := rand.New(rand.NewPCG(seed, uint64(k)+1))
		draws[k] = Systematic(p.Weight, n, rng)
		rng.Shuffle(n, func(i, j int) { draws[k][i], draws[k][j] = draws[k][j], draws[k][i] })
	}
	logs := make([]float64, n)
	members := make([]int, len(ps))
	for i := range logs {
		for k := range ps {
			members[k] = draws[k][i]
		}
		logs[i] = logWeight(members)
	}
	w, _ := unlogged(logs)
	size := EffectiveSamples(w)
	if !(size >= leastTogether) { // or NaN, as where no draw has any weight
		return nil, ErrTooFew
	}
	normalise(w)
	out := make([]*Posterior, len(ps))
	for k, p := range ps {
		q := *p
		q.Weight = make([]float64, len(p.Weight))
		for i, m := range draws[k] {
			q.Weight[m] += w[i]
		}
		q.EffectiveSamples = math.Min(p.EffectiveSamples, math.Min(size, EffectiveSamples(q.Weight)))
		out[k] = &q
	}
	return out, nil
}
