package batchfile

import (
	"encoding/csv"
	"io"
	"strconv"

	"spile/advice"
	"spile/unit"
	"spile/vessel"
)

// Simulated is what a run of one vessel gave, each slice as long as Hours.
type Simulated struct {
	Name        string
	Seed        uint64
	Hours       []float64
	Gravity     []float64 // SG
	Volumes     []float64 // of CO2 in the beer
	Pressure    []float64 // Pa gauge
	Temperature []float64 // K
	ABV         []float64 // fraction
	Ledger      []vessel.Ledger
	Steps       []SimulatedStep // what the programme did, and when
	Limits      []advice.Limit
}

// SimulatedStep is a step of the programme as it came.
type SimulatedStep struct {
	Hours float64 `json:"hours"`
	Set   string  `json:"set"`
}

// ledgerJSON has every digit there is, so that a balance can be checked.
type ledgerJSON struct {
	Start     float64 `json:"co2_start_g"`
	Made      float64 `json:"co2_made_g"`
	Supplied  float64 `json:"co2_supplied_g"`
	Dissolved float64 `json:"co2_dissolved_g"`
	Headspace float64 `json:"co2_headspace_g"`
	Vented    float64 `json:"co2_vented_g"`
	Leaked    float64 `json:"co2_leaked_g"`
	Drawn     float64 `json:"co2_drawn_g"`
}

func exactLedger(l vessel.Ledger) ledgerJSON {
	return ledgerJSON{l.Start.Grams(), l.Made.Grams(), l.Supplied.Grams(), l.Dissolved.Grams(), l.Headspace.Grams(), l.Vented.Grams(), l.Leaked.Grams(), l.Drawn.Grams()}
}

type simulatedSeries struct {
	Hours       []number `json:"hours"`
	Gravity     []number `json:"gravity_sg"`
	Volumes     []number `json:"co2_volumes"`
	Pressure    []number `json:"pressure_kpa"`
	Temperature []number `json:"temperature_c"`
	ABV         []number `json:"abv_percent"`
}

type simulatedJSON struct {
	Name   string          `json:"name"`
	Seed   uint64          `json:"seed"`
	Series simulatedSeries `json:"series"`
	Steps  []SimulatedStep `json:"steps"`
	Limits []limitJSON     `json:"limits"`
	Ledger ledgerJSON      `json:"ledger"`
}

// SimulateJSON writes a run. The same run gives the same bytes.
func SimulateJSON(s *Simulated) ([]byte, error) {
	out := simulatedJSON{
		Name: s.Name, Seed: s.Seed, Steps: append([]SimulatedStep{}, s.Steps...), Limits: LimitsJSON(s.Limits), Ledger: exactLedger(s.Ledger[len(s.Ledger)-1]),
		Series: simulatedSeries{numbers(s.Hours, per(1)), numbers(s.Gravity, per(1)), numbers(s.Volumes, per(1)),
			numbers(s.Pressure, per(unit.Kilopascal)), numbers(s.Temperature, celsius), numbers(s.ABV, per(percent))},
	}
	return encode(out)
}

func numbers(xs []float64, to func(float64) float64) []number {
	out := make([]number, len(xs))
	for i, x := range xs {
		out[i] = number(to(x))
	}
	return out
}

// SimulateCSV writes a run as rows; the ledger so far stands in every row, so
// that the last row holds it at the end.
func SimulateCSV(w io.Writer, s *Simulated) error {
	out := csv.NewWriter(w)
	header := []string{"hours", "gravity_sg", "pressure_kpa", "temperature_c", "co2_volumes", "abv_percent", "co2_start_g", "co2_made_g",
		"co2_supplied_g", "co2_dissolved_g", "co2_headspace_g", "co2_vented_g", "co2_leaked_g", "co2_drawn_g"}
	if err := out.Write(header); err != nil {
		return err
	}
	for i := range s.Hours {
		l := exactLedger(s.Ledger[i])
		row := []string{digits(s.Hours[i], 9), digits(s.Gravity[i], 9), digits(s.Pressure[i]/unit.Kilopascal, 9), digits(celsius(s.Temperature[i]), 9),
			digits(s.Volumes[i], 9), digits(s.ABV[i]/percent, 9)}
		for _, g := range []float64{l.Start, l.Made, l.Supplied, l.Dissolved, l.Headspace, l.Vented, l.Leaked, l.Drawn} {
			row = append(row, digits(g, 15))
		}
		if err := out.Write(row); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

func digits(x float64, n int) string { return strconv.FormatFloat(x, 'g', n, 64) }
