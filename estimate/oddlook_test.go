package estimate

import (
	"math"
	"testing"

	"spile/batch"
	"spile/unit"
)

// looked is a thermometer read every 12 h for ten days, in beer that is chilled on the eighth as the record says; odd changes
// what it shows, °C.
func looked(odd func(hours, celsius float64) float64) batch.Log {
	log := batch.Log{Readings: []batch.Reading{{Time: hour(0), Quantity: batch.Gravity, Value: 1.046}, {Time: hour(120), Quantity: batch.Gravity, Value: 1.011}}}
	for h := 6.0; h <= 240; h += 12 {
		celsius := 20.0
		if h > 168 {
			celsius = 1 + 19*math.Exp(-(h-168)/10)
		}
		celsius = math.Round(2*(celsius+0.3*math.Sin(h))) / 2 // to the half degree
		log.Readings = append(log.Readings, batch.Reading{Time: hour(h), Quantity: batch.Temperature, Instrument: "strip", Value: float64(unit.Celsius(odd(h, celsius)))})
	}
	return log
}

// A temperature that leaps away and back is asked about, as is one that leaps at the end, and a thermometer that stood still while
// the record has the beer chilled. A chill that nobody wrote down is no mistake of the thermometer.
func TestOddTemperatures(t *testing.T) {
	for _, c := range []struct {
		what  string
		odd   func(h, celsius float64) float64
		hours map[float64]FlagKind
	}{
		{"nothing odd", func(_, c float64) float64 { return c }, nil},
		{"32 for 0, as the one thermometer in °F has it", func(h, c float64) float64 {
			if h == 210 {
				return 32
			}
			return c
		}, map[float64]FlagKind{210: FlagFar}},
		{"the last one is not of this vessel", func(h, c float64) float64 {
			if h == 234 {
				return 21
			}
			return c
		}, map[float64]FlagKind{234: FlagFar}},
		{"it hangs", func(float64, float64) float64 { return 20 }, map[float64]FlagKind{234: FlagStuck}},
		{"chilled two days early, and not written down", func(h, c float64) float64 {
			if h > 120 {
				return 1
			}
			return c
		}, nil},
	} {
		got := map[float64]FlagKind{}
		for _, f := range forecastOf(t, usualWay(), looked(c.odd), hour(240), Options{Seed: 6, Members: 60}).Flags {
			if f.Reading.Quantity == batch.Temperature {
				got[f.Reading.Time.Sub(pitchedAt).Hours()] = f.Kind
				if k := f.Reading.Value; f.Kind == FlagFar && k > f.Expected.P05 && k < f.Expected.P95 {
					t.Errorf("%s: %.1f K is asked about, and %.1f to %.1f were expected", c.what, k, f.Expected.P05, f.Expected.P95)
				}
			}
		}
		if len(got) != len(c.hours) {
			t.Errorf("%s: asked about %v, expected %v", c.what, got, c.hours)
		}
		for h, kind := range c.hours {
			if got[h] != kind {
				t.Errorf("%s: asked about %v, expected %v", c.what, got, c.hours)
			}
		}
	}
}

// What a clock dates ten years ahead is asked about, and neither looked at nor looked from.
func TestAClockThatJumpsAhead(t *testing.T) {
	log := looked(func(_, c float64) float64 { return c })
	want := forecastOf(t, usualWay(), log, LastLook(usualWay(), log), Options{Seed: 6, Members: 60})
	log.Readings = append(log.Readings, batch.Reading{Time: pitchedAt.AddDate(10, 0, 0), Quantity: batch.Gravity, Value: 1.010})
	at := LastLook(usualWay(), log)
	if h := at.Sub(pitchedAt).Hours(); h != 234 {
		t.Errorf("looked from %g h, expected 234", h)
	}
	got := forecastOf(t, usualWay(), log, at, Options{Seed: 6, Members: 60})
	if got.Now.Gravity != want.Now.Gravity {
		t.Errorf("gravity %+v, without it %+v", got.Now.Gravity, want.Now.Gravity)
	}
	if len(got.Flags) != len(want.Flags)+1 || got.Flags[0].Kind != FlagLate {
		t.Errorf("flags %+v; expected one more than %+v, that of its time", got.Flags, want.Flags)
	}
}

// Of a vessel that stands for a year the series is no longer than of one that stands for a quarter: what is long ago goes in
// wider steps, and what is near goes as ever.
func TestSeriesOfAYear(t *testing.T) {
	series := func(days float64) *Series {
		return &forecastOf(t, usualWay(), looked(func(_, c float64) float64 { return c }), hour(24*days), Options{Seed: 6, Members: 20}).Series
	}
	short, long := series(20), series(360)
	if n := len(long.Hours); n > 1300 {
		t.Errorf("%d times in the series of a year", n)
	}
	for i := 1; i < len(long.Hours); i++ {
		step := long.Hours[i] - long.Hours[i-1]
		if want := map[bool]float64{true: 2, false: 12}[long.Hours[i-1] >= 330*24]; step != want {
			t.Fatalf("at %g h a step of %g h, expected %g", long.Hours[i-1], step, want)
		}
	}
	for h := 24.0; h <= 480; h += 24 {
		a, _ := short.At(short.Gravity, h)
		b, _ := long.At(long.Gravity, h)
		if off := math.Max(math.Abs(a.P05-b.P05), math.Abs(a.P95-b.P95)) / gravityPoint; off > 0.01 {
			t.Errorf("at %g h gravity is %+v after a year, %+v before: %.3f points off, tolerance 0.01", h, b, a, off)
		}
	}
}
