package co2

import (
	"math"

	"spile/portable"
	"spile/unit"
)

const (
	// MolarMass of carbon dioxide in kg/mol, 12.0107 + 2 * 15.9994 g/mol. Error 1.1e-5 relative to later weights. References: [Loss2003]
	MolarMass = 0.0440095
	// GasConstant in J/(mol K), exact since 2019. References: [CODATA2018]
	GasConstant = 8.314462618
	// IdealMolarVolume is what one mole of ideal gas fills at 0 C and 101.325 kPa, in m3/mol. It defines the volume of CO2.
	IdealMolarVolume = 22.414e-3
	// GramsPerVolume is one volume in g/L (kg/m3), ideal: 1.9635. Some tables use the real gas, 1.9768 g/L.
	GramsPerVolume = MolarMass / IdealMolarVolume
	// PartialMolarVolume of dissolved CO2 in m3/mol, taken constant over 0 to 40 C. Error 2e-6. References: [Weiss1974]
	PartialMolarVolume = 32.3e-6

	atmosphere  = unit.Atmosphere
	zeroCelsius = 273.15
)

// Standard deviations of the two errors of a BeerFactor. They span what could
// be read: the chart for beer, a measured lager 5 % below it, and tables up to 4 % above.
const (
	BeerLevelSD = 0.025
	BeerSlopeSD = 0.015
)

// Knots of the factor by which beer takes up less CO2 than water does: the
// published chart for beer over [Weiss1974] up to 8 C, a judgement above it.
const (
	coldKnot, midKnot, warmKnot       = -1.0, 8.0, 20.0 // C
	coldFactor, midFactor, warmFactor = 0.937, 0.957, 0.97
)

// BeerFactor is how far this beer lies from the best estimate of CO2 in beer
// over CO2 in water: one error of level and one of slope from cold to warm, as
// fractions, both fixed within a batch. The zero value is the best estimate.
type BeerFactor struct {
	Level float64 // everywhere alike; sd BeerLevelSD
	Slope float64 // what is added at 20 C and above over -1 C and below; sd BeerSlopeSD
}

// At is solubility in beer over that in water. Range -1 to 20 C, held outside. Error: see BeerLevelSD.
// References: [BrewingTechniques1994]
func (b BeerFactor) At(t unit.Temperature) float64 {
	return beerKernel(float64(t)-zeroCelsius, b.Level, b.Slope)
}

// Henry is the solubility in beer in mol/(m3 Pa) of CO2 fugacity. Range -1 to 40 C; error 5 % (9 beers in 10).
// References: [Weiss1974], [BrewingTechniques1994]
func (b BeerFactor) Henry(t unit.Temperature) float64 {
	return HenryKernel(float64(t), b.Level, b.Slope)
}

// WaterSolubility is the solubility in pure water in mol/(m3 Pa) of CO2
// fugacity. Range -1 to 40 C; error 0.7 % against [MurrayRiley1971].
// References: [Weiss1974]
func WaterSolubility(t unit.Temperature) float64 { return waterKernel(float64(t)) }

// waterKernel is [Weiss1974] equation 12 at zero salinity, its volumetric set, in mol/(m3 Pa).
func waterKernel(kelvin float64) float64 {
	const molPerLitreAtm = 1000 / atmosphere
	x := kelvin / 100
	return molPerLitreAtm * portable.Exp(-58.0931+90.5069/x+22.2940*math.Log(x))
}

// beerKernel is the beer factor at t in degrees Celsius.
func beerKernel(t, level, slope float64) float64 {
	t = min(max(t, coldKnot), warmKnot)
	f := midFactor + (warmFactor-midFactor)/(warmKnot-midKnot)*(t-midKnot)
	if t < midKnot {
		f = midFactor + (midFactor-coldFactor)/(midKnot-coldKnot)*(t-midKnot)
	}
	r := (t - (coldKnot+warmKnot)/2) / (warmKnot - coldKnot)
	return f * (1 + level + slope*r)
}

// HenryKernel is BeerFactor.Henry in plain numbers for right-hand sides: kelvin
// and the two errors of the beer factor in, mol/(m3 Pa) of CO2 fugacity out.
func HenryKernel(kelvin, level, slope float64) float64 {
	return waterKernel(kelvin) * beerKernel(kelvin-zeroCelsius, level, slope)
}

// SolutionKernel is the dissolved CO2 in equilibrium with a headspace, in mol/m3 of beer: henry in mol/(m3 Pa)
// from HenryKernel, virial in m3/mol from VirialKernel, pCO2 the partial and p the total pressure in Pa.
// It puts in fugacity and the effect of pressure on the liquid. Up to 6 bar.
func SolutionKernel(henry, virial, kelvin, pCO2, p float64) float64 {
	return henry * pCO2 * portable.Exp((virial*p+(atmosphere-p)*PartialMolarVolume)/(GasConstant*kelvin))
}

// Diffusivity of CO2 in water in m2/s. Range 0 to 40 C; error 2 %; the
// constants are from memory and lie within 1 % of the published table.
// In beer it is lower by the ratio of the viscosities.
// References: [Jahne1987]
func Diffusivity(t unit.Temperature) float64 {
	return 5.019e-6 * portable.Exp(-19510/(GasConstant*float64(t)))
}
