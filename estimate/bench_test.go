package estimate

import (
	"testing"

	"spile/batch"
)

// everyTwoHours of four days.
func everyTwoHours() (hours []float64) {
	for h := 0.0; h <= 96; h += 2 {
		hours = append(hours, h)
	}
	return hours
}

// BenchmarkForecast is a forecast with 1,000 members and 100 readings.
func BenchmarkForecast(b *testing.B) {
	f := readFerment(b, "../testdata/ferments/35-pilot-ale-22C-r02.csv")
	hours := everyTwoHours()
	bt, log := f.Records(hours, 96) // 49 of gravity, 49 of temperature, and two of pressure
	log.Readings = append(log.Readings,
		batch.Reading{Time: hour(48), Quantity: batch.Pressure, Value: 0},
		batch.Reading{Time: hour(96), Quantity: batch.Pressure, Value: 0})
	for b.Loop() {
		fc := forecastOf(b, bt, log, hour(96), Options{Seed: 1})
		b.ReportMetric(float64(fc.Diagnostics.Simulations), "simulations")
	}
}

// BenchmarkForecastFewReadings is what a beginner waits for: three samples.
func BenchmarkForecastFewReadings(b *testing.B) {
	f := readFerment(b, "../testdata/ferments/35-pilot-ale-22C-r02.csv")
	bt, log := f.Records([]float64{0, 24, 48}, 48)
	for b.Loop() {
		fc := forecastOf(b, bt, log, hour(48), Options{Seed: 1})
		b.ReportMetric(float64(fc.Diagnostics.Simulations), "simulations")
	}
}

// BenchmarkPast is one run of the likelihood: four days with 49 samples.
func BenchmarkPast(b *testing.B) {
	f := readFerment(b, "../testdata/ferments/35-pilot-ale-22C-r02.csv")
	hours := everyTwoHours()
	bt, log := f.Records(hours, 96)
	tl := newTimeline(bt, log, hour(96), nil)
	active := tl.active()
	l := newLikelihood(bt, tl, GenericPrior(bt.Yeast.Kind), active)
	z := make([]float64, len(active))
	b.ReportAllocs()
	for b.Loop() {
		l.LogLikelihood(z)
	}
}
