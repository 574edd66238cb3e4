package estimate

import (
	"testing"
	"time"

	"spile/batch"
)

// Odd readings are asked about, each for its own reason, and none is dropped.
func TestOddReadings(t *testing.T) {
	good := []batch.Reading{
		{Time: hour(0), Quantity: batch.Gravity, Value: 1.046}, {Time: hour(48), Quantity: batch.Gravity, Value: 1.030},
		{Time: hour(96), Quantity: batch.Gravity, Value: 1.014}, {Time: hour(120), Quantity: batch.Gravity, Value: 1.011},
	}
	stuck := []batch.Reading{}
	for h := 12.0; h <= 60; h += 4 {
		stuck = append(stuck, batch.Reading{Time: hour(h), Quantity: batch.Gravity, Instrument: "floating", Value: 1.0441})
	}
	for _, c := range []struct {
		what string
		add  []batch.Reading
		kind FlagKind
	}{
		{"nothing odd", nil, ""},
		{"a reading of another vessel", []batch.Reading{{Time: hour(119), Quantity: batch.Gravity, Value: 1.052}}, FlagFar},
		{"the same twice", []batch.Reading{good[2]}, FlagTwice},
		{"a float that hangs", stuck, FlagStuck},
		{"a clock that jumped", []batch.Reading{{Time: hour(-400), Quantity: batch.Gravity, Value: 1.046}}, FlagEarly},
	} {
		log := batch.Log{Readings: append(append([]batch.Reading{}, good...), c.add...)}
		if c.kind == FlagStuck {
			for _, r := range []struct{ h, sg float64 }{{24, 1.042}, {36, 1.037}, {60, 1.025}} {
				log.Readings = append(log.Readings, batch.Reading{Time: hour(r.h), Quantity: batch.Gravity, Value: r.sg})
			}
		}
		f := forecastOf(t, usualWay(), log, hour(120), Options{Seed: 6, Members: 200})
		seen := map[FlagKind]int{}
		for _, flag := range f.Flags {
			seen[flag.Kind]++
		}
		if c.kind == "" && len(f.Flags) > 0 || c.kind != "" && seen[c.kind] == 0 {
			t.Errorf("%s: flags %+v", c.what, f.Flags)
		}
		if f.Now.Gravity.P50 < 1.008 || f.Now.Gravity.P50 > 1.014 {
			t.Errorf("%s: the belief is led astray to %.4f", c.what, f.Now.Gravity.P50)
		}
	}
}

// A gap without a word widens the belief while the beer works.
func TestAGapWidens(t *testing.T) {
	log := batch.Log{Readings: []batch.Reading{{Time: hour(0), Quantity: batch.Gravity, Value: 1.046}, {Time: hour(36), Quantity: batch.Gravity, Value: 1.036}}}
	width := func(h float64) float64 {
		b := forecastOf(t, usualWay(), log, hour(h), Options{Seed: 6, Members: 300}).Now.Gravity
		return b.P95 - b.P05
	}
	if near, far := width(37), width(37+72); far < 1.5*near {
		t.Errorf("three days later the gravity is known to %.4f, at the reading to %.4f", far, near)
	}
	// where it stands still again, a week adds nothing, and takes nothing away
	ended := batch.Log{Readings: append(log.Readings, batch.Reading{Time: hour(120), Quantity: batch.Gravity, Value: 1.011})}
	at := func(h float64) Band {
		return forecastOf(t, usualWay(), ended, hour(h), Options{Seed: 6, Members: 300}).Now.Gravity
	}
	if read, week := at(121), at(121+168); week.P50 > read.P50 || week.P95-week.P05 > 2*(read.P95-read.P05) {
		t.Errorf("a week after the end the gravity is %+v, at the reading %+v", week, read)
	}
}

// What is read and what is let out on one visit is written down in any order: the gauge itself says on which side of the
// let-down it was read.
func TestReadOnTheVisitOfALetDown(t *testing.T) {
	log := batch.Log{Events: []batch.Event{{Time: hour(72), Kind: batch.VentedTo, From: 10 * psi, To: 2 * psi, Line: 7}}}
	for _, c := range []struct {
		shown float64 // psi
		at    time.Duration
		after bool
	}{
		{10, 0, false}, {9.5, 3 * time.Minute, false}, {10, -time.Minute, false},
		{2, 0, true}, {2.5, -3 * time.Minute, true}, {2, time.Minute, true},
		{2, -10 * time.Minute, false}, {10, 10 * time.Minute, true},
	} {
		log.Readings = []batch.Reading{{Time: hour(72).Add(c.at), Quantity: batch.Pressure, Value: c.shown * psi}}
		tl := newTimeline(usualWay(), log, hour(80), nil)
		let, read := -1, -1
		for i, it := range tl.items {
			switch {
			case it.event != nil && it.event.Kind == batch.VentedTo:
				let = i
			case it.reading >= 0 && tl.data[it.reading].reading.Value == c.shown*psi && tl.data[it.reading].reading.Line == 0:
				read = i
			}
		}
		if let < 0 || read < 0 || (read > let) != c.after {
			t.Errorf("%g psi read %v from a let-down of 10 to 2 psi: expected after %v, got places %d and %d", c.shown, c.at, c.after, read, let)
		}
	}
}
