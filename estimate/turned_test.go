package estimate

import (
	"math"
	"testing"

	"spile/batch"
	"spile/internal/ferment"
	"spile/unit"
)

// turnsOf is what a thermometer shows of turns.
func turnsOf(b *batch.Batch, log batch.Log, until float64) []turn {
	return newTimeline(b, log, hour(until), nil).track.turns
}

// A change that nobody wrote down is found, by how much and since when; one that was written is none, nor is one bad reading, nor
// the second half of a chill that came early. A chill that was written and did not come is found too.
func TestTurnedAndNotWritten(t *testing.T) {
	for _, c := range []struct {
		what  string
		shown func(h, celsius float64) float64 // of beer that is chilled from 168 h on, as written
		want  []turn
	}{
		{"as written", func(_, c float64) float64 { return c }, nil},
		{"six degrees colder from the fourth day on, then as written", func(h, c float64) float64 {
			if h > 90 && h < 168 {
				return c - 6
			}
			return c
		}, []turn{{since: 90, by: -6}}},
		{"eight warmer for two days, and back", func(h, c float64) float64 {
			if h > 60 && h < 108 {
				return c + 8
			}
			return c
		}, []turn{{since: 54, by: 8}, {since: 102, by: -8}}},
		{"chilled two days early", func(h, c float64) float64 {
			if h > 120 {
				return 1
			}
			return c
		}, []turn{{since: 114, by: -19}}},
		{"the chill did not come", func(h, _ float64) float64 { return 20 + 0.5*math.Round(math.Sin(h)) }, []turn{{since: 162, by: 19, kept: true}}},
		{"one reading of another vessel", func(h, c float64) float64 {
			if h == 90 {
				return 2
			}
			return c
		}, nil},
	} {
		got := turnsOf(usualWay(), looked(c.shown), 240)
		if len(got) != len(c.want) {
			t.Errorf("%s: got %+v, expected %+v", c.what, got, c.want)
			continue
		}
		for i, w := range c.want {
			if g := got[i]; math.Abs(g.since/unit.Hour-w.since) > 1 || math.Abs(g.by-w.by) > 2 || g.kept != w.kept {
				t.Errorf("%s: got %.1f K since %.0f h, kept %v; expected %+v, tolerance 2 K and 1 h", c.what, g.by, g.since/unit.Hour, g.kept, w)
			}
		}
	}
}

// Nothing is asked about healthy vessels: beer that strays as vessels do, in a room or kept, read with a strip or a probe, seldom or
// often, rounded as people round, and chilled on the eighth day as written, sooner or slower than expected.
func TestNothingTurnedInHealthyVessels(t *testing.T) {
	for seed := range uint64(60) {
		for _, c := range []struct {
			every, round float64
			instrument   string
		}{{24, 1, "strip"}, {12, 0.5, "strip"}, {3, 0.1, "probe"}} {
			b := usualWay()
			if seed%2 == 0 {
				b.Place.Fridge, b.Place.Belt = nil, 0
			}
			rng := newRand(seed)
			s, hold := StrayingOf(b, *b.Programme[0].Set.Hold), float64(*b.Programme[0].Set.Hold)
			course, pace := strayed(s, 240, rng), s.Cools/unit.Hour*math.Exp(paceDoubt*rng.NormFloat64())
			ins := instruments[batch.Temperature][c.instrument]
			offset := ins.Offset * rng.NormFloat64()
			var log batch.Log
			for h := 0.0; h <= 240; h += c.every {
				kelvin := hold + course[int(h)] + 19*math.Expm1(-math.Max(h-168, 0)/pace) + offset + ins.Scatter*rng.NormFloat64()
				log.Readings = append(log.Readings, batch.Reading{Time: hour(h), Quantity: batch.Temperature, Instrument: c.instrument, Value: 0.15 + math.Round((kelvin-0.15)/c.round)*c.round})
			}
			if got := turnsOf(b, log, 240); len(got) > 0 {
				t.Errorf("seed %d, a %s every %g h: nothing was turned that is not written, and yet %+v", seed, c.instrument, c.every, got)
			}
		}
	}
}

// The measured ferments, whose thermometers knew nothing of this code: where the chill is not written down it is asked about, from
// the day on which the record has it; where nothing was chilled nothing is.
func TestTurnedInMeasuredFerments(t *testing.T) {
	ferments, err := ferment.Load("../testdata/ferments")
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range ferments {
		until := math.Min(f.Last(), f.ChilledAt()+24)
		b, log := f.Records(nil, until)
		got := turnsOf(b, log, until)
		if math.IsInf(f.ChilledAt(), 1) {
			if len(got) > 0 {
				t.Errorf("%s: nothing was chilled, and yet %+v", f.Name, got)
			}
			continue
		}
		if len(got) == 0 {
			t.Errorf("%s: chilled at %.0f h, and nothing is asked", f.Name, f.ChilledAt())
			continue
		}
		last := got[len(got)-1]
		since, seen := last.since/unit.Hour, last.seen/unit.Hour
		fell := f.Temperature(since) - f.Temperature(f.ChilledAt())
		if seen < f.ChilledAt()-36 || since > f.ChilledAt() || last.by > -3 || -last.by < fell-1 || last.kept {
			t.Errorf("%s: colder by %.1f K since %.0f h; the record has it below 10.5 °C at %.0f h, %.1f K colder than then", f.Name, -last.by, since, f.ChilledAt(), fell)
		}
	}
}
