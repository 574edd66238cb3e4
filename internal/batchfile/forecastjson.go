package batchfile

import (
	"encoding/json"
	"math"
	"strconv"
	"time"

	"spile/advice"
	"spile/batch"
	"spile/estimate"
	"spile/limit"
	"spile/unit"
)

// number is a JSON number with 9 significant digits; null where there is none.
type number float64

// MarshalJSON writes what JSON has no number for as null.
func (n number) MarshalJSON() ([]byte, error) {
	x := float64(n)
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return []byte("null"), nil
	}
	text := strconv.FormatFloat(x, 'g', 9, 64)
	short, err := strconv.ParseFloat(text, 64)
	if err != nil {
		return nil, err
	}
	return json.Marshal(short)
}

type bandJSON struct {
	P05 number `json:"p05"`
	P50 number `json:"p50"`
	P95 number `json:"p95"`
}

// banded is a band in the unit of its key.
func banded(b estimate.Band, to func(float64) float64) bandJSON {
	return bandJSON{number(to(b.P05)), number(to(b.P50)), number(to(b.P95))}
}

// per divides by a unit.
func per(unit float64) func(float64) float64 { return func(x float64) float64 { return x / unit } }

func celsius(k float64) float64 { return unit.Temperature(k).Celsius() }

const percent = 0.01

type nowJSON struct {
	State       string          `json:"state"`
	Also        []string        `json:"also"`
	Finished    probabilityJSON `json:"finished"`
	Gravity     bandJSON        `json:"gravity_sg"`
	ABV         bandJSON        `json:"abv_percent"`
	Volumes     bandJSON        `json:"co2_volumes"`
	Pressure    bandJSON        `json:"pressure_kpa"`
	Temperature bandJSON        `json:"temperature_c"`
	Attenuation bandJSON        `json:"attenuation_percent"`
	Left        bandJSON        `json:"points_left"`
	PerDay      bandJSON        `json:"points_per_day"`
	Liquid      bandJSON        `json:"liquid_l"`
	Oxygen      bandJSON        `json:"headspace_oxygen_percent"`
	Cylinder    *bandJSON       `json:"cylinder_kg,omitempty"`
	Sentences   []string        `json:"sentences"`
}

type probabilityJSON struct {
	Probability number `json:"probability"`
}

type terminalJSON struct {
	Gravity     bandJSON `json:"gravity_sg"`
	ABV         bandJSON `json:"abv_percent"`
	Temperature number   `json:"at_temperature_c"`
}

// milestoneJSON has null where a time lies beyond the span looked at.
type milestoneJSON struct {
	P05         *string `json:"p05"`
	P50         *string `json:"p50"`
	P95         *string `json:"p95"`
	Probability *number `json:"probability,omitempty"`
	Never       number  `json:"never"`
	Words       string  `json:"words,omitempty"`
}

type milestonesJSON struct {
	Attenuated90 milestoneJSON `json:"attenuated_90"`
	Finished     milestoneJSON `json:"finished"`
	Cold         milestoneJSON `json:"cold"`
	Carbonated   milestoneJSON `json:"carbonated"`
	Ready        milestoneJSON `json:"ready"`
}

type bandsJSON struct {
	P05 []number `json:"p05"`
	P50 []number `json:"p50"`
	P95 []number `json:"p95"`
}

type seriesJSON struct {
	Hours       []number  `json:"hours"`
	Gravity     bandsJSON `json:"gravity_sg"`
	Volumes     bandsJSON `json:"co2_volumes"`
	Pressure    bandsJSON `json:"pressure_kpa"`
	Temperature bandsJSON `json:"temperature_c"`
}

type findingJSON struct {
	Kind        string `json:"kind"`
	Probability number `json:"probability"`
	Sentence    string `json:"sentence"`
	Settles     string `json:"settles"`
	// Missing is the gas that was let out and not written down, where that is what was found.
	Missing *bandJSON `json:"missing_g,omitempty"`
}

