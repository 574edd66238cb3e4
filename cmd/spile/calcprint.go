package main

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"

	"spile/calc"
	"spile/internal/report"
	"spile/unit"
	"spile/wording"
	"spile/working"
)

// lineWidth is the width that all text keeps to.
const lineWidth = 80

// printAnswer writes an answer as text or JSON.
func printAnswer(w io.Writer, a *calc.Answer, opts calcOptions) error {
	if opts.format == "json" {
		return printJSON(w, calcJSON(a))
	}
	return printText(w, answerText(a, opts))
}

func printText(w io.Writer, text string) error {
	_, err := io.WriteString(w, text)
	return err
}

func printJSON(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(v)
}

// answerText is the question, the answer with its band, what it rests on and its cautions.
func answerText(a *calc.Answer, opts calcOptions) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n\n", a.Calculation.Question)
	var rows [][2]string
	for _, r := range report.ResultRows(a, opts.units) {
		rows = append(rows, [2]string{string(r.Name), r.Words})
	}
	columns(&b, rows)
	if a.Band != nil {
		b.WriteString("\n" + wrap(report.BandSentence(a, opts.units), "  "))
	}
	if len(a.Notes) > 0 {
		b.WriteString("\n")
		for _, n := range a.Notes {
			b.WriteString(wrap(n, "  "))
		}
	}
	b.WriteString("\nFrom\n")
	columns(&b, inputRows(a.Inputs, opts.units))
	if opts.working {
		b.WriteString("\nWorking\n" + workingText(a.Sheet))
	}
	if len(a.Cautions) > 0 {
		b.WriteString("\nCaution\n")
		for _, c := range a.Cautions {
			b.WriteString(wrap(c, "  "))
		}
	}
	return b.String()
}

func inputRows(inputs []calc.Given, units calc.Units) [][2]string {
	var rows [][2]string
	for _, in := range inputs {
		text := units.In(unit.Style{}, in)
		if in.Default {
			text += "  (assumed)"
		}
		rows = append(rows, [2]string{strings.ReplaceAll(in.Flag.Name, "-", " "), text})
	}
	return rows
}

// columns writes names and values side by side.
func columns(b *strings.Builder, rows [][2]string) {
	width := nameWidth(rows)
	for _, r := range rows {
		fmt.Fprintf(b, "  %-*s  %s\n", width, r[0], r[1])
	}
}

// nameWidth is the width of the longest name.
func nameWidth(rows [][2]string) (width int) {
	for _, r := range rows {
		width = max(width, utf8.RuneCountInString(r[0]))
	}
	return width
}

// wrap breaks text into lines that fit, each after the indent.
func wrap(text, indent string) string {
	var b strings.Builder
	line := indent
	for _, word := range strings.Fields(text) {
		if line != indent && utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) > lineWidth {
			b.WriteString(line + "\n")
			line = indent
		}
		if line != indent {
			line += " "
		}
		line += word
	}
	return b.String() + line + "\n"
}

// workingText lists the steps, each value with its formula and source under it.
func workingText(s *working.Sheet) string {
	var b strings.Builder
	for _, st := range s.Steps {
		value := strings.TrimSpace(strconv.FormatFloat(st.Value, 'g', 6, 64) + " " + string(st.Unit))
		origin, formula := string(st.Origin), st.Formula.String()
		if !st.IsInput() {
			origin = ""
		}
		if st.Source != "" {
			formula += " [" + st.Source + "]"
		}
		name := fmt.Sprintf("  %-5s %-36s ", st.Symbol, st.Name)
		if utf8.RuneCountInString(name+value) > lineWidth {
			name += "\n" + strings.Repeat(" ", 45)
		}
		b.WriteString(strings.TrimRight(fmt.Sprintf("%s%-20s %s", name, value, origin), " ") + "\n")
		if formula != "" {
			b.WriteString(wrap(formula, "          "))
		}
	}
	for _, r := range s.Valid {
		b.WriteString(wrap("Holds for "+string(r)+".", "  "))
	}
	return b.String()
}

