package web

import (
	"fmt"
	"strconv"
	"strings"

	"spile/batch"
	"spile/internal/ingest"
	"spile/internal/monitor"
	"spile/unit"
)

// fileForm is the page, in whichever step it is.
type fileForm struct {
	sheet
	Once    batch.ID // the id of what is kept in the end
	Of      batch.ID // the batch
	Style   unit.Style
	Name    string // of the file; empty: none was taken yet
	Packed  string
	Read    *ingest.Understood // nil: nothing was
	Columns []fileAsk
	About   []fileAsk // all times and numbers
	Cutting []fileAsk // how the file is cut, which is rarely guessed wrongly
	Fresh   ingest.Found
	Known   string // how many lines are there already; empty: none
	Without bool   // the rows that cannot be read stay out

	batches  []monitor.Brief
	toldZone bool
	state    *batch.State
}

// fileAsk is a question about a file.
type fileAsk struct {
	*asking
	Was     string   // what was guessed, empty where it was chosen
	Ask     string   // what must be told first
	Samples []string // of the cells
}

// Empty tells that there is no batch that readings could be of.
func (f *fileForm) Empty() bool { return len(f.batches) == 0 }

// BatchName is that of the batch.
func (f *fileForm) BatchName() string { return f.state.Record.Name }

// Bads are the rows that cannot be read which are shown, and how many are not.
func (f *fileForm) Bads() []ingest.Bad { return f.Read.Bad[:min(shownBad, len(f.Read.Bad))] }

// MoreBad is how many are not shown.
func (f *fileForm) MoreBad() int { return max(0, len(f.Read.Bad)-shownBad) }

// Counts says how many of what is fresh.
func (f *fileForm) Counts() string { return foundWords(&f.Fresh) }

// foundWords counts what was found, in words.
func foundWords(f *ingest.Found) string {
	var out []string
	for _, x := range []struct {
		n         int
		one, many string
	}{{len(f.Readings), "reading", "readings"}, {len(f.Events), "thing done", "things done"}, {len(f.Notes), "note", "notes"}} {
		if x.n > 0 {
			out = append(out, countWords(x.n, x.one, x.many))
		}
	}
	if len(out) == 0 {
		return "nothing"
	}
	return strings.Join(out, ", ")
}

func countWords(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// fileRow is what was found of one quantity.
type fileRow struct{ Name, Count, Low, High string }

// Quantities say how many of each, and from what to what.
func (f *fileForm) Quantities() (out []fileRow) {
	type key struct {
		q  batch.Quantity
		of string
	}
	edges := map[key][]float64{}
	for _, r := range f.Read.Found.Readings {
		k := key{r.Quantity, r.Instrument}
		if e := edges[k]; e == nil {
			edges[k] = []float64{r.Value, r.Value, 1}
		} else {
			e[0], e[1], e[2] = min(e[0], r.Value), max(e[1], r.Value), e[2]+1
		}
	}
	for q := batch.Gravity; q <= batch.VentedGas; q++ {
		for _, of := range []string{"", "probe"} {
			if e := edges[key{q, of}]; e != nil {
				out = append(out, fileRow{strings.TrimSpace(quantityNames[q] + " " + places[of]), countWords(int(e[2]), "reading", "readings"), bareSaid(q, e[0], f.Style), bareSaid(q, e[1], f.Style)})
			}
		}
	}
	return out
}

var quantityNames = map[batch.Quantity]string{batch.Gravity: "Gravity", batch.Pressure: "Pressure", batch.Temperature: "Temperature",
	batch.VesselMass: "Weight of the vessel", batch.CylinderMass: "Weight of the cylinder", batch.VentedGas: "Gas let out so far"}

// bareSaid writes a value as it was read, without the name of what was read.
func bareSaid(q batch.Quantity, si float64, style unit.Style) string {
	text := said(q, si, style)
	for _, word := range []string{"gravity ", "vessel ", "cylinder "} {
		text = strings.TrimPrefix(text, word)
	}
	return strings.TrimSuffix(text, " of gas let out in all")
}

const clockWords = "Monday 2 January 2006 at 15:04"

// First is when the first thing was.
func (f *fileForm) First() string {
	first, _ := f.Read.Found.Span()
	return first.In(f.Read.Zone).Format(clockWords)
}

// Last is when the last thing was.
func (f *fileForm) Last() string {
	_, last := f.Read.Found.Span()
	return last.In(f.Read.Zone).Format(clockWords)
}

// Shown is all that the page shows chosen: what is sent otherwise was changed after it.
func (f *fileForm) Shown() string {
	var out []string
	for _, a := range f.Fields[2:] {
		out = append(out, a.Name+"="+a.Typed)
	}
	return strings.Join(append(out, fmt.Sprint(len(f.Read.Bad), f.Fresh.Count())), "&")
}

// ask makes the questions about the file, with what was guessed filled in.
func (f *fileForm) ask(c ingest.Choices, zone *asking) {
	first := map[string]string{}
	for _, a := range f.Read.Asks {
		first[a.Of] = a.Says
	}
	add := func(to *[]fileAsk, a *asking, chosen bool, why string) {
		q := fileAsk{asking: a, Ask: first[a.Name]}
		if !chosen && q.Ask == "" && a.Error == "" {
			q.Was, a.Hint = a.Typed, strings.TrimSpace(a.Hint+" Guessed"+why+".")
		}
		*to, f.Fields = append(*to, q), append(f.Fields, a)
	}
	var meanings []option
	for _, m := range ingest.Meanings {
		meanings = append(meanings, option{m.Code, m.Label})
	}
	for i, column := range f.Read.Named {
		n := strconv.Itoa(i + 1)
		first["column-"+n] = first[n]
		a := &asking{Name: "column-" + n, Label: "Column " + n + ": " + column.Name, Options: meanings, Typed: column.Meaning}
		add(&f.Columns, a, column.Why == "", ": "+column.Why)
		f.Columns[i].Samples = column.Samples
	}
	f.askAbout(c, zone, first, add)
	add(&f.Cutting, &asking{Name: "separator", Label: "Between two cells there stands", Options: []option{{"comma", "a comma"}, {"semicolon", "a semicolon"}, {"tab", "a tab"}}, Typed: f.Read.Separator}, c.Separator != "", "")
	add(&f.Cutting, &asking{Name: "header", Label: "The first line", Options: []option{{"yes", "names the columns"}, {"no", "holds readings"}}, Typed: f.Read.Header}, c.Header != "", "")
}

// askAbout asks how times and numbers are written, where the file leaves a choice.
func (f *fileForm) askAbout(c ingest.Choices, zone *asking, first map[string]string, add func(to *[]fileAsk, a *asking, chosen bool, why string)) {
	if f.Read.Local {
		why := ": it is that of the batch"
		if f.Style.Zone != nil {
			why = ": it is the one in your settings"
		}
		add(&f.About, zone, f.toldZone, why)
	}
	if f.Read.Dates {
		why := ": one of them is past the twelfth"
		if f.Read.Dotted {
			why = ": dates with points are written so"
		}
		add(&f.About, &asking{Name: "order", Label: "In a date there comes first", Options: []option{{"day", "the day"}, {"month", "the month"}}, Typed: f.Read.Order}, c.Order != "", why)
	}
	if f.Read.Decimal == "comma" || c.Decimal != "" || first["decimal"] != "" {
		add(&f.About, &asking{Name: "decimal", Label: "A comma within a number is", Options: []option{{"comma", "a decimal one"}, {"point", "a mark of thousands"}}, Typed: f.Read.Decimal}, c.Decimal != "", "")
	}
}
