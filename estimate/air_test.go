package estimate

import (
	"math"
	"slices"
	"testing"

	"spile/batch"
	"spile/bayes"
	"spile/unit"
	"spile/vessel"
)

// chilledBatch is 20 L of ale kept at 20 C in a fridge, in a room that is warmer.
func chilledBatch() *batch.Batch {
	b := plannedBatch()
	hold, relief := unit.Celsius(20), unit.Gauge(10*unit.PSI)
	b.Place.Belt, b.Place.Ambient = 0, unit.Celsius(24)
	b.Programme = []batch.Step{{AtSet: true, Set: batch.Setting{Hold: &hold, Relief: &relief}}}
	return b
}

// air is a reading of the air at an hour, C.
func air(h, celsius float64) batch.Reading {
	return batch.Reading{Time: hour(h), Quantity: batch.AirTemperature, Value: float64(unit.Celsius(celsius))}
}

// beer is a reading of a probe in the beer, C.
func beer(h, celsius float64) batch.Reading {
	return batch.Reading{Time: hour(h), Quantity: batch.Temperature, Instrument: "probe", Value: float64(unit.Celsius(celsius))}
}

// Air colder than the beer says that it works hard, air as warm that it is quiet, with a probe in the beer and by the fridge alone.
func TestColdAirMeansABriskFerment(t *testing.T) {
	for what, probes := range map[string][]batch.Reading{"a probe in the beer": {beer(0, 20), beer(24, 20), beer(48, 20)}, "kept by the fridge": nil} {
		told := func(below ...float64) *Forecast {
			log := batch.Log{Readings: slices.Clone(probes)}
			for i, k := range below {
				log.Readings = append(log.Readings, air(42+2*float64(i), 20-k))
			}
			return forecastOf(t, chilledBatch(), log, hour(48), Options{Seed: 3, Members: 400})
		}
		none, brisk, quiet := told(), told(6, 5.9, 6.1, 6), told(0, 0.1, -0.1, 0)
		rate := func(f *Forecast) float64 { return f.Now.PointsPerDay.P50 }
		if !(rate(quiet) < 0.95*rate(none) && rate(none) < rate(brisk)) {
			t.Errorf("%s: points a day %.1f quiet, %.1f without the air, %.1f brisk; want them to rise", what, rate(quiet), rate(none), rate(brisk))
		}
		if width(quiet.Now.PointsPerDay) > 0.95*width(none.Now.PointsPerDay) {
			t.Errorf("%s: band of points a day %+v, without the air %+v; want it narrower", what, quiet.Now.PointsPerDay, none.Now.PointsPerDay)
		}
	}
}

func width(b Band) float64 { return b.P95 - b.P05 }

// Beer that nobody keeps nor reads is as unsure as the room, of which a reading tells.
func TestRoomAirTellsOfTheBeer(t *testing.T) {
	b := plannedBatch()
	b.Place = batch.Place{Ambient: unit.Celsius(18)}
	told := func(log ...batch.Reading) Band {
		return forecastOf(t, b, batch.Log{Readings: log}, hour(30), Options{Seed: 3, Members: 400}).Now.Temperature
	}
	none, warm := told(), told(air(1, 22), air(10, 21.8), air(20, 22.1), air(30, 22))
	if w := width(none); w < 2*NineInTen*roomSD || w > 1.4*2*NineInTen*roomSD { // and what the ferment adds

		t.Errorf("beer in a room that somebody named once: %.1f K wide, want %.1f, and what the ferment adds", w, 2*NineInTen*roomSD)
	}
	if warm.P50 < none.P50+2.5 || width(warm) > 0.7*width(none) {
		t.Errorf("18 C told, 22 C read: beer %+v, without %+v; want it 2.5 K warmer at least, and narrower", warm, none)
	}
}

// A belt warms the beer as yeast does, and nobody knows when: beside one the air has no say. It is heard of nothing that gas alone tells.
func TestAirIsHeardWhereItSpeaks(t *testing.T) {
	log := batch.Log{Readings: []batch.Reading{beer(0, 20), beer(48, 20), air(40, 14)}}
	b := chilledBatch()
	tl := newTimeline(b, log, hour(48), nil)
	if math.IsInf(tl.data[0].scatter, 1) || tl.data[0].course != 40*unit.Hour {
		t.Errorf("without a belt: %+v", tl.data[0])
	}
	heard := tl.active()
	if !slices.Contains(heard, int(HeatLoss)) || slices.Contains(heard, int(Leak)) || slices.Contains(heard, int(HoldOffset)) {
		t.Errorf("heard are %v; want the heat loss, not the leak nor what comes after the last reading of the beer", heard)
	}
	b.Place.Belt = 30
	if tl = newTimeline(b, log, hour(48), nil); !math.IsInf(tl.data[0].scatter, 1) || len(tl.data) != 1 {
		t.Errorf("beside a belt: %+v; want it kept, without a say", tl.data)
	}
	if slices.Contains(tl.active(), int(HeatLoss)) {
		t.Error("beside a belt the air is asked for the heat loss")
	}
	f := forecastOf(t, b, log, hour(48), Options{Seed: 3, Members: 100})
	if slices.ContainsFunc(f.Flags, func(x Flag) bool { return x.Reading.Quantity == batch.AirTemperature }) {
		t.Errorf("flags %+v; nothing is to be asked of air beside a belt", f.Flags)
	}
}