// calcAnswer is the JSON of an answer.
type calcAnswer struct {
	Calculation string     `json:"calculation"`
	Question    string     `json:"question"`
	Inputs      ordered    `json:"inputs"`
	Result      ordered    `json:"result"`
	Band        *calcBand  `json:"band,omitempty"`
	Working     []stepJSON `json:"working"`
	Sources     []string   `json:"sources"`
	Valid       bool       `json:"valid"`
	Ranges      []string   `json:"ranges"`
	Outside     []string   `json:"outside"`
	Notes       []string   `json:"notes"`
	Cautions    []string   `json:"cautions"`
	LimitPassed bool       `json:"limit_passed"`
}

type calcBand struct {
	Of   string      `json:"of"`
	Low  json.Number `json:"low"`
	High json.Number `json:"high"`
	Why  string      `json:"why"`
}

type stepJSON struct {
	Symbol  string      `json:"symbol"`
	Name    string      `json:"name"`
	Formula string      `json:"formula"`
	Value   json.Number `json:"value"`
	Unit    string      `json:"unit"`
	Origin  string      `json:"origin"`
	Source  string      `json:"source,omitempty"`
}

// ordered is a JSON object that keeps its order.
type ordered []pair

type pair struct {
	key   string
	value any
}

// MarshalJSON writes the pairs in their order.
func (o ordered) MarshalJSON() ([]byte, error) {
	out := []byte{'{'}
	for i, p := range o {
		if i > 0 {
			out = append(out, ',')
		}
		key, err := json.Marshal(p.key)
		if err != nil {
			return nil, err
		}
		value, err := json.Marshal(p.value)
		if err != nil {
			return nil, err
		}
		out = append(append(append(out, key...), ':'), value...)
	}
	return append(out, '}'), nil
}

// tenDigits writes a number without the noise of its last bits.
func tenDigits(v float64) json.Number {
	short, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 10, 64), 64)
	if err != nil || math.IsInf(short, 0) || math.IsNaN(short) {
		return "null"
	}
	return json.Number(strconv.FormatFloat(short, 'g', -1, 64))
}

func calcJSON(a *calc.Answer) calcAnswer {
	out := calcAnswer{
		Calculation: a.Calculation.Name, Question: string(a.Calculation.Question), Working: []stepJSON{},
		Sources: notNil(a.Sheet.Sources()), Valid: len(a.Sheet.Outside) == 0, Ranges: notNil(wording.English(a.Sheet.Valid)),
		Outside: notNil(wording.English(a.Sheet.Outside)), Notes: notNil(a.Notes), Cautions: notNil(a.Cautions), LimitPassed: a.Passed,
	}
	out.Inputs = inputsJSON(a.Inputs)
	for _, r := range a.Results {
		out.Result = append(out.Result, pair{r.Key, tenDigits(r.Value)})
	}
	if b := a.Band; b != nil {
		out.Band = &calcBand{b.Key, tenDigits(b.Low), tenDigits(b.High), string(b.Why)}
	}
	for _, s := range a.Sheet.Steps {
		out.Working = append(out.Working, stepJSON{s.Symbol, s.Name.String(), s.Formula.String(), tenDigits(s.Value), string(s.Unit), string(s.Origin), s.Source})
	}
	return out
}

func inputsJSON(inputs []calc.Given) (out ordered) {
	for _, in := range inputs {
		var value any = tenDigits(in.Flag.Kind.InKey(in.Value))
		if in.Flag.Kind.Choices != nil {
			value = in.Flag.Kind.Choices[int(in.Value)]
		}
		out = append(out, pair{in.Flag.JSONKey(), value})
	}
	return out
}

// notNil makes an empty list of a missing one, which JSON tells apart.
func notNil(s []string) []string {
	if s == nil {
		return []string{}
	}
	return s
}

// printList lists the questions by stage.
func printList(w io.Writer) error {
	var b strings.Builder
	b.WriteString("Work it out\n")
	for _, stage := range calc.Stages() {
		b.WriteString("\n" + string(stage) + "\n")
		var rows [][2]string
		for _, c := range calc.Table() {
			if c.Stage == stage {
				rows = append(rows, [2]string{c.Name, string(c.Question)})
			}
		}
		columns(&b, rows)
	}
	b.WriteString("\nspile calc NAME explains one with an example; --help lists its flags.\n")
	return printText(w, b.String())
}

