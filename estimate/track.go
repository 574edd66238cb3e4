package estimate

import (
	"math"
	"slices"

	"spile/batch"
	"spile/matrix"
	"spile/unit"
)

// track is the temperature of the beer as the thermometers tell it: readings are noisy looks at a smooth course. What is
// expected of the course (straying.go) is conditioned on them once, exactly, as everything is normal; what is left unknown, the
// offsets of the thermometers and a few leading modes of the course, are unknowns of the inference, standard normal given the
// readings. The readings then speak no more.
//
// References: [Rasmussen2006] equations 2.23 to 2.30, [Ghanem1991] for the modes
type track struct {
	looks []look
	step  float64   // s between the points of the courses below, from pitching to the last look
	mean  []float64 // K, the course expected, at the offsets expected
	// ways the course may differ from its mean, K for one of a standard normal unknown; places are those of the unknowns in z.
	// The first are of the offsets of thermometers, the last modes are of the course itself.
	ways   [][]float64
	places []int
	modes  int
	// offsets of the thermometers given all looks: their means, and the lower triangle that turns standard normal
	// unknowns into how far they are off it, K.
	thermometers []int // channels
	offsets      []float64
	spread       matrix.Cholesky
	turns        []turn // that nobody wrote down
}

// look is one reading of a thermometer.
type look struct {
	at, kelvin float64
	scatter    float64 // K, sd
	channel    int
	reading    batch.Reading
}

const (
	mostModes = 6
	// leastMode is the sd of a mode over its course, K, below which nobody feels it.
	leastMode = 0.05
	// modeNodes is the number of moments between which the modes are found.
	modeNodes = 64
	pathStep  = unit.Hour
	mostSteps = 500
)

// end is the time of the last reading, -1 for none.
func (t *track) end() float64 {
	if len(t.looks) == 0 {
		return -1
	}
	return t.looks[len(t.looks)-1].at
}

// between reads a course off at s, level after its end.
func (t *track) between(course []float64, s float64) float64 {
	x := s / t.step
	i := int(x)
	if i >= len(course)-1 {
		return course[len(course)-1]
	}
	return course[i] + (x-float64(i))*(course[i+1]-course[i])
}

// value is the temperature expected at s, K.
func (t *track) value(s float64) float64 { return t.between(t.mean, s) }

// course is the temperature under the unknowns z, on the points of the track, written to dst.
func (t *track) course(z, dst []float64) []float64 {
	dst = append(dst[:0], t.mean...)
	for i, way := range t.ways {
		matrix.AddScaled(dst, z[t.places[i]], way)
	}
	return dst
}

// warm says that the beer was never near the bend of the uptake law at 15 C.
func (t *track) warm() bool { return len(t.mean) > 0 && slices.Min(t.mean) > bendOfUptake }

// bendOfUptake is K, a little above 15 C.
const bendOfUptake = 289.5

// off is the offset of thermometer i under z, K.
func (t *track) off(i int, z []float64) float64 {
	sum := t.offsets[i]
	for k := range i + 1 {
		sum += t.spread.L.At(i, k) * z[t.places[k]]
	}
	return sum
}

// unknowns gives those of the track for a truth: the offsets of its thermometers, K, and the course, by s since pitching.
func (t *track) unknowns(offsets []float64, course func(s float64) float64) []float64 {
	m := len(t.thermometers)
	out := t.whitened(offsets)
	left := make([]float64, len(t.mean))
	for i := range left {
		left[i] = course(t.step*float64(i)) - t.mean[i]
	}
	for j, way := range t.ways {
		if j < m {
			matrix.AddScaled(left, -out[j], way)
		} else {
			out = append(out, matrix.Dot(left, way)/matrix.Dot(way, way))
		}
	}
	return out
}

// whitened gives the unknowns of offsets of the thermometers, K.
func (t *track) whitened(offsets []float64) []float64 {
	off := slices.Clone(offsets)
	matrix.AddScaled(off, -1, t.offsets)
	return t.spread.Forward(off)
}

// carried is z, unknowns with a track from, with the same offsets of its thermometers on t.
func (t *track) carried(from *track, z []float64) []float64 {
	if len(t.thermometers) == 0 {
		return z
	}
	offsets := make([]float64, len(t.offsets))
	for i := range offsets {
		offsets[i] = from.off(i, z)
	}
	z = slices.Clone(z)
	for i, x := range t.whitened(offsets) {
		z[t.places[i]] = x
	}
	return z
}

// follows makes t the course of one who knows it, up to end.
func (t *track) follows(course func(s float64) float64, end float64) {
	t.looks = []look{{at: end}}
	t.points()
	for i := range t.mean {
		t.mean[i] = course(t.step * float64(i))
	}
}

// points sets the points of the track.
func (t *track) points() {
	span := math.Max(t.end(), 1)
	n := int(math.Ceil(span / math.Max(pathStep, span/mostSteps)))
	t.step, t.mean = span/float64(n), make([]float64, n+1)
}

// off is the fixed offset of channel i under z, SI.
func (tl *timeline) off(i int, z []float64) float64 {
	if k := slices.Index(tl.track.thermometers, i); k >= 0 {
		return tl.track.off(k, z)
	}
	return tl.channels[i].off(z)
}

// layOut sets the points and whose offsets there are.
func (tl *timeline) layOut() {
	t := &tl.track
	t.points()
	for i := range tl.channels {
		if tl.channels[i].quantity == batch.Temperature {
			t.thermometers = append(t.thermometers, i)
			t.places = append(t.places, tl.channels[i].offset)
		}
	}
}

// smooth finds the course of the temperature by the looks.
func (tl *timeline) smooth(b *batch.Batch) {
	if len(tl.track.looks) == 0 {
		return
	}
	tl.layOut()
	best := tl.known(tl.expected(b, 1), 0)
	// Readings that stray further than anybody would expect show a vessel that strays; and where they leap, somebody has set
	// another temperature and not written it down.
	for times, odds := 1.0, 0.0; times <= mostStray; times, odds = 2*times, odds+math.Log(strayOdds) {
		if k := tl.leapt(tl.known(tl.expected(b, times), odds)); k.evidence > best.evidence {
			best = k
		}
	}
	tl.flags = append(tl.flags, best.oddLooks()...)
	best.tell(tl.dim())
	tl.track.turns = best.turns(tl.expected(b, 1))
}

const (
	mostStray = 16
	strayOdds = 0.1       // that a vessel strays twice as far (assumption)
	leapOdds  = 1.0 / 300 // that between two readings somebody set another temperature and did not write it down (assumption)
	leapSD    = 10.0      // K
	leastLeap = 2.0       // K beyond what readings scatter, for a leap to be thought of
	mostLeaps = 6
)

// leapt adds to k the changes that nobody wrote down, as long as the readings ask for more of them.
func (tl *timeline) leapt(k *knowledge) *knowledge {
	for range mostLeaps {
		best := k
		for i := range len(tl.track.looks) - 1 {
			from, to := &tl.track.looks[i], &tl.track.looks[i+1]
			if math.Abs(k.astray(i+1)-k.astray(i)) < leastLeap+math.Hypot(from.scatter, to.scatter) {
				continue
			}
			p, gap := *k.process, to.at-from.at
			p.parts = append(slices.Clone(p.parts), part{leapSD, leg{at: from.at + gap/4, cools: gap / 4}.done})
			if next := tl.known(&p, k.odds+math.Log(leapOdds)); next.evidence > best.evidence {
				best = next
				best.leaps = append(slices.Clone(k.leaps), i)
			}
		}
		if best == k {
			break
		}
		k = best
	}
	return k
}
