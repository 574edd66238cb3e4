package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"spile/calc"
	"spile/wording"
)

// docs is where the pages and schemas of the calculations are kept. They are generated
// from the table: go test ./cmd/spile -update.
func docs(name ...string) string {
	return filepath.Join(append([]string{"..", "..", "docs"}, name...)...)
}

// exampleLine is the command of the worked example, without the flags named.
func exampleLine(row *calc.Calculation, without ...string) []string {
	line := []string{"calc", row.Name}
	for i := 0; i+1 < len(row.Example); i += 2 {
		if !slices.Contains(without, row.Example[i]) {
			line = append(line, "--"+row.Example[i], row.Example[i+1])
		}
	}
	return line
}

// sweepLine is the command of the plot, in five steps.
func sweepLine(row *calc.Calculation) []string {
	sweep := row.Plot.Sweep[:strings.LastIndexByte(row.Plot.Sweep, ':')] + ":5"
	name, _, _ := strings.Cut(sweep, "=")
	return append(exampleLine(row, name), "--sweep", sweep)
}

// cardLine is the command of the table for the door.
func cardLine(row *calc.Calculation) []string {
	var without []string
	for _, f := range row.Flags {
		side := f.Name + "="
		if strings.HasPrefix(row.Card.Down, side) || strings.HasPrefix(row.Card.Across, side) || f.JSONKey() == row.Card.Of {
			without = append(without, f.Name)
		}
	}
	return append(exampleLine(row, without...), "--table")
}

// typed is a command as it is typed, broken between its flags.
func typed(line []string) string {
	words := make([]string, len(line))
	for i, w := range line {
		words[i] = quoted(w)
	}
	text := strings.TrimPrefix(wrapCommand("spile "+strings.Join(words, " ")), "  ")
	return "$ " + text
}

// session is a command and what it prints.
func session(t *testing.T, line []string) string {
	t.Helper()
	out, errs, code := invoke(line...)
	if code != exitOK && code != exitLimit || errs != "" {
		t.Errorf("%v: exit %d, %s", line, code, errs)
	}
	text := "```\n" + typed(line) + out + "```\n"
	if code == exitLimit {
		text += "\nIt ends with exit code 3: a limit would be exceeded.\n"
	}
	return text
}

// references are the sources by key, without the notes on where they are used.
func references(t *testing.T) map[string]string {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("..", "..", "REFERENCES.md"))
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]string{}
	for _, m := range regexp.MustCompile(`(?m)^- \*\*\[(\w+)\]\*\* (.*)$`).FindAllStringSubmatch(string(data), -1) {
		text, _, _ := strings.Cut(m[2], " Used in:")
		out[m[1]] = text
	}
	return out
}

// page is the documentation of one calculation.
func page(t *testing.T, row *calc.Calculation, sources map[string]string) string {
	var b strings.Builder
	fmt.Fprintf(&b, "# %s: %s\n\n%s\n\n[All questions](README.md) · [its JSON](../schema/calc/%s.json)\n\n", row.Name, row.Question, row.About, row.Name)
	b.WriteString("## Flags\n\n| flag | what it takes |\n|---|---|\n")
	for _, f := range row.Flags {
		fmt.Fprintf(&b, "| `--%s` | %s |\n", f.Name, flagHelp(f))
	}
	b.WriteString("\nBesides: `--working`, `--format json`, `--sweep`, `--svg`, `--units`" + map[bool]string{true: ", `--table`"}[row.Card.Of != ""] + ".\n")
	b.WriteString("\n## Example\n\n" + session(t, append(exampleLine(row), "--working")))
	fmt.Fprintf(&b, "\n![%s](%s.svg)\n", strings.TrimSuffix(string(row.Question), "?"), row.Name)
	b.WriteString("\n## Over a range\n\n" + session(t, sweepLine(row)))
	if row.Card.Of != "" {
		b.WriteString("\n## For the door\n\n" + session(t, cardLine(row)))
	}
	values, _ := example(row)
	a, err := row.Evaluate(values)
	if err != nil {
		t.Fatal(err)
	}
	b.WriteString("\n## Cautions\n\n" + list(a.Cautions, "None for these values."))
	var cited []string
	for _, key := range a.Sheet.Sources() {
		if sources[key] == "" {
			t.Errorf("%s: source %s stands not in REFERENCES.md", row.Name, key)
		}
		cited = append(cited, "["+key+"] "+sources[key])
	}
	b.WriteString("\n## Sources\n\n" + list(cited, "A definition or plain arithmetic; what is common practice says so above."))
	return b.String()
}

func list(lines []string, none string) string {
	if len(lines) == 0 {
		return none + "\n"
	}
	return "- " + strings.Join(lines, "\n- ") + "\n"
}

