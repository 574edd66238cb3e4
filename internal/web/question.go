package web

import (
	"errors"
	"maps"
	"math"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"spile/calc"
	"spile/internal/report"
	"spile/limit"
	"spile/unit"
	"spile/wording"
	"spile/working"
)

// stage is a stretch of the path with its questions.
type stage struct {
	Name      wording.Text
	Questions []*calc.Calculation
}

func (s *Site) path(w http.ResponseWriter, r *http.Request) {
	var stages []stage
	for _, name := range calc.Stages() {
		st := stage{Name: name}
		for _, c := range calc.Table() {
			if c.Stage == name {
				st.Questions = append(st.Questions, c)
			}
		}
		stages = append(stages, st)
	}
	s.show(w, r, http.StatusOK, "path", page{Title: "Work it out", Here: "/work-it-out", Content: stages})
}

// questionView is the page of one question.
type questionView struct {
	Row           *calc.Calculation
	About         string
	Form          *form
	Answer        *answerView
	Cautions      []string // that hold whatever is typed
	Example       string
	Settings      string
	Chosen        bool // units are
	Before, After *calc.Calculation
}

func (s *Site) question(w http.ResponseWriter, r *http.Request) {
	row, ok := calc.Find(r.PathValue("name"))
	if !ok {
		s.missing(w, r)
		return
	}
	f := readForm(row, r.URL.Query(), readTastes(r))
	v := questionView{Row: row, About: plain(f.row, f.tastes.Style.Word(row.About)), Form: f, Example: address(row, example(row), ""),
		Settings: "/settings?back=" + url.QueryEscape(r.URL.RequestURI()), Chosen: len(f.tastes.Units) > 0}
	v.Before, v.After = neighbours(row)
	p, status := page{Title: row.Question, Here: "/work-it-out"}, http.StatusOK
	if f.asked {
		a := f.evaluate()
		if a != nil && !f.complete(r.URL.Query()) {
			http.Redirect(w, r, address(row, f.values(), ""), http.StatusSeeOther) // an address to keep: each number with its unit
			return
		}
		if a == nil {
			status, p.Bad = http.StatusUnprocessableEntity, true
		} else {
			v.Answer = showAnswer(a, f)
		}
	}
	if v.Answer == nil {
		v.Cautions = standing(f.row)
	}
	p.Cautious = len(v.Cautions) > 0 || v.Answer != nil && len(v.Answer.Cautions) > 0
	p.Content = v
	s.show(w, r, status, "question", p)
}

// neighbours are the questions before and after on the path.
func neighbours(row *calc.Calculation) (before, after *calc.Calculation) {
	all := calc.Table()
	i := slices.Index(all, row)
	if i > 0 {
		before = all[i-1]
	}
	if i+1 < len(all) {
		after = all[i+1]
	}
	return before, after
}

// standing are the words of the catalogue that the example of a row carries: they stand
// before the button, whatever is typed.
func standing(row *calc.Calculation) (out []string) {
	a, err := row.Evaluate(example(row))
	if err != nil {
		return nil
	}
	for _, key := range limit.Keys() {
		if text := row.Style().Word(limit.Caution(key)); strings.HasPrefix(string(key), "c.") && slices.Contains(a.Cautions, text) {
			out = append(out, text)
		}
	}
	return out
}

// answerView is an answer on a page.
type answerView struct {
	First    result // what was asked
	More     []result
	Notes    []string
	Cautions []string
	Passed   bool
	From     []given
	Steps    []step
	Ranges   []string
	Sources  []string
	Plot     string // address of the drawing
	Says     string // the drawing in a sentence
	Over     string
	Of       wording.Text
	Rows     [][3]string
	NoPlot   string
	Table    string // address of the table for the door
}

// result is one number that came out, with its band where one is known.
type result struct {
	Name        wording.Text
	Words, Band string
}

// askedFor is what is asked where it is not the first result: by calculation and the flag
// that was given, the key of the result.
var askedFor = map[string]map[string]string{
	"dilution": {"target-gravity": "water_l", "target-volume": "water_l"},
	"pitch":    {"mass": "mass_g"},
	"purge":    {"cycles": "oxygen_ppm"},
}

