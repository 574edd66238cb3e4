package main

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"maps"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"unicode/utf8"

	"spile/calc"
	"spile/internal/oracle"
)

var update = flag.Bool("update", false, "write what is printed to the golden files")

// invoke runs the program as a shell would.
func invoke(line ...string) (stdout, stderr string, code int) {
	var out, errs bytes.Buffer
	code = run(line, &out, &errs)
	return out.String(), errs.String(), code
}

// golden holds what is printed against testdata/calc/NAME.
func golden(t *testing.T, name, got string) {
	t.Helper()
	hold(t, filepath.Join("testdata", "calc", name), got)
}

// hold holds what the program gives against a file that is kept.
func hold(t *testing.T, file, got string) {
	t.Helper()
	if *update {
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatalf("%v; go test ./cmd/spile -update writes it", err)
	}
	if got != string(want) {
		t.Errorf("%s differs from what the program gives; go test ./cmd/spile -update, then read the change.\n%s", file, oracle.Change(string(want), got))
	}
}

func TestCalcGolden(t *testing.T) {
	for _, c := range []struct{ file, line string }{
		{"list.txt", "calc --list"},
		{"explain.txt", "calc carbonation"},
		{"help.txt", "calc relief --help"},
		{"alcohol.txt", "calc alcohol --og 1.046 --fg 1.010"},
		{"alcohol.json", "calc alcohol --og 1.046 --fg 1.010 --format json"},
		{"warming-working.txt", "calc warming --from 1 C --to 30 C --volume 16 L --capacity 20 L --volumes 2.5 vol --working"},
		{"drinks.json", "calc drinks --volume 425 mL --abv 4.5 % --country Australia --format json"},
	} {
		out, errs, code := invoke(strings.Fields(c.line)...)
		if code != exitOK || errs != "" {
			t.Errorf("%s: exit %d, %q", c.line, code, errs)
		}
		golden(t, c.file, out)
	}
}

func TestCalcFitsTheTerminal(t *testing.T) {
	for _, row := range calc.Table() {
		for _, flags := range []string{"", "--help", "--working"} {
			out, _, code := invoke(strings.Fields("calc " + row.Name + " " + flags)...)
			if code != exitOK {
				t.Errorf("%s %s: exit %d", row.Name, flags, code)
			}
			for line := range strings.Lines(out) {
				if n := utf8.RuneCountInString(strings.TrimRight(line, "\n")); n > lineWidth {
					t.Errorf("%s %s: a line of %d characters: %s", row.Name, flags, n, line)
				}
			}
		}
	}
}

// The exit code tells a limit from a caution, and bad input prints one line and no result.
func TestCalcExitCodes(t *testing.T) {
	warming := "calc warming --from 1C --to 30C --volume 16L --capacity 20L --volumes 2.5vol "
	for _, c := range []struct {
		line string
		code int
		say  string
	}{
		{warming, exitOK, "No rating known"},
		{warming + "--rating 3bar", exitOK, "Pressure at the end"},
		{warming + "--rating 2bar", exitLimit, "Do not do it"},
		{warming + "--rating=2bar --format=json", exitLimit, `"limit_passed": true`},
		{"calc carbonation --temperature -1 C --pressure 10 psi", exitOK, "volumes"},
		{"calc alcohol --og 46 --fg 1.010", exitUsage, "Did you mean 1.046?"},
		{"calc alcohol --og 1.046 --fg", exitUsage, "--fg needs a value"},
		{"calc alcohol --og 1.046 --og 1.048 --fg 1.010", exitUsage, "given twice"},
		{"calc alcohol 1.046", exitUsage, "a flag was expected"},
		{"calc alcohol --og 1.046 --fg 1.010 --format xml", exitUsage, "accepted: text, json"},
		{"calc alcohol --working=yes", exitUsage, "takes no value"},
		{"calc alcohl", exitUsage, `did you mean "alcohol"`},
		{"calc quux", exitUsage, "accepted: dilution"},
		{"calc --og 1.046", exitUsage, "a calculation is missing"},
		{"calc", exitOK, "Work it out"},
		{"calc alcohol --list", exitOK, "Work it out"},
		{"calc alcohol -h", exitOK, "--og"},
		{"clac", exitUsage, "calc"},
		{"--version", exitOK, ""},
		{"", exitOK, "Exit codes"},
	} {
		out, errs, code := invoke(strings.Fields(c.line)...)
		if code != c.code || !strings.Contains(out+errs, c.say) {
			t.Errorf("%q: exit %d with %q, want %d with %q", c.line, code, out+errs, c.code, c.say)
		}
		if code == exitUsage && (out != "" || strings.Count(errs, "\n") != 1) {
			t.Errorf("%q: printed %q and %q; want one line on stderr and nothing else", c.line, out, errs)
		}
	}
}

// schema reads a published schema.
func schema(t *testing.T, name string) map[string]any {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("..", "..", "docs", "schema", filepath.FromSlash(name)))
	if err != nil {
		t.Fatal(err)
	}
	var s map[string]any
	if err := json.Unmarshal(data, &s); err != nil {
		t.Fatal(err)
	}
	return s
}

