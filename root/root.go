// Package root finds where a function of one number is zero.
package root

import "math"

// Find gives the x between low and high at which f is zero, to rounding; f is monotone there, rising or falling. It is
// not ok if f has the same sign at both ends. Regula falsi with the Illinois rule. References: [DowellJarratt1971]
func Find(low, high float64, f func(float64) float64) (x float64, ok bool) {
	atLow, atHigh, last := f(low), f(high), 0.0
	if !(atLow*atHigh <= 0) {
		return math.NaN(), false
	}
	if atLow == 0 {
		return low, true
	}
	rising := atHigh > atLow
	for range 100 {
		x = (low*atHigh - high*atLow) / (atHigh - atLow)
		at := f(x)
		if at == 0 || !(x > low && x < high) {
			return x, true
		}
		if (at < 0) == rising {
			if low, atLow = x, at; last*at > 0 {
				atHigh /= 2
			}
		} else if high, atHigh = x, at; last*at > 0 {
			atLow /= 2
		}
		last = at
	}
	return x, true
}