// results are those for people, what was asked first.
func results(a *calc.Answer, units calc.Units, values map[string]string) []result {
	name := func(key string) wording.Text {
		for _, r := range a.Results {
			if r.Key == key {
				return r.Name
			}
		}
		return ""
	}
	var out []result
	for _, row := range report.ResultRows(a, units) {
		r := result{Name: row.Name, Words: row.Words}
		if a.Band != nil && name(a.Band.Key) == r.Name {
			r.Band = report.BandSentence(a, units)
		}
		out = append(out, r)
	}
	for flag, key := range askedFor[a.Calculation.Name] {
		i := slices.IndexFunc(out, func(r result) bool { return r.Name == name(key) })
		if values[flag] != "" && i > 0 {
			first := out[i]
			out = slices.Insert(slices.Delete(out, i, i+1), 0, first)
		}
	}
	return out
}

// Remarks tells whether any row of the plot has one.
func (v *answerView) Remarks() bool {
	return slices.ContainsFunc(v.Rows, func(r [3]string) bool { return r[2] != "" })
}

// given is an input as it was understood.
type given struct {
	Name, Words string
	Assumed     bool
}

// understood are the inputs as a page shows them.
func understood(row *calc.Calculation, inputs []calc.Given, units calc.Units) (out []given) {
	for _, in := range inputs {
		name, _ := label(row, in.Flag)
		out = append(out, given{name, units.In(row.Style(), in), in.Default})
	}
	return out
}

// step is a line of the working.
type step struct {
	working.Step
	Number string
}

func showAnswer(a *calc.Answer, f *form) *answerView {
	units, row := f.tastes.Units, a.Calculation
	style := row.Style()
	v := &answerView{Passed: a.Passed, From: understood(row, a.Inputs, units), Sources: a.Sheet.Sources()}
	values := f.values()
	all := results(a, units, values)
	v.First, v.More = all[0], all[1:]
	for _, n := range a.Notes {
		v.Notes = append(v.Notes, plain(row, n))
	}
	for _, c := range a.Cautions {
		v.Cautions = append(v.Cautions, plain(row, c))
	}
	for _, r := range a.Sheet.Valid {
		v.Ranges = append(v.Ranges, style.Word(r))
	}
	for _, st := range a.Sheet.Steps {
		v.Steps = append(v.Steps, step{st, strings.TrimSpace(style.With(strconv.FormatFloat(st.Value, 'g', 6, 64), st.Unit.Wording()))})
	}
	v.draw(row, values, f.tastes)
	if row.Card.Of != "" {
		v.Table = address(row, values, "/table")
	}
	v.mark(f.tastes.Style)
	return v
}

// mark gives every number the decimal mark of whoever reads.
func (v *answerView) mark(style unit.Style) {
	words := []*string{&v.First.Words, &v.First.Band, &v.Says}
	for i := range v.More {
		words = append(words, &v.More[i].Words, &v.More[i].Band)
	}
	for i := range v.From {
		words = append(words, &v.From[i].Words)
	}
	for i := range v.Steps {
		words = append(words, &v.Steps[i].Number)
	}
	for i := range v.Rows {
		words = append(words, &v.Rows[i][0], &v.Rows[i][1])
	}
	for _, lines := range [][]string{v.Notes, v.Cautions, v.Ranges} {
		for i := range lines {
			words = append(words, &lines[i])
		}
	}
	for _, w := range words {
		*w = style.Decimal(*w)
	}
}

// draw says where the plot of the answer is, and what it shows.
func (v *answerView) draw(row *calc.Calculation, values map[string]string, t tastes) {
	curve, err := row.Draw(values)
	if err != nil {
		v.NoPlot = t.Style.Word("There is no plot for these numbers.") + " " + reason(row, err)
		return
	}
	v.Plot = address(row, values, "/plot.svg")
	v.Says, v.Rows = report.CurveWords(curve, row.Plot.Of, t.Units)
	v.Over, _ = label(row, curve.Flag)
	v.Of = curve.Keys[curve.Index(row.Plot.Of)].Name
}

// reason is why a calculation has no answer, without what only the command line is told.
func reason(row *calc.Calculation, err error) string {
	for e := err; e != nil; e = errors.Unwrap(e) {
		if said, ok := row.Style().Tongue.Of(e).(string); ok {
			return sentence(plain(row, said))
		}
	}
	return sentence(plain(row, err.Error()))
}

