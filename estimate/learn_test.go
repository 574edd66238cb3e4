package estimate

import (
	"math"
	"testing"

	"spile/batch"
)

// someExperience is a batch whose vessel leaked at grams a day and whose hydrometer read off too much.
func someExperience(seed uint64, generic Prior, grams, off float64) Experience {
	rng := newRand(seed)
	e := Experience{Under: generic, Offsets: map[Tool][]float64{}}
	for range 300 {
		var d [numUnknowns]float64
		for u := range numUnknowns {
			d[u] = generic[u].Mean + generic[u].SD*rng.NormFloat64()
		}
		d[Leak] = math.Log(grams) + 0.1*rng.NormFloat64()
		e.Draws = append(e.Draws, d)
		h := Tool{batch.Gravity, "hydrometer"}
		e.Offsets[h] = append(e.Offsets[h], off+0.0002*rng.NormFloat64())
	}
	return e
}

// A vessel's leak and a hydrometer's offset are learnt from the batches that showed them; the yeast is left alone.
func TestLearnVesselAndTool(t *testing.T) {
	generic := GenericPrior("ale")
	var past []Experience
	for i := range 8 {
		past = append(past, someExperience(uint64(i+1), generic, 4, 0.003))
	}
	p := Learn(generic, past, OfVessel)
	if math.Abs(p[Leak].Mean-math.Log(4)) > 0.6 || p[Leak].SD > generic[Leak].SD {
		t.Errorf("eight batches leaked 4 g a day: ln leak %.2f ± %.2f, want near %.2f and narrower than %.2f", p[Leak].Mean, p[Leak].SD, math.Log(4), generic[Leak].SD)
	}
	if p[Lag] != generic[Lag] || p[AttenuationLimit] != generic[AttenuationLimit] {
		t.Error("a vessel teaches nothing of the yeast")
	}
	tool := Tool{batch.Gravity, "hydrometer"}
	ins, n := LearnTool(tool, past)
	if n != 8 || math.Abs(ins.Mean-0.003) > 0.0008 || ins.Offset > 0.001 {
		t.Errorf("eight batches with a hydrometer 3 points high: got %d batches, %.4f ± %.4f", n, ins.Mean, ins.Offset)
	}
	if usual, n := LearnTool(Tool{batch.Pressure, "dial"}, past); n != 0 || usual != instruments[batch.Pressure]["dial"] {
		t.Errorf("a dial that was never read stays as usual; got %+v from %d batches", usual, n)
	}
	for _, line := range Passports(generic, p, OfVessel, len(past)) {
		if line.Batches != 8 || !(line.Band.P05 < line.Band.P50 && line.Band.P50 < line.Band.P95) {
			t.Errorf("%s: %+v", line.Unknown.Name(), line)
		}
	}
}

// One batch far off moves a prior little where others agree; a first batch, five spreads off, moves it about half way.
func TestOneOddBatch(t *testing.T) {
	generic := GenericPrior("ale")
	odd := someExperience(99, generic, 300, 0.02)
	alone := Learn(generic, []Experience{odd}, OfVessel)
	if moved := (alone[Leak].Mean - generic[Leak].Mean) / generic[Leak].SD; moved > 2.5 {
		t.Errorf("a first batch that leaked 300 g a day moves ln leak by %.1f of its spread", moved)
	}
	var past []Experience
	for i := range 8 {
		past = append(past, someExperience(uint64(i+1), generic, 0.2, 0))
	}
	before := Learn(generic, past, OfVessel)
	after := Learn(generic, append(past, odd), OfVessel)
	if moved := (after[Leak].Mean - before[Leak].Mean) / before[Leak].SD; moved > 0.5 {
		t.Errorf("one odd batch among nine moves ln leak by %.2f of its spread", moved)
	}
	tool := Tool{batch.Gravity, "hydrometer"}
	was, _ := LearnTool(tool, past)
	is, _ := LearnTool(tool, append(past, odd))
	if math.Abs(is.Mean-was.Mean) > was.Offset {
		t.Errorf("one odd batch moves the hydrometer's offset from %.4f to %.4f", was.Mean, is.Mean)
	}
}

// What was learnt of an instrument is used: the same reading of a hydrometer known to read 3 points high means less.
func TestLearntToolIsUsed(t *testing.T) {
	b := usualWay()
	log := batch.Log{Readings: []batch.Reading{{Time: hour(100), Quantity: batch.Gravity, Value: 1.015}}}
	usual := forecastOf(t, b, log, hour(100), Options{Seed: 2, Members: 200})
	known := forecastOf(t, b, log, hour(100), Options{Seed: 2, Members: 200, Tools: map[Tool]Instrument{{batch.Gravity, "hydrometer"}: {Mean: 0.003, Offset: 0.0003, Scatter: 0.0007}}})
	if fell := usual.Now.Gravity.P50 - known.Now.Gravity.P50; fell < 0.002 || fell > 0.004 {
		t.Errorf("3 points high: the belief moves by %.4f, want about 0.003", fell)
	}
}
