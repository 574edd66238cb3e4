package unit

import (
	"math"
	"strconv"
)

// String is exact: parsing it gives the same gauge pressure to the last bit.
func (g Gauge) String() string { return shift(float64(g), 0) + " Pa" }

// String is exact: parsing it gives the same pressure to the last bit.
func (p Pressure) String() string { return shift(float64(p), 0) + " Pa abs" }

// String is exact: parsing it gives the same temperature to the last bit.
func (t Temperature) String() string { return shift(float64(t), 0) + " K" }

// String is exact: parsing it gives the same difference to the last bit.
func (d TemperatureDifference) String() string { return shift(float64(d), 0) + " K" }

// String is exact, in litres: parsing it gives the same volume to the last bit.
func (v Volume) String() string { return shift(float64(v), 3) + " L" }

// String is exact: parsing it gives the same mass to the last bit.
func (m Mass) String() string { return shift(float64(m), 0) + " kg" }

// String is exact: parsing it gives the same length to the last bit.
func (l Length) String() string { return shift(float64(l), 0) + " m" }

// String is exact: parsing it gives the same power to the last bit.
func (p Power) String() string { return shift(float64(p), 0) + " W" }

// String is exact: parsing it gives the same heat loss to the last bit.
func (c Conductance) String() string { return shift(float64(c), 0) + " W/K" }

// String is exact: parsing it gives the same rate to the last bit.
func (r MassRate) String() string { return shift(float64(r), 0) + " kg/s" }

// String is exact: parsing it gives the same flow to the last bit.
func (r VolumeRate) String() string { return shift(float64(r), 3) + " L/s" }

// String is exact: parsing it gives the same rate to the last bit.
func (f Frequency) String() string { return shift(float64(f), 0) + " /s" }

// String is exact: parsing it gives the same time to the last bit.
func (d Duration) String() string { return shift(float64(d), 0) + " s" }

// String is exact: parsing it gives the same gravity to the last bit.
func (g Gravity) String() string { return shift(float64(g), 0) }

// String is exact, in degrees Plato: parsing it gives the same extract to the last bit.
func (e Extract) String() string { return shift(float64(e), 2) + " °P" }

// String is exact: parsing it gives the same carbonation to the last bit.
func (v Volumes) String() string { return shift(float64(v), 0) + " volumes" }

// String is exact, in percent: parsing it gives the same alcohol to the last bit.
func (a ABV) String() string { return shift(float64(a), 2) + " %" }

// String is exact, in percent: parsing it gives the same share to the last bit.
func (r Ratio) String() string { return shift(float64(r), 2) + " %" }

// String is exact: parsing it gives the same bitterness to the last bit.
func (b Bitterness) String() string { return shift(float64(b), 0) + " IBU" }

// GramsPerLitre is v as grams of CO2 in a litre of beer.
func (v Volumes) GramsPerLitre() float64 { return float64(v) * gramsPerVolume }

// VolumesFromGramsPerLitre makes a carbonation from grams of CO2 in a litre of beer.
func VolumesFromGramsPerLitre(gpl float64) Volumes { return Volumes(gpl / gramsPerVolume) }

// PSI gives g in pounds-force per square inch.
func (g Gauge) PSI() float64 { return float64(g) / PSI }

// Bar gives g in bar.
func (g Gauge) Bar() float64 { return float64(g) / Bar }

// Kilopascals gives g in kilopascals.
func (g Gauge) Kilopascals() float64 { return float64(g) / Kilopascal }

// Litres gives v in litres.
func (v Volume) Litres() float64 { return float64(v) / Litre }

// Grams gives m in grams.
func (m Mass) Grams() float64 { return float64(m) / Gram }

// Hours gives d in hours.
func (d Duration) Hours() float64 { return float64(d) / Hour }

// Days gives d in days of 24 hours.
func (d Duration) Days() float64 { return float64(d) / Day }

// Percent gives r in percent.
func (r Ratio) Percent() float64 { return float64(r) * 100 }

// Resolution is the step a number is rounded to when it is shown: never finer
// than finest, nor than a third of the band from its low to its high edge, but 1, 2
// or 5 times finest times a power of ten.
func Resolution(finest, band float64) float64 {
	if math.IsInf(band, 0) {
		return finest
	}
	for decade := finest; ; decade *= 10 {
		for _, step := range []float64{1, 2, 5} {
			if !(decade*step < band/3) {
				return decade * step
			}
		}
	}
}

