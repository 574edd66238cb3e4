package batchfile

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"spile/advice"
	"spile/batch"
	"spile/estimate"
	"spile/unit"
	"spile/vessel"
	"spile/wording"
)

// schema is the part of JSON Schema that the published schemas use.
type schema struct {
	Ref        string             `json:"$ref"`
	Type       any                `json:"type"`
	Enum       []any              `json:"enum"`
	Properties map[string]*schema `json:"properties"`
	Required   []string           `json:"required"`
	Additional *bool              `json:"additionalProperties"`
	Items      *schema            `json:"items"`
	AnyOf      []*schema          `json:"anyOf"`
	OneOf      []*schema          `json:"oneOf"`
	Defs       map[string]*schema `json:"$defs"`
}

func readSchema(t *testing.T, name string) *schema {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("..", "..", "docs", "schema", name))
	if err != nil {
		t.Fatal(err)
	}
	var s schema
	if err := json.Unmarshal(data, &s); err != nil {
		t.Fatal(err)
	}
	return &s
}

// check lists where v departs from s.
func (s *schema) check(root *schema, v any, at string) []string {
	if s.Ref != "" {
		return root.Defs[strings.TrimPrefix(s.Ref, "#/$defs/")].check(root, v, at)
	}
	if len(s.AnyOf) > 0 {
		var faults []string
		for _, option := range s.AnyOf {
			if faults = option.check(root, v, at); len(faults) == 0 {
				return nil
			}
		}
		return faults
	}
	if s.Enum != nil && !slices.Contains(s.Enum, v) {
		return []string{fmt.Sprintf("%s: %v is not one of %v", at, v, s.Enum)}
	}
	if s.Type != nil && !typed(s.Type, v) {
		return []string{fmt.Sprintf("%s: expected %v, got %T", at, s.Type, v)}
	}
	switch v := v.(type) {
	case map[string]any:
		return s.checkObject(root, v, at)
	case []any:
		var faults []string
		for i, item := range v {
			if s.Items != nil {
				faults = append(faults, s.Items.check(root, item, fmt.Sprintf("%s[%d]", at, i))...)
			}
		}
		return faults
	}
	return nil
}

func (s *schema) checkObject(root *schema, v map[string]any, at string) []string {
	var faults []string
	for _, key := range s.Required {
		if _, there := v[key]; !there {
			faults = append(faults, at+": no "+key)
		}
	}
	for key, value := range v {
		p, known := s.Properties[key]
		if !known && s.Additional != nil && !*s.Additional {
			faults = append(faults, at+": unknown "+key)
		} else if known {
			faults = append(faults, p.check(root, value, at+"."+key)...)
		}
	}
	matches := 0
	for _, option := range s.OneOf {
		if len(option.check(root, v, at)) == 0 {
			matches++
		}
	}
	if len(s.OneOf) > 0 && matches != 1 {
		faults = append(faults, fmt.Sprintf("%s: %d of the alternatives hold, expected 1", at, matches))
	}
	return faults
}

func typed(want, v any) bool {
	if options, many := want.([]any); many {
		for _, o := range options {
			if typed(o, v) {
				return true
			}
		}
		return false
	}
	switch v := v.(type) {
	case nil:
		return want == "null"
	case bool:
		return want == "boolean"
	case string:
		return want == "string"
	case float64:
		return want == "number" || want == "integer" && v == math.Trunc(v)
	case []any:
		return want == "array"
	case map[string]any:
		return want == "object"
	}
	return false
}

// conforms checks data and that the schema refuses it once a required key is gone.
func conforms(t *testing.T, name string, data []byte) {
	t.Helper()
	s := readSchema(t, name)
	var v map[string]any
	if err := json.Unmarshal(data, &v); err != nil {
		t.Fatal(err)
	}
	for _, fault := range s.check(s, v, "$") {
		t.Errorf("%s: %s", name, fault)
	}
	for _, key := range s.Required {
		without := map[string]any{}
		for k, x := range v {
			if k != key {
				without[k] = x
			}
		}
		if len(s.check(s, without, "$")) == 0 {
			t.Errorf("%s: expected a fault without %s", name, key)
		}
	}
}

