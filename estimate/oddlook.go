package estimate

import (
	"math"
	"slices"
)

// oddLooks are readings of a thermometer to ask about: those that leap away from what stands beside them, and back, or to the
// end; and a thermometer that stood still while the record has the beer moved.
func (k *knowledge) oddLooks() []Flag {
	var out []Flag
	looks := k.tl.track.looks
	for i := range looks {
		switch {
		case k.alone(i):
			out = append(out, Flag{FlagFar, looks[i].reading, k.beside(i)})
		case k.stuckAt(i):
			out = append(out, Flag{FlagStuck, looks[i].reading, k.beside(i)})
		}
	}
	return out
}

// neighbours of look i in time.
func (k *knowledge) neighbours(i int) []int {
	var out []int
	if i > 0 {
		out = append(out, i-1)
	}
	if i+1 < len(k.off) {
		out = append(out, i+1)
	}
	return out
}

// alone says that somebody would have set another temperature before look i and after it, and that it is the one astray.
func (k *knowledge) alone(i int) bool {
	near := k.neighbours(i)
	for _, n := range near {
		if !slices.Contains(k.leaps, min(i, n)) || math.Abs(k.astray(i)) <= math.Abs(k.astray(n)) {
			return false
		}
	}
	return len(near) > 0
}

// beside is what the looks before and after i let expect of it.
func (k *knowledge) beside(i int) Band {
	looks, near := k.tl.track.looks, k.neighbours(i)
	sum, scatter := 0.0, looks[i].scatter
	for _, n := range near {
		sum += k.astray(n)
		scatter = math.Max(scatter, looks[n].scatter)
	}
	middle := looks[i].kelvin - k.astray(i) + sum/float64(max(len(near), 1))
	half := NineInTen * scatter * math.Sqrt2
	return Band{middle - half, middle, middle + half}
}

// stuckAt says that look i ends a long run of equal looks of one thermometer over which the record moves the beer away
// from what they show.
func (k *knowledge) stuckAt(i int) bool {
	looks := k.tl.track.looks
	first, ends := runTo(looks, i, func(l *look) (channel int, at, value float64) { return l.channel, l.at, l.kelvin })
	felt := math.Max(leastLeap, 2*looks[i].scatter)
	moved := math.Abs(k.mean(looks[i].at) - k.mean(looks[first].at))
	return ends && moved > felt && math.Abs(k.astray(i)) > felt
}
