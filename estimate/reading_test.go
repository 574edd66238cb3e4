package estimate

import (
	"math"
	"slices"
	"testing"

	"spile/batch"
	"spile/unit"
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
		_, variance := bl.surest(c.of)
		if got := math.Sqrt(variance) / c.unit; math.Abs(got-c.want) > 1e-9 {
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

// What else is at hand is offered where it tells most: the meter of what the valve lets out, beside a hydrometer that is read to
// two points; the cylinder's weight while much cold beer takes gas; the thermometer, where nobody keeps the temperature. What was
// never read is not at hand.
func TestNextReadingByWhatIsAtHand(t *testing.T) {
	r := func(h float64, q batch.Quantity, ins string, v float64) batch.Reading {
		return batch.Reading{Time: hour(h), Quantity: q, Instrument: ins, Value: v}
	}
	metered, working := []batch.Reading{r(0, batch.Gravity, "", 1.0465)}, plant(10, nil)
	for h := 12.0; h <= 60; h += 12 {
		if err := working.sim.Advance(h * unit.Hour); err != nil {
			t.Fatal(err)
		}
		metered = append(metered, r(h, batch.VentedGas, "", float64(working.sim.Ledger().Vented)))
	}
	coarse := map[Tool]Instrument{{batch.Gravity, "hydrometer"}: {Offset: gravityPoint, Scatter: 2 * gravityPoint}}
	works, large, room := usualWay(), usualWay(), usualWay()
	works.Programme = works.Programme[:1]
	large.Wort.Volume, large.Vessel.Capacity, large.Vessel.Diameter = 60*unit.Litre, 75*unit.Litre, 0.4
	room.Place.Fridge, room.Place.Belt, room.Programme = nil, 0, nil
	for _, c := range []struct {
		of       Question
		want     batch.Quantity
		b        *batch.Batch
		now      float64
		readings []batch.Reading
	}{
		{toFinish, batch.VentedGas, works, 60, metered},
		{toGas, batch.CylinderMass, large, 180, []batch.Reading{r(0, batch.Gravity, "", 1.046), r(100, batch.Gravity, "", 1.011), r(160, batch.Gravity, "", 1.010),
			r(167, batch.CylinderMass, "", 9), r(180, batch.CylinderMass, "", 8.94)}},
		{toGas, batch.Temperature, room, 200, []batch.Reading{r(0, batch.Gravity, "density meter", 1.046), r(24, batch.Gravity, "density meter", 1.043), r(24, batch.Temperature, "strip", 291),
			r(180, batch.Pressure, "transducer", 10*psi), r(200, batch.Pressure, "transducer", 10*psi)}},
	} {
		next := func(readings []batch.Reading) NextReading {
			for _, s := range forecastOf(t, c.b, batch.Log{Readings: readings}, hour(c.now), Options{Seed: 3, Members: 300, Tools: coarse}).Questions.Next {
				if s.Question == c.of {
					return s.Next
				}
			}
			return NextReading{}
		}
		if got := next(c.readings); got.None || got.Instrument != c.want {
			t.Errorf("%s: expected quantity %d, got %+v", c.of, c.want, got)
		}
		without := slices.DeleteFunc(slices.Clone(c.readings), func(r batch.Reading) bool { return r.Quantity == c.want })
		if got := next(without); got.Instrument == c.want && !got.None {
			t.Errorf("%s: quantity %d was never read, and yet %+v", c.of, c.want, got)
		}
	}
}

// A thermometer read after the chill that waits for the finish would tell only whether it was chilled.
func TestNoThermometerForWhatIsSet(t *testing.T) {
	b := usualWay()
	b.Programme[1].AtSet, b.Programme[1].When = false, batch.Condition{Kind: batch.FinishedFor, For: unit.Day}
	log := batch.Log{Readings: warmth("", 24, 20, 20, 20, 20, 20, 20, 20)}
	for h, g := range map[float64]float64{0: 1.046, 48: 1.036, 96: 1.012, 120: 1.010, 144: 1.010} {
		log.Readings = append(log.Readings, batch.Reading{Time: hour(h), Quantity: batch.Gravity, Value: g})
	}
	for _, s := range forecastOf(t, b, log, hour(144), Options{Seed: 3, Members: 300}).Questions.Next {
		if s.Question == toGas && s.Next.Instrument == batch.Temperature && !s.Next.None {
			t.Errorf("how much gas it will hold: %+v", s.Next)
		}
	}
}
