package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"unicode/utf8"

	"spile/calc"
	"spile/internal/batchfile"
	"spile/internal/report"
	"spile/unit"
)

// sweep answers over one flag, as a table, and draws it if asked to.
func sweep(ctx *Context, row *calc.Calculation, values map[string]string, opts calcOptions) error {
	v, err := row.Sweep(values, opts.sweep)
	if err != nil {
		return badInput(err)
	}
	if opts.svg != "" {
		if err := writeFile(opts.svg, report.Curve(v, row.Plot.Of, opts.units)); err != nil {
			return err
		}
	}
	if opts.format == "json" {
		err = printJSON(ctx.Stdout, sweepJSON(v))
	} else {
		err = printText(ctx.Stdout, sweepText(v, opts.units))
	}
	return limitOr(err, slices.Contains(v.Passed, true))
}

// limitOr is err, or the end with exit code 3 if a limit is passed.
func limitOr(err error, passed bool) error {
	if err == nil && passed {
		return limitPassed()
	}
	return err
}

// draw writes the plot of the row round the values given, if a file was named.
func draw(row *calc.Calculation, values map[string]string, opts calcOptions) error {
	if opts.svg == "" {
		return nil
	}
	v, err := row.Draw(values)
	if err != nil {
		return badInput(err)
	}
	return writeFile(opts.svg, report.Curve(v, row.Plot.Of, opts.units))
}

// writeFile writes whole or not at all, and into nothing but a file.
func writeFile(path, text string) error {
	if info, err := os.Stat(path); err == nil && !info.Mode().IsRegular() {
		return badInput(fmt.Errorf("--svg: %s is no file; accepted is the name of a new file or of one to replace", path))
	}
	if err := batchfile.WriteAtomic(path, []byte(text)); err != nil {
		return badInput(fmt.Errorf("--svg: %s cannot be written; accepted is a file in a folder that may be written to", path))
	}
	return nil
}

// column is one column of a table: its heading in words, and its cells.
type column struct {
	heading string
	cells   []string
}

func (c *column) width() int {
	w := 0
	for _, cell := range append(strings.Fields(c.heading), c.cells...) {
		w = max(w, utf8.RuneCountInString(cell))
	}
	if n := utf8.RuneCountInString(c.heading); n > 2*w {
		w = max(w, min(14, (n+2)/3))
	}
	return w
}

// headingLines breaks the heading into lines of the width of the column.
func (c *column) headingLines() []string {
	var lines []string
	for _, word := range strings.Fields(c.heading) {
		last := len(lines) - 1
		if last >= 0 && utf8.RuneCountInString(lines[last]+" "+word) <= c.width() {
			lines[last] += " " + word
		} else {
			lines = append(lines, word)
		}
	}
	return lines
}

// numbers is a column of numbers in the unit of its key, "-" where there is none.
func numbers(heading string, m *calc.Measure, values []float64, decimals int) column {
	c := column{heading: m.Heading(heading)}
	for _, v := range values {
		cell := "-"
		if !math.IsNaN(v) {
			cell = unit.Plain(m.Shown(v), decimals)
		}
		c.cells = append(c.cells, cell)
	}
	return c
}

// decimalsFor shows what moves along a column: one digit finer than a single value is
// said, but four digits at most.
func decimalsFor(m *calc.Measure, values []float64) int {
	most := 0.0
	for _, v := range values {
		if !math.IsNaN(v) {
			most = max(most, math.Abs(m.Shown(v)))
		}
	}
	digits := 4
	if most > 0 && m.Suffix != "sg" {
		digits = max(0, 3-int(math.Floor(math.Log10(most))))
	}
	return min(digits, finer(m))
}

// finer is the decimals of a fifth of the finest step that is said of a single value.
func finer(m *calc.Measure) int {
	if m.Finest == 0 {
		return 3
	}
	return unit.Decimals(m.Finest / 5)
}

// side writes columns side by side, right aligned, the headings at their feet.
func side(b *strings.Builder, cols []column) {
	tall := 0
	for i := range cols {
		tall = max(tall, len(cols[i].headingLines()))
	}
	line := func(cell func(c *column) string) {
		text := ""
		for i := range cols {
			text += "  " + fmt.Sprintf("%*s", cols[i].width(), cell(&cols[i]))
		}
		b.WriteString(strings.TrimRight(text, " ") + "\n")
	}
	for n := range tall {
		line(func(c *column) string {
			lines := c.headingLines()
			if at := n - (tall - len(lines)); at >= 0 {
				return lines[at]
			}
			return ""
		})
	}
	if len(cols) > 0 {
		for i := range cols[0].cells {
			line(func(c *column) string { return c.cells[i] })
		}
	}
}

