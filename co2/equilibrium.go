package co2

import (
	"math"

	"spile/root"
	"spile/unit"
	"spile/wording"
	"spile/working"
)

// Range in which the equilibrium relations hold and their inverses search.
const (
	lowestC, highestC = -2.0, 40.0 // C
	highestPressure   = 6 * unit.Bar
)

// relativeError of carbonation in beer, nine beers in ten: 1.645 sd of the level with half the slope.
var relativeError = 1.645 * math.Hypot(BeerLevelSD, BeerSlopeSD/2)

// Equilibrium is the carbonation that beer reaches at t under a headspace of
// CO2 and water vapour alone at total absolute pressure p. Range -2 to 40 C and
// up to 6 bar; error 4 % of the chart for beer, 6 % of any one beer.
// References: [Weiss1974], [BrewingTechniques1994], [WagnerPruss2002]
func Equilibrium(t unit.Temperature, p unit.Pressure, b BeerFactor, w *working.Sheet) unit.Volumes {
	v := equilibrium(t, p, b)
	if w == nil {
		return v
	}
	w.Input("t", "temperature of the beer", t.Celsius(), "°C", working.Given)
	w.Input("p", "absolute pressure", float64(p)/1e3, "kPa", working.Given)
	explain(t, p, b, w)
	w.Step("V", "carbonation", "V = c · 22.414 L/mol", float64(v), "volumes", "Weiss1974")
	w.Step("g", "carbonation by mass", "g = 1.9635 · V", float64(v)*GramsPerVolume, "g/L", "")
	w.Error(float64(v)*(1-relativeError), float64(v)*(1+relativeError), solubilityDoubt)
	return v
}

// explain records the steps from temperature and pressure to concentration.
func explain(t unit.Temperature, p unit.Pressure, b BeerFactor, w *working.Sheet) {
	pw := VapourPressure(t)
	w.Step("K0", "CO2 in water", "ln K0 = -58.0931 + 9050.69/T + 22.2940 ln(T/100)", WaterSolubility(t)*atmosphere/1e3, "mol/(L atm)", "Weiss1974")
	w.Step("F", "beer over water", "0.937 at -1 °C, 0.957 at 8 °C, 0.97 from 20 °C", b.At(t), "", "BrewingTechniques1994")
	w.Step("pw", "water vapour", "saturation pressure of water", float64(pw)/1e3, "kPa", "WagnerPruss2002")
	w.Step("phi", "fugacity coefficient", "phi = exp(B p/(R T))", FugacityCoefficient(t, p), "", "Weiss1974")
	w.Step("c", "dissolved CO2", "c = K0 · F · phi · (p - pw) · exp((101.325 kPa - p) v/(R T))", float64(equilibrium(t, p, b))/IdealMolarVolume, "mol/m³", "Weiss1974")
	checkRange(t, p, w)
}

// checkRange records where the relation holds.
func checkRange(t unit.Temperature, p unit.Pressure, w *working.Sheet) {
	w.Range("beer from -2 to 40 °C", t.Celsius(), lowestC, highestC)
	w.Range("absolute pressure up to 600 kPa", float64(p), 0, highestPressure)
	w.Range("a headspace of CO2 and water vapour, no air", 0, 0, 0)
}

func equilibrium(t unit.Temperature, p unit.Pressure, b BeerFactor) unit.Volumes {
	pc := max(p-VapourPressure(t), 0)
	return unit.Volumes(IdealMolarVolume * SolutionKernel(b.Henry(t), SecondVirial(t), float64(t), float64(pc), float64(p)))
}

// PartialVolumes is the carbonation in equilibrium with a partial pressure of
// CO2, whatever else the headspace holds. Range and error as Equilibrium.
// References: [Weiss1974], [BrewingTechniques1994]
func PartialVolumes(t unit.Temperature, pCO2 unit.Pressure, b BeerFactor) unit.Volumes {
	p := float64(pCO2)
	return unit.Volumes(IdealMolarVolume * SolutionKernel(b.Henry(t), SecondVirial(t), float64(t), p, p))
}

