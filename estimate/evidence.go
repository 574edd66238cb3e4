package estimate

import (
	"math"

	"spile/batch"
	"spile/bayes"
)

// Evidence is what one reading says, seen by leaving it out: what the others would have expected of it, and what would
// then be believed of the gravity now and of the end.
type Evidence struct {
	Reading  batch.Reading
	Of       int     // readings of which this is the mean
	Expected Band    // of the reading, its own error included, without it
	Scatter  float64 // its standard deviation, SI
	// Without it. Finished counts seconds since pitching, +Inf for later than the span looked at.
	Gravity, Finished Band
	// Narrows is the width of the band of the gravity now with the reading over that without it: under 1 where it tells something.
	Narrows float64
	// Alone says that so much hangs on this reading that what would be believed without it cannot be told from the
	// members in hand; Expected, Gravity and Finished are then as far as they go.
	Alone bool
}

const (
	leastWithout = 40.0 // members that must still count when a reading is left out
	mostEvidence = 200  // readings looked at, the latest
)

// leaveOut leaves out each reading that has a say, in turn: its likelihood is taken back from every member's weight [Gelfand1992]. No
// weight is above the root of their number times the mean [Ionides2008], so that one member that hardly fits does not stand
// for all.
func (bl *Belief) leaveOut(fs []future) []Evidence {
	data := bl.tl.data
	data = data[max(0, len(data)-mostEvidence):]
	first := len(bl.tl.data) - len(data)
	gravity, finished := make([]float64, len(fs)), make([]float64, len(fs))
	for i := range fs {
		gravity[i], finished[i] = fs[i].now.gravity, fs[i].reach[reachFinished]
	}
	with := bandOf(append([]float64(nil), gravity...))
	var speak []int
	for k := range data {
		if !math.IsInf(data[k].scatter, 1) { // or between two that show the same: then it has no say
			speak = append(speak, first+k)
		}
	}
	out := make([]Evidence, len(speak))
	bl.each(len(speak), func(_ *world, i int) {
		e := bl.without(speak[i], fs, gravity, finished)
		e.Narrows = (with.P95 - with.P05) / math.Max(e.Gravity.P95-e.Gravity.P05, 1e-9)
		out[i] = e
	})
	return out
}

// without is the evidence of datum i.
func (bl *Belief) without(i int, fs []future, gravity, finished []float64) Evidence {
	d := &bl.tl.data[i]
	logs, shown := make([]float64, len(fs)), make([]float64, len(fs))
	for m := range fs {
		shown[m] = fs[m].now.predicted[i]
		logs[m] = -logStudent((shown[m] - d.value) / d.scatter)
	}
	w := truncated(bayes.Normalise(logs), 1/math.Sqrt(float64(len(fs))))
	e := Evidence{Reading: d.reading, Of: max(d.n, 1), Scatter: d.scatter, Alone: bayes.EffectiveSamples(w) < leastWithout}
	e.Gravity, e.Finished = weightedBand(gravity, w), weightedBand(finished, w)
	e.Expected = weightedBand(shown, w)
	e.Expected.P05 -= NineInTen * d.scatter
	e.Expected.P95 += NineInTen * d.scatter
	return e
}

// truncated cuts weights at most and makes them sum to one.
func truncated(w []float64, most float64) []float64 {
	sum := 0.0
	for i := range w {
		w[i] = math.Min(w[i], most)
		sum += w[i]
	}
	for i := range w {
		w[i] /= sum
	}
	return w
}

func weightedBand(x, w []float64) Band {
	s := bayes.NewSorted(x, w)
	return Band{s.Quantile(0.05), s.Quantile(0.50), s.Quantile(0.95)}
}
