package main

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"spile/internal/batchfile"
	"spile/unit"
)

const goodBatch = `name: Sluice Gate Pale, third
pitched: 2026-11-20T18:30:00+01:00
wort:   {volume: 20 L, gravity: "1.046", bitterness: 28 IBU}
yeast:  {kind: ale, form: dry, mass: 11.5 g, attenuation: 77 %}
vessel: {capacity: 26 L, diameter: 0.30 m, rating: 2.5 bar, safety_relief: 2.2 bar}
place:  {ambient: 16 C, altitude: 40 m, fridge: {coldest: 1 C}, belt: 30 W}
gas:    {cylinder: 2.6 kg, content: 1.9 kg}
target: {co2: 2.5 volumes, temperature: 3 C, ready: 2026-12-04T18:00:00+01:00}
programme:
  - {at: pitch, hold: 20 C, relief: 10 psi}
  - {when: finished for 24 h, hold: 1 C, gas: 10 psi}
`

const goodReadings = `hours,gravity_sg,pressure_psi,temperature_c,event
0,1.046,0,20,
40,1.040,9.5,20,
64,1.029,10,20.5,noticed hiss
`

// command writes a batch and its readings, and runs a command in a folder that must
// hold nothing else afterwards.
func command(t *testing.T, batch, readings string, args ...string) (stdout, stderr string, code int) {
	t.Helper()
	dir := t.TempDir()
	t.Chdir(dir)
	write := func(name, text string) {
		if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	write("b.yaml", batch)
	write("r.csv", readings)
	var out, errs bytes.Buffer
	code = run(args, &out, &errs)
	left, err := os.ReadDir(dir)
	if err != nil || len(left) != 2 {
		t.Errorf("expected no file left behind, got %v, %v", left, err)
	}
	return out.String(), errs.String(), code
}

func TestBadInputIsOneLineAndLeavesNothing(t *testing.T) {
	edit := func(old, new string) string { return strings.Replace(goodBatch, old, new, 1) }
	for _, c := range []struct {
		what, batch, readings string
		says                  string // file, line and what is accepted
	}{
		{"missing unit", edit("rating: 2.5 bar", "rating: 2.5"), goodReadings, `^b\.yaml:5: vessel\.rating "2\.5".*; accepted: `},
		{"unknown key", edit("target:", "tarket:"), goodReadings, `^b\.yaml:8: unknown key "tarket"; did you mean target`},
		{"impossible gravity", edit(`"1.046"`, `"10.46"`), goodReadings, `^b\.yaml:3: wort\.gravity .*; accepted: `},
		{"40 L into 26 L", edit("volume: 20 L", "volume: 40 L"), goodReadings, `^b\.yaml:3: 40 L of wort into a vessel of 26 L; `},
		{"NaN", edit("volume: 20 L", "volume: NaN L"), goodReadings, `^b\.yaml:3: .*; accepted: `},
		{"empty batch", "", goodReadings, `^b\.yaml:1: an empty file; accepted: `},
		{"not YAML", "name: [", goodReadings, `^b\.yaml:\d+: .*; accepted: `},
		{"wrong header", goodBatch, "hours,gravity\n1,1.02\n", `^r\.csv:1: column "gravity"; `},
		{"empty readings", goodBatch, "", `^r\.csv:1: an empty file; accepted: `},
		{"impossible reading", goodBatch, "hours,gravity_sg\n1,10.2\n", `^r\.csv:2: gravity_sg "10\.2"; accepted: `},
		{"before pitching", goodBatch, "hours,gravity_sg\n-5,1.046\n", `^r\.csv:2: hours "-5", before the yeast went in; accepted: `},
		{"NaN reading", goodBatch, "hours,gravity_sg\n1,NaN\n", `^r\.csv:2: gravity_sg "NaN"; accepted: `},
		{"unknown event", goodBatch, "hours,event\n1,danced\n", `^r\.csv:2: event "danced"; accepted: `},
		{"not UTF-8", goodBatch, "hours,gravity_sg\n1,\xff\n", `^r\.csv:2: .*; save the file`},
	} {
		t.Run(c.what, func(t *testing.T) {
			stdout, stderr, code := command(t, c.batch, c.readings, "forecast", "b.yaml", "r.csv")
			if code != exitUsage || stdout != "" {
				t.Errorf("expected exit code 2 and nothing on stdout, got %d and %d bytes", code, len(stdout))
			}
			if strings.Count(stderr, "\n") != 1 || !regexp.MustCompile(c.says).MatchString(stderr) {
				t.Errorf("expected one line like %s, got %q", c.says, stderr)
			}
		})
	}
}

func TestBadUsage(t *testing.T) {
	for _, args := range [][]string{
		{"forecast"}, {"forecast", "none.yaml"}, {"forecast", "b.yaml", "none.csv"}, {"forecast", "b.yaml", "r.csv", "--format", "pdf"},
		{"forecast", "b.yaml", "r.csv", "--at", "soon"}, {"forecast", "b.yaml", "r.csv", "--at", "2020-01-01T00:00:00Z"},
		{"simulate", "none.yaml"}, {"simulate", "b.yaml", "--seed", "x"}, {"forecast", ".", "r.csv"},
	} {
		stdout, stderr, code := command(t, goodBatch, goodReadings, args...)
		if code != exitUsage || stdout != "" || strings.Count(stderr, "\n") != 1 {
			t.Errorf("%v: expected exit code 2, nothing on stdout and one line, got %d, %q, %q", args, code, stdout, stderr)
		}
	}
}

func TestLargeReadingsAreRefusedBySize(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "large.csv")
	if err := os.WriteFile(path, []byte("hours,gravity_sg\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Truncate(path, 200<<20); err != nil { // sparse
		t.Fatal(err)
	}
	batch := filepath.Join(dir, "b.yaml")
	if err := os.WriteFile(batch, []byte(goodBatch), 0o600); err != nil {
		t.Fatal(err)
	}
	var out, errs bytes.Buffer
	if code := run([]string{"forecast", batch, path}, &out, &errs); code != exitUsage || !strings.Contains(errs.String(), "a file of 200 MB; accepted: at most 32 MB") {
		t.Errorf("expected exit code 2 and a refusal by size, got %d, %s", code, errs.String())
	}
}

// A limit ends with 3, and result and caution are still printed.
func TestLimitsStillPrintTheResult(t *testing.T) {
	for what, batch := range map[string]string{
		"no rating":              strings.Replace(goodBatch, ", rating: 2.5 bar", "", 1),
		"rated below its relief": strings.Replace(goodBatch, "rating: 2.5 bar", "rating: 0.5 bar", 1),
	} {
		for _, args := range [][]string{{"simulate", "b.yaml"}, {"forecast", "b.yaml", "r.csv"}} {
			if testing.Short() && args[0] == "forecast" && what != "no rating" {
				continue
			}
			stdout, stderr, code := command(t, batch, goodReadings, args...)
			if code != exitLimit || !strings.Contains(stdout, "Sluice Gate Pale") || strings.Count(stderr, "\n") != 1 {
				t.Errorf("%s, %v: expected exit code 3, the result and one line of caution, got %d, %d bytes, %q", what, args, code, len(stdout), stderr)
			}
			if what == "no rating" && !strings.Contains(stdout, "No rating known") {
				t.Errorf("%v: expected the result to say that no rating is known", args)
			}
		}
	}
}

func TestForecastFormats(t *testing.T) {
	stdout, stderr, code := command(t, goodBatch, goodReadings, "forecast", "b.yaml", "r.csv")
	if code != exitOK || stderr != "" {
		t.Errorf("expected exit code 0 and a silent stderr, got %d, %q", code, stderr)
	}
	b, err := batchfile.DecodeBatch("b.yaml", strings.NewReader(goodBatch))
	if err != nil {
		t.Fatal(err)
	}
	log, err := batchfile.DecodeLog("r.csv", strings.NewReader(goodReadings), b)
	if err != nil {
		t.Fatal(err)
	}
	told, err := foretell(b, log, log.Readings[len(log.Readings)-1].Time, 1, unit.Style{})
	if err != nil {
		t.Fatal(err)
	}
	for format, wants := range map[string][]string{
		"text": {"Now ", "Next ", "Ahead ", "Why? ", "Worst case", "The maker's plate and local rules come first"},
		"svg":  {"<svg", "Gravity", "</svg>"},
		"html": {"<!DOCTYPE html>", "<h2 id=\"next\">Next</h2>"},
		"json": {`"milestones"`, `"elapsed_ms"`},
	} {
		out, err := told.render(format, "")
		if err != nil {
			t.Fatal(err)
		}
		if format == "text" && string(out) != stdout {
			t.Error("text: expected what the command prints")
		}
		for _, want := range wants {
			if !strings.Contains(string(out), want) {
				t.Errorf("%s: expected %q", format, want)
			}
		}
	}
}

// What if: colder is later, a higher setting of the valve lets the pressure climb to it and not above, and the plan beside it
// stays what it is. A setting beyond the plates ends with 3 and is still printed; nonsense is refused in one line.
func TestWhatIf(t *testing.T) {
	type future struct {
		Milestones struct {
			Finished struct{ P50 time.Time }
		}
		Highest struct{ P05, P50, P95 float64 } `json:"highest_pressure_kpa"`
	}
	ask := func(set string, wants int) (whatIf struct {
		From    time.Time
		Set     map[string]any
		Plan    future `json:"as_planned"`
		Changed future
		Limits  []any
	}, stderr string) {
		t.Helper()
		stdout, stderr, code := command(t, goodBatch, goodReadings, "forecast", "b.yaml", "r.csv", "--format", "json", "--what-if", set)
		out := struct {
			WhatIf any `json:"what_if"`
		}{&whatIf}
		if err := json.Unmarshal([]byte(stdout), &out); err != nil || code != wants {
			t.Fatalf("%s: exit code %d, expected %d; %v, %s", set, code, wants, err, stderr)
		}
		return whatIf, stderr
	}
	cold, _ := ask("hold 14 C, relief 15 psi", exitOK)
	if !cold.Changed.Milestones.Finished.P50.After(cold.Plan.Milestones.Finished.P50.Add(12 * time.Hour)) {
		t.Errorf("six degrees colder: finished %v, by the plan %v; expected half a day later at least", cold.Changed.Milestones.Finished.P50, cold.Plan.Milestones.Finished.P50)
	}
	if v := 15 * 6.894757; cold.Changed.Highest.P50 < v-15 || cold.Changed.Highest.P50 > v+5 {
		t.Errorf("under a valve at %.0f kPa the pressure climbs to %+v", v, cold.Changed.Highest)
	}
	if v := 10 * 6.894757; cold.Plan.Highest.P50 > v+5 {
		t.Errorf("by the plan, under a valve at %.0f kPa, the pressure climbs to %+v", v, cold.Plan.Highest)
	}
	if len(cold.Set) != 2 || cold.Set["hold_c"] != 14.0 || !cold.From.Equal(time.Date(2026, 11, 23, 9, 30, 0, 0, time.UTC)) {
		t.Errorf("set %v from %v", cold.Set, cold.From)
	}
	over, stderr := ask("relief 2.4 bar", exitLimit)
	if len(over.Limits) == 0 || strings.Count(stderr, "\n") != 1 {
		t.Errorf("a valve set above the safety valve: limits %v, %q", over.Limits, stderr)
	}
	stdout, _, code := command(t, goodBatch, goodReadings, "forecast", "b.yaml", "r.csv", "--what-if", "relief 2.4 bar")
	for _, want := range []string{"If      From now on: valve 35 psi.", "By the plan", "If changed", "Finished fermenting", "Carbonated", "Highest pressure", "Take care: "} {
		if code != exitLimit || !strings.Contains(stdout, want) {
			t.Errorf("text, exit code %d: expected %q in %s", code, want, stdout)
		}
	}
	for line := range strings.Lines(stdout) {
		if n := len([]rune(strings.TrimRight(line, "\n"))); n > 80 {
			t.Errorf("%d columns: %s", n, line)
		}
	}
	page, _, _ := command(t, goodBatch, goodReadings, "forecast", "b.yaml", "r.csv", "--format", "html", "--what-if", "hold 14 C")
	for _, want := range []string{`<h2 id="if">If changed</h2>`, "From now on: 14 °C.", "<td>Highest pressure</td>", "if 14 °C"} {
		if !strings.Contains(strings.ReplaceAll(page, "\u00a0", " "), want) {
			t.Errorf("page: expected %q", want)
		}
	}
	for _, bad := range []string{" ", "warmer", "hold 12", "hold 12 C, hold 13 C", "gas off, gas 10 psi", "relief 99 bar"} {
		stdout, stderr, code := command(t, goodBatch, goodReadings, "forecast", "b.yaml", "r.csv", "--what-if", bad)
		if code != exitUsage || stdout != "" || strings.Count(stderr, "\n") != 1 || !strings.Contains(stderr, "--what-if ") || !strings.Contains(stderr, "accepted: hold 12 C") {
			t.Errorf("%q: expected one line and code 2, got %d, %q", bad, code, stderr)
		}
	}
}

func TestForecastIsReproducible(t *testing.T) {
	if testing.Short() {
		t.Skip("three forecasts")
	}
	elapsed := regexp.MustCompile(`"elapsed_ms": \d+`)
	args := []string{"forecast", "b.yaml", "r.csv", "--format", "json", "--seed", "5", "--at", "50 h"}
	first, _, _ := command(t, goodBatch, goodReadings, args...)
	again, _, _ := command(t, goodBatch, goodReadings, args...)
	if elapsed.ReplaceAllString(first, "") != elapsed.ReplaceAllString(again, "") || len(first) == 0 {
		t.Error("expected the same bytes from the same input and seed")
	}
	var f struct {
		At    string
		Flags []any
	}
	if err := json.Unmarshal([]byte(first), &f); err != nil || f.At != "2026-11-22T20:30:00+01:00" {
		t.Errorf("expected a look from 50 h after pitching, got %s, %v", f.At, err)
	}
	// The reading at 64 h lies after --at, and must not be looked at.
	without, _, _ := command(t, goodBatch, strings.Join(strings.Split(goodReadings, "\n")[:3], "\n")+"\n", args...)
	if elapsed.ReplaceAllString(without, "") != elapsed.ReplaceAllString(first, "") {
		t.Error("expected readings after --at to be ignored")
	}
}

// The measured ale at 12 C hardly ferments: 1.051 at pitching, 1.050 ten days later.
// Source: testdata/measured/stalled-12c.csv, first lines.
func TestStalledFermentIsStuckAndNeverFinished(t *testing.T) {
	hours := []string{"120 h", "168 h", "240 h", "400 h"}
	if testing.Short() {
		hours = hours[:2]
	}
	for _, h := range hours {
		var out, errs bytes.Buffer
		if code := run([]string{"forecast", "../../testdata/measured/stalled-12c.yaml", "../../testdata/measured/stalled-12c.csv", "--at", h, "--format", "json"}, &out, &errs); code != exitOK {
			t.Fatalf("expected exit code 0, got %d, %s", code, errs.String())
		}
		var f struct {
			Now struct {
				State string
				Also  []string
			}
		}
		if err := json.Unmarshal(out.Bytes(), &f); err != nil {
			t.Fatal(err)
		}
		if f.Now.State == "Finished" || !strings.Contains(strings.Join(f.Now.Also, " "), "Stuck") {
			t.Errorf("%s: expected Stuck and not Finished, got %s, %v", h, f.Now.State, f.Now.Also)
		}
	}
}

func TestDemoWritesItsPage(t *testing.T) {
	t.Setenv("TMPDIR", t.TempDir())
	var out, errs bytes.Buffer
	if code := run([]string{"demo", "--once"}, &out, &errs); code != exitOK {
		t.Fatalf("expected exit code 0, got %d, %s", code, errs.String())
	}
	found := regexp.MustCompile(`The same as a page: (\S+)`).FindStringSubmatch(out.String())
	if found == nil {
		t.Fatalf("expected the path of the page, got %s", out.String())
	}
	page, err := os.ReadFile(found[1])
	if err != nil || !bytes.Contains(page, []byte("</html>")) {
		t.Errorf("expected a whole page at %s, got %d bytes, %v", found[1], len(page), err)
	}
	for _, want := range []string{"Now ", "Next ", "Ahead ", "Licence: "} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("expected %q in the text", want)
		}
	}
}

