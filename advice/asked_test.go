package advice

import (
	"slices"
	"strings"
	"testing"
	"time"

	"spile/batch"
	"spile/estimate"
	"spile/unit"
)

// Without a sample of the working beer it is said from what the gravity is worked out; a sample of the wort, from before the yeast
// went in, is none.
func TestGravityWithoutASample(t *testing.T) {
	of := func(quantities ...batch.Quantity) (out []batch.Reading) {
		for _, q := range quantities {
			out = append(out, batch.Reading{Time: pitched.Add(40 * time.Hour), Quantity: q, Value: 1})
		}
		return out
	}
	wort := batch.Reading{Time: pitched, Quantity: batch.Gravity, Value: 1.046}
	const since = ": no sample was read since the yeast went in."
	for _, c := range []struct {
		readings []batch.Reading
		want     string // empty: nothing is said
	}{
		{of(batch.Pressure), "The gravity is worked out from the gauge" + since},
		{append(of(batch.Pressure, batch.Temperature), wort), "The gravity is worked out from the gauge" + since},
		{of(batch.VesselMass, batch.VentedGas), "The gravity is worked out from the weight of the vessel and the gas let out" + since},
		{of(batch.VentedGas, batch.VesselMass, batch.Pressure), "The gravity is worked out from the gauge, the weight of the vessel and the gas let out" + since},
		{of(batch.Temperature), "No sample was read since the yeast went in. The gravity is what such a batch usually has."},
		{of(batch.Pressure, batch.Gravity), ""},
	} {
		s := says(someForecast(60, 20, 12), func(_ *batch.Batch, l *batch.Log) { l.Readings = c.readings })
		said := slices.ContainsFunc(s.Now, func(line string) bool { return strings.Contains(line, "sample was read") })
		if c.want == "" && said || c.want != "" && !slices.Contains(s.Now, c.want) {
			t.Errorf("%+v: expected %q, got %q", c.readings, c.want, s.Now)
		}
	}
}

// How much gas the beer holds is said with its band: now, for the date wished or three days ahead, and as cold would leave it; what
// it lacks to stay above the air outside only where it would pull in.
func TestGasNowAndThen(t *testing.T) {
	find := func(s Said, key string) string {
		for _, a := range s.Asked {
			if a.Key == key {
				return strings.Join(a.Sentences, " ")
			}
		}
		return ""
	}
	f := someForecast(120, 2, 0.8)
	f.Questions.Chill = &estimate.Rehearsal{To: unit.Celsius(3), Volumes: around(1.5, 0.1), Pressure: around(3e3, 6e3), PullsIn: 0.2, ToStay: estimate.Band{P95: 0.004}}
	for i, h := range f.Series.Hours {
		if h > 120 {
			f.Series.Volumes[i] = around(2, 0.2)
		}
	}
	wished := says(f, nil)
	if got, want := find(wished, "gas"), "The beer now holds between 1.1 volumes and 1.3 volumes. For Friday 4 December, evening, as planned, it is between 1.8 volumes and 2.2 volumes. Chilled to 3 °C as it is, shut and at rest, between 1.4 volumes and 1.6 volumes."; got != want {
		t.Errorf("expected %q, got %q", want, got)
	}
	if got := find(wished, "chill"); !strings.Contains(got, "To stay above the air outside it lacks up to 4 g of gas.") {
		t.Errorf("expected what it lacks, got %q", got)
	}
	f.Questions.Chill.ToStay, f.Questions.Chill.ToWish = estimate.Band{P95: 0.04 * unit.Gram}, estimate.Band{P50: 0.01 * unit.Gram, P95: 0.03 * unit.Gram}
	if got := find(says(f, nil), "chill"); strings.Contains(got, "lacks") || strings.Contains(got, "takes") {
		t.Errorf("what it lacks reads as nothing, and yet %q", got)
	}
	f.Questions.Chill.ToStay, f.Questions.Chill.ToWish = estimate.Band{}, estimate.Band{}
	open := says(f, func(b *batch.Batch, _ *batch.Log) { b.Target = nil })
	if got := find(open, "gas"); !strings.Contains(got, "For Saturday evening, as planned, it is between 1.8 volumes and 2.2 volumes.") {
		t.Errorf("no date wished for: expected three days ahead, got %q", got)
	}
	if got := find(open, "chill"); strings.Contains(got, "lacks") {
		t.Errorf("it does not pull in, and yet %q", got)
	}
	if got := find(says(chilled(f, 2), nil), "gas"); strings.Contains(got, "Chilled") {
		t.Errorf("it is cold already, and yet %q", got)
	}
}
