package wort

import "spile/unit"

const zeroCelsius = 273.15

var standard = unit.Celsius(20) // of gravity, extract tables and alcohol by volume

// WaterDensity is that of air-free water in kg/m3 at 101.325 kPa. Range 0 to 40 C; error 0.001 kg/m3.
// References: [Tanaka2001]
func WaterDensity(t unit.Temperature) float64 {
	c := float64(t) - zeroCelsius
	d := c - 3.983035
	return 999.974950 * (1 - d*d*(c+301.797)/(522528.9*(c+69.34881)))
}

// EthanolWaterDensity is that of ethanol and water in kg/m3, ethanol a mass
// fraction. Range -20 to 40 C, 0 to 1; error 0.01 kg/m3.
// References: [OIML1975]
func EthanolWaterDensity(ethanol unit.Ratio, t unit.Temperature) float64 {
	p, y := float64(ethanol), float64(t)-zeroCelsius-20
	rho := 0.0
	for i := len(oimlB) - 1; i >= 0; i-- {
		term := oimlB[i]
		if i < len(oimlC) {
			term += p * horner(oimlC[i], p)
		}
		rho = (rho + term) * y
	}
	return rho + horner(oimlA[:], p)
}

// SucroseDensity is that of sucrose and water in kg/m3. Range 0 to 60 C, 0 to
// 0.3; error 0.1 kg/m3. Wort extract of the same table value weighs the same by definition at 20 C.
// References: [Bubnik1995], [Kell1975]
func SucroseDensity(extract unit.Extract, t unit.Temperature) float64 {
	w, c := float64(extract), float64(t)-zeroCelsius
	y := (c - 20) / 100
	rho := 0.0
	for i := len(icumsaB) - 1; i >= 0; i-- {
		rho = rho*y + w*horner(icumsaB[i], w)
	}
	return rho + kell(c)
}

// kell is the density of water on which the sucrose formula rests, in kg/m3. References: [Kell1975]
func kell(c float64) float64 {
	return (999.83952 + c*(16.952577+c*(-7.9905127e-3+c*(-46.241757e-6+c*(105.84601e-9-c*281.03006e-12))))) / (1 + 16.887236e-3*c)
}

// horner evaluates sum c[k] x^k.
func horner(c []float64, x float64) float64 {
	sum := 0.0
	for k := len(c) - 1; k >= 0; k-- {
		sum = sum*x + c[k]
	}
	return sum
}

// BeerDensity is that of flat beer in kg/m3, from its real extract and ethanol
// as mass fractions: the volumes that each adds to water, taken from its own table, add up.
// Range 0 to 40 C, extract to 0.3, ethanol to 0.1; error 0.6 kg/m3 (beers of 1917), 0.1 kg/m3 in a change with temperature.
// References: [Tanaka2001], [OIML1975], [Bubnik1995], [Tolman1917]
func BeerDensity(extract unit.Extract, ethanol unit.Ratio, t unit.Temperature) float64 {
	s, e := float64(extract), float64(ethanol)
	x := 1 - s - e
	v := x / WaterDensity(t)
	v += (x+e)/EthanolWaterDensity(unit.Ratio(e/(x+e)), t) - x/EthanolWaterDensity(0, t)
	v += (x+s)/SucroseDensity(unit.Extract(s/(x+s)), t) - x/SucroseDensity(0, t)
	return 1 / v
}

// co2SpecificVolume is the volume in m3 that one kg of CO2 adds as it dissolves, 32.3 cm3/mol. References: [Weiss1974]
const co2SpecificVolume = 32.3e-6 / 0.0440095

// Carbonated is the density in kg/m3 of beer that weighs flat kg/m3 without
// CO2, once co2 kg are dissolved in each m3: about 0.5 kg/m3 a volume.
// Range 0 to 40 C, to 15 kg/m3; error 7 % of the rise. A float feels it; bubbles that cling to it hide it.
// References: [Weiss1974]
func Carbonated(flat, co2 float64) float64 { return flat + co2*(1-flat*co2SpecificVolume) }

// Expansion is the thermal expansion of beer by volume in 1/K, negative near
// freezing. Range 1 to 39 C; error 5e-6 /K. Wort has ethanol 0.
// References: [OIML1975], [Bubnik1995]
func Expansion(extract unit.Extract, ethanol unit.Ratio, t unit.Temperature) float64 {
	const step = 0.05 // K
	warm, cold := BeerDensity(extract, ethanol, t+step), BeerDensity(extract, ethanol, t-step)
	return (cold - warm) / (step * (cold + warm))
}