// anyForecast is a small hand-made forecast with every kind of part in it.
func anyForecast(b *batch.Batch) *estimate.Forecast {
	at := b.Pitched.Add(60 * time.Hour)
	band := estimate.Band{P05: 1, P50: 2, P95: 3}
	f := &estimate.Forecast{
		At: at, Seed: 7, LastReading: at, Fermenting: unit.Celsius(20), CooledHours: math.Inf(1), TerminalGravity: band, TerminalABV: band,
		Now: estimate.Snapshot{Gravity: estimate.Band{P05: 1.029, P50: 1.03, P95: 1.031}, ABV: band, Volumes: band, Pressure: band, Temperature: estimate.Band{P05: 292, P50: 293, P95: 294},
			Liquid: estimate.Band{P05: 0.019, P50: 0.02, P95: 0.02}, PointsLeft: estimate.Band{P05: 18, P50: 20, P95: 22}, PointsPerDay: estimate.Band{P05: 8, P50: 10, P95: 12}},
		Milestones: estimate.Milestones{
			Attenuated90: estimate.Milestone{P05: at, P50: at.Add(time.Hour), P95: at.Add(9 * time.Hour), Probability: math.NaN()},
			Ready:        estimate.Milestone{P05: at.Add(99 * time.Hour), Probability: 0.4, Never: 0.6},
		},
		Findings:  []estimate.Finding{{Kind: estimate.FindingLeak, Probability: 0.7, Size: band}},
		Questions: estimate.Questions{Leak: estimate.Leaking{Verdict: estimate.CannotTell, Hides: estimate.BehindValve}, Turns: []estimate.Turned{{Since: at.Add(-30 * time.Hour), Seen: at.Add(-20 * time.Hour), By: band}}},
		Flags:     []estimate.Flag{{Kind: estimate.FlagFar, Reading: batch.Reading{Time: at, Quantity: batch.Gravity, Value: 1.04, Line: 3}, Expected: band}},
		Next:      estimate.NextReading{Instrument: batch.Gravity, At: at.Add(24 * time.Hour), Narrows: 0.3},
		Worst:     estimate.Worst{Contents: 2e5, Regulator: unit.Gauge(math.Inf(1)), Hottest: unit.Celsius(40)},
	}
	for h := 0.0; h <= 336; h += 2 {
		s := &f.Series
		s.Hours = append(s.Hours, h)
		s.Gravity, s.Volumes, s.Pressure, s.Temperature = append(s.Gravity, band), append(s.Volumes, band), append(s.Pressure, band), append(s.Temperature, band)
	}
	return f
}

func TestForecastJSONKeepsItsSchema(t *testing.T) {
	b := decodeGood(t)
	f := anyForecast(b)
	said := advice.Say(b, batch.Log{}, batch.Upkeep{}, f, f.At, unit.Style{})
	said.Limits[0].Seen = &batch.Note{Time: f.At, By: "Ada"}
	first, err := ForecastJSON(f, said, b, 12*time.Millisecond, nil)
	if err != nil {
		t.Fatal(err)
	}
	conforms(t, "forecast.json", first)
	again, err := ForecastJSON(f, said, b, 12*time.Millisecond, nil)
	if err != nil || !bytes.Equal(first, again) {
		t.Errorf("expected the same bytes from the same forecast, %v", err)
	}
	for _, want := range []string{`"state": "Working"`, `"p95": null`, `"elapsed_ms": 12`, `"at": "2026-11-23T06:30:00+01:00"`, `"instrument": "gravity_sg"`, `"seen_at": "2026-11-23T05:30:00Z"`, `"seen_by": "Ada"`} {
		if !strings.Contains(string(first), want) {
			t.Errorf("expected %s", want)
		}
	}
}

