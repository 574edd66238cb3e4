package co2

import (
	"math"

	"spile/portable"
	"spile/unit"
)

// SecondVirial is the second virial coefficient of CO2 gas in m3/mol. Range
// -10 to 60 C; error 0.7e-6 m3/mol against [SpanWagner1996].
// References: [Weiss1974] equation 6
func SecondVirial(t unit.Temperature) float64 { return VirialKernel(float64(t)) }

// VirialKernel is SecondVirial in plain numbers: kelvin in, m3/mol out.
func VirialKernel(kelvin float64) float64 {
	return 1e-6 * (-1636.75 + kelvin*(12.0408+kelvin*(-0.0327957+kelvin*3.16528e-5)))
}

// Compressibility is Z = pV/(nRT) of CO2 gas. Range -10 to 40 C and up to 6 bar; error 0.2 %.
// References: [Weiss1974]
func Compressibility(t unit.Temperature, p unit.Pressure) float64 {
	return 1 + SecondVirial(t)*float64(p)/(GasConstant*float64(t))
}

// FugacityCoefficient of CO2 gas. Range -10 to 40 C and up to 6 bar; error 0.2 %.
// References: [Weiss1974]
func FugacityCoefficient(t unit.Temperature, p unit.Pressure) float64 {
	return portable.Exp(SecondVirial(t) * float64(p) / (GasConstant * float64(t)))
}

// GasDensity of CO2 in kg/m3. Range -10 to 40 C and up to 6 bar; error 0.2 %.
// References: [Weiss1974]
func GasDensity(t unit.Temperature, p unit.Pressure) float64 {
	return float64(p) * MolarMass / (Compressibility(t, p) * GasConstant * float64(t))
}

// PressureKernel is the pressure in Pa of CO2 gas of so many mol/m3, with the
// same Z as Compressibility solved for the pressure. Up to 6 bar; error 0.2 %.
func PressureKernel(molesPerM3, kelvin float64) float64 {
	return molesPerM3 * GasConstant * kelvin / (1 - molesPerM3*VirialKernel(kelvin))
}

// VapourPressure is the saturation pressure of water. Range -5 to 100 C (above
// undercooled water below 0 C); error 0.1 %. Beer's own is about 2 % lower for
// its extract and higher for its alcohol; both are left out.
// References: [WagnerPruss2002]
func VapourPressure(t unit.Temperature) unit.Pressure {
	return unit.Pressure(VapourKernel(float64(t)))
}

// VapourKernel is VapourPressure in plain numbers: kelvin in, Pa out.
func VapourKernel(kelvin float64) float64 {
	const critical, tc = 22.064e6, 647.096
	x := 1 - kelvin/tc
	r := math.Sqrt(x)
	x3 := x * x * x
	sum := -7.85951783*x + 1.84408259*x*r + x3*(-11.7866497+22.6807411*r-15.9618719*x+1.80122502*x3*x*r)
	return critical * portable.Exp(tc/kelvin*sum)
}