// sweepText is the question, what holds besides, and a row for each point.
func sweepText(v *calc.Curve, chosen calc.Units) string {
	units := v.Units(chosen)
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n\n", v.Calculation.Question)
	x := v.Flag.JSONKey()
	at := make([]float64, len(v.X))
	for i := range v.X {
		at[i] = v.Flag.Kind.InKey(v.X[i])
	}
	step := math.Abs(units.Of(x).Shown(at[1]) - units.Of(x).Shown(at[0]))
	cols := []column{numbers(string(v.Flag.Label), units.Of(x), at, min(unit.Decimals(step), finer(units.Of(x))))}
	notes := noteColumn(v)
	wide := cols[0].width() + notes.width() + 4
	var out []string
	for k, r := range v.Keys {
		c := numbers(string(r.Name), units.Of(r.Key), v.Y[k], decimalsFor(units.Of(r.Key), v.Y[k]))
		switch {
		case r.Words == "":
		case wide+c.width()+2 > lineWidth:
			out = append(out, string(r.Name))
		default:
			wide += c.width() + 2
			cols = append(cols, c)
		}
	}
	if notes.cells != nil {
		cols = append(cols, notes)
	}
	side(&b, cols)
	if len(v.Inputs) > 0 {
		b.WriteString("\nFrom\n")
		columns(&b, inputRows(v.Inputs, chosen))
	}
	b.WriteString(remarks(v, out))
	return b.String()
}

// noteColumn says in words where a limit is passed or a range left.
func noteColumn(v *calc.Curve) column {
	c := column{}
	if !slices.Contains(v.Passed, true) && !slices.Contains(v.Outside, true) {
		return c
	}
	for i := range v.X {
		word := ""
		switch {
		case v.Passed[i]:
			word = "over the limit"
		case v.Outside[i]:
			word = "out of range"
		}
		c.cells = append(c.cells, word)
	}
	return c
}

// remarks explain the marks of a sweep, each in a line.
func remarks(v *calc.Curve, leftOut []string) string {
	text := ""
	if v.Why != nil {
		text += wrap("- has no answer: "+v.Why.Error()+".", "  ")
	}
	if slices.Contains(v.Passed, true) {
		text += wrap("Over the limit: do not do it. Asked alone, such a point says why.", "  ")
	}
	if slices.Contains(v.Outside, true) {
		text += wrap("Out of range: a relation is used where it was not tested. Asked alone, such a point says which.", "  ")
	}
	if len(leftOut) > 0 {
		text += wrap("Too wide for here, in --format json: "+strings.Join(leftOut, ", ")+".", "  ")
	}
	if text != "" {
		text = "\n" + text
	}
	return text
}

// sweepAnswer is the JSON of a sweep: columns in the units of their keys.
type sweepAnswer struct {
	Calculation string     `json:"calculation"`
	Question    string     `json:"question"`
	Inputs      ordered    `json:"inputs"`
	Over        overJSON   `json:"over"`
	Series      ordered    `json:"series"`
	Band        *bandsJSON `json:"band,omitempty"`
	Passed      []bool     `json:"passed"`
	Valid       []bool     `json:"valid"`
	NoAnswer    string     `json:"no_answer,omitempty"`
	LimitPassed bool       `json:"limit_passed"`
}

type overJSON struct {
	Key    string        `json:"key"`
	Values []json.Number `json:"values"`
}

type bandsJSON struct {
	Of   string            `json:"of"`
	Low  []json.RawMessage `json:"low"`
	High []json.RawMessage `json:"high"`
}

// allDigits writes numbers, null where there is none.
func allDigits(values []float64) []json.RawMessage {
	out := make([]json.RawMessage, len(values))
	for i, v := range values {
		out[i] = json.RawMessage(tenDigits(v))
	}
	return out
}

// keysOf gives values of a flag in the unit of its key.
func keysOf(f calc.Flag, si []float64) overJSON {
	out := overJSON{Key: f.JSONKey()}
	for _, v := range si {
		out.Values = append(out.Values, tenDigits(f.Kind.InKey(v)))
	}
	return out
}

func sweepJSON(v *calc.Curve) sweepAnswer {
	out := sweepAnswer{
		Calculation: v.Calculation.Name, Question: string(v.Calculation.Question), Inputs: inputsJSON(v.Inputs),
		Over: keysOf(v.Flag, v.X), Passed: v.Passed, LimitPassed: slices.Contains(v.Passed, true),
	}
	for k, r := range v.Keys {
		if r.Key != out.Over.Key {
			out.Series = append(out.Series, pair{r.Key, allDigits(v.Y[k])})
		}
	}
	for _, outside := range v.Outside {
		out.Valid = append(out.Valid, !outside)
	}
	if v.Band != "" {
		out.Band = &bandsJSON{v.Band, allDigits(v.Low), allDigits(v.High)}
	}
	if v.Why != nil {
		out.NoAnswer = v.Why.Error()
	}
	return out
}

