package batchfile

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"spile/batch"
	"spile/unit"
)

// EncodeBatch writes b as BATCH.yaml. Reading it again gives b to the last bit:
// a quantity is written in the unit of the trade where that is exact, else in SI.
func EncodeBatch(w io.Writer, b *batch.Batch) error {
	var out bytes.Buffer
	line := func(key, value string) { fmt.Fprintf(&out, "%-8s %s\n", key+":", value) }
	line("name", strconv.Quote(b.Name))
	line("pitched", b.Pitched.Format(time.RFC3339Nano))
	line("wort", flow("volume", volumeText(b.Wort.Volume), "gravity", strconv.Quote(b.Wort.Gravity.String()), "bitterness", unit.Bitterness(b.Wort.Bitterness).String()))
	line("yeast", flow("kind", string(b.Yeast.Kind), "form", b.Yeast.Form, "mass", some(b.Yeast.Mass, massText), "attenuation", some(b.Yeast.Attenuation, unit.Ratio.String)))
	line("vessel", flow("capacity", volumeText(b.Vessel.Capacity), "diameter", b.Vessel.Diameter.String(), "rating", given(b.Vessel.Rating, gaugeText), "safety_relief", given(b.Vessel.SafetyRelief, gaugeText)))
	line("place", flow("ambient", temperatureText(b.Place.Ambient), "altitude", b.Place.Altitude.String(), "fridge", given(b.Place.Fridge, fridgeText), "belt", some(b.Place.Belt, unit.Power.String)))
	if g := b.Gas; g != nil {
		line("gas", flow("cylinder", massText(g.Cylinder), "content", massText(g.Content)))
	}
	if t := b.Target; t != nil {
		line("target", flow("co2", some(t.CO2, unit.Volumes.String), "temperature", some(t.Temperature, temperatureText), "ready", moment(t.Ready)))
	}
	if len(b.Programme) > 0 {
		out.WriteString(ProgrammeText(b.Programme))
	}
	if len(b.Faults) > 0 {
		out.WriteString("faults:\n")
	}
	for _, f := range b.Faults {
		out.WriteString("  - " + faultText(f) + "\n")
	}
	_, err := w.Write(out.Bytes())
	return err
}

// flow is a mapping on one line; pairs whose value is empty are left out.
func flow(pairs ...string) string {
	var parts []string
	for i := 0; i < len(pairs); i += 2 {
		if pairs[i+1] != "" {
			parts = append(parts, pairs[i]+": "+pairs[i+1])
		}
	}
	return "{" + strings.Join(parts, ", ") + "}"
}

// some is the text of v, or "" where v is zero, which stands for not known.
func some[T comparable](v T, text func(T) string) string {
	var none T
	if v == none {
		return ""
	}
	return text(v)
}

// given is the text of *v, or "" where there is none.
func given[T any](v *T, text func(T) string) string {
	if v == nil {
		return ""
	}
	return text(*v)
}

func moment(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format(time.RFC3339Nano)
}

func fridgeText(f batch.Fridge) string { return flow("coldest", temperatureText(f.Coldest)) }

// exactly is v in a unit of the trade with at most 12 digits where that parses
// to v again, else its exact text in SI.
func exactly[T ~float64](v T, in float64, symbol string, parse func(string) (T, error), si string) string {
	text := strconv.FormatFloat(in, 'g', 12, 64) + " " + symbol
	if back, err := parse(text); err == nil && back == v && !strings.Contains(text, "e") {
		return text
	}
	return si
}

func gaugeText(g unit.Gauge) string {
	if text := exactly(g, g.Bar(), "bar", unit.ParseGauge, ""); text != "" && len(text) < 10 {
		return text
	}
	return exactly(g, g.PSI(), "psi", unit.ParseGauge, g.String())
}

func temperatureText(t unit.Temperature) string {
	return exactly(t, t.Celsius(), "C", unit.ParseTemperature, t.String())
}

func volumeText(v unit.Volume) string { return v.String() }

func massText(m unit.Mass) string { return exactly(m, m.Grams(), "g", unit.ParseMass, m.String()) }

func durationText(d unit.Duration) string {
	return exactly(d, d.Hours(), "h", unit.ParseDuration, d.String())
}

func stepText(s batch.Step) string {
	pairs := stepPairs(s)
	pairs[len(pairs)-1] = quotedWords(s.Set.Action)
	return flow(pairs...)
}

