package estimate

import (
	"math"
	"slices"
	"time"

	"spile/batch"
	"spile/unit"
)

// FlagKind says why a reading is asked about.
type FlagKind string

// The reasons.
const (
	FlagFar   FlagKind = "far"   // it does not fit what is believed of its moment
	FlagTwice FlagKind = "twice" // the same was read before at the same moment: it counts once
	FlagStuck FlagKind = "stuck" // it has shown the same for long, while the vessel must have moved
	FlagEarly FlagKind = "early" // its time lies before pitching: the clock may have jumped
	FlagLate  FlagKind = "late"  // its time lies further from pitching than any batch lasts: the clock may have jumped
)

// LongestBatch is how long after pitching anything is looked at or believed, a year: what is dated later a clock has moved there.
const LongestBatch = 366 * 24 * time.Hour

// LastLook is the time of the last that was read or done within [LongestBatch] of pitching; pitching where there is none.
func LastLook(b *batch.Batch, log batch.Log) time.Time {
	last, end := b.Pitched, b.Pitched.Add(LongestBatch)
	look := func(t time.Time) {
		if t.After(last) && !t.After(end) {
			last = t
		}
	}
	for i := range log.Readings {
		look(log.Readings[i].Time)
	}
	for i := range log.Events {
		look(log.Events[i].Time)
	}
	return last
}

const (
	// stuckReadings in a row, over stuckFor, that do not differ at all.
	stuckReadings = 8
	stuckFor      = 12 * unit.Hour
)

// again tells a reading that is the same as one taken at the same moment with the same instrument.
func again(readings []batch.Reading, i int) bool {
	r := &readings[i]
	for k := i - 1; k >= 0 && readings[k].Time.Equal(r.Time); k-- {
		if q := &readings[k]; q.Quantity == r.Quantity && q.Instrument == r.Instrument && q.Value == r.Value {
			return true
		}
	}
	return false
}

// flags lists readings that are asked about. Nothing is dropped: what is far off weighs little by its own tails.
func (bl *Belief) flags(fs []future) []Flag {
	out := append([]Flag(nil), bl.tl.flags...)
	for i := range bl.tl.data {
		d := &bl.tl.data[i]
		b := band(fs, func(f *future) float64 { return f.now.predicted[i] })
		scatter := d.scatter
		if d.wild {
			scatter = bl.tl.channels[d.channel].spread()
		}
		expected := Band{b.P05 - NineInTen*scatter, b.P50, b.P95 + NineInTen*scatter}
		if d.wild { // of a whole series that jumps the last is asked about
			if last := !slices.ContainsFunc(bl.tl.data[i+1:], func(e datum) bool { return e.channel == d.channel }); last {
				out = append(out, Flag{FlagFar, d.reading, expected})
			}
			continue
		}
		switch half := oddScatters*d.scatter + (b.P95-b.P05)/2; {
		case bl.stuckAt(i, b, fs):
			out = append(out, Flag{FlagStuck, d.reading, expected})
		case math.Abs(d.value-b.P50) > half:
			out = append(out, Flag{FlagFar, d.reading, expected})
		}
	}
	return out
}

// runTo tells whether reading i ends a long run of equal readings of its channel, and where that begins. It is so once of a run: at
// its end.
func runTo[T any](all []T, i int, of func(*T) (channel int, at, value float64)) (first int, ends bool) {
	channel, until, value := of(&all[i])
	run, since := 1, until
	first = i
	for k := i - 1; k >= 0; k-- {
		if c, at, v := of(&all[k]); c == channel {
			if v != value {
				break
			}
			run, first, since = run+1, k, at
		}
	}
	for k := i + 1; k < len(all); k++ {
		if c, _, v := of(&all[k]); c == channel {
			if v == value {
				return first, false
			}
			break
		}
	}
	return first, run >= stuckReadings && until-since >= stuckFor
}

// stuckAt says that reading i ends a long run of equal readings over which the vessel moved by more than their scatter.
func (bl *Belief) stuckAt(i int, here Band, fs []future) bool {
	d := &bl.tl.data[i]
	first, ends := runTo(bl.tl.data, i, func(d *datum) (channel int, at, value float64) { return d.channel, d.at, d.value })
	if !ends {
		return false
	}
	then := band(fs, func(f *future) float64 { return f.now.predicted[first] })
	return math.Abs(then.P50-here.P50) > 2*d.scatter
}
