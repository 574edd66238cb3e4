package yeast

import (
	"math"

	"spile/portable"
	"spile/unit"
)

// DiketoneThreshold in kg/m3 (0.1 mg/L) above which vicinal diketones are an off-flavour in most beers; in ales
// up to four times as much may pass. References: [KrogerusGibson2013]
const DiketoneThreshold = 1e-4

// Vicinal diketones (memory, low confidence): what a full crop leaves behind of
// the forerunner acetolactate, its slow chemical change, and how fast yeast takes
// the diacetyl up. Only the warming factor and that the change is the slow step
// are read. Carry them as uncertain by two.
const (
	acetolactateFormed = 7e-4              // kg/m3 per full crop grown
	conversionRate     = 1 / (30 * 3600.0) // 1/s at 20 C; 2.8 times in 10 K
	reductionRate      = 1 / (4 * 3600.0)  // 1/s at 20 C of a full crop in suspension; 2 times in 10 K
)

// DiketoneRates are the first-order rates, 1/s, at a temperature in K for yeast in suspension (1: a full crop):
// acetolactate to diacetyl, and diacetyl to what has no taste. Range 0 to 35 C; uncertain by two.
// References: [KrogerusGibson2013]
func DiketoneRates(kelvin, suspended float64) (convert, reduce float64) {
	y := portable.Exp(math.Ln2 / 20 * (kelvin - referenceKelvin)) // squared: 2 in 10 K; cubed: 2.8
	return conversionRate * y * y * y, reductionRate * y * y * suspended
}

// AcetolactateFormed in kg/m3 is what a growth of grown (1: a full crop) leaves behind. Uncertain by two.
func AcetolactateFormed(grown float64) float64 { return acetolactateFormed * grown }

// RestDone says whether a rest before chilling has done its work: what is there and what may still form stays below the threshold.
// Both in kg/m3.
func RestDone(acetolactate, diacetyl float64) bool {
	return acetolactate+diacetyl < DiketoneThreshold
}

// RestLeft is how much longer the rest needs at temperature t with yeast in
// suspension, by the slow chemical change alone; zero when it is done. Uncertain by two.
// References: [KrogerusGibson2013]
func RestLeft(acetolactate, diacetyl float64, t unit.Temperature) unit.Duration {
	total := acetolactate + diacetyl
	if total < DiketoneThreshold {
		return 0
	}
	convert, _ := DiketoneRates(float64(t), 1)
	return unit.Duration(math.Log(total/DiketoneThreshold) / convert)
}
