package advice

import (
	"fmt"
	"math"
	"strings"

	"spile/estimate"
	"spile/unit"
)

// OddsWord is the word for a probability.
func OddsWord(p float64) string {
	switch {
	case p >= 0.97:
		return "almost certainly"
	case p >= 0.85:
		return "very likely"
	case p >= 0.65:
		return "likely"
	case p >= 0.35:
		return "could go either way"
	case p >= 0.15:
		return "unlikely"
	case p >= 0.03:
		return "very unlikely"
	}
	return "almost certainly not"
}

// Odds is the word with its number beside it: "likely, 72 %".
func Odds(p float64) string { return OddsWord(p) + ", " + percent(p) }

// percent never claims certainty.
func percent(p float64) string {
	switch {
	case p > 0.99:
		return "over 99 %"
	case p < 0.01:
		return "under 1 %"
	}
	return fmt.Sprintf("%.0f %%", 100*p)
}

// psi is a gauge pressure in Pa as the dial shows it.
func psi(pa, band float64) string { return unit.FormatPSI(unit.Gauge(pa), unit.Gauge(band)) }

// bothPressures writes psi with bar beside.
func bothPressures(pa, band float64) string {
	return psi(pa, band) + " (" + unit.FormatBar(unit.Gauge(pa), unit.Gauge(band)) + ")"
}

// mostPressure is beyond what is worth a number: no vessel here stands a tenth of it.
const mostPressure = 100 * unit.Bar

// bounded writes a pressure, or that it is beyond all measure.
func bounded(pa float64, write func(pa, band float64) string) string {
	if !(pa < mostPressure) {
		return "over " + write(mostPressure, 0)
	}
	return write(pa, 0)
}

func celsius(k, band float64) string {
	return unit.FormatCelsius(unit.Temperature(k), unit.TemperatureDifference(band))
}

func gravity(g, band float64) string { return unit.FormatGravity(unit.Gravity(g), unit.Gravity(band)) }

func volumes(v, band float64) string { return unit.FormatVolumes(unit.Volumes(v), unit.Volumes(band)) }

// bareVolumes is a carbonation without its g/L, for the middle of a sentence.
func bareVolumes(v, band float64) string {
	text, _, _ := strings.Cut(volumes(v, band), " (")
	return text
}

// points is a number of points of gravity, never finer than a third of the band.
func points(p, band float64) string {
	step := unit.Resolution(1, band)
	n := math.Round(p/step) * step
	if n == 1 {
		return "1 point"
	}
	return fmt.Sprintf("%.0f points", n)
}

// pointsBetween is a band of points: "8 to 20 points".
func pointsBetween(b estimate.Band) string {
	lo, hi := math.Max(math.Floor(b.P05), 0), math.Max(math.Ceil(b.P95), 1)
	return fmt.Sprintf("%.0f to %.0f points", lo, hi)
}

// are is the verb that goes with points.
func are(p, band float64) string {
	if points(p, band) == "1 point" {
		return "is"
	}
	return "are"
}

// tenthPoints is a slow rate, to a tenth of a point.
func tenthPoints(p float64) string { return fmt.Sprintf("%.1f points", math.Max(p, 0)) }

// outward rounds the edges of a band away from its middle, to what is shown.
func outward(b estimate.Band, finest float64) estimate.Band {
	step := unit.Resolution(finest, width(b))
	return estimate.Band{P05: math.Floor(b.P05/step) * step, P50: b.P50, P95: math.Ceil(b.P95/step) * step}
}

func width(b estimate.Band) float64 { return b.P95 - b.P05 }

// quantile reads a band at another probability than its own three, as if each
// side of it were half a normal curve.
func quantile(b estimate.Band, z float64) float64 {
	const z95 = 1.6449
	if z < 0 {
		return b.P50 + (b.P50-b.P05)*z/z95
	}
	return b.P50 + (b.P95-b.P50)*z/z95
}

// z20 is the normal deviate of one in five.
const z20 = -0.8416
