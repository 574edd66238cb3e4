package co2

import (
	"math"

	"spile/portable"
	"spile/unit"
	"spile/wording"
	"spile/working"
)

// Content is the CO2 left in a cylinder by weight, the only way to know it
// while liquid remains: full weight less the empty weight stamped on the cylinder.
func Content(full, empty unit.Mass) (unit.Mass, error) {
	if !(empty > 0 && full >= empty) {
		return 0, wording.Unsaid("cylinder of %.3f kg with an empty weight of %.3f kg: the weight must be the empty weight or more, for example 5.2 kg on 3.1 kg", float64(full), float64(empty))
	}
	return full - empty, nil
}

// GaugeFallShare is the share of a full cylinder that is left when the last
// liquid boils away and its gauge starts to fall; until then the gauge shows the
// temperature alone. fill is the full charge in kg per m3 of cylinder (680 is
// common in North America, 750 in Germany). Range -56.6 to 31 C; error 0.1 %.
// References: [SpanWagner1996]
func GaugeFallShare(t unit.Temperature, fill float64, w *working.Sheet) (unit.Ratio, error) {
	if !(fill > 0) {
		return 0, wording.Unsaid("fill of %.0f kg/m³: must be above zero, for example 680 kg/m³ (0.68 kg/L)", fill)
	}
	vapour, err := SaturatedVapourDensity(t)
	if err != nil {
		return 0, err
	}
	share := unit.Ratio(min(vapour/fill, 1))
	w.Input("t", "temperature of the cylinder", t.Celsius(), "°C", working.Given)
	w.Input("F", "full charge per volume of cylinder", fill, "kg/m³", working.Given)
	w.Step("rho", "density of the gas above the liquid", "Span and Wagner, equation 3.15", vapour, "kg/m³", "SpanWagner1996")
	w.Step("s", "share left when the gauge starts to fall", "s = rho/F, at most 1", float64(share), "", "")
	return share, nil
}

// Carbonate is the CO2 that lifts beer of volume x from one carbonation to another; negative if it is lowered.
func Carbonate(from, to unit.Volumes, x unit.Volume, w *working.Sheet) unit.Mass {
	m := unit.Mass(float64(to-from) * float64(x) * GramsPerVolume)
	w.Input("V1", "carbonation now", float64(from), "volumes", working.Given)
	w.Input("V2", "carbonation wanted", float64(to), "volumes", working.Given)
	w.Input("X", "beer", float64(x)/unit.Litre, "L", working.Given)
	w.Step("m", "CO2 to carbonate", "m = 1.9635 g/L · (V2 - V1) · X", float64(m)/unit.Gram, "g", "")
	return m
}

// Push is the CO2 that takes the place of beer of volume x poured at t and
// absolute pressure p. Range and error as GasDensity.
// References: [Weiss1974]
func Push(x unit.Volume, t unit.Temperature, p unit.Pressure, w *working.Sheet) unit.Mass {
	rho := GasDensity(t, p)
	m := unit.Mass(rho * float64(x))
	w.Input("Xp", "beer pushed out", float64(x)/unit.Litre, "L", working.Given)
	w.Input("t", "temperature of the gas", t.Celsius(), "°C", working.Given)
	w.Input("p", "absolute pressure", float64(p)/1e3, "kPa", working.Given)
	w.Step("rho", "density of the gas", "rho = p M/(Z R T), Z = 1 + B p/(R T)", rho, "g/L", "Weiss1974")
	w.Step("mp", "CO2 to push", "mp = rho · Xp", float64(m)/unit.Gram, "g", "")
	return m
}

// PurgeResidual is the share of the first gas left after n cycles of filling to
// high and venting to low, both absolute, with full mixing.
// Real vessels mix less well: the true share can be higher. References: [Kinsley2001]
func PurgeResidual(low, high unit.Pressure, n int) (unit.Ratio, error) {
	if !(low > 0 && high > low) || n < 0 {
		return 0, wording.Unsaid("purging from %.0f to %.0f kPa absolute %d times: the upper pressure must be above the lower one, for example 101 to 205 kPa", float64(low)/1e3, float64(high)/1e3, n)
	}
	return unit.Ratio(portable.Pow(float64(low/high), float64(n))), nil
}

// PurgeCycles is the fewest cycles after which no more than share of the first gas is left. References: [Kinsley2001]
func PurgeCycles(low, high unit.Pressure, share unit.Ratio) (int, error) {
	one, err := PurgeResidual(low, high, 1)
	if err != nil {
		return 0, err
	}
	if !(share > 0 && share <= 1) {
		return 0, wording.Unsaid("share %g of the first gas: accepted are above 0 to 1, for example 0.005", float64(share))
	}
	const rounding = 1e-9 // a share met exactly needs no further cycle
	return int(math.Ceil(math.Log(float64(share))/math.Log(float64(one)) - rounding)), nil
}

// SweepResidual is the share of the first gas left after gas of so many vessel
// volumes has flowed through with full mixing. References: [Kinsley2001]
func SweepResidual(vesselVolumes float64) unit.Ratio { return unit.Ratio(portable.Exp(-vesselVolumes)) }
