package estimate

import (
	"math"
	"testing"
	"time"

	"spile/batch"
	"spile/bayes"
	"spile/unit"
)

// drawn makes a batch whose truth is drawn from the prior, and what its
// instruments would have shown at the given hours.
func drawn(t *testing.T, seed uint64, hours []float64, quantities ...batch.Quantity) (*batch.Batch, batch.Log, []float64, *world) {
	t.Helper()
	rng := newRand(seed)
	relief := unit.Gauge(10 * unit.PSI)
	hold := unit.Celsius(20)
	b := &batch.Batch{
		Name: "drawn", Pitched: pitchedAt,
		Wort:      batch.Wort{Volume: 20 * unit.Litre, Gravity: 1.046},
		Yeast:     batch.Yeast{Kind: "ale"},
		Vessel:    batch.Vessel{Capacity: 26 * unit.Litre, Diameter: 0.3},
		Place:     batch.Place{Ambient: unit.Celsius(18)},
		Programme: []batch.Step{{AtSet: true, Set: batch.Setting{Hold: &hold, Relief: &relief}}},
	}
	var log batch.Log
	for _, h := range hours {
		for _, q := range quantities {
			log.Readings = append(log.Readings, batch.Reading{Time: hour(h), Quantity: q})
		}
	}
	tl := newTimeline(b, log, hour(hours[len(hours)-1]), nil)
	w := newWorld(b, tl, GenericPrior(b.Yeast.Kind).forBatch(b))
	z := make([]float64, tl.dim())
	for i := range z {
		z[i] = rng.NormFloat64()
	}
	w.past(z)
	for i := range log.Readings { // data and readings are in the same order
		noise := rng.NormFloat64() / math.Sqrt(chiSquare(rng.NormFloat64, studentNu)/studentNu)
		log.Readings[i].Value = w.predicted[i] + tl.channels[tl.data[i].channel].Scatter*noise
	}
	return b, log, z, w
}

func chiSquare(normal func() float64, nu int) float64 {
	var s float64
	for range nu {
		x := normal()
		s += x * x
	}
	return s
}

// TestHonest is the short form of simulation-based calibration [Talts2018]: truth
// drawn from the prior, readings simulated, inferred; the ranks of the truth must be uniform.
func TestHonest(t *testing.T) {
	if testing.Short() {
		t.Skip("infers thirty batches")
	}
	const batches = 30
	watched := []Unknown{AttenuationLimit, Lag, Uptake, OriginalGravity}
	ranks := make([][]float64, len(watched)+1)
	for i := range batches {
		hours := []float64{0, 24, 48, 60, 84}[:3+i%3]
		b, log, z, w := drawn(t, uint64(100+i), hours, batch.Gravity)
		bl, err := Condition(b, log, hour(hours[len(hours)-1]), Options{Seed: uint64(i), Members: 200})
		if err != nil {
			t.Fatal(err)
		}
		rng := newRand(uint64(i))
		for k, u := range watched {
			x := make([]float64, len(bl.posterior.Z))
			for m := range x {
				x[m] = bl.posterior.Z[m][u]
			}
			ranks[k] = append(ranks[k], bayes.PIT(x, bl.posterior.Weight, z[u], rng))
		}
		truth := gravityAt(w, z, hours[len(hours)-1]+48)
		x := make([]float64, len(bl.posterior.Z))
		v := newWorld(bl.batch, bl.tl, bl.prior)
		for m := range x {
			x[m] = gravityAt(v, bl.posterior.Z[m], hours[len(hours)-1]+48)
		}
		last := len(ranks) - 1
		ranks[last] = append(ranks[last], bayes.PIT(x, bl.posterior.Weight, truth, rng))
	}
	for k := range ranks {
		name := "gravity two days ahead"
		if k < len(watched) {
			name = watched[k].Name()
		}
		if p := bayes.UniformP(ranks[k], 200); p < 0.002 {
			t.Errorf("%s: ranks of the truth are not uniform, p = %.4f (expected at least 0.002): %.2f", name, p, ranks[k])
		}
	}
}

