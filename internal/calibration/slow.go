package calibration

import (
	"fmt"
	"math"

	"spile/co2"
	"spile/internal/ferment"
	"spile/unit"
	"spile/vessel"
)

// upper95 is the standard normal quantile of 95 %.
const upper95 = 1.645

// samplesToBound is the fewest samples of a glass, so many a day, that bound the fall of beer
// that stands still to slowEnough, and the hours from the first to the last. The slope of a straight
// line through n readings of scatter s, d days apart, has the sd s/d sqrt(12/(n (n^2 - 1))):
// textbook least squares. The fixed offset of the glass falls out.
func samplesToBound(perDay float64) (n int, hours float64) {
	for n = 3; ; n++ {
		m := float64(n)
		if upper95*glassScatter*perDay*math.Sqrt(12/(m*(m*m-1))) <= slowEnough {
			return n, (m - 1) * 24 / perDay
		}
	}
}

// quietBound is the upper 95 % of the fall that a quiet-gauge run of a day with dial and strip leaves of beer that stands still, points a day.
func quietBound() (float64, error) {
	at := co2.State{Temperature: unit.Celsius(20), Pressure: unit.Gauge(8 * unit.PSI).Absolute(unit.Atmosphere)}
	run := vessel.QuietGauge{Gas: vessel.Gas{Beer: 20 * unit.Litre, Head: 6 * unit.Litre}, Original: 1.046, Gauges: vessel.DialAndStrip, First: at, Second: at}
	run.Second.At = unit.Day
	q, err := run.Points(nil)
	if err != nil {
		return 0, err
	}
	_, high := q.Between()
	return high, nil
}

// slowBecause says how long the rule must take with one glass, whatever is inferred besides.
func slowBecause() (string, error) {
	quiet, err := quietBound()
	if err != nil {
		return "", err
	}
	once, day := samplesToBound(1)
	twice, half := samplesToBound(2)
	return fmt.Sprintf("What the rule must wait for, if the samples alone were to speak: a straight line through %d daily samples, %.0f h, is the first whose upper 95 %% of the slope is at most %g point a day in beer that stands still; with two samples a day %d of them, %.0f h. A known offset of the glass shortens neither, since it falls out of a slope. A quiet-gauge run of 24 h with dial and strip bounds the fall to %.2f point a day.",
		once, day, slowEnough, twice, half, quiet), nil
}

// lastPossible is the hour of the last daily sample of f that is looked at.
func lastPossible(f *ferment.Ferment) float64 { return math.Min(f.Last(), lastDay*24) }
