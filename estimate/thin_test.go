package estimate

import (
	"fmt"
	"maps"
	"math"
	"path/filepath"
	"slices"
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

// jumping is a pressure that no vessel has: anything between nothing and nine bar, one reading after the other.
func jumping(n int, over float64) (log batch.Log) {
	rng := newRand(9)
	for i := range n {
		log.Readings = append(log.Readings, batch.Reading{Time: hour(over * float64(i) / float64(n)), Quantity: batch.Pressure, Value: 9e5 * rng.Float64()})
	}
	return log
}

// Readings that jump as no beer does weigh by their own scatter. They are asked about once, and conditioning on them costs little
// more than on none: by the scatter of the instrument alone it took over ten times as many simulations, and minutes.
func TestWildSeriesWeighLittle(t *testing.T) {
	log := jumping(5000, 300)
	tl := newTimeline(usualWay(), log, hour(300), nil)
	for _, d := range tl.data { // a uniform distribution has the median step 1-1/sqrt(2) of its width
		if want := scatterOf(9e5*(1-1/math.Sqrt2)/(0.6745*math.Sqrt2), d.n); !d.wild || math.Abs(d.scatter/want-1) > 0.05 {
			t.Fatalf("a mean of %d scatters by %.3g Pa, want %.3g", d.n, d.scatter, want)
		}
	}
	bl, err := Condition(usualWay(), log, hour(300), Options{Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	f, err := bl.Forecast()
	if err != nil {
		t.Fatal(err)
	}
	if len(f.Flags) != 1 || f.Flags[0].Kind != FlagFar || f.Flags[0].Reading.Quantity != batch.Pressure || f.Diagnostics.Simulations > 10_000 {
		t.Errorf("flags %+v; %+v", f.Flags, f.Diagnostics)
	}
}

// What instruments show of beer is not wild: five times their scatter, a valve that opens and shuts within every ten minutes, and
// all that was measured of ferments. A few leaps do not count.
func TestSoundSeriesAreNotWild(t *testing.T) {
	valve := make([]batch.Reading, 1000)
	for i := range valve {
		valve[i] = batch.Reading{Time: pitchedAt.Add(time.Duration(i) * time.Minute), Quantity: batch.Pressure, Instrument: "transducer", Value: 70e3 + 14e3*float64(i%10)/10}
	}
	leaps := course(1000, time.Minute, 0.0003, 3)
	for i := range leaps {
		if i%5 == 0 {
			leaps[i].Value = 1.2
		}
	}
	series := [][]batch.Reading{course(1000, time.Minute, 5*0.0003, 2), valve, leaps}
	files, err := filepath.Glob("../testdata/ferments/*.csv")
	if err != nil || len(files) < 20 {
		t.Fatal(len(files), err)
	}
	for _, file := range files {
		by := map[Tool][]batch.Reading{}
		f := readFerment(t, file)
		_, log := f.Records(f.Hours, f.Last())
		for _, r := range log.Readings {
			by[Tool{r.Quantity, r.Instrument}] = append(by[Tool{r.Quantity, r.Instrument}], r)
		}
		series = slices.AppendSeq(series, maps.Values(by))
	}
	for _, s := range series {
		if len(s) < 2 {
			continue
		}
		if wild := wildness(s); wild != 0 {
			t.Errorf("%v by %q, %d readings: sd %.3g", s[0].Quantity, s[0].Instrument, len(s), wild)
		}
	}
}

// BenchmarkDense is conditioning on a measured ferment that a sensor read two hundred and a hundred thousand times in four days.
func BenchmarkDense(b *testing.B) {
	f := readFerment(b, "../testdata/ferments/35-pilot-ale-22C-r02.csv")
	for _, n := range []int{200, 100_000} {
		b.Run(fmt.Sprintf("%d readings", n), func(b *testing.B) {
			bt, log := f.Records(nil, 96)
			rng := newRand(5)
			for i := range n {
				h := 96 * float64(i) / float64(n)
				log.Readings = append(log.Readings, batch.Reading{Time: hour(h), Quantity: batch.Gravity, Instrument: "floating", Value: float64(f.Gravity(h)) + 0.0003*rng.NormFloat64()})
			}
			for b.Loop() {
				if _, err := Condition(bt, log, hour(96), Options{Seed: 1}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
