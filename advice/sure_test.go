package advice

import (
	"slices"
	"testing"
	"time"

	"spile/batch"
	"spile/estimate"
	"spile/unit"
)

// How sure it is: on how many readings it rests, which tells most, what does not fit, and what would help; each alone where it holds.
func TestHowSure(t *testing.T) {
	at := pitched.Add(50 * time.Hour) // Sunday 20:30, read at 60 h, on Monday morning
	gravity := batch.Reading{Time: at, Quantity: batch.Gravity, Value: 1.030}
	gauge := batch.Reading{Time: at, Quantity: batch.Pressure, Value: 10 * unit.PSI}
	const next = "A sample for gravity, tomorrow night, would narrow the date of the finish by about 40 %."
	for _, c := range []struct {
		what   string
		change func(f *estimate.Forecast, l *batch.Log)
		want   []string
	}{
		{"nothing read", func(_ *estimate.Forecast, l *batch.Log) { l.Readings = nil }, []string{"No reading is behind it: it is what such a batch usually does.", next}},
		{"a thermometer alone", func(_ *estimate.Forecast, l *batch.Log) { l.Readings[0].Quantity = batch.Temperature },
			[]string{"No reading is behind it: it is what such a batch usually does.", next}},
		{"one reading", func(*estimate.Forecast, *batch.Log) {}, []string{"It rests on 1 reading, temperatures not counted.", next}},
		{"two, of which one tells", func(f *estimate.Forecast, l *batch.Log) {
			l.Readings = append(l.Readings, gauge)
			f.Evidence = []estimate.Evidence{{Reading: gauge, Narrows: 0.95}, {Reading: gravity, Narrows: 0.65}}
		}, []string{"It rests on 2 readings, temperatures not counted.", "1.030, yesterday evening, tells most: it narrows the gravity now by 35 %.", next}},
		{"one without which little is known", func(f *estimate.Forecast, _ *batch.Log) {
			f.Evidence = []estimate.Evidence{{Reading: gauge, Narrows: 0.5}, {Reading: gravity, Narrows: 0.8, Alone: true}}
		}, []string{"It rests on 1 reading, temperatures not counted.", "Most hangs on 1.030, yesterday evening. Without it little would be known.", next}},
		{"none tells much", func(f *estimate.Forecast, _ *batch.Log) {
			f.Evidence = []estimate.Evidence{{Reading: gravity, Narrows: 0.95}}
		},
			[]string{"It rests on 1 reading, temperatures not counted.", next}},
		{"in doubt", func(f *estimate.Forecast, _ *batch.Log) {
			f.Flags = []estimate.Flag{{Kind: estimate.FlagFar, Reading: gravity, Expected: around(1.02, 0.002)}}
			f.Diagnostics.Trusted = false
		}, []string{"It rests on 1 reading, temperatures not counted.", "1 reading does not fit, and is not trusted yet.", "The runs that are compared fit your readings badly. Take its bands as too narrow.", next}},
		{"no reading worth taking", func(f *estimate.Forecast, _ *batch.Log) { f.Next = estimate.NextReading{None: true, At: f.At} }, []string{"It rests on 1 reading, temperatures not counted."}},
	} {
		f := someForecast(60, 20, 12)
		s := says(f, func(_ *batch.Batch, l *batch.Log) { c.change(f, l) })
		if !slices.Equal(s.Sure, c.want) {
			t.Errorf("%s: got %q, want %q", c.what, s.Sure, c.want)
		}
	}
}

// The scale says what every word stands for, without a gap.
func TestOddsScale(t *testing.T) {
	got := OddsScale(unit.Style{})
	want := [][2]string{{"almost certainly", "97 % and more"}, {"very likely", "85 % to 97 %"}, {"likely", "65 % to 85 %"}, {"could go either way", "35 % to 65 %"},
		{"unlikely", "15 % to 35 %"}, {"very unlikely", "3 % to 15 %"}, {"almost certainly not", "under 3 %"}}
	if !slices.Equal(got, want) {
		t.Errorf("got %q", got)
	}
}