// plot is the drawing alone; its style stands in it.
func (s *Site) plot(w http.ResponseWriter, r *http.Request) {
	row, ok := calc.Find(r.PathValue("name"))
	if !ok {
		s.missing(w, r)
		return
	}
	f := readForm(row, r.URL.Query(), readTastes(r))
	curve, err := f.row.Draw(f.values())
	if err != nil {
		refuse(w, r, http.StatusUnprocessableEntity, reason(f.row, err))
		return
	}
	drawn(w)
	s.send(w, []byte(report.Curve(curve, row.Plot.Of, f.tastes.Units)))
}

// tableView is a table for the door.
type tableView struct {
	Row          *calc.Calculation
	Of           string
	Down, Across string
	Heads        []string
	Lines        []tableLine
	From         []given
	No, Gap      bool // marks that need a word
	Cautions     []string
	Paper        string
	A4, Letter   string
	Back         string
}

type tableLine struct {
	At    string
	Cells []string
}

func (s *Site) table(w http.ResponseWriter, r *http.Request) {
	row, ok := calc.Find(r.PathValue("name"))
	if !ok || row.Card.Of == "" {
		s.missing(w, r)
		return
	}
	t := readTastes(r)
	values := readForm(row, r.URL.Query(), t).values()
	back := "/work-it-out/" + row.Name
	if len(values) > 0 {
		back = address(row, values, "")
	}
	row = row.In(t.Style)
	g, err := grid(row, values, t.Units)
	if err != nil {
		s.show(w, r, http.StatusUnprocessableEntity, "error", page{Title: "The table needs more", Here: "/work-it-out",
			Content: reason(row, err) + " " + t.Style.Word("Answer the question first; the table is below its answer.")})
		return
	}
	v := showTable(g)
	v.Back, v.Paper = back, "a4"
	if r.URL.Query().Get("paper") == "letter" {
		v.Paper = "letter"
	}
	v.A4, v.Letter = address(row, values, "/table")+"&paper=a4", address(row, values, "/table")+"&paper=letter"
	s.show(w, r, http.StatusOK, "table", page{Title: row.Question, Here: "/work-it-out", Content: v})
}

// grid is the table with the values given but those it goes over; where one of them is
// another way to ask, of which the table has its own, it is left out.
func grid(row *calc.Calculation, values map[string]string, units calc.Units) (*calc.Grid, error) {
	values = maps.Clone(values)
	for _, flag := range row.Flags {
		if strings.HasPrefix(row.Card.Down, flag.Name+"=") || strings.HasPrefix(row.Card.Across, flag.Name+"=") {
			delete(values, flag.Name)
		}
	}
	g, err := row.Grid(values, units)
	for _, flag := range row.Flags {
		if _, typed := values[flag.Name]; err == nil || !typed || flag.Required || flag.Default != "" {
			continue
		}
		fewer := maps.Clone(values)
		delete(fewer, flag.Name)
		if other, e := row.Grid(fewer, units); e == nil {
			return other, nil
		}
	}
	return g, err
}

func showTable(g *calc.Grid) *tableView {
	row, style := g.Calculation, g.Calculation.Style()
	of, down, across := g.Units.Of(g.Of.Key).In(style), g.Units.Of(g.Down.JSONKey()).In(style), g.Units.Of(g.Across.JSONKey()).In(style)
	v := &tableView{Row: row, Of: of.Heading(style.Word(g.Of.Name)), From: understood(row, g.Inputs, g.Units)}
	for _, c := range g.Cautions {
		v.Cautions = append(v.Cautions, plain(row, c))
	}
	name, _ := label(row, g.Down)
	v.Down = down.Heading(name)
	name, _ = label(row, g.Across)
	v.Across = across.Heading(name)
	for _, x := range g.AcrossAt {
		v.Heads = append(v.Heads, calc.Digits(across.Shown(g.Across.Kind.InKey(x)), 4))
	}
	for i, y := range g.DownAt {
		line := tableLine{At: calc.Digits(down.Shown(g.Down.Kind.InKey(y)), 4)}
		for j := range g.AcrossAt {
			value := g.Values[i][j]
			switch {
			case g.Passed[i][j]:
				line.Cells, v.No = append(line.Cells, style.Word("no")), true
			case math.IsNaN(value):
				line.Cells, v.Gap = append(line.Cells, "-"), true
			default:
				line.Cells = append(line.Cells, strings.TrimSuffix(of.Words(value, value, value), " "+of.Said()))
			}
		}
		v.Lines = append(v.Lines, line)
	}
	return v
}