// Where the beer is on its way to another temperature, the air says little of its ferment.
func TestAirWhileCoolingSaysLittle(t *testing.T) {
	cold := unit.Celsius(2)
	log := batch.Log{Readings: []batch.Reading{air(100, 18), air(151, -2), air(220, 2)}, Events: []batch.Event{{Time: hour(150), Kind: batch.HoldAt, Temperature: cold}}}
	tl := newTimeline(chilledBatch(), log, hour(220), nil)
	usual := math.Hypot(instruments[batch.AirTemperature]["probe"].Scatter, airPasses)
	for i, want := range []float64{usual, 18 * math.Exp(-1.0/12), usual} {
		if got := tl.data[i].scatter; math.Abs(got-want) > 0.12 {
			t.Errorf("reading %d: scatter %.2f K, want %.2f", i, got, want)
		}
	}
}

// TestHonestAir holds the bands against vessels by the full closure, whose compressor cycles: truth drawn from the prior, the air read
// twice a day at any moment of the cycle, every other batch with a strip on the vessel.
func TestHonestAir(t *testing.T) {
	if testing.Short() {
		t.Skip("infers thirty batches")
	}
	const batches = 30
	var held int
	var ranks []float64
	for i := range batches {
		b, log, rate, loss := cooledTruth(t, uint64(900+i), i%2 == 0)
		bl, err := Condition(b, log, hour(60), Options{Seed: uint64(i), Members: 200})
		if err != nil {
			t.Fatal(err)
		}
		rates, losses := make([]float64, len(bl.posterior.Z)), make([]float64, len(bl.posterior.Z))
		bl.each(len(rates), func(w *world, m int) {
			w.past(bl.posterior.Z[m])
			rates[m], losses[m] = w.sim.PointsPerDay(), bl.posterior.Z[m][HeatLoss]
		})
		if r := weightedBand(rates, bl.posterior.Weight); rate >= r.P05 && rate <= r.P95 {
			held++
		}
		ranks = append(ranks, bayes.PIT(losses, bl.posterior.Weight, loss, newRand(uint64(i))))
	}
	t.Logf("held %d of %d", held, batches)
	if held < 23 { // of 30 at nine in ten, one in a hundred holds less
		t.Errorf("the rate lay within its band in %d of %d batches; expected at least 23", held, batches)
	}
	if p := bayes.UniformP(ranks, 200); p < 0.002 {
		t.Errorf("heat loss: ranks of the truth are not uniform, p = %.4f: %.2f", p, ranks)
	}
}

// cooledTruth is a vessel in a fridge by the full closure, with what was read until hour 60, how fast its gravity falls then, points a
// day, and its heat loss, standard normal.
func cooledTruth(t *testing.T, seed uint64, strip bool) (b *batch.Batch, log batch.Log, rate, loss float64) {
	t.Helper()
	b = chilledBatch()
	rng := newRand(seed)
	tl := newTimeline(b, batch.Log{}, hour(60), nil)
	w := newWorld(b, tl, GenericPrior(b.Yeast.Kind).forBatch(b))
	z := make([]float64, tl.dim())
	for i := range z {
		z[i] = rng.NormFloat64()
	}
	w.start(z)
	for i := range tl.items {
		Turn(&w.controls, tl.items[i].set)
	}
	full := vessel.NewFull(w.params)
	full.Set(w.actual(w.controls))
	read := func(h float64, q batch.Quantity, truth, offset float64) {
		_, ins := lookup(q, "")
		log.Readings = append(log.Readings, batch.Reading{Time: hour(h), Quantity: q, Value: truth + ins.Offset*offset + ins.Scatter*rng.NormFloat64()})
	}
	advance := func(h float64) *vessel.State {
		if err := full.Advance(h * unit.Hour); err != nil {
			t.Fatal(err)
		}
		return full.State()
	}
	offsets := []float64{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()}
	for h := 10 + rng.Float64(); h < 59; h += 12 {
		st := advance(h)
		read(h, batch.AirTemperature, st.Around, offsets[0])
		if strip {
			read(h, batch.Temperature, st.Temperature, offsets[1])
		}
	}
	st := advance(60)
	read(60, batch.Gravity, float64(st.Gravity()), offsets[2])
	return b, log, full.PointsPerDay(), z[HeatLoss]
}
