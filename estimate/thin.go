package estimate

import (
	"maps"
	"math"
	"slices"
	"sort"
	"time"

	"spile/batch"
)

const (
	// mostOfOne instrument's readings are taken one by one; a denser series is thinned to about so many means.
	mostOfOne = 150
	// mostAtOnce is how many readings of a mean count as independent: what errs for a while errs for all of them (assumption).
	mostAtOnce = 16
	// wildFrom is how many times the scatter of its instrument lies between one reading of a dense series and the next, half
	// of the time, from which on no beer can have been so: something disturbs the instrument (assumption).
	wildFrom = 20
)

// thinned is a reading, or the mean of several that follow each other closely.
type thinned struct {
	batch.Reading
	n    int
	wild float64 // sd of one of them where they jump as no beer does, SI; 0: they do not
	sd   float64 // of them about a line, SI; 0: not known
}

// thin replaces the readings of an instrument that reads often by means over equal spans, so that a sensor with a hundred
// thousand readings costs what two hundred cost. What is read in a short span about a slow course has its mean, and how many
// there were, as its sufficient statistics. No mean reaches over something that was done. readings are in order of time, and
// so is what comes back.
func thin(readings []batch.Reading, done []time.Time, most int) []thinned {
	by := map[Tool][]batch.Reading{}
	for _, r := range readings {
		tool := Tool{r.Quantity, r.Instrument}
		by[tool] = append(by[tool], r)
	}
	out := make([]thinned, 0, min(len(readings), 2*most*len(by)))
	if !slices.ContainsFunc(slices.Collect(maps.Values(by)), func(series []batch.Reading) bool { return len(series) > most }) {
		for _, r := range readings {
			out = append(out, thinned{Reading: r, n: 1})
		}
		return out
	}
	for _, series := range by {
		if len(series) <= most {
			for _, r := range series {
				out = append(out, thinned{Reading: r, n: 1})
			}
			continue
		}
		wild := wildness(series)
		for _, m := range means(series, done, most) {
			m.wild = wild
			out = append(out, m)
		}
	}
	sort.SliceStable(out, func(i, j int) bool { return before(&out[i].Reading, &out[j].Reading) })
	return out
}

// before orders readings by time, and what was read at one moment by quantity and instrument, so that the order is always the same.
func before(a, b *batch.Reading) bool {
	switch {
	case !a.Time.Equal(b.Time):
		return a.Time.Before(b.Time)
	case a.Quantity != b.Quantity:
		return a.Quantity < b.Quantity
	}
	return a.Instrument < b.Instrument
}

// means cuts a series into about so many spans of equal length, none over something that was done.
func means(series []batch.Reading, done []time.Time, most int) []thinned {
	first, last := series[0].Time, series[len(series)-1].Time
	span := last.Sub(first)/time.Duration(most) + 1
	var out []thinned
	for i := 0; i < len(series); {
		end := i + 1
		next := sort.Search(len(done), func(k int) bool { return done[k].After(series[i].Time) })
		for end < len(series) && series[end].Time.Sub(series[i].Time) < span && (next == len(done) || !series[end].Time.After(done[next])) {
			end++
		}
		out = append(out, mean(series[i:end]))
		i = end
	}
	return out
}

// mean is the mean of the readings without the outermost tenth on either side, at their mean time.
func mean(of []batch.Reading) thinned {
	r, n := of[len(of)/2], len(of)
	if n == 1 {
		return thinned{Reading: r, n: 1}
	}
	values, shift := make([]float64, n), 0.0
	for i := range of {
		values[i] = of[i].Value
		shift += of[i].Time.Sub(of[0].Time).Seconds() / float64(n)
	}
	sort.Float64s(values)
	cut, sum := n/10, 0.0
	for _, v := range values[cut : n-cut] {
		sum += v
	}
	r.Value = sum / float64(n-2*cut)
	r.Time = of[0].Time.Add(time.Duration(shift * float64(time.Second)))
	return thinned{Reading: r, n: n, sd: within(of)}
}

// wildness is the sd of the readings of a dense series about any slow course, where it is beyond what beer and instrument can
// explain; else 0. It is that of normal errors whose steps from one to the next have the same median: the differences that
// [Neumann1941] squares, by their median, so that no few jumps count. series holds two readings at least.
func wildness(series []batch.Reading) float64 {
	_, ins := lookup(series[0].Quantity, series[0].Instrument)
	steps := make([]float64, len(series)-1)
	for i := range steps {
		steps[i] = math.Abs(series[i+1].Value - series[i].Value)
	}
	sort.Float64s(steps)
	median := steps[len(steps)/2]
	if median < wildFrom*ins.Scatter {
		return 0
	}
	return median / (medianOfNormal * math.Sqrt2)
}

// medianOfNormal is the median distance of a standard normal from its mean.
const medianOfNormal = 0.6745

// scatterOf is the sd of a mean of n readings with a scatter each.
func scatterOf(scatter float64, n int) float64 {
	return scatter / math.Sqrt(float64(min(max(n, 1), mostAtOnce)))
}