// printGrid prints the table for the door.
func printGrid(ctx *Context, row *calc.Calculation, values map[string]string, opts calcOptions) error {
	if opts.sweep != "" || opts.svg != "" {
		return badInput(errors.New("--table stands alone; leave out --sweep and --svg"))
	}
	g, err := row.Grid(values, opts.units)
	if errors.Is(err, calc.ErrNoCard) {
		return badInput(fmt.Errorf("%s has no table for the door; these have one: %s", row.Name, calc.Cards()))
	}
	if err != nil {
		return badInput(err)
	}
	if opts.format == "json" {
		err = printJSON(ctx.Stdout, gridJSON(g))
	} else {
		err = printText(ctx.Stdout, gridText(g))
	}
	return limitOr(err, passedAnywhere(g))
}

// gridText is the card: what it shows in which unit, the rows, what holds besides, cautions.
func gridText(g *calc.Grid) string {
	of := g.Units.Of(g.Of.Key)
	down, across := g.Units.Of(g.Down.JSONKey()), g.Units.Of(g.Across.JSONKey())
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n\n", g.Calculation.Question)
	b.WriteString(wrap(of.Heading(string(g.Of.Name))+", down by "+down.Heading(string(g.Down.Label))+", across by "+across.Heading(string(g.Across.Label))+".", "") + "\n")
	cols := []column{{heading: down.Unit}}
	for _, y := range g.DownAt {
		cols[0].cells = append(cols[0].cells, calc.Digits(down.Shown(g.Down.Kind.InKey(y)), 4))
	}
	for j, x := range g.AcrossAt {
		c := column{heading: calc.Digits(across.Shown(g.Across.Kind.InKey(x)), 4)}
		for i := range g.DownAt {
			c.cells = append(c.cells, cardCell(of, g.Values[i][j], g.Passed[i][j]))
		}
		cols = append(cols, c)
	}
	side(&b, cols)
	b.WriteString("\nFrom\n")
	columns(&b, inputRows(g.Inputs, g.Units))
	b.WriteString(cardRemarks(g))
	return b.String()
}

// passedAnywhere tells whether a limit is exceeded at a place on the table.
func passedAnywhere(g *calc.Grid) bool {
	return slices.ContainsFunc(g.Passed, func(row []bool) bool { return slices.Contains(row, true) })
}

// cardCell is a number as it may be set, or a word where it may not.
func cardCell(of *calc.Measure, v float64, passed bool) string {
	switch {
	case passed:
		return "no"
	case math.IsNaN(v):
		return "-"
	}
	return strings.TrimSuffix(of.Words(v, v, v), " "+of.Unit)
}

func cardRemarks(g *calc.Grid) string {
	var b strings.Builder
	if g.Why != nil {
		b.WriteString(wrap("- has no answer: "+g.Why.Error()+".", "  "))
	}
	if passedAnywhere(g) {
		b.WriteString(wrap("no: a limit would be exceeded there. Do not do it.", "  "))
	}
	text := ""
	if b.Len() > 0 {
		text = "\n" + b.String()
	}
	if len(g.Cautions) > 0 {
		text += "\nCaution\n"
	}
	for _, c := range g.Cautions {
		text += wrap(c, "  ")
	}
	return text
}

// gridAnswer is the JSON of a table for the door.
type gridAnswer struct {
	Calculation string              `json:"calculation"`
	Question    string              `json:"question"`
	Inputs      ordered             `json:"inputs"`
	Down        overJSON            `json:"down"`
	Across      overJSON            `json:"across"`
	Of          string              `json:"of"`
	Values      [][]json.RawMessage `json:"values"`
	Passed      [][]bool            `json:"passed"`
	NoAnswer    string              `json:"no_answer,omitempty"`
	Cautions    []string            `json:"cautions"`
	LimitPassed bool                `json:"limit_passed"`
}

func gridJSON(g *calc.Grid) gridAnswer {
	out := gridAnswer{
		Calculation: g.Calculation.Name, Question: string(g.Calculation.Question), Inputs: inputsJSON(g.Inputs),
		Down: keysOf(g.Down, g.DownAt), Across: keysOf(g.Across, g.AcrossAt), Of: g.Of.Key, Passed: g.Passed,
		Cautions: notNil(g.Cautions), LimitPassed: passedAnywhere(g),
	}
	for _, row := range g.Values {
		out.Values = append(out.Values, allDigits(row))
	}
	if g.Why != nil {
		out.NoAnswer = g.Why.Error()
	}
	return out
}