// What is simulated is written in the units asked for, the same numbers; what a program reads keeps its own.
func TestSimulateInUnits(t *testing.T) {
	simulate := func(args ...string) (string, string, int) {
		return command(t, goodBatch, goodReadings, append([]string{"simulate", "b.yaml"}, args...)...)
	}
	out, stderr, code := simulate("--units", "bar,F,P,g/L,comma")
	if code != exitOK || stderr != "" {
		t.Fatalf("expected exit 0 and silence, got %d, %s", code, stderr)
	}
	for _, want := range []string{"68 °F", "0,69 bar", "°P", "g/L", "0,0000000000"} {
		if !strings.Contains(out, want) {
			t.Errorf("expected %q in\n%s", want, out)
		}
	}
	for _, not := range []string{"psi", "°C", "1.046", " vol"} {
		if strings.Contains(out, not) {
			t.Errorf("expected no %q in\n%s", not, out)
		}
	}
	for _, line := range strings.Split(out, "\n") {
		if n := len([]rune(line)); n > 80 {
			t.Errorf("expected at most 80 columns, got %d: %s", n, line)
		}
	}
	if svg, _, _ := simulate("--units", "bar,F", "--format", "svg"); !strings.Contains(svg, "°F") || strings.Contains(svg, "psi") {
		t.Error("the drawing is in other units")
	}
	plain, _, _ := simulate("--format", "csv")
	if asked, _, _ := simulate("--format", "csv", "--units", "bar,F,comma"); asked != plain || plain == "" {
		t.Error("columns of csv do not keep their units")
	}
	if _, stderr, code := simulate("--units", "furlong"); code != exitUsage || !strings.Contains(stderr, "--units: ") {
		t.Errorf("a unit that nobody knows: %d, %s", code, stderr)
	}
}