// What is tried keeps the schema too; without it the key is not there.
func TestWhatIfJSONKeepsItsSchema(t *testing.T) {
	b := decodeGood(t)
	f := anyForecast(b)
	set, err := ParseSettings("hold 12 C, relief 15 psi, gas off")
	if err != nil {
		t.Fatal(err)
	}
	future := &estimate.Ahead{Milestones: f.Milestones, Series: f.Series, Gas: estimate.Band{P50: 0.04}, Peak: estimate.Band{P05: 1e5, P50: 1.1e5, P95: 1.2e5}, Highest: 1.2e5}
	tried := advice.Tried{Limits: []advice.Limit{{Sentence: "too much"}}}
	data, err := ForecastJSON(f, advice.Say(b, batch.Log{}, batch.Upkeep{}, f, f.At, unit.Style{}), b, 0, &advice.Compared{Set: set, From: f.At, Plan: future, Changed: future, If: tried, Says: []string{"sooner"},
		Rows: []advice.Pair{{Name: "Highest pressure", Plan: "10 psi", If: "15 psi"}}, Notes: []wording.Text{"note"}})
	if err != nil {
		t.Fatal(err)
	}
	conforms(t, "forecast.json", data)
	for _, want := range []string{`"hold_c": 12`, `"relief_kpa": 103.421`, `"gas_off": true`, `"highest_pressure_kpa"`, `"too much"`, `"sooner"`} {
		if !strings.Contains(string(data), want) {
			t.Errorf("expected %s", want)
		}
	}
}

// A plan keeps its schema, and its programme, put into a batch file as JSON or as YAML, is read as it was planned.
func TestPlanJSONKeepsItsSchemaAndReadsBack(t *testing.T) {
	b := decodeGood(t)
	warm, cold, relief, gas := unit.Celsius(21), unit.Celsius(2), unit.Gauge(18*unit.PSI), unit.Gauge(11.5*unit.PSI)
	steps := []batch.Step{
		{AtSet: true, At: 64 * unit.Hour, Set: batch.Setting{Hold: &warm, Relief: &relief}},
		{When: batch.Condition{Kind: batch.GravityAtMost, Gravity: 1.02}, Set: batch.Setting{Hold: &warm}},
		{When: batch.Condition{Kind: batch.FinishedFor, For: 2 * unit.Day}, Set: batch.Setting{Hold: &cold, Gas: &gas, Action: estimate.ButterTest}},
		{When: batch.Condition{Kind: batch.Carbonated}, Set: batch.Setting{GasOff: true}},
	}
	p := &estimate.Plan{From: b.Pitched.Add(64 * time.Hour), Ready: b.Pitched.Add(300 * time.Hour), Seed: 3, Pressure: true, Tried: 9,
		Choices: []estimate.Choice{{Aims: []estimate.Aim{estimate.AimLikely}, Programme: steps,
			Outcome: estimate.Outcome{Probability: 0.7, Gas: 0.03, Highest: relief, Ready: estimate.Milestone{P05: b.Pitched.Add(200 * time.Hour), Probability: 0.7}, Worst: estimate.Worst{Contents: 27e5, Hottest: unit.Celsius(40)}},
			Buys:    []estimate.Buy{{Change: estimate.OneDegreeWarmer, Probability: 0.75}}}}}
	data, err := PlanJSON(p, advice.SayPlan(b, batch.Log{}, p, unit.Style{}), b)
	if err != nil {
		t.Fatal(err)
	}
	conforms(t, "plan.json", data)
	var out struct {
		Choices []struct{ Programme json.RawMessage }
	}
	if err := json.Unmarshal(data, &out); err != nil {
		t.Fatal(err)
	}
	head, _, _ := strings.Cut(goodBatch, "programme:")
	for _, text := range []string{head + ProgrammeText(steps), head + "programme: " + strings.ReplaceAll(string(out.Choices[0].Programme), "\n", " ") + "\n"} {
		back, err := DecodeBatch("plan.yaml", strings.NewReader(text))
		if err != nil {
			t.Fatal(err)
		}
		for i := range back.Programme {
			back.Programme[i].Line = 0
		}
		if !reflect.DeepEqual(back.Programme, steps) {
			t.Errorf("expected the programme as planned, got %+v", back.Programme)
		}
	}
}

