package bayes

import (
	"math"
	"sort"

	"spile/portable"
)

// Sorted is a weighted sample in rising order, ready for many questions.
type Sorted struct {
	x   []float64
	w   []float64
	mid []float64 // share of the weight below each value, half its own included
}

// NewSorted sorts a copy of x; w holds weights that need not be normalised, nil for
// equal ones. Values of weight 0 are left out. It panics when x and w differ in
// length, when a value or weight is NaN, or when no weight is above 0.
func NewSorted(x, w []float64) Sorted {
	if w != nil && len(w) != len(x) {
		panic("bayes: values and weights differ in number")
	}
	var s Sorted
	order := make([]int, 0, len(x))
	for i := range x {
		if w != nil && math.IsNaN(w[i]) || math.IsNaN(x[i]) {
			panic("bayes: a value or weight is not a number")
		}
		if w == nil || w[i] > 0 {
			order = append(order, i)
		}
	}
	if len(order) == 0 {
		panic("bayes: no value has a weight above 0")
	}
	sort.SliceStable(order, func(a, b int) bool { return x[order[a]] < x[order[b]] })
	for _, i := range order {
		s.x = append(s.x, x[i])
		if w == nil {
			s.w = append(s.w, 1)
		} else {
			s.w = append(s.w, w[i])
		}
	}
	normalise(s.w)
	s.mid = make([]float64, len(s.x))
	cum := 0.0
	for i, v := range s.w {
		s.mid[i] = cum + v/2
		cum += v
	}
	return s
}

// Quantile at p: between the mid points of the values' weights it runs straight (with
// equal weights Hazen's rule), beyond the outermost it is the outermost value.
//
// References: [Hyndman1996] definition 5.
func (s Sorted) Quantile(p float64) float64 {
	i := sort.SearchFloat64s(s.mid, p)
	switch {
	case i == 0:
		return s.x[0]
	case i == len(s.x):
		return s.x[i-1]
	case math.IsInf(s.x[i-1], 0) || math.IsInf(s.x[i], 0): // "never": no straight line to it
		if p-s.mid[i-1] < s.mid[i]-p {
			return s.x[i-1]
		}
		return s.x[i]
	}
	f := (p - s.mid[i-1]) / (s.mid[i] - s.mid[i-1])
	return s.x[i-1]*(1-f) + s.x[i]*f
}

// Below is the share of the weight at values less than y.
func (s Sorted) Below(y float64) float64 {
	i := sort.SearchFloat64s(s.x, y)
	if i == len(s.x) {
		return 1
	}
	return s.mid[i] - s.w[i]/2
}

// Mean of the sample.
func (s Sorted) Mean() float64 {
	m := 0.0
	for i, v := range s.x {
		m += s.w[i] * v
	}
	return m
}

// SD is the standard deviation of the sample.
func (s Sorted) SD() float64 {
	m, v := s.Mean(), 0.0
	for i, x := range s.x {
		v += s.w[i] * (x - m) * (x - m)
	}
	return math.Sqrt(v)
}

// CRPS is the continuous ranked probability score of the sample as a forecast of y,
// in the unit of y; smaller is better, 0 best.
//
// References: [Gneiting2007] equation 21, as the integral of (F - 1{x >= y})^2.
func (s Sorted) CRPS(y float64) float64 {
	distance, cum, spread := 0.0, 0.0, 0.0
	for i, v := range s.x {
		distance += s.w[i] * math.Abs(v-y)
		if i > 0 {
			spread += cum * (1 - cum) * (v - s.x[i-1])
		}
		cum += s.w[i]
	}
	return math.Max(0, distance-spread)
}

// Normalise turns logs of weights into weights that sum to 1; all 0 when every log is -Inf.
func Normalise(logWeights []float64) []float64 {
	w, top := unlogged(logWeights)
	if math.IsInf(top, -1) {
		return make([]float64, len(logWeights))
	}
	normalise(w)
	return w
}

// unlogged gives weights from their logs, in units of the largest, whose log is top.
func unlogged(logs []float64) (w []float64, top float64) {
	top = math.Inf(-1)
	for _, v := range logs {
		top = math.Max(top, v)
	}
	w = make([]float64, len(logs))
	for i, v := range logs {
		w[i] = portable.Exp(v - top)
	}
	return w, top
}

// sum of weights.
func sum(w []float64) float64 {
	s := 0.0
	for _, v := range w {
		s += v
	}
	return s
}

// normalise makes weights sum to 1.
func normalise(w []float64) {
	all := sum(w)
	for i := range w {
		w[i] /= all
	}
}

// Quantile of a weighted sample at p; see [Sorted.Quantile]. For many p sort once.
func Quantile(x, w []float64, p float64) float64 { return NewSorted(x, w).Quantile(p) }

// CRPSEnsemble scores a weighted ensemble as a forecast of y; see [Sorted.CRPS].
func CRPSEnsemble(x, w []float64, y float64) float64 { return NewSorted(x, w).CRPS(y) }

// IntervalScore of a central band from lo to hi that leaves out alpha (0.1 for a 90 %
// band) when y came true: its width, and 2/alpha for each unit that y lies outside.
// Smaller is better.
//
// References: [Gneiting2007] equation 43.
func IntervalScore(lo, hi, alpha, y float64) float64 {
	return hi - lo + 2/alpha*(math.Max(0, lo-y)+math.Max(0, y-hi))
}
