package estimate

import (
	"math"
	"testing"

	"spile/batch"
	"spile/unit"
)

// another is other steps for the cold: a day sooner and colder, at more gas.
func another(now float64) []batch.Step {
	cold, gas := unit.Celsius(1), unit.Gauge(15*psi)
	return []batch.Step{{At: unit.Duration((now + 24) * unit.Hour), AtSet: true, Set: batch.Setting{Hold: &cold, Gas: &gas}}}
}

func standingBelief(t testing.TB, members int) (*Belief, *batch.Batch) {
	t.Helper()
	b := usualWay()
	b.Programme = b.Programme[:1]
	log := batch.Log{Readings: []batch.Reading{{Time: hour(0), Quantity: batch.Gravity, Value: 1.046}, {Time: hour(96), Quantity: batch.Gravity, Value: 1.014}}}
	bl, err := Condition(b, log, hour(96), Options{Seed: 5, Members: members})
	if err != nil {
		t.Fatal(err)
	}
	return bl, b
}

// What comes of other steps from where the members stand is what a forecast says that had these steps from the beginning.
func TestAheadAgreesWithTheForecast(t *testing.T) {
	bl, b := standingBelief(t, 300)
	got, err := bl.Stand(300).Ahead(another(96), 14*unit.Day)
	if err != nil {
		t.Fatal(err)
	}
	whole := *b
	whole.Programme = append(append([]batch.Step{}, b.Programme...), another(96)...)
	other := *bl
	other.batch, other.tl = &whole, newTimeline(&whole, batch.Log{Readings: []batch.Reading{{Time: hour(0), Quantity: batch.Gravity, Value: 1.046}, {Time: hour(96), Quantity: batch.Gravity, Value: 1.014}}}, hour(96), nil)
	fc, err := other.Forecast()
	if err != nil {
		t.Fatal(err)
	}
	for _, h := range []float64{110, 168, 300} {
		for _, q := range []struct {
			name      string
			got, want []Band
			tolerance float64
		}{
			{"gravity", got.Series.Gravity, fc.Series.Gravity, 2e-4}, {"volumes", got.Series.Volumes, fc.Series.Volumes, 0.02},
			{"pressure", got.Series.Pressure, fc.Series.Pressure, 300}, {"temperature", got.Series.Temperature, fc.Series.Temperature, 0.1},
		} {
			g, ok := got.Series.At(q.got, h)
			w, ok2 := fc.Series.At(q.want, h)
			if !ok || !ok2 || math.Abs(g.P50-w.P50) > q.tolerance || math.Abs(g.P95-w.P95) > 3*q.tolerance {
				t.Errorf("%s at %g h: from where it stands %+v, the forecast %+v, tolerance %g", q.name, h, g, w, q.tolerance)
			}
		}
	}
	if got.Gas.P50 < 20*unit.Gram || got.Gas.P50 > 150*unit.Gram {
		t.Errorf("it takes %.0f g", got.Gas.P50/unit.Gram)
	}
	if float64(got.Highest) < got.Series.Pressure[0].P50 {
		t.Errorf("highest %.0f Pa, now %.0f", float64(got.Highest), got.Series.Pressure[0].P50)
	}
}

// Trying is pure: the same steps give the same again, whatever was tried between.
func TestAheadLeavesNoTrace(t *testing.T) {
	bl, _ := standingBelief(t, 100)
	s := bl.Stand(50)
	first, err := s.Ahead(another(96), 10*unit.Day)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.Ahead(nil, 3*unit.Day); err != nil {
		t.Fatal(err)
	}
	again, err := s.Ahead(another(96), 10*unit.Day)
	if err != nil {
		t.Fatal(err)
	}
	for i := range first.Series.Volumes {
		if first.Series.Volumes[i] != again.Series.Volumes[i] {
			t.Fatalf("hour %g: %v and then %v", first.Series.Hours[i], first.Series.Volumes[i], again.Series.Volumes[i])
		}
	}
}

// BenchmarkWhatIf is one move of a slider: 200 members, two weeks ahead.
func BenchmarkWhatIf(b *testing.B) {
	bl, _ := standingBelief(b, 400)
	s := bl.Stand(200)
	for b.Loop() {
		if _, err := s.Ahead(another(96), 14*unit.Day); err != nil {
			b.Fatal(err)
		}
	}
}
