package report

import (
	"strings"

	"spile/batch"
	"spile/unit"
	"spile/wording"
)

// SettingWords writes a setting as people say it.
func SettingWords(s batch.Setting, style unit.Style) string {
	var out []string
	if s.Hold != nil {
		out = append(out, style.Temperature(*s.Hold, 0))
	}
	if s.Relief != nil {
		out = append(out, style.Say("valve %s", style.Pressure(*s.Relief, 0)))
	}
	if s.Gas != nil {
		out = append(out, style.Say("gas %s", style.Pressure(*s.Gas, 0)))
	}
	if s.GasOff {
		out = append(out, style.Word("gas off"))
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
		return style.Say("valve %s", style.Pressure(e.Pressure, 0))
	case batch.VentedTo:
		return style.Say("gas let out, %s to %s", style.Pressure(e.From, 0), style.Pressure(e.To, 0))
	case batch.SampleTaken:
		return style.Say("sample of %s", style.Volume(e.Volume, 0))
	case batch.GasOn:
		return style.Say("gas on, %s", style.Pressure(e.Pressure, 0))
	case batch.GasOff:
		return style.Word("gas off")
	case batch.HoldAt:
		return style.Say("set to %s", style.Temperature(e.Temperature, 0))
	case batch.Opened:
		return style.Word("lid opened")
	case batch.Shaken:
		return style.Say("shaken for %s", unit.FormatDuration(e.For, 0))
	case batch.DryHopped:
		return style.Say("dry hops, %s", style.Mass(e.Mass, 0))
	case batch.Poured:
		return style.Say("poured %s", style.Volume(e.Volume, 0))
	case batch.ForcedSample:
		return style.Say("sample fermented out, %s", style.Gravity(e.Gravity, 0))
	}
	return style.Say("noticed %s", e.Words)
}

// ReadNames name what is read.
var ReadNames = map[batch.Quantity]wording.Text{batch.Gravity: "gravity", batch.Pressure: "pressure", batch.Temperature: "temperature",
	batch.VesselMass: "weight of the vessel", batch.CylinderMass: "weight of the cylinder", batch.VentedGas: "gas let out",
	batch.AirTemperature: "temperature of the air"}
