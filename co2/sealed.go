package co2

import (
	"spile/unit"
	"spile/wording"
	"spile/working"
)

// LeakRate is a leak of gas in mol/s; negative if gas came in.
type LeakRate float64

// Mass is the leak as CO2.
func (l LeakRate) Mass() unit.MassRate { return unit.MassRate(float64(l) * MolarMass) }

// Volume is the leak in m3/s of ideal gas at t and p.
func (l LeakRate) Volume(t unit.Temperature, p unit.Pressure) float64 {
	return float64(l) * GasConstant * float64(t) / float64(p)
}

// State is the temperature and absolute pressure of a gas at a time in seconds from any start.
type State struct {
	At          unit.Duration
	Temperature unit.Temperature
	Pressure    unit.Pressure
}

// Leak is the rate at which a sealed gas space lost gas between two readings.
// Only for gas alone or beer at rest with its gas: beer that still takes up gas
// looks the same. Ideal gas, up to 4 bar; error 4 % for CO2.
// References: [CFR1065]
func Leak(gas unit.Volume, first, second State, w *working.Sheet) (LeakRate, error) {
	dt := second.At - first.At
	if !(gas > 0 && dt > 0 && first.Temperature > 0 && second.Temperature > 0) {
		return 0, wording.Unsaid("leak of %.1f L between two readings %.0f s apart: volume, time and temperatures must be above zero", float64(gas)/unit.Litre, float64(dt))
	}
	n1 := float64(first.Pressure) / float64(first.Temperature)
	n2 := float64(second.Pressure) / float64(second.Temperature)
	leak := LeakRate(float64(gas) / GasConstant * (n1 - n2) / float64(dt))
	w.Input("Vg", "gas space", float64(gas)/unit.Litre, "L", working.Given)
	w.Input("p1", "absolute pressure at first", float64(first.Pressure)/1e3, "kPa", working.Given)
	w.Input("p2", "absolute pressure later", float64(second.Pressure)/1e3, "kPa", working.Given)
	w.Input("T1", "temperature at first", first.Temperature.Celsius(), "°C", working.Given)
	w.Input("T2", "temperature later", second.Temperature.Celsius(), "°C", working.Given)
	w.Input("dt", "time between", float64(dt)/unit.Hour, "h", working.Given)
	w.Step("n", "leak", "n = (Vg/R) (p1/T1 - p2/T2)/dt", float64(leak)*1e6, "µmol/s", "CFR1065")
	w.Step("m", "leak of CO2", "m = n · 44.0095 g/mol", float64(leak.Mass())/unit.Gram*unit.Day, "g/day", "")
	w.Caution("Beer that still takes up gas makes the dial fall just like a leak.")
	return leak, nil
}

// Warmed is the pressure of a sealed vessel of gas alone after a change of
// temperature. Ideal gas, up to 4 bar; the change is 6 % too small for CO2.
func Warmed(p unit.Pressure, from, to unit.Temperature) unit.Pressure {
	return unit.Pressure(float64(p) * float64(to/from))
}
