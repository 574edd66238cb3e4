package web

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"spile/batch"
	"spile/internal/ingest"
	"spile/internal/monitor"
	"spile/unit"
	"spile/wording"
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

// Bads are the rows that cannot be read which are shown.
func (f *fileForm) Bads() []ingest.Bad { return f.Read.Bad[:min(shownBad, len(f.Read.Bad))] }

// MoreBad is how many are not shown.
func (f *fileForm) MoreBad() int { return max(0, len(f.Read.Bad)-shownBad) }

// Rows says how many rows hold something.
func (f *fileForm) Rows() string {
	return f.Style.Tongue.Many(f.Read.Rows, "%d row with something in it", "%d rows with something in them", f.Read.Rows)
}

// Counts says how many of what is fresh.
func (f *fileForm) Counts() string { return foundWords(&f.Fresh, f.Style.Tongue) }

// foundWords counts what was found, in words.
func foundWords(f *ingest.Found, t *wording.Tongue) string {
	var out []string
	if n := len(f.Readings); n > 0 {
		out = append(out, t.Many(n, "%d reading", "%d readings", n))
	}
	if n := len(f.Events); n > 0 {
		out = append(out, t.Many(n, "%d thing done", "%d things done", n))
	}
	if n := len(f.Notes); n > 0 {
		out = append(out, t.Many(n, "%d note", "%d notes", n))
	}
	return strings.Join(out, ", ")
}

// linesWords counts lines of the log.
func linesWords(n int, t *wording.Tongue) string { return t.Many(n, "%d line", "%d lines", n) }

// fileRow is what was found of one quantity.
type fileRow struct{ Name, Count, Low, High string }

// Quantities say how many of each, by which instrument, and from what to what.
func (f *fileForm) Quantities() (out []fileRow) {
	values := map[readBy][]float64{}
	for _, r := range f.Read.Found.Readings {
		k := readBy{r.Quantity, r.Instrument}
		values[k] = append(values[k], r.Value)
	}
	for _, k := range slices.SortedFunc(maps.Keys(values), readBy.compare) {
		v := values[k]
		out = append(out, fileRow{k.name(f.Style), f.Style.Tongue.Many(len(v), "%d reading", "%d readings", len(v)), bareSaid(k.of, slices.Min(v), f.Style), bareSaid(k.of, slices.Max(v), f.Style)})
	}
	return out
}

// readBy is a quantity with the instrument that reads it.
type readBy struct {
	of         batch.Quantity
	instrument string
}

func (k readBy) compare(other readBy) int {
	return cmp.Or(cmp.Compare(k.of, other.of), cmp.Compare(k.instrument, other.instrument))
}

// name is what was read, and by which instrument where the file names one.
func (k readBy) name(style unit.Style) string {
	if name, own := quantityNames[k]; own {
		return style.Word(name)
	}
	return style.Word(quantityNames[readBy{of: k.of}]) + ": " + k.instrument
}

var quantityNames = map[readBy]wording.Text{{of: batch.Gravity}: "Gravity", {of: batch.Pressure}: "Pressure", {of: batch.Temperature}: "Temperature on the vessel",
	{batch.Temperature, "probe"}: "Temperature in the beer", {of: batch.VesselMass}: "Weight of the vessel", {of: batch.CylinderMass}: "Weight of the cylinder", {of: batch.VentedGas}: "Gas let out so far",
	{of: batch.AirTemperature}: "Temperature of the air"}

const clockWords wording.Text = "Monday 2 January 2006 at 15:04"

// First is when the first thing was.
func (f *fileForm) First() string {
	first, _ := f.Read.Found.Span()
	return f.Style.Time(first.In(f.Read.Zone), clockWords)
}

// Last is when the last thing was.
func (f *fileForm) Last() string {
	_, last := f.Read.Found.Span()
	return f.Style.Time(last.In(f.Read.Zone), clockWords)
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
	of, say := f.Style.Tongue, f.Style.Say
	first := map[string]string{}
	for _, a := range f.Read.Asks {
		first[a.Of] = say(a.Says.English, a.Says.Slots...)
	}
	add := func(to *[]fileAsk, a *asking, chosen bool, why wording.Sentence) {
		q := fileAsk{asking: a, Ask: first[a.Name]}
		switch guess := say(why.English, why.Slots...); {
		case chosen || q.Ask+a.Error != "":
		case guess == "":
			q.Was, a.Hint = a.Typed, strings.TrimSpace(say("Guessed.")+" "+a.Hint)
		default:
			q.Was, a.Hint = a.Typed, strings.TrimSpace(say("Guessed: %s.", guess)+" "+a.Hint)
		}
		*to, f.Fields = append(*to, q), append(f.Fields, a)
	}
	var meanings []option
	for _, m := range ingest.Meanings {
		meanings = append(meanings, option{m.Code, of.Word(m.Label)})
	}
	for i, column := range f.Read.Named {
		n := strconv.Itoa(i + 1)
		first["column-"+n] = first[n]
		a := &asking{Name: "column-" + n, Label: say("Column %s: %s", n, column.Name), Options: meanings, Typed: column.Meaning}
		add(&f.Columns, a, !column.Guessed(), column.Why)
		f.Columns[i].Samples = column.Samples
	}
	f.askAbout(c, zone, first, add)
	add(&f.Cutting, &asking{Name: "separator", Label: say("Between two cells there stands"), Options: []option{{"comma", say("a comma")}, {"semicolon", say("a semicolon")}, {"tab", say("a tab")}}, Typed: f.Read.Separator}, c.Separator != "", wording.Sentence{})
	add(&f.Cutting, &asking{Name: "header", Label: say("The first line"), Options: []option{{"yes", say("names the columns")}, {"no", say("holds readings")}}, Typed: f.Read.Header}, c.Header != "", wording.Sentence{})
}

// askAbout asks how times and numbers are written, where the file leaves a choice.
func (f *fileForm) askAbout(c ingest.Choices, zone *asking, first map[string]string, add func(to *[]fileAsk, a *asking, chosen bool, why wording.Sentence)) {
	say := f.Style.Say
	if f.Read.Local {
		why := wording.Unsaid("it is that of the batch")
		if f.Style.Zone != nil {
			why = wording.Unsaid("it is the one in your settings")
		}
		add(&f.About, zone, f.toldZone, why)
	}
	if f.Read.Dates {
		why := wording.Unsaid("one of them is past the twelfth")
		if f.Read.Dotted {
			why = wording.Unsaid("dates with points are written so")
		}
		add(&f.About, &asking{Name: "order", Label: say("In a date there comes first"), Options: []option{{"day", say("the day")}, {"month", say("the month")}}, Typed: f.Read.Order}, c.Order != "", why)
	}
	if f.Read.Decimal == "comma" || c.Decimal != "" || first["decimal"] != "" {
		add(&f.About, &asking{Name: "decimal", Label: say("A comma within a number is"), Options: []option{{"comma", say("a decimal one")}, {"point", say("a mark of thousands")}}, Typed: f.Read.Decimal}, c.Decimal != "", wording.Sentence{})
	}
}
