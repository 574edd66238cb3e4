package bayes

import (
	"math"
	"math/rand/v2"
	"sort"

	"spile/portable"
)

// PIT places a truth among a weighted ensemble: uniform between 0 and 1 when truth and
// members come from one distribution. Without weights it is exactly the rank with ties
// broken at random, (rank + u)/(n + 1); with weights n is their effective size.
//
// References: [Talts2018] for ranks of the truth among posterior draws.
func PIT(x, w []float64, truth float64, rng *rand.Rand) float64 {
	n, below, tied, sum := float64(len(x)), 0.0, 0.0, 0.0
	if w != nil {
		n = EffectiveSamples(w)
	}
	for i, v := range x {
		weight := 1.0
		if w != nil {
			weight = w[i]
		}
		sum += weight
		switch {
		case v < truth:
			below += weight
		case v == truth:
			tied += weight
		}
	}
	u := rng.Float64()
	return (n*below/sum + u*(n*tied/sum+1)) / (n + 1)
}

// Band holds, at chosen points, the least and greatest count of uniform values at or
// below the point that a sample of N shows; all of them at once with probability 1 - Alpha.
type Band struct {
	N      int
	Points []float64
	Lo, Hi []int
	Alpha  float64
}

// ECDFBand is the simultaneous band for the empirical distribution of n independent
// uniform values, at k evenly spaced points. For ranks that take m values, k+1 should
// divide m. The coverage is exact, at least 1 - alpha.
//
// References: [Sailynoja2022] section 2.
func ECDFBand(n, k int, alpha float64) Band {
	b := Band{N: n, Points: make([]float64, k), Alpha: alpha}
	for i := range b.Points {
		b.Points[i] = float64(i+1) / float64(k+1)
	}
	lo, hi := 0.0, 1.0 // tail mass of each point's own band
	for range 40 {
		mid := (lo + hi) / 2
		if b.set(mid); b.coverage() >= 1-alpha {
			lo = mid
		} else {
			hi = mid
		}
	}
	b.set(lo)
	return b
}

// set the band so that at each point by itself about gamma lies outside: counts whose
// tail mass on their own side is gamma/2 or less are out.
func (b *Band) set(gamma float64) {
	const tie = 1 + 1e-9 // equal tails on the two sides differ by rounding
	b.Lo, b.Hi = make([]int, len(b.Points)), make([]int, len(b.Points))
	lf := logFactorials(b.N)
	for i, z := range b.Points {
		b.Lo[i], b.Hi[i] = b.N+1, -1
		lower, upper := tails(lf, b.N, z)
		for c := range lower {
			if math.Min(lower[c], upper[c]) > gamma/2*tie {
				b.Lo[i], b.Hi[i] = min(b.Lo[i], c), c
			}
		}
	}
}

// tails of the binomial distribution, each summed from its own end: the probability of
// at most and of at least each count.
func tails(logFactorial []float64, n int, p float64) (lower, upper []float64) {
	lower, upper = make([]float64, n+1), make([]float64, n+1)
	for c := range lower {
		lower[c] = binomial(logFactorial, n, c, p)
	}
	copy(upper, lower)
	for c := 1; c <= n; c++ {
		lower[c] += lower[c-1]
		upper[n-c] += upper[n-c+1]
	}
	return lower, upper
}

// coverage is the probability that uniform values stay within the band at every point.
// From point to point the count grows by a binomial number of those still above.
func (b *Band) coverage() float64 {
	lf := logFactorials(b.N)
	prob, next := make([]float64, b.N+1), make([]float64, b.N+1)
	prob[0] = 1
	lo, hi, before := 0, 0, 0.0
	for i, z := range b.Points {
		clear(next)
		step := (z - before) / (1 - before)
		for c := lo; c <= hi; c++ {
			for to := max(c, b.Lo[i]); to <= b.Hi[i]; to++ {
				next[to] += prob[c] * binomial(lf, b.N-c, to-c, step)
			}
		}
		prob, next = next, prob
		lo, hi, before = b.Lo[i], b.Hi[i], z
	}
	sum := 0.0
	for c := lo; c <= hi; c++ {
		sum += prob[c]
	}
	return sum
}

// logFactorials of 0 to n.
func logFactorials(n int) []float64 {
	lf := make([]float64, n+1)
	for i := 2; i <= n; i++ {
		lf[i] = lf[i-1] + math.Log(float64(i))
	}
	return lf
}

// binomial probability of c among n at p below 1.
func binomial(logFactorial []float64, n, c int, p float64) float64 {
	choose := logFactorial[n] - logFactorial[c] - logFactorial[n-c]
	return portable.Exp(choose + float64(c)*math.Log(p) + float64(n-c)*math.Log1p(-p))
}

// Inside tells whether values between 0 and 1 stay within the band everywhere.
// It panics when their number is not N.
func (b Band) Inside(u []float64) bool {
	if len(u) != b.N {
		panic("bayes: the band was made for another number of values")
	}
	for i, c := range countsAt(u, b.Points) {
		if c < b.Lo[i] || c > b.Hi[i] {
			return false
		}
	}
	return true
}

func countsAt(u, points []float64) []int {
	s := append([]float64(nil), u...)
	sort.Float64s(s)
	out := make([]int, len(points))
	for i, z := range points {
		out[i] = sort.Search(len(s), func(j int) bool { return s[j] > z })
	}
	return out
}

// UniformP is the probability that truly uniform values stray from their expected
// distribution as far as u does somewhere among k evenly spaced points; small values
// speak against uniformity. Exact for independent values, and fit for Holm's rule.
//
// References: [Sailynoja2022] section 2.
func UniformP(u []float64, k int) float64 {
	b := Band{N: len(u), Points: make([]float64, k)}
	for i := range b.Points {
		b.Points[i] = float64(i+1) / float64(k+1)
	}
	gamma := 1.0
	lf := logFactorials(b.N)
	for i, c := range countsAt(u, b.Points) {
		lower, upper := tails(lf, b.N, b.Points[i])
		gamma = math.Min(gamma, 2*math.Min(lower[c], upper[c]))
	}
	b.set(gamma)
	return math.Max(0, 1-b.coverage())
}

// HolmRejects tells which of several tests fail when the chance that any true one
// fails is held at alpha.
//
// References: [Holm1979].
func HolmRejects(p []float64, alpha float64) []bool {
	order := make([]int, len(p))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool { return p[order[a]] < p[order[b]] })
	out := make([]bool, len(p))
	for i, j := range order {
		if p[j] > alpha/float64(len(p)-i) {
			break
		}
		out[j] = true
	}
	return out
}