// gravityAt runs z to an hour ahead of the readings.
func gravityAt(w *world, z []float64, h float64) float64 {
	w.start(z)
	for i := range w.tl.items {
		w.apply(&w.tl.items[i])
	}
	w.advance(h * unit.Hour)
	return float64(w.sim.State().Gravity())
}

// Without any reading the belief is the prior: wide, and open about whether it has finished.
func TestNoReadingIsThePrior(t *testing.T) {
	b, _, _, _ := drawn(t, 1, []float64{0}, batch.Gravity)
	fc := forecastOf(t, b, batch.Log{}, hour(48), Options{Seed: 3, Members: 300})
	g := fc.Now.Gravity
	if width := (g.P95 - g.P05) / gravityPoint; width < 8 || width > 40 {
		t.Errorf("two days in and nothing read, the 90 %% band of gravity is %.1f points wide; expected 8 to 40", width)
	}
	if fc.Now.Finished > 0.2 {
		t.Errorf("finished after two days with nothing read: expected at most 0.2, got %.3f", fc.Now.Finished)
	}
	// a finished gravity of 1.007 to 1.010 is ordinary for such beers (common practice, no source)
	if fc.TerminalGravity.P05 > 1.010 || fc.TerminalGravity.P95 < 1.007 {
		t.Errorf("terminal gravity %.4f to %.4f leaves out the ordinary 1.007 to 1.010", fc.TerminalGravity.P05, fc.TerminalGravity.P95)
	}
}

// The measured ferment that hardly works, from what a brewer would have read: not finished, much left, hardly moving.
func TestStalledFermentIsNotFinished(t *testing.T) {
	f := readFerment(t, "../testdata/ferments/03-pilot-ale-12C-r00.csv")
	b, log := f.Records([]float64{0, 96, 192, 288}, 288)
	fc := forecastOf(t, b, log, hour(288), Options{Seed: 5, Members: 400})
	if fc.Now.Finished > 0.01 || fc.Now.PointsLeft.P05 < 10 || fc.Now.PointsPerDay.P95 > 1 {
		t.Errorf("expected finished at most 0.01, at least 10 points left, at most 1 point a day; got %.3f, %.1f, %.2f",
			fc.Now.Finished, fc.Now.PointsLeft.P05, fc.Now.PointsPerDay.P95)
	}
}

// A sample fermented out warm says where the batch will end.
func TestForcedSampleTellsTheEnd(t *testing.T) {
	b, log, _, _ := drawn(t, 5, []float64{0, 24}, batch.Gravity)
	ends := func() Band {
		fc := forecastOf(t, b, log, hour(72), Options{Seed: 2})
		return fc.TerminalGravity
	}
	before := ends()
	log.Events = []batch.Event{{Time: hour(60), Kind: batch.ForcedSample, Gravity: 1.014}}
	after := ends()
	if after.P95-after.P05 > 0.95*(before.P95-before.P05) || math.Abs(after.P50-1.014) > 2.5*gravityPoint || after.P50-before.P50 < 1.2*gravityPoint {
		t.Errorf("a forced sample of 1.014: expected the end moved towards it as far as the hydrometer they share allows, and surer; got %.4f to %.4f, before %.4f to %.4f", after.P05, after.P95, before.P05, before.P95)
	}
}

// The same seed gives the same forecast, on one worker or two.
func TestReproducible(t *testing.T) {
	f := readFerment(t, "../testdata/ferments/39-pilot-lager-22C-r02.csv")
	b, log := f.Records([]float64{0, 24, 48}, 48)
	var first *Forecast
	for _, workers := range []int{1, 2, 2} {
		fc := forecastOf(t, b, log, hour(48), Options{Seed: 9, Members: 100, Workers: workers})
		if first == nil {
			first = fc
		}
		if fc.Now != first.Now || fc.Milestones.Finished.P50 != first.Milestones.Finished.P50 || fc.Series.Gravity[20] != first.Series.Gravity[20] {
			t.Errorf("with %d workers the forecast differs: %v against %v", workers, fc.Now.Gravity, first.Now.Gravity)
		}
	}
}

