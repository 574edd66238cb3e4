package bayes

import (
	"fmt"
	"math"
	"sort"

	"spile/portable"
)

// ParetoLimit is the tail shape above which importance weights of so many draws
// cannot be trusted: min(1 - 1/log10 S, 0.7).
//
// References: [Vehtari2024] equation 13.
func ParetoLimit(draws int) float64 {
	return math.Min(1-1/math.Log10(math.Max(2, float64(draws))), 0.7)
}

// smoothed are normalised importance weights, the largest replaced by what their
// fitted tail expects.
type smoothed struct {
	weight  []float64
	k       float64
	logMean float64 // log of the mean weight as given, before smoothing
}

// good tells whether the tail is light enough and enough of the draws count.
func (w smoothed) good(effective float64) bool {
	return w.k < ParetoLimit(len(w.weight)) && EffectiveSamples(w.weight) >= effective
}

// leastTail is the fewest weights from which a tail's shape is estimated.
const leastTail = 5

// smoothWeights is Pareto smoothed importance sampling. With too few draws for a tail
// k is +Inf; with weights all alike it is 0.
//
// References: [Vehtari2024] algorithm 1.
func smoothWeights(logWeight []float64) (smoothed, error) {
	w, top := unlogged(logWeight)
	if math.IsInf(top, -1) {
		return smoothed{}, ErrImpossible
	}
	if math.IsNaN(top) || math.IsInf(top, 1) {
		return smoothed{}, fmt.Errorf("bayes: a log weight is %v", top)
	}
	mean := sum(w) / float64(len(w))
	k := smoothTail(w)
	normalise(w)
	return smoothed{weight: w, k: k, logMean: top + math.Log(mean)}, nil
}

// smoothTail replaces the tail of weights whose largest is 1, and returns its shape.
func smoothTail(w []float64) float64 {
	n := len(w)
	tail := int(math.Ceil(math.Min(0.2*float64(n), 3*math.Sqrt(float64(n)))))
	if tail < leastTail || tail >= n {
		return math.Inf(1)
	}
	order := make([]int, n)
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool { return w[order[a]] < w[order[b]] })
	order = order[n-tail-1:]
	cut := w[order[0]]
	order = order[1:]
	over := make([]float64, tail)
	for i, j := range order {
		over[i] = w[j] - cut
	}
	if over[tail-1] <= 1e-12 {
		return 0
	}
	if lowerQuartile(over) <= 1e-9*over[tail-1] { // weights tied at the cut (zeros, or a state that stayed): no tail to speak of
		return math.Inf(1)
	}
	k, sigma := fitPareto(over)
	for i, j := range order {
		p := (float64(i) + 0.5) / float64(tail)
		w[j] = math.Min(cut+paretoQuantile(p, k, sigma), 1)
	}
	return k
}

// paretoQuantile of the generalised Pareto distribution.
func paretoQuantile(p, k, sigma float64) float64 {
	if math.Abs(k) < 1e-9 {
		return -sigma * math.Log1p(-p)
	}
	return sigma * math.Expm1(-k*math.Log1p(-p)) / k
}

// fitPareto estimates shape k and scale sigma of a generalised Pareto distribution
// from exceedances in rising order, the largest above 0. The shape is drawn toward 0.5
// as if that had been seen ten times. Standard error of k about (1+k)/sqrt(n).
//
// References: [Zhang2009] for the estimate, [Vehtari2024] appendix for the pull.
func fitPareto(x []float64) (k, sigma float64) {
	n := len(x)
	const spread, pull = 3.0, 10.0
	grid := 30 + int(math.Sqrt(float64(n)))
	quartile := lowerQuartile(x)
	theta, profile := make([]float64, grid), make([]float64, grid)
	for j := range theta {
		theta[j] = 1/x[n-1] + (1-math.Sqrt(float64(grid)/(float64(j)+0.5)))/(spread*quartile)
		s := meanLog(x, theta[j])
		profile[j] = float64(n) * (math.Log(-theta[j]/s) - s - 1)
	}
	best, sum := 0.0, 0.0
	for j := range theta {
		weight := 0.0
		for _, other := range profile {
			weight += portable.Exp(other - profile[j])
		}
		if weight = 1 / weight; !math.IsNaN(weight) {
			best += weight * theta[j]
			sum += weight
		}
	}
	best /= sum
	k = meanLog(x, best)
	sigma = -k / best
	return (k*float64(n) + 0.5*pull) / (float64(n) + pull), sigma
}

// lowerQuartile of exceedances in rising order.
func lowerQuartile(x []float64) float64 { return x[max(0, int(float64(len(x))/4+0.5)-1)] }

// meanLog is the shape that goes with theta.
func meanLog(x []float64, theta float64) float64 {
	s := 0.0
	for _, v := range x {
		s += math.Log1p(-theta * v)
	}
	return s / float64(len(x))
}