// stepPairs are the keys of a step and their values as they are read, empty for none; the action comes last.
func stepPairs(s batch.Step) []string {
	return []string{"at", atText(s), "when", conditionText(s.When), "hold", given(s.Set.Hold, temperatureText),
		"relief", given(s.Set.Relief, gaugeText), "gas", either(s.Set.GasOff, "off", given(s.Set.Gas, gaugeText)), "action", s.Set.Action}
}

// ProgrammeText writes steps as the programme of BATCH.yaml, a line a step.
func ProgrammeText(steps []batch.Step) string {
	var out strings.Builder
	out.WriteString("programme:\n")
	for _, s := range steps {
		out.WriteString("  - " + stepText(s) + "\n")
	}
	return out.String()
}

func quotedWords(s string) string {
	if s == "" {
		return ""
	}
	return strconv.Quote(s)
}

func atText(s batch.Step) string {
	switch {
	case !s.AtSet:
		return ""
	case s.At == 0:
		return "pitch"
	}
	return durationText(s.At)
}

func conditionText(c batch.Condition) string {
	switch c.Kind {
	case batch.GravityAtMost:
		return "gravity <= " + c.Gravity.String()
	case batch.FinishedFor:
		return "finished for " + durationText(c.For)
	case batch.Carbonated:
		return "carbonated"
	}
	return ""
}

func faultText(f batch.Fault) string {
	at := ""
	if f.At != 0 {
		at = durationText(f.At)
	}
	if f.Kind == "leak" {
		return flow("at", at, "leak", f.Rate.String())
	}
	return flow("at", at, f.Kind, f.How)
}

// EncodeLog writes a log as READINGS.csv: one reading or event a row, in order of time.
func EncodeLog(w io.Writer, log batch.Log) error {
	out := csv.NewWriter(w)
	rows := logRows(log)
	if err := out.Write(append([]string{timeColumn}, encodedColumns...)); err != nil {
		return err
	}
	for _, r := range rows {
		if err := out.Write(r.cells); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

var encodedColumns = []string{"gravity_sg", "pressure_kpa", "temperature_c", "mass_kg", "cylinder_kg", "vented_g", "air_c", instrumentColumn, eventColumn}

// instrumentCell is the place of the instrument in encodedColumns, behind one of each quantity.
const instrumentCell = int(batch.Quantities)

type logRow struct {
	at    time.Time
	cells []string
}

func logRows(log batch.Log) []logRow {
	var rows []logRow
	add := func(at time.Time, column int, text, instrument string) {
		cells := make([]string, 1+len(encodedColumns))
		cells[0], cells[1+column] = at.Format(time.RFC3339Nano), text
		if instrument != "" {
			cells[1+instrumentCell] = instrument
		}
		rows = append(rows, logRow{at, cells})
	}
	for _, r := range log.Readings {
		add(r.Time, int(r.Quantity), readingText(r), r.Instrument)
	}
	for _, e := range log.Events {
		add(e.Time, instrumentCell+1, EventText(e), "")
	}
	slices.SortStableFunc(rows, func(a, b logRow) int { return a.at.Compare(b.at) })
	return rows
}

// readingText is the value in the unit of its column, with 12 digits.
func readingText(r batch.Reading) string {
	v := r.Value
	switch r.Quantity {
	case batch.Pressure:
		v /= unit.Kilopascal
	case batch.Temperature, batch.AirTemperature:
		v = unit.Temperature(v).Celsius()
	case batch.VentedGas:
		v /= unit.Gram
	}
	return strconv.FormatFloat(v, 'g', 12, 64)
}

// EventText writes an event as it is read.
func EventText(e batch.Event) string {
	switch e.Kind {
	case batch.SetRelief:
		return "relief " + gaugeText(e.Pressure)
	case batch.VentedTo:
		return "vent " + gaugeText(e.From) + " to " + gaugeText(e.To)
	case batch.SampleTaken:
		return "sample " + volumeText(e.Volume)
	case batch.GasOn:
		return "gas on " + gaugeText(e.Pressure)
	case batch.GasOff:
		return "gas off"
	case batch.HoldAt:
		return "hold " + temperatureText(e.Temperature)
	case batch.Opened:
		return "opened"
	case batch.Shaken:
		return "shaken " + e.For.String()
	case batch.DryHopped:
		return "dry hop " + massText(e.Mass)
	case batch.Poured:
		return "poured " + volumeText(e.Volume)
	case batch.ForcedSample:
		return "forced sample " + e.Gravity.String()
	}
	return "noticed " + e.Words
}
