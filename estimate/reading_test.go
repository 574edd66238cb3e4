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

// One more reading is valued with the instrument at hand: of one that was read before, only its scatter is left.
func TestReadingVariance(t *testing.T) {
	for _, c := range []struct {
		what string
		read []batch.Reading
		want float64 // sd, psi and points
		of   batch.Quantity
		unit float64
	}{
		{"a dial not read yet", nil, math.Hypot(1, 0.5), batch.Pressure, psi},
		{"a dial", []batch.Reading{{Quantity: batch.Pressure, Value: 9 * psi}}, 0.5, batch.Pressure, psi},
		{"a transducer", []batch.Reading{{Quantity: batch.Pressure, Instrument: "transducer", Value: 9 * psi}}, 0.05, batch.Pressure, psi},
		{"a float, and a hydrometer not read yet", []batch.Reading{{Quantity: batch.Gravity, Instrument: "floating", Value: 1.040}}, math.Hypot(1, 0.7), batch.Gravity, gravityPoint},
	} {
		for i := range c.read {
			c.read[i].Time = hour(24)
		}
		bl, err := Condition(usualWay(), batch.Log{Readings: c.read}, hour(24), Options{Seed: 3, Members: 60})
		if err != nil {
			t.Fatal(err)
		}
		if got := math.Sqrt(bl.readingVariance(c.of)) / c.unit; math.Abs(got-c.want) > 1e-9 {
			t.Errorf("%s: expected a scatter of %.3f, got %.3f", c.what, c.want, got)
		}
	}
}

// Where the answer is as sure as any reading would make it, none is asked for.
func TestNoReadingIsNeeded(t *testing.T) {
	b := usualWay()
	b.Programme = b.Programme[:1]
	log := batch.Log{Events: []batch.Event{{Time: hour(120), Kind: batch.ForcedSample, Gravity: 1.0105}}}
	for h := 0.0; h <= 240; h += 8 {
		g := 1.0105 + 0.0355/(1+math.Exp((h-50)/12))
		log.Readings = append(log.Readings, batch.Reading{Time: hour(h), Quantity: batch.Gravity, Instrument: "density meter", Value: g},
			batch.Reading{Time: hour(h), Quantity: batch.Temperature, Instrument: "probe", Value: 293.15})
	}
	for _, s := range forecastOf(t, b, log, hour(240), Options{Seed: 3, Members: 300}).Questions.Next {
		if s.Question == toLimit && !s.Next.None {
			t.Errorf("where it ends is known to the tenth of a point, and yet: %+v", s.Next)
		}
		if s.Question == toGas && s.Next.None {
			t.Errorf("nobody looked at the gauge, and yet no reading is asked for")
		}
	}
}
