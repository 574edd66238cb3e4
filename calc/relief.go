package calc

import (
	"math"

	"spile/co2"
	"spile/portable"
	"spile/unit"
	"spile/working"
)

const squareMillimetre = 1e-6 // m2

// Assumptions of the sizing, from memory and common practice: ratio of heats of CO2;
// compressibility of the saturated gas at a seat; discharge of a sharp seat and of an
// uncertified valve; rise above the setting at which a valve is fully open.
const (
	heatRatio      = 1.29
	seatZ          = 0.72
	valveZ         = 0.98
	seatDischarge  = 0.8
	valveDischarge = 0.62
	fullLift       = 1.10
)

// gasTemperature is 20 C, in K.
const gasTemperature = 293.15

// ReliefArea is the free area that a safety valve of gauge setting set needs to pass all
// that a regulator failed open lets through a seat of this bore from a supply (absolute).
// Choked or subsonic flow of an ideal gas through both, after the usual sizing equation
// for gas. Range: supply 1 to 70 bar, any setting; the area may be a quarter too small,
// since gas near its saturation flows more than an ideal gas. References: [Shapiro1953]
func ReliefArea(seat unit.Length, supply unit.Pressure, set unit.Gauge, air unit.Pressure, w *working.Sheet) unit.Area {
	open := unit.Pressure(float64(set)*fullLift) + air
	bore := math.Pi / 4 * float64(seat) * float64(seat)
	flow := seatDischarge * bore * flux(float64(supply), float64(open), seatZ)
	area := flow / (valveDischarge * flux(float64(open), float64(air), valveZ))
	w.Input("d", "bore of the regulator's seat", float64(seat)/unit.Millimetre, "mm", working.Given)
	w.Input("ps", "supply, absolute", float64(supply)/unit.Bar, "bar", working.Given)
	w.Input("pset", "setting of the safety valve", set.Bar(), "bar", working.Given)
	w.Step("p1", "pressure with the valve fully open, absolute", "p1 = 1.10 pset + pa; the 1.10 from memory", float64(open)/unit.Kilopascal, "kPa", "")
	w.Step("m", "gas through the seat", "m = 0.8 · pi/4 d² · G(ps, p1), k = 1.29, Z = 0.72; all three from memory", flow/unit.Gram, "g/s", "Shapiro1953")
	w.Step("A", "free area", "A = m/(0.62 · G(p1, pa)), k = 1.29, Z = 0.98; all three from memory", area/squareMillimetre, "mm²", "Shapiro1953")
	w.Range("a supply of 1 to 70 bar", float64(supply), unit.Bar, 70*unit.Bar)
	w.Error(area/squareMillimetre, 1.25*area/squareMillimetre, "gas near its saturation flows up to a quarter more than an ideal gas")
	return unit.Area(area)
}

// flux is the mass flow per area, kg/(m2 s), of CO2 from p1 to p2 through an ideal nozzle.
func flux(p1, p2, z float64) float64 {
	const k = heatRatio
	r := max(min(p2/p1, 1), portable.Pow(2/(k+1), k/(k-1))) // choked below that ratio
	shape := 2 * k / (k - 1) * (portable.Pow(r, 2/k) - portable.Pow(r, (k+1)/k))
	return p1 * math.Sqrt(co2.MolarMass/(z*co2.GasConstant*gasTemperature)*shape)
}
