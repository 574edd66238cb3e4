package estimate

import (
	"math"
	"testing"

	"spile/batch"
	"spile/unit"
	"spile/yeast"
)

// Where gravity or air were assumed the dates and the end are less sure, and never more;
// a first sample makes good for the gravity.
func TestWhatWasAssumedWidens(t *testing.T) {
	start, hold := pitchedAt, unit.Celsius(18)
	room := func() *batch.Batch {
		return &batch.Batch{
			Name: "Odd Glove Red", Pitched: start,
			Wort:      batch.Wort{Volume: 20 * unit.Litre, Gravity: 1.048},
			Yeast:     batch.Yeast{Kind: yeast.Ale, Attenuation: 0.77},
			Vessel:    batch.Vessel{Capacity: 26 * unit.Litre, Diameter: 0.3},
			Place:     batch.Place{Ambient: unit.Celsius(18)},
			Programme: []batch.Step{{AtSet: true, Set: batch.Setting{Hold: &hold}}},
		}
	}
	told := func(log batch.Log, change func(*batch.Batch)) *Forecast {
		b := room()
		change(b)
		bl, err := Condition(b, log, start, Options{Seed: 1, Members: 300})
		if err != nil {
			t.Fatal(err)
		}
		f, err := bl.Forecast()
		if err != nil {
			t.Fatal(err)
		}
		return f
	}
	days := func(f *Forecast) float64 {
		m := f.Milestones.Finished
		if m.P95.IsZero() { // later than the span looked at
			return math.Inf(1)
		}
		return m.P95.Sub(m.P05).Hours() / 24
	}
	end := func(f *Forecast) float64 { return 1000 * (f.TerminalGravity.P95 - f.TerminalGravity.P05) }
	known := told(batch.Log{}, func(*batch.Batch) {})
	cold := told(batch.Log{}, func(b *batch.Batch) { b.Place.Assumed = true })
	heavy := func(b *batch.Batch) { b.Wort.Assumed = true }
	guess := told(batch.Log{}, heavy)
	if days(cold) < 1.1*days(known) {
		t.Errorf("the finish within %.1f days where the air was assumed, %.1f where it is known", days(cold), days(known))
	}
	if end(guess) < 1.1*end(known) {
		t.Errorf("the end within %.1f points where the gravity was assumed, %.1f where it is known", end(guess), end(known))
	}
	sampled := told(batch.Log{Readings: []batch.Reading{{Time: start, Quantity: batch.Gravity, Value: 1.040}}}, heavy)
	if now := sampled.Now.Gravity; now.P05 > 1.040 || now.P95 < 1.040 || now.P95-now.P05 > 0.006 {
		t.Errorf("a sample of 1.040 was read, and %.4f to %.4f is believed", now.P05, now.P95)
	}
}