// kindOf is the type of a JSON value, as a schema calls it.
func kindOf(v any) string {
	switch v.(type) {
	case map[string]any:
		return "object"
	case []any:
		return "array"
	case string:
		return "string"
	case float64:
		return "number"
	case bool:
		return "boolean"
	}
	return "null"
}

// departs says where v departs from schema, as far as the calc schemas use the language:
// type, required, properties, additionalProperties, items and enum.
func departs(schema map[string]any, v any, at string) string {
	kinds := asList(schema["type"])
	if one, ok := schema["type"].(string); ok {
		kinds = []any{one}
	}
	if !slices.Contains(kinds, any(kindOf(v))) {
		return fmt.Sprintf("%s is none of %v", at, kinds)
	}
	if words, ok := schema["enum"].([]any); ok && !slices.Contains(words, v) {
		return at + " is none of its words"
	}
	for i, item := range asList(v) {
		if d := departs(schema["items"].(map[string]any), item, at+"["+strconv.Itoa(i)+"]"); d != "" {
			return d
		}
	}
	return departsObject(schema, v, at)
}

func asList(v any) []any { l, _ := v.([]any); return l }

func departsObject(schema map[string]any, v any, at string) string {
	object, _ := v.(map[string]any)
	properties, _ := schema["properties"].(map[string]any)
	for _, name := range asList(schema["required"]) {
		if _, ok := object[name.(string)]; !ok {
			return at + " lacks " + name.(string)
		}
	}
	for name, value := range object {
		property, known := properties[name].(map[string]any)
		if !known && schema["additionalProperties"] == false {
			return at + " has an unknown " + name
		}
		if known {
			if d := departs(property, value, at+"."+name); d != "" {
				return d
			}
		}
	}
	return ""
}

// printed is the JSON that a command prints.
func printed(t *testing.T, line ...string) (v any) {
	t.Helper()
	out, errs, _ := invoke(line...)
	if err := json.Unmarshal([]byte(out), &v); err != nil {
		t.Fatalf("%v: %v; %s", line, err, errs)
	}
	return v
}

// Each answer fits the schema that all share and its own; each sweep and table theirs.
func TestCalcSchema(t *testing.T) {
	for _, row := range calc.Table() {
		v := printed(t, "calc", row.Name, "--format", "json")
		own := schema(t, "calc/"+row.Name+".json")
		shared, _ := asList(own["allOf"])[0].(map[string]any)["$ref"].(string)
		for _, s := range []map[string]any{own, schema(t, path.Join("calc", shared))} {
			if d := departs(s, v, row.Name); d != "" {
				t.Errorf("docs/schema: %s", d)
			}
		}
		if d := departs(schema(t, "calc-sweep.json"), printed(t, append(sweepLine(row), "--format", "json")...), row.Name); d != "" {
			t.Errorf("docs/schema/calc-sweep.json: %s", d)
		}
		if row.Card.Of == "" {
			continue
		}
		if d := departs(schema(t, "calc-table.json"), printed(t, append(cardLine(row), "--format", "json")...), row.Name); d != "" {
			t.Errorf("docs/schema/calc-table.json: %s", d)
		}
	}
	whole := printed(t, "calc", "lid", "--format", "json").(map[string]any)
	for name, broken := range map[string]any{"lacks": map[string]any{}, "no object": []any{}, "unknown": with(whole, "more", 1.0), "wrong word": with(whole, "calculation", "lip"),
		"a result of another": with(whole, "result", map[string]any{"force_kg": 1.0, "force_n": 1.0, "glasses": 2.0})} {
		if departs(schema(t, "calc.json"), broken, "") == "" && departs(schema(t, "calc/lid.json"), broken, "") == "" {
			t.Errorf("%s: the schemas let %v pass", name, broken)
		}
	}
}

// with is an object with one more or another value.
func with(object map[string]any, key string, value any) map[string]any {
	changed := maps.Clone(object)
	changed[key] = value
	return changed
}

// Each calculation's JSON has the fields of the contract, and its results carry their unit.
func TestCalcJSON(t *testing.T) {
	for _, row := range calc.Table() {
		out, _, _ := invoke("calc", row.Name, "--format", "json")
		var a struct {
			Inputs, Result map[string]any
			Working        []map[string]any
			Sources        []string
			Valid          *bool
			Cautions       []string
		}
		if err := json.Unmarshal([]byte(out), &a); err != nil {
			t.Errorf("%s: %v", row.Name, err)
			continue
		}
		if len(a.Inputs) == 0 || len(a.Result) == 0 || len(a.Working) == 0 || a.Sources == nil || a.Valid == nil || a.Cautions == nil {
			t.Errorf("%s: a field of the contract is missing: %s", row.Name, out)
		}
		for key := range a.Result {
			if (calc.Units{}).Of(key).Suffix == "" && !endsInOneOf(key, []string{"glasses", "drinks", "cycles", "per_glass", "_number", "batches"}) {
				t.Errorf("%s: result %s does not end in a unit", row.Name, key)
			}
		}
	}
}

