package calibration

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"spile/bayes"
)

// interval is a figure with the 95 % interval of a bootstrap.
type interval struct{ lo, mid, hi float64 }

func (v interval) String() string { return fmt.Sprintf("%.3f [%.3f, %.3f]", v.mid, v.lo, v.hi) }

func (v interval) holds(x float64) bool { return v.lo <= x && x <= v.hi }

// item is one figure of one ferment of a condition.
type item struct {
	condition string
	value     float64
}

const bootstraps = 4000

// byCondition is the mean of items, with a bootstrap that draws whole conditions. NaN without items.
func (r *run) byCondition(items []item) interval {
	groups := map[string][]float64{}
	var names []string
	sum := 0.0
	for _, it := range items {
		if groups[it.condition] == nil {
			names = append(names, it.condition)
		}
		groups[it.condition] = append(groups[it.condition], it.value)
		sum += it.value
	}
	if len(items) == 0 {
		return interval{math.NaN(), math.NaN(), math.NaN()}
	}
	rng := r.rng(streamBootstrap, 0)
	means := make([]float64, bootstraps)
	for b := range means {
		s, n := 0.0, 0.0
		for range names {
			for _, v := range groups[names[rng.IntN(len(names))]] {
				s, n = s+v, n+1
			}
		}
		means[b] = s / n
	}
	return interval{bayes.Quantile(means, nil, 0.025), sum / float64(len(items)), bayes.Quantile(means, nil, 0.975)}
}

// median of x, +Inf counted as late; NaN of nothing.
func median(x []float64) float64 { return lower(x, 0.5) }

// lower is the value of x that a share p of them does not exceed, without going between values.
func lower(x []float64, p float64) float64 {
	if len(x) == 0 {
		return math.NaN()
	}
	s := append([]float64(nil), x...)
	sort.Float64s(s)
	return s[min(int(p*float64(len(s))), len(s)-1)]
}

// share of n, NaN of none.
func share(k, n int) float64 {
	if n == 0 {
		return math.NaN()
	}
	return float64(k) / float64(n)
}

// percent writes a share.
func percent(x float64) string {
	if math.IsNaN(x) {
		return "–"
	}
	return fmt.Sprintf("%.1f %%", 100*x)
}

// wilson is the 95 % interval of a share of k in n.
//
// References: [Wilson1927]
func wilson(k, n int) (lo, hi float64) {
	if n == 0 {
		return 0, 1
	}
	const z = 1.96
	p, m := float64(k)/float64(n), float64(n)
	centre, half := p+z*z/(2*m), z*math.Sqrt(p*(1-p)/m+z*z/(4*m*m))
	return math.Max(0, (centre-half)/(1+z*z/m)), math.Min(1, (centre+half)/(1+z*z/m))
}

// counted lists what was counted, most often first.
func counted(n map[string]int) string {
	var names []string
	for k := range n {
		names = append(names, k)
	}
	sort.Slice(names, func(i, j int) bool {
		if n[names[i]] != n[names[j]] {
			return n[names[i]] > n[names[j]]
		}
		return names[i] < names[j]
	})
	for i, k := range names {
		names[i] = fmt.Sprintf("%s %d", k, n[k])
	}
	return strings.Join(names, "; ")
}
