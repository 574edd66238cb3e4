package bayes

import (
	"errors"
	"math"
	"math/rand/v2"
	"sort"
)

// EffectiveSamples is Kish's effective size of weights, (sum w)^2 / sum w^2; 0 for
// weights that are all 0.
//
// References: [Kish1965].
func EffectiveSamples(w []float64) float64 {
	sum, square := 0.0, 0.0
	for _, v := range w {
		sum += v
		square += v * v
	}
	if square == 0 {
		return 0
	}
	return sum * sum / square
}

// Systematic draws n indices, each in proportion to its weight, with one random
// number: index i comes floor(n w_i) or ceil(n w_i) times. Weights need not be
// normalised, but one must be above 0.
//
// References: [Kitagawa1996].
func Systematic(w []float64, n int, rng *rand.Rand) []int {
	all := sum(w)
	out := make([]int, 0, n)
	u, cum, last := rng.Float64(), 0.0, 0
	for i, v := range w {
		if v > 0 {
			last = i
		}
		cum += v / all * float64(n)
		for len(out) < n && u+float64(len(out)) < cum {
			out = append(out, i)
		}
	}
	for len(out) < n { // rounding of the last sum
		out = append(out, last)
	}
	return out
}

// Resample returns n members of equal weight, drawn systematically.
func Resample(post *Posterior, n int, rng *rand.Rand) *Posterior {
	out := *post
	out.Z, out.LogLik, out.Weight = make([][]float64, n), make([]float64, n), make([]float64, n)
	for j, i := range Systematic(post.Weight, n, rng) {
		out.Z[j], out.LogLik[j], out.Weight[j] = post.Z[i], post.LogLik[i], 1/float64(n)
	}
	out.EffectiveSamples = math.Min(post.EffectiveSamples, float64(n))
	return &out
}

// Reweight adds one more datum: increment gives its log likelihood for member i. The
// members stay, their weights change and are smoothed again. When the effective size
// has halved, or [Posterior.Trusted] says no, condition afresh.
func Reweight(post *Posterior, increment func(i int, z []float64) float64) (*Posterior, error) {
	n := len(post.Z)
	lw, ll := make([]float64, n), make([]float64, n)
	for i, z := range post.Z {
		d := increment(i, z)
		if math.IsNaN(d) || math.IsInf(d, 1) {
			return nil, errors.New("bayes: an increment of the log likelihood must be finite or -Inf")
		}
		ll[i] = post.LogLik[i] + d
		lw[i] = math.Log(post.Weight[i]*float64(n)) + d
	}
	w, err := smoothWeights(lw)
	if err != nil {
		return nil, err
	}
	out := *post
	out.Weight, out.LogLik, out.ParetoK, out.KLimit = w.weight, ll, w.k, ParetoLimit(n)
	out.LogEvidence += w.logMean
	kept := EffectiveSamples(w.weight) / EffectiveSamples(post.Weight)
	out.EffectiveSamples = math.Min(EffectiveSamples(w.weight), post.EffectiveSamples*kept)
	return &out, nil
}

// thin keeps m of the indices: the heaviest with their weight, of the rest a
// systematic draw with one common weight. No index comes twice, every expectation is
// kept on average, and no scheme of its kind adds less noise.
//
// References: [Fearnhead2003] algorithm 2.
func thin(w []float64, m int, rng *rand.Rand) ([]int, []float64) {
	cut := thinCut(w, m)
	keep, weight := make([]int, 0, m), make([]float64, 0, m)
	var spare []int
	u, cum := rng.Float64(), 0.0
	for i, v := range w {
		if v >= cut {
			keep, weight = append(keep, i), append(weight, v)
			continue
		}
		if cum += v / cut; u < cum && v > 0 {
			keep, weight = append(keep, i), append(weight, cut)
			u++
		} else {
			spare = append(spare, i)
		}
	}
	for _, i := range spare { // rounding of the sums, or fewer than m weights above 0
		if len(keep) < min(m, len(w)) {
			keep, weight = append(keep, i), append(weight, w[i])
		}
	}
	normalise(weight)
	return keep, weight
}

// thinCut solves sum min(w/cut, 1) = m for the cut. Where m or fewer weights are
// above 0 it is the smallest of those.
func thinCut(w []float64, m int) float64 {
	s := append([]float64(nil), w...)
	sort.Sort(sort.Reverse(sort.Float64Slice(s)))
	for len(s) > 0 && s[len(s)-1] == 0 {
		s = s[:len(s)-1]
	}
	rest := make([]float64, len(s)+1) // rest[i] is the sum from i on
	for i := len(s) - 1; i >= 0; i-- {
		rest[i] = rest[i+1] + s[i]
	}
	for kept := 0; kept < m && m < len(s); kept++ { // with so many kept, the others share the rest
		if cut := rest[kept] / float64(m-kept); s[kept] < cut {
			return cut
		}
	}
	return s[min(m, len(s))-1]
}
