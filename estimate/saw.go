package estimate

import (
	"math"
	"slices"

	"spile/batch"
)

const (
	leastInSaw = 8   // readings whose scatter is worth asking
	leastSaws  = 5   // spans in which the valve is seen at work
	sawSeen    = 1.5 // times the scatter of its instrument by which the gauge jumps where the valve is at work
	// sawScatter is how far the logarithm of what is read off so is from how far the valve closes below where it opens:
	// readings are few to a pop, and the valve does not pop all the time (assumption).
	sawScatter = 0.25
)

// seeSaws finds how far a working valve closes below where it opens from gauges that read often: between two pops the
// pressure climbs evenly, so that what they read lies anywhere between the two, and scatters by the root of a twelfth of it.
func (tl *timeline) seeSaws() {
	for c := range tl.channels {
		if tl.channels[c].quantity == batch.Pressure {
			if width := tl.sawOf(c); width > 0 {
				tl.saws = append(tl.saws, math.Log(width))
			}
		}
	}
}

// sawOf is how far apart, Pa, gauge c shows the valve to open and to close, 0 where it does not show it.
func (tl *timeline) sawOf(c int) float64 {
	noise := tl.channels[c].Scatter
	var all []float64 // mean squares about the mean, while the valve may be at work
	first, last, seen := -1, -1, 0
	for i := range tl.data {
		d := &tl.data[i]
		if d.channel != c || d.within == 0 || d.wild || !d.atRelief {
			continue
		}
		all = append(all, d.within*d.within)
		if d.within > sawSeen*noise {
			seen, last = seen+1, len(all)
			if first < 0 {
				first = last - 1
			}
		}
	}
	if seen < leastSaws || 2*seen < last-first {
		return 0
	}
	all = all[first:last]
	slices.Sort(all)
	return math.Sqrt(12 * math.Max(all[len(all)/2]-float64(noise*noise), 0))
}

// within is the sd of readings about the straight line through them, 0 of too few.
func within(of []batch.Reading) float64 {
	n := float64(len(of))
	if len(of) < leastInSaw {
		return 0
	}
	var sx, sy, sxx, sxy, syy float64
	for i := range of {
		x, y := of[i].Time.Sub(of[0].Time).Seconds(), of[i].Value-of[0].Value
		sx, sy, sxx, sxy, syy = sx+x, sy+y, sxx+float64(x*x), sxy+float64(x*y), syy+float64(y*y)
	}
	xx, xy, yy := sxx-float64(sx*sx)/n, sxy-float64(sx*sy)/n, syy-float64(sy*sy)/n
	if xx > 0 {
		yy -= xy * xy / xx
	}
	return math.Sqrt(math.Max(yy, 0) / (n - 2))
}
