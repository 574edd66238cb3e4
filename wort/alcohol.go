package wort

import (
	"spile/unit"
	"spile/working"
)

// RealExtract is the extract truly left in beer of final gravity fg from wort
// of original gravity og. Range 1.000 to 1.130; error 0.2 P (means of 532 brews).
// References: [Balling1865], [Rischbieter1977], [Cutaia2009]
func RealExtract(og, fg unit.Gravity) unit.Extract {
	return realExtract(ExtractFromGravity(og), ExtractFromGravity(fg))
}

// ApparentAttenuation is the share of the extract that a hydrometer shows as gone.
func ApparentAttenuation(og, fg unit.Gravity) unit.Ratio {
	p0 := ExtractFromGravity(og)
	return unit.Ratio(1 - ExtractFromGravity(fg)/p0)
}

// RealAttenuation is the real degree of fermentation: one less real over
// original extract, both of their own liquid, as brewers' tables have it. Error 0.015.
// References: [Rischbieter1977]
func RealAttenuation(og, fg unit.Gravity) unit.Ratio {
	return unit.Ratio(1 - RealExtract(og, fg)/ExtractFromGravity(og))
}

// alcoholBand is the error in % vol of alcohol from two gravities, nine beers in ten:
// 1.645 times the rms of 0.18 found on the 25 pairs of [Tolman1917].
const alcoholBand = 0.30

// Alcohol by volume at 20 C and by mass of beer of final gravity fg from wort of
// original gravity og, by Balling's balance. Range og to 1.100, fg below it; error 0.3 % vol.
// References: [Balling1865], [Rischbieter1977], [OIML1975], [Tolman1917]
func Alcohol(og, fg unit.Gravity, w *working.Sheet) (unit.ABV, unit.Ratio) {
	f := FromApparent(ExtractFromGravity(og), ExtractFromGravity(fg))
	beer := float64(fg) * WaterDensity(standard)
	abv := unit.ABV(float64(f.Ethanol) * beer / EthanolWaterDensity(1, standard))
	if w != nil {
		explainAlcohol(og, fg, f, w)
		w.Step("ABV", "alcohol by volume", "ABV = A · FG · 998.207/789.24", abv.Percent(), "% vol", "OIML1975")
		w.Error(abv.Percent()-alcoholBand, abv.Percent()+alcoholBand, "the sugars of a wort and what the yeast keeps differ from beer to beer")
	}
	return abv, f.Ethanol
}

func explainAlcohol(og, fg unit.Gravity, f Fermented, w *working.Sheet) {
	w.Input("OG", "original gravity", float64(og), "", working.Given)
	w.Input("FG", "final gravity", float64(fg), "", working.Given)
	w.Step("p0", "original extract", "p0 = 182.4601 S³ - 775.6821 S² + 1262.7794 S - 669.5622, S = OG", f.Original.Plato(), "°P", "Bates1942")
	w.Step("AE", "apparent extract", "the same with S = FG", f.Apparent.Plato(), "°P", "Bates1942")
	w.Step("RE", "real extract", "RE = (q p0 + AE)/(1 + q), q = 0.22 + p0/1000", f.Real.Plato(), "°P", "Rischbieter1977")
	w.Step("A", "alcohol by mass", "A = (p0 - RE)/(2.0665 - 0.010665 p0)", float64(f.Ethanol)*100, "% by mass", "Balling1865")
	w.Range("original gravity 1.000 to 1.100", float64(og), 1, 1.1)
	w.Range("final gravity from 0.985 to the original", float64(fg), lowestGravity, float64(og))
}