// simulated runs simulate and gives its ledger and series.
func simulated(t *testing.T, batch string, wantCode int) (ledger map[string]float64, series map[string][]float64) {
	t.Helper()
	stdout, stderr, code := command(t, batch, goodReadings, "simulate", "b.yaml", "--format", "json")
	if code != wantCode {
		t.Fatalf("expected exit code %d, got %d, %s", wantCode, code, stderr)
	}
	var out struct {
		Ledger map[string]float64
		Series map[string][]float64
	}
	if err := json.Unmarshal([]byte(stdout), &out); err != nil {
		t.Fatal(err)
	}
	return out.Ledger, out.Series
}

func TestSimulateBalancesItsLedger(t *testing.T) {
	l, s := simulated(t, goodBatch, exitOK)
	in := l["co2_start_g"] + l["co2_made_g"] + l["co2_supplied_g"]
	out := l["co2_dissolved_g"] + l["co2_headspace_g"] + l["co2_vented_g"] + l["co2_leaked_g"] + l["co2_drawn_g"]
	if math.Abs(in-out) > 1e-9*in || in == 0 {
		t.Errorf("expected in %v g and out equal, got %v g, tolerance 1e-9 relative", in, out)
	}
	n := len(s["hours"])
	for key, values := range s {
		if len(values) != n {
			t.Errorf("%s: expected %d values, got %d", key, n, len(values))
		}
	}
	if end := s["hours"][n-1]; end < 14*24 {
		t.Errorf("expected two weeks at least, got %v h", end)
	}
	if g := s["gravity_sg"][n-1]; g > 1.014 || g < 1.006 {
		t.Errorf("final gravity of a 77 %% attenuation from 1.046: expected near 1.010, got %v", g)
	}
	if temp := s["temperature_c"][n-1]; math.Abs(temp-1) > 1 {
		t.Errorf("expected the cold step to have come, got %v C", temp)
	}
}

