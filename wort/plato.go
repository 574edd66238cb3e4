package wort

import (
	"spile/unit"
	"spile/wording"
)

// Gravities the cubic is used for: a very dry beer to a very strong wort.
const (
	lowestGravity, highestGravity = 0.985, 1.130
)

// ExtractFromGravity is the extract of a sucrose solution of specific gravity
// 20/20, for wort its true and for beer its apparent extract, which falls a
// little below zero under 1.000. Range 0.985 to 1.130 (-4 to 30 P); error
// 0.005 P against the table. The table is of gravity weighed in air, up to
// 0.00006 above that in vacuum at 12 P.
// References: [Bates1942]
func ExtractFromGravity(g unit.Gravity) unit.Extract {
	return unit.Extract(extractKernel(float64(g)))
}

// extractKernel is the cubic of the National Bureau of Standards, as a mass fraction.
func extractKernel(s float64) float64 {
	return 0.01 * (((182.4601*s-775.6821)*s+1262.7794)*s - 669.5622)
}

// GravityFromExtract is the exact inverse of ExtractFromGravity, to 1e-12.
// References: [Bates1942]
func GravityFromExtract(e unit.Extract) unit.Gravity {
	return unit.Gravity(gravityFromExtractKernel(float64(e)))
}

// gravityFromExtractKernel solves the cubic by three steps of Newton from a
// start within 0.0001 at 0 to 30 P and 0.001 at -4 P; each step squares the error.
func gravityFromExtractKernel(e float64) float64 {
	p := 100 * e
	s := 1 + p/(258.6-p*(227.1/258.2))
	for range 3 {
		s -= (extractKernel(s) - e) / extractSlope(s)
	}
	return s
}

// extractSlope is the derivative of extractKernel, mass fraction over gravity.
func extractSlope(s float64) float64 {
	return 0.01 * ((3*182.4601*s-2*775.6821)*s + 1262.7794)
}

// CheckGravity says in one line what is wrong with a gravity, or returns nil. Range 0.985 to 1.130.
func CheckGravity(what string, g unit.Gravity) error {
	if g >= lowestGravity && g <= highestGravity {
		return nil
	}
	return wording.Unsaid("%s %.4f: accepted are %.3f to %.3f, for example 1.048", what, float64(g), lowestGravity, highestGravity)
}
