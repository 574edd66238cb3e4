package main

import (
	"bytes"
	"encoding/json"
	"flag"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"unicode/utf8"

	"spile/calc"
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
	file := filepath.Join("testdata", "calc", name)
	if *update {
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s differs; read it, then go test ./cmd/spile -update.\ngot:\n%s\nwant:\n%s", file, got, want)
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

// calcSchema is the published schema of the answer.
func calcSchema(t *testing.T) map[string]any {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("..", "..", "docs", "schema", "calc.json"))
	if err != nil {
		t.Fatal(err)
	}
	var s map[string]any
	if err := json.Unmarshal(data, &s); err != nil {
		t.Fatal(err)
	}
	return s
}

// departs says where v departs from schema, as far as calc.json uses the language:
// type, required, properties, additionalProperties, items and enum.
func departs(schema map[string]any, v any, at string) string {
	kinds := map[string]bool{"object": false, "array": false, "string": false, "number": false, "boolean": false}
	switch v.(type) {
	case map[string]any:
		kinds["object"] = true
	case []any:
		kinds["array"] = true
	case string:
		kinds["string"] = true
	case float64:
		kinds["number"] = true
	case bool:
		kinds["boolean"] = true
	}
	if want, _ := schema["type"].(string); !kinds[want] {
		return at + " is no " + want
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

func TestCalcSchema(t *testing.T) {
	schema := calcSchema(t)
	for _, row := range calc.Table() {
		out, _, _ := invoke("calc", row.Name, "--format", "json")
		var v any
		if err := json.Unmarshal([]byte(out), &v); err != nil {
			t.Errorf("%s: %v", row.Name, err)
		} else if d := departs(schema, v, row.Name); d != "" {
			t.Errorf("docs/schema/calc.json: %s", d)
		}
	}
	for name, broken := range map[string]string{"lacks": `{}`, "no object": `[]`, "unknown": `{"calculation":"x","question":"x","inputs":{},"result":{},"working":[],"sources":[],"valid":true,"ranges":[],"outside":[],"cautions":[],"limit_passed":true,"more":1}`} {
		var v any
		if err := json.Unmarshal([]byte(broken), &v); err != nil {
			t.Fatal(err)
		}
		if departs(schema, v, "") == "" {
			t.Errorf("%s: the schema lets %s pass", name, broken)
		}
	}
}

// Each calculation's JSON has the fields of the contract, and its results carry their unit.
func TestCalcJSON(t *testing.T) {
	units := []string{"_kpa", "_sg", "_l", "_ml", "_c", "_percent", "_volumes", "_per_l", "_per_day", "_ppm", "_mm2", "_h", "_g", "_n", "_kg", "glasses", "drinks", "cycles", "per_glass"}
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
			if !endsInOneOf(key, units) {
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