type flagJSON struct {
	Kind     string   `json:"kind"`
	Time     string   `json:"time"`
	Quantity string   `json:"quantity"`
	Value    number   `json:"value"`
	Expected bandJSON `json:"expected"`
	Line     int      `json:"line,omitempty"`
	Sentence string   `json:"sentence"`
}

type actionJSON struct {
	Key     string `json:"key"`
	Action  string `json:"action"`
	When    string `json:"when"`
	Why     string `json:"why"`
	Caution string `json:"caution"`
	Urgency string `json:"urgency"`
}

// limitJSON carries its numbers under the unit of its quantity.
type limitJSON struct {
	Kind     string `json:"kind"`
	Severity string `json:"severity"`
	Sentence string `json:"sentence"`
	Quantity string `json:"quantity,omitempty"` // pressure_kpa, temperature_c or share_percent
	Value    number `json:"value"`
	Limit    number `json:"limit"`
	From     string `json:"from,omitempty"`

	SeenAt string `json:"seen_at,omitempty"` // left out: nobody has seen it
	SeenBy string `json:"seen_by,omitempty"` // left out: it is not known who has
}

type nextJSON struct {
	Instrument string `json:"instrument"`
	At         string `json:"at"`
	Why        string `json:"why"`
}

type ledgerBandsJSON struct {
	Made      bandJSON `json:"co2_made_g"`
	Supplied  bandJSON `json:"co2_supplied_g"`
	Dissolved bandJSON `json:"co2_dissolved_g"`
	Headspace bandJSON `json:"co2_headspace_g"`
	Vented    bandJSON `json:"co2_vented_g"`
	Leaked    bandJSON `json:"co2_leaked_g"`
	Drawn     bandJSON `json:"co2_drawn_g"`
}

type diagnosticsJSON struct {
	ParetoK          number `json:"pareto_k"`
	EffectiveSamples number `json:"effective_samples"`
	Simulations      int    `json:"simulations"`
	Method           string `json:"method"`
	Trusted          bool   `json:"trusted"`
	ElapsedMS        number `json:"elapsed_ms"`
	// Unfit says why the simulations do not do for this vessel; left out where they do.
	Unfit string `json:"unfit,omitempty"`
}

type worstJSON struct {
	Contents  number `json:"pressure_kpa"`
	Regulator number `json:"regulator_open_kpa"`
	Hottest   number `json:"temperature_c"`
	Sentence  string `json:"sentence"`
}

type forecastJSON struct {
	Name        string          `json:"name"`
	At          string          `json:"at"`
	LastReading *string         `json:"last_reading"`
	Seed        uint64          `json:"seed"`
	Now         nowJSON         `json:"now"`
	Terminal    terminalJSON    `json:"terminal"`
	Milestones  milestonesJSON  `json:"milestones"`
	Series      seriesJSON      `json:"series"`
	Findings    []findingJSON   `json:"findings"`
	Flags       []flagJSON      `json:"flags"`
	Advice      []actionJSON    `json:"advice"`
	Limits      []limitJSON     `json:"limits"`
	WorstCase   worstJSON       `json:"worst_case"`
	NextReading nextJSON        `json:"next_reading"`
	Ledger      ledgerBandsJSON `json:"ledger"`
	Questions   questionsJSON   `json:"questions"`
	Diagnostics diagnosticsJSON `json:"diagnostics"`
	WhatIf      *whatIfJSON     `json:"what_if,omitempty"`
}

