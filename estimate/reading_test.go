package estimate

import (
	"math"
	"testing"

	"spile/batch"
)

// narrowing against the closed form of a linear-Gaussian pair: a reading with as much error as the thing itself spreads
// halves the variance, so that the band shrinks by 1 - 1/√2.
func TestNarrowing(t *testing.T) {
	rng := newRand(12)
	x := make([]float64, 20000)
	for i := range x {
		x[i] = rng.NormFloat64()
	}
	for _, c := range []struct{ own, want float64 }{{1, 1 - 1/math.Sqrt2}, {0, 1}, {3, 1 - math.Sqrt(0.75)}, {1e9, 0}} {
		if got := narrowing(x, x, c.own); math.Abs(got-c.want) > 0.01 {
			t.Errorf("own variance %g: narrows by %.4f, want %.4f, tolerance 0.01", c.own, got, c.want)
		}
	}
	if got := narrowing(x[:len(x)-1], x[1:], 0); got > 0.02 {
		t.Errorf("a reading of something else narrows by %.4f", got)
	}
}

// The gravity tells when it is finished; where it ends, a sample fermented out; the gauge, whether gas is lost. And what it says
// it would narrow, it does: with that reading taken the band is about so much narrower.
func TestNextReadingByQuestion(t *testing.T) {
	b := usualWay()
	b.Programme = b.Programme[:1]
	log := batch.Log{Readings: []batch.Reading{
		{Time: hour(0), Quantity: batch.Gravity, Value: 1.046}, {Time: hour(48), Quantity: batch.Gravity, Value: 1.030},
		{Time: hour(48), Quantity: batch.Temperature, Value: 293.15}, {Time: hour(48), Quantity: batch.Pressure, Value: 9 * psi}}}
	f := forecastOf(t, b, log, hour(48), Options{Seed: 3, Members: 400})
	by := map[Question]NextReading{}
	for _, s := range f.Questions.Next {
		by[s.Question] = s.Next
	}
	if n := by[toLimit]; !n.Forced {
		t.Errorf("where does it end: %+v, want a sample fermented out", n)
	}
	if n := by[toLeak]; !n.None && n.Instrument != batch.Pressure {
		t.Errorf("does it leak: %+v", n)
	}
	log.Events = append(log.Events, batch.Event{Time: hour(48), Kind: batch.ForcedSample, Gravity: 1.0105})
	after := forecastOf(t, b, log, hour(48), Options{Seed: 3, Members: 400})
	was, is := f.TerminalGravity.P95-f.TerminalGravity.P05, after.TerminalGravity.P95-after.TerminalGravity.P05
	if narrowed := 1 - is/was; math.Abs(narrowed-by[toLimit].Narrows) > 0.15 {
		t.Errorf("the sample was to narrow the end by %.2f, and narrowed it by %.2f", by[toLimit].Narrows, narrowed)
	}
}
