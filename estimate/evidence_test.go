package estimate

import (
	"math"
	"slices"
	"testing"

	"spile/batch"
)

// What a reading is said to have been expected at, and what would be believed without it, is what conditioning on the
// others says; the reference is the whole inference run again without it.
func TestEvidenceAgreesWithLeavingOut(t *testing.T) {
	const edge = 0.0011 // three standard errors of the difference of two edges, each off a hundred members that count
	b := usualWay()
	log := batch.Log{}
	for _, r := range []struct{ hours, gravity float64 }{{0, 1.046}, {30, 1.036}, {54, 1.024}, {78, 1.017}, {96, 1.0145}} {
		log.Readings = append(log.Readings, batch.Reading{Time: hour(r.hours), Quantity: batch.Gravity, Value: r.gravity})
	}
	whole := forecastOf(t, b, log, hour(96), Options{Seed: 5, Members: 500})
	if len(whole.Evidence) != len(log.Readings) {
		t.Fatalf("expected evidence of %d readings, got %d", len(log.Readings), len(whole.Evidence))
	}
	for _, k := range []int{1, 2, 3} {
		rest := batch.Log{}
		for i, r := range log.Readings {
			if i != k {
				rest.Readings = append(rest.Readings, r)
			}
		}
		want, e := forecastOf(t, b, rest, hour(96), Options{Seed: 5, Members: 500}), whole.Evidence[k]
		if e.Alone {
			t.Errorf("reading %d: said to stand alone among five", k)
		}
		g, w := e.Gravity, want.Now.Gravity
		if math.Abs(g.P50-w.P50) > 7e-4 || math.Abs(g.P05-w.P05) > edge || math.Abs(g.P95-w.P95) > edge {
			t.Errorf("gravity now without reading %d: expected %+v by inference without it, got %+v, tolerance 0.0007 at the middle and %g at the edges", k, w, g, edge)
		}
		if end, ref := e.Finished.P50/3600, want.Milestones.Finished.P50.Sub(b.Pitched).Hours(); math.Abs(end-ref) > 10 {
			t.Errorf("finish without reading %d: expected %.0f h by inference without it, got %.0f h, tolerance 10 h", k, ref, end)
		}
	}
}

// A reading between two that show the same has no say, and is not said to be expected between minus and plus infinity.
func TestRepeatsAreNoEvidence(t *testing.T) {
	log := batch.Log{}
	for _, r := range []struct{ hours, psi float64 }{{30, 4}, {40, 10}, {50, 10}, {60, 10}, {70, 10}, {80, 10.5}} {
		log.Readings = append(log.Readings, batch.Reading{Time: hour(r.hours), Quantity: batch.Pressure, Value: r.psi * psi})
	}
	evidence := forecastOf(t, usualWay(), log, hour(80), Options{Seed: 5, Members: 200}).Evidence
	var hours []float64
	for _, e := range evidence {
		hours = append(hours, e.Reading.Time.Sub(hour(0)).Hours())
		if b := e.Expected; math.IsInf(b.P05, 0) || math.IsInf(b.P95, 0) || math.IsNaN(b.P05+b.P95) {
			t.Errorf("at %.0f h: expected between %v and %v", hours[len(hours)-1], b.P05, b.P95)
		}
	}
	if want := []float64{30, 40, 70, 80}; !slices.Equal(hours, want) {
		t.Errorf("evidence of the readings at %v h, expected %v", hours, want)
	}
}

// A reading far off the others is seen to be: what was expected of it does not hold it, and without it the belief is another.
func TestEvidenceOfAnOddReading(t *testing.T) {
	b := usualWay()
	log := batch.Log{}
	for _, r := range []struct{ hours, gravity float64 }{{0, 1.046}, {30, 1.036}, {54, 1.031}, {78, 1.017}, {96, 1.0145}} {
		log.Readings = append(log.Readings, batch.Reading{Time: hour(r.hours), Quantity: batch.Gravity, Value: r.gravity})
	}
	e := forecastOf(t, b, log, hour(96), Options{Seed: 5, Members: 500}).Evidence[2]
	if e.Reading.Value <= e.Expected.P95 {
		t.Errorf("1.031 where 1.024 was expected: the others expect %.4f to %.4f, which holds it", e.Expected.P05, e.Expected.P95)
	}
}

// Where one reading stands far from all that was expected, what would be believed without it is not told from the members in hand:
// too few of them would be left in most ensembles (in 41 of 48 by other seeds). The wort as labelled leaves enough in all.
func TestEvidenceThatStandsAlone(t *testing.T) {
	log := batch.Log{Readings: []batch.Reading{{Time: hour(0), Quantity: batch.Gravity, Value: 1.046}, {Time: hour(192), Quantity: batch.Gravity, Value: 1.0455}}}
	label, sample := 0, 0
	const ensembles, most = 8, 5
	for seed := range uint64(ensembles) {
		e := forecastOf(t, usualWay(), log, hour(192), Options{Seed: seed, Members: 500}).Evidence
		if e[0].Alone {
			label++
		}
		if e[1].Alone {
			sample++
		}
	}
	if label > 0 || sample < most {
		t.Errorf("stands alone in %d ensembles: the wort as labelled in %d, a sample that nothing foretold in %d; want 0 and %d at least", ensembles, label, sample, most)
	}
}