func endsInOneOf(s string, ends []string) bool {
	for _, e := range ends {
		if strings.HasSuffix(s, e) {
			return true
		}
	}
	return false
}

// A sweep, a table and a plot: what they say, in which unit, and how they end.
func TestCalcSweepTableAndPlot(t *testing.T) {
	for _, c := range ranged {
		out, errs, code := invoke(strings.Fields(c.line)...)
		if code != c.code || !strings.Contains(out+errs, c.say) {
			t.Errorf("%q: exit %d with %q, want %d with %q", c.line, code, out+errs, c.code, c.say)
		}
		if code == exitUsage && (out != "" || strings.Count(errs, "\n") != 1) {
			t.Errorf("%q: printed %q and %q; want one line on stderr and nothing else", c.line, out, errs)
		}
		for line := range strings.Lines(out) {
			if utf8.RuneCountInString(strings.TrimRight(line, "\n")) > lineWidth {
				t.Errorf("%q: a line of more than %d characters: %s", c.line, lineWidth, line)
			}
		}
	}
}

const sealedVessel = "calc warming --from 1C --volume 16L --capacity 20L --volumes 2.5vol "

var ranged = []struct {
	line string
	code int
	say  string
}{
	{"calc carbonation --pressure 10 psi --sweep temperature=32 F:60 F:7", exitOK, "(°F)"},
	{"calc carbonation --pressure 10 psi --sweep temperature=32 F:60 F:7 --units C", exitOK, "(°C)"},
	{"calc carbonation --temperature 1C --pressure 10psi --units psi,F", exitOK, "34 °F"},
	{"calc carbonation --temperature 1C --volumes 2.5vol --units kPa", exitOK, "60 kPa"},
	{"calc dilution --volume 17L --gravity 1.054 --sweep target-gravity=1.040:1.060:4", exitOK, "- has no answer"},
	{sealedVessel + "--rating 2bar --sweep to=5C:40C:7", exitLimit, "over the limit"},
	{sealedVessel + "--rating 4bar --sweep to=5C:40C:7", exitOK, "Pressure"},
	{sealedVessel + "--sweep to=5C:40C:7", exitOK, "Pressure"},
	{"calc carbonation --table", exitOK, "0.60"},
	{"calc carbonation --table --rating 1bar --altitude 1600m", exitLimit, "no: a limit would be exceeded"},
	{"calc carbonation --table --units psi,F", exitOK, "(°F)"},
	{"calc lid --table", exitUsage, "these have one: "},
	{"calc carbonation --table --svg x.svg", exitUsage, "stands alone"},
	{"calc lid --units bar,psi", exitUsage, "both for pressure"},
	{"calc lid --units furlong", exitUsage, "accepted are bar, psi"},
	{"calc lid --sweep pressure", exitUsage, "FLAG=from:to:steps"},
	{"calc lid --sweep presure=1psi:2psi:3", exitUsage, "did you mean --pressure?"},
	{"calc lid --opening 10cm --sweep pressure=1psi:1psi:3", exitUsage, "two different ends"},
	{"calc lid --opening 10cm --sweep pressure=1psi:2psi:1000000", exitUsage, "1 to 99999 steps"},
	{"calc lid --opening 10cm --sweep pressure=1:2:3", exitUsage, "needs a unit"},
	{"calc lid --opening 10cm --pressure 10psi --sweep pressure=1psi:2psi:3", exitUsage, "goes in steps"},
	{"calc drinks --volume 1L --abv 5% --sweep country=Ireland:Canada:3", exitUsage, "is a word"},
	{"calc lid --svg /nowhere/at/all.svg", exitUsage, "cannot be written"},
	{"calc lid --svg /", exitUsage, "is no file"},
	{"calc carbonation --pressure 10psi --volumes 2.5vol --svg x.svg", exitUsage, "the plot goes over --temperature"},
}

// A plot is written whole: nothing else is left in its folder, and a second replaces it.
func TestCalcPlotIsWrittenWhole(t *testing.T) {
	folder := t.TempDir()
	file := filepath.Join(folder, "plot.svg")
	for _, line := range [][]string{{"calc", "lid", "--svg", file}, {"calc", "lid", "--opening", "10 cm", "--sweep", "pressure=0 psi:30 psi:3", "--svg", file}} {
		out, errs, code := invoke(line...)
		data, err := os.ReadFile(file)
		if code != exitOK || errs != "" || out == "" || err != nil || !strings.HasSuffix(string(data), "</svg>\n") {
			t.Errorf("%v: exit %d, %q, %v; want the result and a whole plot", line, code, errs, err)
		}
	}
	if left, err := os.ReadDir(folder); err != nil || len(left) != 1 {
		t.Errorf("%d files beside the plot, %v; want the plot alone", len(left)-1, err)
	}
}
