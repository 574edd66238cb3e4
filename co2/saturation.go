package co2

import (
	"math"

	"spile/portable"
	"spile/unit"
	"spile/wording"
)

// Ends of the line along which liquid and gas exist together. References: [SpanWagner1996]
const (
	TriplePoint   unit.Temperature = 216.592
	CriticalPoint unit.Temperature = 304.1282

	criticalPressure = 7.3773e6 // Pa
	criticalDensity  = 467.6    // kg/m3
)

// reduced is 1 - T/Tc, or an error where liquid and gas do not exist together.
func reduced(t unit.Temperature) (float64, error) {
	if !(t >= TriplePoint && t <= CriticalPoint) {
		return 0, wording.Unsaid("temperature %.1f °C: CO2 is liquid and gas together from %.1f to %.1f °C only", t.Celsius(), TriplePoint.Celsius(), CriticalPoint.Celsius())
	}
	return 1 - float64(t/CriticalPoint), nil
}

// SaturationPressure is the pressure in a cylinder that still holds liquid.
// Range -56.6 to 31 C, an error outside; error 0.02 %.
// References: [SpanWagner1996] equation 3.13
func SaturationPressure(t unit.Temperature) (unit.Pressure, error) {
	x, err := reduced(t)
	if err != nil {
		return 0, err
	}
	sum := -7.0602087*x + 1.9391218*portable.Pow(x, 1.5) - 1.6463597*x*x - 3.2995634*portable.Pow(x, 4)
	return unit.Pressure(criticalPressure * portable.Exp(float64(CriticalPoint/t)*sum)), nil
}

// SaturatedLiquidDensity in kg/m3. Range -56.6 to 31 C, an error outside; error 0.05 % to 30 C.
// References: [SpanWagner1996] equation 3.14
func SaturatedLiquidDensity(t unit.Temperature) (float64, error) {
	x, err := reduced(t)
	if err != nil {
		return 0, err
	}
	return criticalDensity * portable.Exp(1.9245108*portable.Pow(x, 0.34)-0.62385555*math.Sqrt(x)-
		0.32731127*portable.Pow(x, 10.0/6)+0.39245142*portable.Pow(x, 11.0/6)), nil
}

// SaturatedVapourDensity in kg/m3. Range -56.6 to 31 C, an error outside; error 0.05 % to 30 C.
// References: [SpanWagner1996] equation 3.15
func SaturatedVapourDensity(t unit.Temperature) (float64, error) {
	x, err := reduced(t)
	if err != nil {
		return 0, err
	}
	return criticalDensity * portable.Exp(-1.7074879*portable.Pow(x, 0.34)-0.82274670*math.Sqrt(x)-
		4.6008549*x-10.111178*portable.Pow(x, 7.0/3)-29.742252*portable.Pow(x, 14.0/3)), nil
}
