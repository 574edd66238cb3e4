package report

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"spile/batch"
	"spile/unit"
)

// SettingWords writes a setting as people say it.
func SettingWords(s batch.Setting, style unit.Style) string {
	var out []string
	if s.Hold != nil {
		out = append(out, style.Temperature(*s.Hold, 0))
	}
	if s.Relief != nil {
		out = append(out, "valve "+style.Pressure(*s.Relief, 0))
	}
	if s.Gas != nil {
		out = append(out, "gas "+style.Pressure(*s.Gas, 0))
	}
	if s.GasOff {
		out = append(out, "gas off")
	}
	if s.Action != "" {
		out = append(out, s.Action)
	}
	return strings.Join(out, ", ")
}

// EventWords writes what was done as people say it.
func EventWords(e batch.Event, style unit.Style) string {
	switch e.Kind {
	case batch.SetRelief:
		return "valve " + style.Pressure(e.Pressure, 0)
	case batch.VentedTo:
		return "gas let out, " + style.Pressure(e.From, 0) + " to " + style.Pressure(e.To, 0)
	case batch.SampleTaken:
		return "sample of " + style.Volume(e.Volume, 0)
	case batch.GasOn:
		return "gas on, " + style.Pressure(e.Pressure, 0)
	case batch.GasOff:
		return "gas off"
	case batch.HoldAt:
		return "set to " + style.Temperature(e.Temperature, 0)
	case batch.Opened:
		return "lid opened"
	case batch.Shaken:
		return "shaken for " + unit.FormatDuration(e.For, 0)
	case batch.DryHopped:
		return "dry hops, " + style.Mass(e.Mass, 0)
	case batch.Poured:
		return "poured " + style.Volume(e.Volume, 0)
	case batch.ForcedSample:
		return "sample fermented out, " + style.Gravity(e.Gravity, 0)
	}
	return "noticed " + e.Words
}

// ReadNames name what is read.
var ReadNames = map[batch.Quantity]string{batch.Gravity: "gravity", batch.Pressure: "pressure", batch.Temperature: "temperature",
	batch.VesselMass: "weight of the vessel", batch.CylinderMass: "weight of the cylinder", batch.VentedGas: "gas let out"}

// capital makes the first letter a capital.
func capital(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(r)) + s[n:]
}