// rounded writes v to the nearest multiple of Resolution(finest, band) with that
// many decimals, without trailing zeros unless keep.
func rounded(v, finest, band float64, decimals int, keep bool) string {
	step := Resolution(finest, band)
	v = math.Round(v/step) * step
	if v == 0 {
		v = 0 // not minus zero
	}
	text := strconv.FormatFloat(v, 'f', decimals, 64)
	if keep || decimals == 0 {
		return text
	}
	for text[len(text)-1] == '0' {
		text = text[:len(text)-1]
	}
	if text[len(text)-1] == '.' {
		text = text[:len(text)-1]
	}
	return text
}

// The Format functions write a quantity as people read it. Each takes the width
// of its band in the same quantity, from low to high edge, and shows nothing finer
// than a third of it; 0 where no band is known.

// FormatGravity writes three decimals: 1.014.
func FormatGravity(g, band Gravity) string {
	return rounded(float64(g), 0.001, float64(band), 3, true)
}

// FormatPSI writes steps of half a psi: 10 psi, 10.5 psi.
func FormatPSI(g, band Gauge) string {
	return rounded(g.PSI(), 0.5, band.PSI(), 1, false) + " psi"
}

// FormatBar writes steps of 0.05 bar: 0.70 bar.
func FormatBar(g, band Gauge) string {
	return rounded(g.Bar(), 0.05, band.Bar(), 2, true) + " bar"
}

// FormatDials writes a pressure as both kinds of dial show it: 10 psi (0.70 bar).
func FormatDials(g, band Gauge) string {
	return FormatPSI(g, band) + " (" + FormatBar(g, band) + ")"
}

// FormatKilopascals writes steps of 5 kPa: 70 kPa.
func FormatKilopascals(g, band Gauge) string {
	return rounded(g.Kilopascals(), 5, band.Kilopascals(), 0, false) + " kPa"
}

// FormatCelsius writes steps of half a degree: 18.5 °C.
func FormatCelsius(t Temperature, band TemperatureDifference) string {
	return rounded(t.Celsius(), 0.5, float64(band), 1, false) + " °C"
}

// FormatFahrenheit writes whole degrees: 64 °F.
func FormatFahrenheit(t Temperature, band TemperatureDifference) string {
	return rounded(t.Fahrenheit(), 1, float64(band)*1.8, 0, false) + " °F"
}

// FormatVolumes writes one decimal, with g/L beside: 2.5 volumes (4.9 g/L).
func FormatVolumes(v, band Volumes) string {
	step := Resolution(0.1, float64(band))
	v = Volumes(math.Round(float64(v)/step) * step)
	return rounded(float64(v), 0.1, 0, 1, true) + " volumes (" + rounded(v.GramsPerLitre(), 0.1, 0, 1, true) + " g/L)"
}

// FormatABV writes one decimal: 4.8 %.
func FormatABV(a, band ABV) string {
	return rounded(a.Percent(), 0.1, band.Percent(), 1, true) + " %"
}

// FormatVolume writes tenths of a litre, or steps of 5 mL under one litre.
func FormatVolume(v, band Volume) string {
	if math.Abs(float64(v)) < 0.9975*Litre {
		return rounded(float64(v)/Millilitre, 5, float64(band)/Millilitre, 0, false) + " mL"
	}
	return rounded(v.Litres(), 0.1, band.Litres(), 1, false) + " L"
}

// FormatMass writes tenths of a gram to 20 g, grams to 1 kg, then hundredths of a kilogram.
func FormatMass(m, band Mass) string {
	switch grams := math.Abs(m.Grams()); {
	case grams < 19.95:
		return rounded(m.Grams(), 0.1, band.Grams(), 1, false) + " g"
	case grams < 999.5:
		return rounded(m.Grams(), 1, band.Grams(), 0, false) + " g"
	}
	return rounded(float64(m), 0.01, float64(band), 2, false) + " kg"
}

// FormatDuration writes minutes to 2 h, hours to 2 days, then days: 45 min, 15 h, 4 days.
func FormatDuration(d, band Duration) string {
	switch s := math.Abs(float64(d)); {
	case s < 2*Hour-Minute/2:
		return rounded(float64(d)/Minute, 1, float64(band)/Minute, 0, false) + " min"
	case s < 2*Day-Hour/2:
		return rounded(d.Hours(), 1, band.Hours(), 0, false) + " h"
	}
	return rounded(d.Days(), 1, band.Days(), 0, false) + " days"
}