// Gravity can be known without a sample: the weight lost tells it, the gas that went through a meter, and, until the valve opens,
// the gauge. Each narrows it by what its errors leave, the label's own error included, and holds the truth.
func TestGravityWithoutASample(t *testing.T) {
	const draws, mostMissed = 4, 4 // of twelve; more than four by chance once in 200 times
	missed := 0
	for _, c := range []struct {
		of    batch.Quantity
		until float64 // h
		most  float64 // points, on the mean
	}{{batch.VesselMass, 72, 9}, {batch.VentedGas, 72, 9}, {batch.Pressure, 24, 5}} {
		var hours []float64
		for h := 0.0; h <= c.until; h += 6 {
			hours = append(hours, h)
		}
		var wide, blind float64
		for seed := range uint64(draws) {
			b, log, z, w := drawn(t, 100*uint64(c.of)+seed, hours, c.of)
			g := forecastOf(t, b, log, hour(c.until), Options{Seed: 2, Members: 200}).Now.Gravity
			wide += (g.P95 - g.P05) / draws
			if truth := gravityAt(w, z, c.until); truth < g.P05 || truth > g.P95 {
				missed++
				t.Logf("%v, draw %d: true gravity %.4f, believed %.4f to %.4f", c.of, seed, truth, g.P05, g.P95)
			}
			if seed == 0 {
				g = forecastOf(t, b, batch.Log{}, hour(c.until), Options{Seed: 2, Members: 200}).Now.Gravity
				blind = g.P95 - g.P05
			}
		}
		if wide > c.most*gravityPoint || wide > 0.5*blind {
			t.Errorf("%v: %d readings leave the gravity %.1f points wide, none %.1f; expected at most %g, and half", c.of, len(hours), wide/gravityPoint, blind/gravityPoint, c.most)
		}
	}
	if missed > mostMissed {
		t.Errorf("%d of %d truths lie outside the 90 %% band, expected at most %d", missed, 3*draws, mostMissed)
	}
}

// Learning narrows what batches agree on, stays near the kind's prior with few, and one odd batch does not wreck it.
func TestLearn(t *testing.T) {
	generic := GenericPrior("ale")
	draws := func(at float64, n int) []Experience {
		rng := newRand(4)
		var out []Experience
		for range n {
			e := Experience{Under: generic}
			centre := at + 0.1*rng.NormFloat64()
			for range 400 {
				var d [numUnknowns]float64
				for u := range numUnknowns {
					d[u] = generic[u].Mean + generic[u].SD*rng.NormFloat64()
				}
				d[Lag] = centre + 0.05*rng.NormFloat64()
				e.Draws = append(e.Draws, d)
			}
			out = append(out, e)
		}
		return out
	}
	if got := Learn(generic, nil, OfYeast); got != generic {
		t.Error("with nothing learnt the prior must stay")
	}
	ten := Learn(generic, draws(math.Log(40), 10), OfYeast)
	if math.Abs(ten[Lag].Mean-math.Log(40)) > 0.1 || ten[Lag].SD > generic[Lag].SD {
		t.Errorf("ten batches with a lag of 40 h: expected ln lag near %.2f and narrower than %.2f, got %.2f and %.2f", math.Log(40), generic[Lag].SD, ten[Lag].Mean, ten[Lag].SD)
	}
	one := Learn(generic, draws(math.Log(40), 1), OfYeast)
	if one[Lag].Mean < generic[Lag].Mean || one[Lag].Mean > ten[Lag].Mean {
		t.Errorf("one batch moves the mean part of the way: %.2f between %.2f and %.2f", one[Lag].Mean, generic[Lag].Mean, ten[Lag].Mean)
	}
	odd := Learn(generic, append(draws(math.Log(40), 10), draws(math.Log(300), 1)...), OfYeast)
	if math.Abs(odd[Lag].Mean-ten[Lag].Mean) > 0.1 {
		t.Errorf("one odd batch moved the mean of ln lag from %.2f to %.2f", ten[Lag].Mean, odd[Lag].Mean)
	}
}

// A time before pitching is refused.
func TestBeforePitching(t *testing.T) {
	b, log, _, _ := drawn(t, 1, []float64{0}, batch.Gravity)
	if _, err := Condition(b, log, b.Pitched.Add(-time.Hour), Options{}); err == nil {
		t.Error("expected an error for a time before pitching")
	}
}