// ForecastJSON writes a forecast and what is said of it, and of a change where one is tried, else nil. The same arguments give
// the same bytes.
func ForecastJSON(f *estimate.Forecast, a advice.Said, b *batch.Batch, elapsed time.Duration, tried *advice.Compared) ([]byte, error) {
	d, w := &f.Diagnostics, &f.Worst
	out := forecastJSON{
		Name: b.Name, At: stamp(f.At, b), LastReading: someStamp(f.LastReading, b), Seed: f.Seed,
		Now: nowOf(&f.Now, a, b),
		Terminal: terminalJSON{banded(f.TerminalGravity, per(1)), banded(f.TerminalABV, per(percent)),
			number(celsius(float64(f.Fermenting)))},
		Milestones: milestonesOf(&f.Milestones, a.Ahead, b), WhatIf: whatIfOf(tried, b),
		Series:   seriesOf(&f.Series),
		Findings: findingsOf(a), Flags: flagsOf(f, a, b), Advice: adviceOf(a), Limits: LimitsJSON(a.Limits),
		WorstCase:   worstJSON{number(w.Contents.Kilopascals()), number(w.Regulator.Kilopascals()), number(w.Hottest.Celsius()), a.Worst},
		NextReading: nextOf(f, a, b), Ledger: ledgerOf(&f.Ledger), Questions: questionsOf(&f.Questions, a, b),
		Diagnostics: diagnosticsJSON{number(d.ParetoK), number(d.EffectiveSamples), d.Simulations, d.Method, d.Trusted, number(elapsed.Milliseconds()), string(d.Unfit)},
	}
	return encode(out)
}

// encode writes indented JSON with a line end.
func encode(v any) ([]byte, error) {
	data, err := json.MarshalIndent(v, "", " ")
	if err != nil {
		return nil, err
	}
	return append(data, '\n'), nil
}

// stamp writes a time in the zone of the batch, to the second.
func stamp(t time.Time, b *batch.Batch) string {
	return t.In(b.Pitched.Location()).Format(time.RFC3339)
}

func someStamp(t time.Time, b *batch.Batch) *string {
	if t.IsZero() {
		return nil
	}
	s := stamp(t, b)
	return &s
}

func nowOf(n *estimate.Snapshot, a advice.Said, b *batch.Batch) nowJSON {
	out := nowJSON{
		State: string(a.State), Also: append([]string{}, a.Also...), Finished: probabilityJSON{number(n.Finished)},
		Gravity: banded(n.Gravity, per(1)), ABV: banded(n.ABV, per(percent)), Volumes: banded(n.Volumes, per(1)),
		Pressure: banded(n.Pressure, per(unit.Kilopascal)), Temperature: banded(n.Temperature, celsius),
		Attenuation: banded(n.Attenuation, per(percent)), Left: banded(n.PointsLeft, per(1)), PerDay: banded(n.PointsPerDay, per(1)),
		Liquid: banded(n.Liquid, per(unit.Litre)), Oxygen: banded(n.Oxygen, per(percent)), Sentences: a.Now,
	}
	if b.Gas != nil {
		cylinder := banded(n.CylinderLeft, per(1))
		out.Cylinder = &cylinder
	}
	return out
}

func milestonesOf(m *estimate.Milestones, said []advice.Ahead, b *batch.Batch) milestonesJSON {
	return milestonesJSON{milestone(m.Attenuated90, "attenuated_90", said, b), milestone(m.Finished, "finished", said, b),
		milestone(m.Cold, "cold", said, b), milestone(m.Carbonated, "carbonated", said, b), milestone(m.Ready, "ready", said, b)}
}

func milestone(m estimate.Milestone, key string, said []advice.Ahead, b *batch.Batch) milestoneJSON {
	out := milestoneJSON{P05: someStamp(m.P05, b), P50: someStamp(m.P50, b), P95: someStamp(m.P95, b), Never: number(m.Never)}
	if !math.IsNaN(m.Probability) && b.Target != nil && !b.Target.Ready.IsZero() {
		p := number(m.Probability)
		out.Probability = &p
	}
	for _, x := range said {
		if x.Key == key {
			out.Words = x.When
		}
	}
	return out
}

func seriesOf(s *estimate.Series) seriesJSON {
	out := seriesJSON{
		Gravity: bandsOf(s.Gravity, per(1)), Volumes: bandsOf(s.Volumes, per(1)),
		Pressure: bandsOf(s.Pressure, per(unit.Kilopascal)), Temperature: bandsOf(s.Temperature, celsius),
	}
	for _, h := range s.Hours {
		out.Hours = append(out.Hours, number(h))
	}
	return out
}