// printFlags lists the flags of a calculation.
func printFlags(w io.Writer, row *calc.Calculation) error {
	var b strings.Builder
	fmt.Fprintf(&b, "spile calc %s: %s\n\n", row.Name, row.Question)
	b.WriteString(wrap(string(row.About), "") + "\n")
	var rows [][2]string
	for _, f := range row.Flags {
		rows = append(rows, [2]string{"--" + f.Name, flagHelp(f)})
	}
	rows = append(rows, [][2]string{
		{"--format", "text or json (text if left out)"},
		{"--working", "shows formula, inputs and source of every number"},
		{"--sweep", "FLAG=from:to:steps, a table over one flag, as " + strconv.Quote(row.Plot.Sweep)},
		{"--svg", "FILE to draw the sweep to, or what is usually drawn"},
	}...)
	if row.Card.Of != "" {
		rows = append(rows, [2]string{"--table", "a table for the door, over " + flagOf(row.Card.Down) + " and " + flagOf(row.Card.Across)})
	}
	rows = append(rows, [2]string{"--units", "to show the results in, as psi,F (as typed or usual if left out)"})
	hanging(&b, rows)
	return printText(w, b.String())
}

// flagOf is the flag that goes in steps.
func flagOf(steps string) string {
	name, _, _ := strings.Cut(steps, "=")
	return "--" + name
}

func flagHelp(f calc.Flag) string {
	help := f.Help() + ", as " + f.Example()
	if f.Kind.Choices != nil {
		help = f.Help() + ": " + strings.Join(wording.English(f.Kind.Choices), ", ")
	}
	switch {
	case f.Default != "":
		help += " (" + f.Default + " if left out)"
	case f.Required:
		help += " (needed)"
	}
	return help
}

// hanging writes names and texts side by side, a long text under itself.
func hanging(b *strings.Builder, rows [][2]string) {
	width := nameWidth(rows)
	for _, r := range rows {
		text := wrap(r[1], strings.Repeat(" ", width+4))
		fmt.Fprintf(b, "  %-*s%s", width, r[0], text[width+2:])
	}
}

// example is the worked case of a calculation and the command that asks for it.
func example(row *calc.Calculation) (values map[string]string, command string) {
	values, command = map[string]string{}, "spile calc "+row.Name
	for i := 0; i+1 < len(row.Example); i += 2 {
		values[row.Example[i]] = row.Example[i+1]
		command += " --" + row.Example[i] + " " + quoted(row.Example[i+1])
	}
	return values, command
}

// explain says what a calculation answers and works its example.
func explain(w io.Writer, row *calc.Calculation, opts calcOptions) error {
	values, command := example(row)
	a, err := row.Evaluate(values)
	if err != nil {
		return err
	}
	if err := draw(row, values, opts); err != nil {
		return err
	}
	if opts.format == "json" {
		return printAnswer(w, a, opts)
	}
	text := wrap(string(row.About), "") + "\nFor example\n" + wrapCommand(command) + "\n" + answerText(a, opts)
	if !opts.working {
		for i, r := range a.Sheet.Valid {
			if i == 0 {
				text += "\nHolds for\n"
			}
			text += wrap(string(r), "  ")
		}
	}
	return printText(w, text+"\nspile calc "+row.Name+" --help lists all flags.\n")
}

// quoted puts a value with spaces into quotes, as a shell wants.
func quoted(value string) string {
	if strings.Contains(value, " ") {
		return strconv.Quote(value)
	}
	return value
}

// wrapCommand breaks a command between its flags, with the backslash a shell wants.
func wrapCommand(command string) string {
	var b strings.Builder
	line := "  "
	for i, part := range strings.Split(command, " --") {
		if i > 0 {
			part = " --" + part
		}
		if utf8.RuneCountInString(line+part) > lineWidth-2 {
			b.WriteString(line + " \\\n")
			line = "   "
		}
		line += part
	}
	return b.String() + line + "\n"
}