// index lists the pages by stage.
func index() string {
	var b strings.Builder
	b.WriteString("# Work it out\n\nThe questions along the life of a vessel. Each page is what the program prints: flags, an example with its working, a plot, its cautions and sources. [Questions people ask](../questions.md) says which to use.\n")
	for _, stage := range calc.Stages() {
		b.WriteString("\n## " + string(stage) + "\n\n")
		for _, row := range calc.Table() {
			if row.Stage == stage {
				fmt.Fprintf(&b, "- [%s](%s.md) `spile calc %s`\n", row.Question, row.Name, row.Name)
			}
		}
	}
	return b.String()
}

// variants answers with every choice of the flags that may be left out, so that every
// result a calculation can give is seen. Flags take the example's value or their sample.
func variants(row *calc.Calculation, f func(a *calc.Answer)) {
	sample, _ := example(row)
	var free []string
	base := map[string]string{}
	for _, flag := range row.Flags {
		value := sample[flag.Name]
		if value == "" {
			value = flag.Example()
		}
		sample[flag.Name] = value
		if flag.Required {
			base[flag.Name] = value
		} else {
			free = append(free, flag.Name)
		}
	}
	for mask := range 1 << len(free) {
		for i, name := range free {
			delete(base, name)
			if mask>>i&1 == 1 {
				base[name] = sample[name]
			}
		}
		if a, err := row.Evaluate(base); err == nil {
			f(a)
		}
	}
}

// ownSchema describes exactly the inputs and results of one calculation.
func ownSchema(t *testing.T, row *calc.Calculation) string {
	inputs := ordered{}
	needed := []string{}
	for _, f := range row.Flags {
		if f.Required || f.Default != "" {
			needed = append(needed, f.JSONKey())
		}
		inputs = append(inputs, pair{f.JSONKey(), described(string(f.Label), f.JSONKey(), wording.English(f.Kind.Choices))})
	}
	results, always := allResults(row)
	whole := ordered{
		{"$schema", "https://json-schema.org/draft/2020-12/schema"}, {"title", "calc " + row.Name},
		{"description", row.Question + " " + row.About}, {"allOf", []ordered{{{"$ref", "../calc.json"}}}},
		{"type", "object"},
		{"properties", ordered{
			{"calculation", ordered{{"type", "string"}, {"enum", []string{row.Name}}}},
			{"inputs", ordered{{"type", "object"}, {"additionalProperties", false}, {"required", needed}, {"properties", inputs}}},
			{"result", ordered{{"type", "object"}, {"additionalProperties", false}, {"required", always}, {"properties", results}}},
		}},
	}
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", " ")
	if err := e.Encode(whole); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// allResults are the results that the calculation can give, described, and the keys of those it always gives.
func allResults(row *calc.Calculation) (results ordered, always []string) {
	variants(row, func(a *calc.Answer) {
		var keys []string
		for _, r := range a.Results {
			keys = append(keys, r.Key)
			if !slices.ContainsFunc(results, func(p pair) bool { return p.key == r.Key }) {
				results = append(results, pair{r.Key, described(string(r.Name), r.Key, nil)})
			}
		}
		if always == nil {
			always = keys
		}
		always = slices.DeleteFunc(always, func(k string) bool { return !slices.Contains(keys, k) })
	})
	return results, always
}

// described is one value: what it is, and its unit.
func described(what, key string, choices []string) ordered {
	if choices != nil {
		return ordered{{"type", "string"}, {"description", what}, {"enum", choices}}
	}
	unit := (calc.Units{}).Of(key)
	for _, u := range []string{"kPa", "h", "m", "g"} { // the unit of the key, where people usually see another
		if words, err := calc.ParseUnits(u); err == nil && words.Chosen(key) {
			unit = words.Of(key)
		}
	}
	if unit.Unit != "" {
		what += ", in " + unit.Unit
	}
	return ordered{{"type", "number"}, {"description", what}}
}

// Pages, plots and schemas are those that the table gives, and there are no others.
func TestCalcDocsAreFresh(t *testing.T) {
	sources := references(t)
	kept := map[string]bool{docs("calc", "README.md"): true}
	hold(t, docs("calc", "README.md"), index())
	for _, row := range calc.Table() {
		hold(t, docs("calc", row.Name+".md"), page(t, row, sources))
		hold(t, docs("schema", "calc", row.Name+".json"), ownSchema(t, row))
		plot := filepath.Join(t.TempDir(), "plot.svg")
		if _, errs, code := invoke(append(exampleLine(row), "--svg", plot)...); errs != "" || code != exitOK && code != exitLimit {
			t.Errorf("%s: no plot: exit %d, %s", row.Name, code, errs)
			continue
		}
		svg, err := os.ReadFile(plot)
		if err != nil {
			t.Fatal(err)
		}
		hold(t, docs("calc", row.Name+".svg"), string(svg))
		for _, file := range []string{docs("calc", row.Name+".md"), docs("calc", row.Name+".svg"), docs("schema", "calc", row.Name+".json")} {
			kept[file] = true
		}
	}
	for _, folder := range []string{docs("calc"), docs("schema", "calc")} {
		files, err := os.ReadDir(folder)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range files {
			if file := filepath.Join(folder, f.Name()); !kept[file] {
				t.Errorf("%s belongs to no calculation; delete it", file)
			}
		}
	}
}