func TestSimulatePlantsFaults(t *testing.T) {
	l, _ := simulated(t, goodBatch+"faults: {leak: 10 g/day}\n", exitOK)
	if l["co2_leaked_g"] < 30 {
		t.Errorf("a leak of 10 g a day: expected 30 g or more lost, got %v", l["co2_leaked_g"])
	}
	late, _ := simulated(t, goodBatch+"faults:\n  - {at: 240 h, leak: 10 g/day}\n", exitOK)
	if late["co2_leaked_g"] <= 0 || late["co2_leaked_g"] >= l["co2_leaked_g"] {
		t.Errorf("a leak from the tenth day on: expected less than %v g lost, got %v", l["co2_leaked_g"], late["co2_leaked_g"])
	}
	_, s := simulated(t, goodBatch+"faults: {relief: stuck}\n", exitLimit)
	high := 0.0
	for _, p := range s["pressure_kpa"] {
		high = math.Max(high, p)
	}
	if high < 200 || high > 240 {
		t.Errorf("working valve stuck: expected the safety valve (220 kPa) to hold, got %v kPa", high)
	}
}

func TestSimulateFormats(t *testing.T) {
	for format, wants := range map[string][]string{
		"table": {"Where the gas went", "What was set", "gravity", "The maker's plate"},
		"csv":   {"hours,gravity_sg,pressure_kpa", "co2_drawn_g\n"},
		"svg":   {"<svg", "Temperature"},
	} {
		stdout, stderr, code := command(t, goodBatch, goodReadings, "simulate", "b.yaml", "--format", format)
		if code != exitOK || stderr != "" {
			t.Errorf("%s: expected exit code 0 and a silent stderr, got %d, %q", format, code, stderr)
		}
		for _, want := range wants {
			if !strings.Contains(stdout, want) {
				t.Errorf("%s: expected %q", format, want)
			}
		}
		for _, line := range strings.Split(stdout, "\n") {
			if n := len([]rune(line)); format == "table" && n > 80 {
				t.Errorf("expected at most 80 columns, got %d: %s", n, line)
			}
		}
	}
}