func TestSimulateJSONKeepsItsSchema(t *testing.T) {
	s := &Simulated{Name: "x", Hours: []float64{0, 1}, Gravity: []float64{1.046, 1.0461234567891}, Volumes: []float64{0, 0}, Pressure: []float64{0, 69e3},
		Temperature: []float64{293.15, 293.15}, ABV: []float64{0, 0}, Ledger: []vessel.Ledger{{}, {Made: 0.123456789012345}}, Steps: []SimulatedStep{{0, "hold 20 C"}}}
	data, err := SimulateJSON(s)
	if err != nil {
		t.Fatal(err)
	}
	conforms(t, "simulate.json", data)
	if !strings.Contains(string(data), `"co2_made_g": 123.456789012345`) {
		t.Errorf("expected at least 10 digits of the ledger, got %s", data)
	}
	var rows bytes.Buffer
	if err := SimulateCSV(&rows, s); err != nil {
		t.Fatal(err)
	}
	if lines := strings.Split(strings.TrimSpace(rows.String()), "\n"); len(lines) != 3 || !strings.Contains(lines[2], "123.456789012345") {
		t.Errorf("expected a header and two rows with the ledger, got %s", rows.String())
	}
}

// The example of the file format, as JSON, keeps the schema of a batch and is read.
func TestBatchSchemaAgreesWithTheDecoder(t *testing.T) {
	good := []byte(`{"name": "Odd Glove Red", "pitched": "2026-11-20T18:30:00Z",
 "wort": {"volume": "20 L", "gravity": 1.046, "bitterness": "28 IBU"}, "yeast": {"kind": "lager", "form": "dry", "mass": "11.5 g", "attenuation": "77 %"},
 "vessel": {"capacity": "26 L", "diameter": "30 cm", "rating": "2.5 bar", "safety_relief": "2.2 bar"},
 "place": {"ambient": "16 C", "altitude": "40 m", "fridge": {"coldest": "1 C"}, "belt": "30 W"}, "gas": {"cylinder": "2.6 kg", "content": "1.9 kg"},
 "target": {"co2": "2.5 volumes", "temperature": "3 C", "ready": "2026-12-04T18:00:00Z"},
 "programme": [{"at": "pitch", "hold": "20 C", "relief": "10 psi"}, {"when": "carbonated", "gas": "off", "action": "taste"}], "faults": {"leak": "10 g/day", "relief": "stuck"}}`)
	conforms(t, "batch.json", good)
	if _, err := DecodeBatch("b.json", bytes.NewReader(good)); err != nil {
		t.Error(err)
	}
	s := readSchema(t, "batch.json")
	checkKeys(t, s, "", names(batchFields))
	checkKeys(t, s.Properties["wort"], "wort", names(wortFields))
	checkKeys(t, s.Properties["yeast"], "yeast", names(yeastFields))
	checkKeys(t, s.Properties["vessel"], "vessel", names(vesselFields))
	checkKeys(t, s.Properties["place"], "place", names(placeFields))
	checkKeys(t, s.Properties["target"], "target", names(targetFields))
	checkKeys(t, s.Properties["programme"].Items, "programme", names(stepFields))
}

func checkKeys(t *testing.T, s *schema, where string, decoded []string) {
	t.Helper()
	for _, k := range decoded {
		if s.Properties[k] == nil {
			t.Errorf("%s.%s is read but not in the schema", where, k)
		}
	}
	if len(s.Properties) != len(decoded) {
		t.Errorf("%s: expected %d keys in the schema, got %d", where, len(decoded), len(s.Properties))
	}
}
