package main

import (
	"encoding/json"
	"regexp"
	"strings"
	"testing"
	"time"

	"spile/advice"
	"spile/batch"
	"spile/internal/batchfile"
	"spile/internal/report"
	"spile/unit"
)

func TestPlanRefusesBadInputInOneLine(t *testing.T) {
	edit := func(old, new string) string { return strings.Replace(goodBatch, old, new, 1) }
	for _, c := range []struct {
		what, batch, ready string
		says               string
	}{
		{"in the past", goodBatch, "2026-11-20T18:00:00+01:00", `^ready 2026-11-20T18:00:00\+01:00; accepted: later than 2026-11-23T10:30:00\+01:00`},
		{"before the last reading", goodBatch, "60 h", `^ready 2026-11-23T06:30:00\+01:00; accepted: later than `},
		{"years ahead", goodBatch, "2036-11-20T18:00:00+01:00", `; accepted: later than .* within a year of pitching`},
		{"no time", goodBatch, "soon", `^--ready "soon"; accepted: a time as `},
		{"no target", edit("target: {co2: 2.5 volumes, temperature: 3 C, ready: 2026-12-04T18:00:00+01:00}\n", ""), "336 h", `^b\.yaml: no wished carbonation; accepted: target: `},
		{"no wished date", edit(", ready: 2026-12-04T18:00:00+01:00", ""), "", `^no wished date; accepted: --ready `},
		{"no carbonation", edit("co2: 2.5 volumes, ", ""), "336 h", `^b\.yaml: no wished carbonation; accepted: `},
	} {
		args := []string{"plan", "b.yaml", "r.csv"}
		if c.ready != "" {
			args = append(args, "--ready", c.ready)
		}
		stdout, stderr, code := command(t, c.batch, goodReadings, args...)
		if code != exitUsage || stdout != "" || strings.Count(stderr, "\n") != 1 || !regexp.MustCompile(c.says).MatchString(stderr) {
			t.Errorf("%s: expected exit code 2 and one line like %s, got %d, %q, %q", c.what, c.says, code, stdout, stderr)
		}
	}
}

// planned is the part of the JSON that the tests read.
type planned struct {
	Choices []struct {
		Probability float64
		Gas         float64 `json:"gas_g"`
		Worst       float64 `json:"worst_case_pressure_kpa"`
		Sentence    string
		Programme   json.RawMessage
	}
}

// A plan from readings: the same bytes as the same search by hand gives, and its first programme, pasted into the file,
// is foretold about the same odds.
func TestPlanIsReproducibleAndForetoldTheSame(t *testing.T) {
	if testing.Short() {
		t.Skip("two plans and a forecast")
	}
	stdout, stderr, code := command(t, goodBatch, goodReadings, "plan", "b.yaml", "r.csv", "--ready", "336 h", "--format", "json", "--seed", "3")
	if code != exitOK || stderr != "" {
		t.Fatalf("expected exit code 0 and a silent stderr, got %d, %q", code, stderr)
	}
	b, log := read(t, goodBatch)
	p, err := plan(b, log, log.Readings[len(log.Readings)-1].Time, b.Pitched.Add(336*time.Hour), 3)
	if err != nil {
		t.Fatal(err)
	}
	said := advice.SayPlan(b, log, p, unit.Style{})
	again, err := batchfile.PlanJSON(p, said, b)
	if err != nil || string(again) != stdout {
		t.Errorf("expected the same bytes from the same input and seed, %v", err)
	}
	for _, line := range strings.Split(report.PlanText(b, p, said), "\n") {
		if n := len([]rune(line)); n > 80 {
			t.Errorf("expected at most 80 columns, got %d: %s", n, line)
		}
	}
	var got planned
	if err := json.Unmarshal([]byte(stdout), &got); err != nil || len(got.Choices) == 0 {
		t.Fatalf("expected choices, got %v, %v", got, err)
	}
	first := got.Choices[0]
	head, _, _ := strings.Cut(strings.Replace(goodBatch, "2026-12-04T18:00:00+01:00", "2026-12-04T18:30:00+01:00", 1), "programme:")
	pasted, log := read(t, head+"programme: "+strings.ReplaceAll(string(first.Programme), "\n", " ")+"\n")
	told, err := foretell(pasted, log, p.From, 3, unit.Style{})
	if err != nil {
		t.Fatal(err)
	}
	if odds := told.Forecast.Milestones.Ready.Probability; odds < first.Probability-0.07 || odds > first.Probability+0.15 {
		t.Errorf("expected odds of %.2f, -0.07 to +0.15, from the forecast of the pasted programme, got %.2f", first.Probability, odds)
	}
}

// read decodes a batch and the good readings.
func read(t *testing.T, text string) (*batch.Batch, batch.Log) {
	t.Helper()
	b, err := batchfile.DecodeBatch("b.yaml", strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	log, err := batchfile.DecodeLog("r.csv", strings.NewReader(goodReadings), b)
	if err != nil {
		t.Fatal(err)
	}
	return b, log
}

// Without a rating the plan still holds temperatures, ends with 3 and says why.
func TestPlanWithoutRating(t *testing.T) {
	batch := strings.Replace(goodBatch, ", rating: 2.5 bar", "", 1)
	stdout, stderr, code := command(t, batch, goodReadings, "plan", "b.yaml", "r.csv", "--format", "json")
	var got planned
	if err := json.Unmarshal([]byte(stdout), &got); err != nil {
		t.Fatal(err)
	}
	if code != exitLimit || !strings.Contains(stderr, "No rating known") || strings.Count(stderr, "\n") != 1 {
		t.Errorf("expected exit code 3 and one line on the rating, got %d, %q", code, stderr)
	}
	for _, c := range got.Choices {
		steps := string(c.Programme)
		if !strings.Contains(steps, "hold") || strings.Contains(steps, "gas") || strings.Count(steps, "relief") > 1 {
			t.Errorf("expected temperatures, and no pressure but what was set at pitching, got %s", steps)
		}
	}
}