// Gas so high that no setting of the working valve is left over it is a limit, planned or tried: exit 3, with the safety valve named
// and what the gas may be. Gas that only stands near the valve is told of and passes none.
func TestGasNearTheValve(t *testing.T) {
	planned := strings.Replace(goodBatch, "  - {when", "  - {at: 72 h, gas: 30 psi}\n  - {when", 1)
	drains := []string{"the valve can empty the cylinder", "Take care: "}
	over := []string{"The safety valve opens at 31.5 psi. Set the gas lower.", "Set the gas to 26 psi or less."}
	for _, c := range []struct {
		batch, tried string
		code         int
		says         []string
	}{
		{goodBatch, "relief 10 psi, gas 30 psi", exitLimit, slices.Concat(over, drains)},
		{goodBatch, "gas 30 psi", exitLimit, slices.Concat(over, drains)},
		{goodBatch, "gas 12 psi", exitOK, append(drains, "Set the working valve to 15 psi or more.")},
		{planned, "", exitLimit, over[:1]},
	} {
		args := []string{"forecast", "b.yaml", "r.csv"}
		if c.tried != "" {
			args = append(args, "--what-if", c.tried)
		}
		stdout, _, code := command(t, c.batch, goodReadings, args...)
		said := strings.Join(strings.Fields(stdout), " ")
		if code != c.code {
			t.Errorf("%q: exit code %d, expected %d", c.tried, code, c.code)
		}
		for _, want := range c.says {
			if !strings.Contains(said, want) {
				t.Errorf("%q: expected %q in %s", c.tried, want, stdout)
			}
		}
		if strings.Contains(said, "The weakest part allows") {
			t.Errorf("%q: the safety valve is not named: %s", c.tried, stdout)
		}
	}
}