func bandsOf(bands []estimate.Band, to func(float64) float64) bandsJSON {
	var out bandsJSON
	for _, b := range bands {
		x := banded(b, to)
		out.P05, out.P50, out.P95 = append(out.P05, x.P05), append(out.P50, x.P50), append(out.P95, x.P95)
	}
	return out
}

func findingsOf(a advice.Said) []findingJSON {
	out := []findingJSON{}
	for _, f := range a.Findings {
		of := findingJSON{Kind: string(f.Kind), Probability: number(f.Probability), Sentence: f.Sentence, Settles: f.Settles}
		if f.Kind == estimate.FindingMissingVent {
			missing := banded(f.Size, per(unit.Gram))
			of.Missing = &missing
		}
		out = append(out, of)
	}
	return out
}

// columnOf names each quantity as the readings file does, with how its SI value is written there.
var columnOf = map[batch.Quantity]struct {
	name string
	to   func(float64) float64
}{
	batch.Gravity: {"gravity_sg", per(1)}, batch.Pressure: {"pressure_kpa", per(unit.Kilopascal)}, batch.Temperature: {"temperature_c", celsius},
	batch.VesselMass: {"mass_kg", per(1)}, batch.CylinderMass: {"cylinder_kg", per(1)}, batch.VentedGas: {"vented_g", per(unit.Gram)},
	batch.AirTemperature: {"air_c", celsius},
}

func flagsOf(f *estimate.Forecast, a advice.Said, b *batch.Batch) []flagJSON {
	out := []flagJSON{}
	for i, x := range f.Flags {
		c := columnOf[x.Reading.Quantity]
		out = append(out, flagJSON{string(x.Kind), stamp(x.Reading.Time, b), c.name, number(c.to(x.Reading.Value)), banded(x.Expected, c.to), x.Reading.Line, a.Flags[i]})
	}
	return out
}

func adviceOf(a advice.Said) []actionJSON {
	out := []actionJSON{}
	for _, x := range a.Next {
		out = append(out, actionJSON{x.Key, x.Do, x.When, x.Why, x.Caution, x.Urgency.String()})
	}
	return out
}

// LimitsJSON is how limits are written, wherever they are.
func LimitsJSON(limits []advice.Limit) []limitJSON {
	out := []limitJSON{}
	for _, l := range limits {
		name, to := "", per(1)
		switch l.Quantity {
		case limit.Pressure:
			name, to = "pressure_kpa", per(unit.Kilopascal)
		case limit.Temperature:
			name, to = "temperature_c", celsius
		case limit.Share:
			name, to = "share_percent", per(percent)
		}
		known := func(n limit.Number) number {
			if !n.Known || name == "" {
				return number(math.NaN())
			}
			return number(to(n.SI))
		}
		line := limitJSON{Kind: string(l.Kind), Severity: l.Severity.String(), Sentence: l.Sentence, Quantity: name, Value: known(l.Value), Limit: known(l.Limit), From: string(l.From)}
		if l.Seen != nil {
			line.SeenAt, line.SeenBy = l.Seen.Time.UTC().Format(time.RFC3339), l.Seen.By
		}
		out = append(out, line)
	}
	return out
}

func nextOf(f *estimate.Forecast, a advice.Said, b *batch.Batch) nextJSON {
	n := nextJSON{Instrument: readingName(f.Next), At: stamp(f.Next.At, b), Why: a.Reading}
	for _, x := range a.Next {
		if x.Key == "best" {
			n.Why = x.Why
		}
	}
	return n
}

func ledgerOf(l *estimate.LedgerBands) ledgerBandsJSON {
	g := func(b estimate.Band) bandJSON { return banded(b, per(unit.Gram)) }
	return ledgerBandsJSON{g(l.Made), g(l.Supplied), g(l.Dissolved), g(l.Headspace), g(l.Vented), g(l.Leaked), g(l.Drawn)}
}
