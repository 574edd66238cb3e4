package unit

import (
	"math"
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

// roundTo gives v to the nearest multiple of step.
func roundTo(v, step float64) float64 { return math.Round(v/step) * step }

// The Format functions write a quantity as it is usually said; see Style.

// FormatGravity writes three decimals: 1.014.
func FormatGravity(g, band Gravity) string { return Style{}.Gravity(g, band) }

// FormatDials writes a pressure as both kinds of dial show it: 10 psi (0.70 bar).
func FormatDials(g, band Gauge) string { return Style{}.Dials(g, band) }

// FormatCelsius writes steps of half a degree: 18.5 °C.
func FormatCelsius(t Temperature, band TemperatureDifference) string {
	return celsius.words(float64(t), float64(band))
}

// FormatVolumes writes one decimal, with g/L beside: 2.5 volumes (4.9 g/L).
func FormatVolumes(v, band Volumes) string { return Style{}.Gas(v, band) }

// FormatABV writes one decimal: 4.8 %.
func FormatABV(a, band ABV) string { return Style{}.ABV(a, band) }

// FormatVolume writes tenths of a litre, or steps of 5 mL under one litre.
func FormatVolume(v, band Volume) string { return Style{}.Volume(v, band) }

// FormatMass writes tenths of a gram to 20 g, grams to 1 kg, then hundredths of a kilogram.
func FormatMass(m, band Mass) string { return Style{}.Mass(m, band) }

// FormatDuration writes minutes to 2 h, hours to 2 days, then days: 45 min, 15 h, 4 days.
func FormatDuration(d, band Duration) string { return Style{}.Duration(d, band) }