const solubilityDoubt wording.Text = "how much less CO2 beer takes up than water is known to about 3 % only"

// EquilibriumPressure is the absolute pressure that holds v in beer at t under
// CO2 and water vapour alone: the inverse of Equilibrium to 1e-9. It fails
// outside -2 to 40 C, below zero volumes and beyond 6 bar absolute.
// References: [Weiss1974], [BrewingTechniques1994]
func EquilibriumPressure(t unit.Temperature, v unit.Volumes, b BeerFactor, w *working.Sheet) (unit.Pressure, error) {
	if c := t.Celsius(); !(c >= lowestC && c <= highestC) {
		return 0, wording.Unsaid("temperature %.1f °C: accepted are %.0f to %.0f °C, for example 4 °C", c, lowestC, highestC)
	}
	most := equilibrium(t, highestPressure, b)
	if !(v >= 0 && v <= most) {
		return 0, wording.Unsaid("carbonation %.2f volumes at %.1f °C: accepted are 0 to %.1f volumes (6 bar absolute), for example 2.5", float64(v), t.Celsius(), float64(most))
	}
	henry, virial, vapour := b.Henry(t), SecondVirial(t), float64(VapourPressure(t))
	pascal, _ := root.Find(vapour, highestPressure, func(p float64) float64 { // the ends are checked
		return IdealMolarVolume*SolutionKernel(henry, virial, float64(t), max(p-vapour, 0), p) - float64(v)
	})
	p := unit.Pressure(pascal)
	if w != nil {
		w.Input("t", "temperature of the beer", t.Celsius(), "°C", working.Given)
		w.Input("V", "carbonation", float64(v), "volumes", working.Given)
		explain(t, p, b, w)
		w.Step("p", "absolute pressure", "the p at which c · 22.414 L/mol = V", float64(p)/1e3, "kPa", "Weiss1974")
		w.Error(float64(p)/1e3*(1-relativeError), float64(p)/1e3*(1+relativeError), solubilityDoubt)
	}
	return p, nil
}

// EquilibriumTemperature is the temperature at which beer under absolute
// pressure p holds v: the inverse of Equilibrium to 1e-9 K. It fails where no
// temperature from -2 to 40 C does.
// References: [Weiss1974], [BrewingTechniques1994]
func EquilibriumTemperature(p unit.Pressure, v unit.Volumes, b BeerFactor, w *working.Sheet) (unit.Temperature, error) {
	if !(p > 0 && p <= highestPressure) {
		return 0, wording.Unsaid("pressure %.0f kPa absolute: accepted are above 0 to 600 kPa, for example 170 kPa (10 psi on the dial)", float64(p)/1e3)
	}
	cold, warm := unit.Celsius(lowestC), unit.Celsius(highestC)
	most, least := equilibrium(cold, p, b), equilibrium(warm, p, b)
	if !(v >= least && v <= most) {
		return 0, wording.Unsaid("carbonation %.2f volumes at %.0f kPa absolute: between %.0f and %.0f °C it can only be %.2f to %.2f volumes", float64(v), float64(p)/1e3, lowestC, highestC, float64(least), float64(most))
	}
	at := func(v unit.Volumes) unit.Temperature {
		v = max(least, min(v, most))
		kelvin, _ := root.Find(float64(cold), float64(warm), func(k float64) float64 { // the ends are checked
			return float64(v - equilibrium(unit.Temperature(k), p, b))
		})
		return unit.Temperature(kelvin)
	}
	t := at(v)
	if w != nil {
		w.Input("p", "absolute pressure", float64(p)/1e3, "kPa", working.Given)
		w.Input("V", "carbonation", float64(v), "volumes", working.Given)
		explain(t, p, b, w)
		w.Step("t", "temperature of the beer", "the t at which c · 22.414 L/mol = V", t.Celsius(), "°C", "Weiss1974")
		w.Error(at(v*unit.Volumes(1+relativeError)).Celsius(), at(v*unit.Volumes(1-relativeError)).Celsius(), solubilityDoubt)
	}
	return t, nil
}
