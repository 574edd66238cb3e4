package estimate

import (
	"math"
	"testing"
	"time"

	"spile/batch"
	"spile/unit"
)

// course is a gravity that falls by five points a day, read every so often by a float that scatters by sd.
func course(n int, every time.Duration, sd float64, seed uint64) []batch.Reading {
	rng := newRand(seed)
	out := make([]batch.Reading, n)
	for i := range out {
		at := time.Duration(i) * every
		out[i] = batch.Reading{Time: pitchedAt.Add(at), Quantity: batch.Gravity, Instrument: "floating", Value: 1.046 - 0.005*at.Hours()/24 + sd*rng.NormFloat64()}
	}
	return out
}

// A hundred thousand readings become some hundred and fifty means, each on the course, and the conditioning has no more to do.
func TestDenseSeriesAreThinned(t *testing.T) {
	const sd = 0.0003
	dense := course(100_000, 10*time.Second, sd, 5)
	tl := newTimeline(usualWay(), batch.Log{Readings: dense}, hour(400), nil)
	if n := len(tl.data); n < mostOfOne-2 || n > mostOfOne+2 {
		t.Fatalf("100,000 readings became %d", n)
	}
	var square float64
	for _, d := range tl.data {
		off := d.value - (1.046 - 0.005*d.at/unit.Day)
		square += off * off
		if want := sd / math.Sqrt(mostAtOnce); math.Abs(d.scatter-want) > 1e-12 {
			t.Fatalf("a mean of hundreds scatters by %.2g, want %.2g", d.scatter, want)
		}
	}
	if rms := math.Sqrt(square / float64(len(tl.data))); rms > 3*sd/math.Sqrt(600) {
		t.Errorf("the means lie off the course by %.2g", rms)
	}
}

// Thinned readings tell two courses apart as well as all of them do: for normal errors about a straight line the mean and the
// number are sufficient statistics, so that the odds differ by little.
func TestThinningKeepsTheOdds(t *testing.T) {
	const sd, n, most = 0.0003, 600, 60
	readings := course(n, 10*time.Minute, sd, 6)
	odds := func(ts []thinned) (sum float64) {
		for _, r := range ts {
			days := r.Time.Sub(pitchedAt).Hours() / 24
			a, b := 1.046-0.005*days, 1.0461-0.00505*days
			s := scatterOf(sd, r.n)
			sum += math.Pow((r.Value-b)/s, 2)/2 - math.Pow((r.Value-a)/s, 2)/2
		}
		return sum
	}
	all, few := odds(thin(readings, nil, n)), odds(thin(readings, nil, most))
	if len(thin(readings, nil, most)) > most+2 || math.Abs(few-all) > 0.1*math.Abs(all)+1 {
		t.Errorf("log odds of two courses: %.1f by all, %.1f by %d means", all, few, len(thin(readings, nil, most)))
	}
}

// No mean reaches over something that was done, and far readings do not pull it.
func TestThinningStopsAtEvents(t *testing.T) {
	readings := course(1000, time.Minute, 0, 1)
	for i := 500; i < 1000; i++ {
		readings[i].Value -= 0.020
	}
	readings[100].Value = 1.2
	done := []time.Time{readings[499].Time.Add(30 * time.Second)}
	for _, r := range thin(readings, done, 10) {
		late := r.Time.After(done[0])
		want := 1.046 - 0.005*r.Time.Sub(pitchedAt).Hours()/24
		if late {
			want -= 0.020
		}
		if math.Abs(r.Value-want) > 2e-5 {
			t.Errorf("a mean of %d at %v is %.5f, want %.5f", r.n, r.Time.Sub(pitchedAt), r.Value, want)
		}
	}
}

// BenchmarkDense is conditioning on a hundred thousand readings.
func BenchmarkDense(b *testing.B) {
	log := batch.Log{Readings: course(100_000, 10*time.Second, 0.0003, 5)}
	for b.Loop() {
		if _, err := Condition(usualWay(), log, hour(280), Options{Seed: 1}); err != nil {
			b.Fatal(err)
		}
	}
}
