// Package calc holds the single calculations: one question, one relation, its
// working opened. Each is a row of a table with its name, the stage of the vessel's
// life where it is asked, the question, its flags with kinds and defaults, and a
// worked example; what reads flags, prints, draws or shows a page works on the table.
//
// A pressure is compared with a rating where one is given. Without one there is no
// pressure advice but a caution: a rating is never guessed.
package calc

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"spile/limit"
	"spile/unit"
	"spile/wording"
	"spile/working"
)

// Calculation is one row of the table.
type Calculation struct {
	Name     string
	Stage    wording.Text
	Question wording.Text
	About    wording.Text // what it answers, and what it needs
	Flags    []Flag
	Example  []string // flag, value, flag, value: a worked case
	Plot     Plot     // what is drawn of it, starting from the example
	Card     Card     // the table of it that hangs on a door, if it has one
	run      func(in Inputs, out *Answer) error
	style    unit.Style
}

// In is the calculation as somebody reads it: what it says is in their language, numbers in sentences in their units.
func (c *Calculation) In(style unit.Style) *Calculation {
	read := *c
	read.style = style
	return &read
}

// Style is how whoever reads the calculation wants it.
func (c *Calculation) Style() unit.Style { return c.style }

// Plot is a result over one flag, the flag in steps as --sweep takes it.
type Plot struct {
	Sweep string // "temperature=0 C:20 C:40"
	Of    string // key of the result; empty: the first
}

// Card is a result over two flags.
type Card struct{ Down, Across, Of string }

// Flag is one input of a calculation.
type Flag struct {
	Name     string
	Kind     *Kind
	Label    wording.Text // what it holds, in words that stand alone
	Beside   string       // what stands beside its name on the command line, where that is not the label
	Hint     wording.Text // what else helps
	Sample   string       // an example as it would be typed; empty: that of the kind
	Default  string       // as it would be typed; empty: none
	Required bool
}

// Help is what stands beside the name on the command line.
func (f Flag) Help() string { return cmp.Or(f.Beside, string(f.Label)) }

// Example is how the flag may be typed.
func (f Flag) Example() string {
	if f.Sample != "" {
		return f.Sample
	}
	return f.Kind.Example
}

// Given understands the flag as it was typed.
func (f Flag) Given(text string) (Given, error) {
	v, err := f.Kind.parse(text)
	if err != nil {
		return Given{}, fmt.Errorf("--%s: %w", f.Name, err)
	}
	return Given{Flag: f, Value: v, Text: text}, nil
}

// Given is an input as it was understood.
type Given struct {
	Flag    Flag
	Value   float64 // SI
	Text    string  // of a word, as typed
	Default bool    // nobody gave it
}

// Result is one number that came out.
type Result struct {
	Key   string       // with its unit: pressure_kpa
	Name  wording.Text // in words
	Value float64      // in the unit of the key
	Words string       // rounded, with unit; empty: for machines alone
}

// nineInTen is how many standard deviations to either side nine cases of ten lie within.
const nineInTen = 1.645

// Band is the error of the result named by Key, nine times in ten.
type Band struct {
	Key       string
	Low, High float64
	Why       wording.Text
}

// Answer is what a calculation gives.
type Answer struct {
	Calculation *Calculation
	Inputs      []Given
	Results     []Result
	Band        *Band
	Sheet       *working.Sheet // nil: no working was asked for
	Notes       []string       // what the numbers say, in sentences
	Cautions    []string
	Passed      bool // a safety limit would be exceeded
	style       unit.Style
}

// The stages of the vessel's life, in order.
const (
	Filling wording.Text = "Before and on filling"
	Working wording.Text = "While it works"
	Cold    wording.Text = "Cold and gas"
	Pouring wording.Text = "Pouring and moving"
	Wrong   wording.Text = "If things go wrong"
)

// Stages lists the stages in order.
func Stages() []wording.Text { return []wording.Text{Filling, Working, Cold, Pouring, Wrong} }

// Table lists all calculations in the order in which they are asked.
func Table() []*Calculation { return table }

var table = slices.Concat(fillingRows, workingRows, coldRows, pouringRows, wrongRows)

// Find gives the calculation of that name.
func Find(name string) (*Calculation, bool) {
	i := slices.IndexFunc(table, func(c *Calculation) bool { return c.Name == name })
	if i < 0 {
		return nil, false
	}
	return table[i], true
}

// Nearest gives the candidate that is most like what was typed, or "" if none is.
func Nearest(typed string, candidates []string) string {
	best, least := "", 1+len(typed)/3
	for _, c := range candidates {
		if d := distance(typed, c); d <= least {
			best, least = c, d-1
		}
	}
	return best
}

// distance counts the letters to change, add or drop between a and b.
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			cost := diagonal
			if a[i] != b[j] {
				cost = 1 + min(diagonal, row[j], row[j+1])
			}
			diagonal, row[j+1] = row[j+1], cost
		}
	}
	return row[len(b)]
}

// Evaluate reads the values of the flags as people write them and calculates.
// Every error is one of the input, in one line.
func (c *Calculation) Evaluate(values map[string]string) (*Answer, error) {
	in, err := c.read(values)
	if err != nil {
		return nil, err
	}
	return c.answer(in, &working.Sheet{})
}

// read understands the values of the flags.
func (c *Calculation) read(values map[string]string) (Inputs, error) {
	if err := c.known(values); err != nil {
		return Inputs{}, err
	}
	in := Inputs{make(map[string]Given, len(c.Flags)), c.style}
	for _, f := range c.Flags {
		text, given := values[f.Name]
		if !given && f.Default == "" {
			if f.Required {
				return Inputs{}, missing{c, f}
			}
			continue
		}
		if !given {
			text = f.Default
		}
		g, err := f.Given(text)
		if err != nil {
			return Inputs{}, err
		}
		g.Default = !given
		in.given[f.Name] = g
	}
	return in, nil
}

// missing refuses to calculate without a flag.
type missing struct {
	c *Calculation
	f Flag
}

// Error is what the command line says.
func (m missing) Error() string {
	return fmt.Sprintf("%s needs --%s (%s), for example --%s %q", m.c.Name, m.f.Name, m.f.Help(), m.f.Name, m.f.Example())
}

// Sentence is what a page says.
func (m missing) Sentence() wording.Sentence {
	return wording.Unsaid("--%s is needed, for example %s", m.f.Name, m.f.Example())
}

// answer calculates; a nil sheet keeps no working.
func (c *Calculation) answer(in Inputs, sheet *working.Sheet) (*Answer, error) {
	out := &Answer{Calculation: c, Sheet: sheet, style: c.style}
	if sheet != nil {
		for _, f := range c.Flags {
			if given, ok := in.given[f.Name]; ok {
				out.Inputs = append(out.Inputs, given)
			}
		}
	}
	if err := c.run(in, out); err != nil {
		return nil, fmt.Errorf("%s: %w", c.Name, err)
	}
	return out, out.finish()
}

// known refuses flags that the calculation does not have.
func (c *Calculation) known(values map[string]string) error {
	names := c.FlagNames()
	for name := range values {
		if slices.Contains(names, name) {
			continue
		}
		hint := ""
		if near := Nearest(name, names); near != "" {
			hint = ", did you mean --" + near + "?"
		}
		return fmt.Errorf("%s has no --%s%s; it takes --%s", c.Name, name, hint, strings.Join(names, " --"))
	}
	return nil
}

// FlagNames lists the names of the flags in order.
func (c *Calculation) FlagNames() []string {
	names := make([]string, len(c.Flags))
	for i, f := range c.Flags {
		names[i] = f.Name
	}
	return names
}

// finish refuses what is no number and gathers the cautions of the working.
func (a *Answer) finish() error {
	if err := a.whole(); err != nil || a.Sheet == nil {
		return err
	}
	for _, caution := range a.Sheet.Cautions {
		a.warn(caution)
	}
	for _, outside := range a.Sheet.Outside {
		a.warn("Outside the range in which this holds: %s.", outside)
	}
	a.Sheet.Steps = oncePerSymbol(a.Sheet.Steps)
	return nil
}

// whole refuses results that are no numbers.
func (a *Answer) whole() error {
	for _, r := range a.Results {
		if math.IsNaN(r.Value) || math.IsInf(r.Value, 0) {
			return fmt.Errorf("%s: %w", a.Calculation.Name, wording.Unsaid("these values have no answer; check them against each other"))
		}
	}
	return nil
}

// oncePerSymbol drops inputs of a relation that an earlier step has computed already.
func oncePerSymbol(steps []working.Step) []working.Step {
	seen := map[string]bool{}
	return slices.DeleteFunc(steps, func(s working.Step) bool {
		again := s.IsInput() && seen[s.Symbol]
		seen[s.Symbol] = true
		return again
	})
}

// add records a result.
func (a *Answer) add(key string, name wording.Text, value float64, words string) {
	a.Results = append(a.Results, Result{key, name, value, words})
}

// addGauge records a pressure, as two dials would show it.
func (a *Answer) addGauge(key string, name wording.Text, p unit.Gauge) {
	a.add(key, name, p.Kilopascals(), a.style.Dials(p, 0))
}

// band takes the error of the working, moved by shift, as that of the result named key.
func (a *Answer) band(key string, shift float64) {
	if a.Sheet != nil && a.Sheet.Band != nil {
		b := a.Sheet.Band
		a.Band = &Band{key, b.Low + shift, b.High + shift, b.Why}
	}
}

// width is the width of the band in the unit of the result, or 0.
func (a *Answer) width() float64 {
	if a.Band == nil {
		return 0
	}
	return a.Band.High - a.Band.Low
}

// words writes a result in its usual unit, no finer than its band supports.
func (a *Answer) words(key string, v float64) string {
	low, high := v, v
	if a.Band != nil && a.Band.Key == key {
		low, high = a.Band.Low, a.Band.High
	}
	return Units(nil).Of(key).In(a.style).Words(v, low, high)
}

// note says what the numbers mean.
func (a *Answer) note(english wording.Text, slots ...any) {
	a.Notes = append(a.Notes, a.style.Say(english, slots...))
}

// warn says what to beware of.
func (a *Answer) warn(english wording.Text, slots ...any) {
	a.Cautions = append(a.Cautions, a.style.Say(english, slots...))
}

// caution records words of the catalogue of cautions.
func (a *Answer) caution(key limit.Key, slots ...string) {
	a.Cautions = append(a.Cautions, limit.Say(a.style, key, slots...))
}

// mayFreeze warns of cold at which beer may turn to ice.
func (a *Answer) mayFreeze(t unit.Temperature) {
	if t <= unit.Celsius(0) {
		a.warn("Below 0 °C it may freeze. See spile calc freezing.")
	}
}

// What a full vessel weighs, nearly: wort is heavier than water, and an empty vessel weighs so much (assumptions).
const (
	wortWeight = 1.05 // kg a litre
	tare       = 5    // kg
)

// lift warns of the weight of so much wort or beer.
func (a *Answer) lift(v unit.Volume) {
	a.Cautions = append(a.Cautions, LiftCaution(v, 0, a.style))
}

// LiftCaution warns of the weight of so much wort or beer in a vessel that weighs so much when empty; 0: not known.
func LiftCaution(v unit.Volume, empty unit.Mass, style unit.Style) string {
	if empty == 0 {
		empty = tare
	}
	return limit.Lift(style, v, unit.Mass(v.Litres()*wortWeight)+empty)
}

// headspace warns where less gas space is left than the liquid needs.
func (a *Answer) headspace(room unit.Ratio) {
	if room < limit.LeastHeadspace {
		a.caution("l.headspace-small", "value", fmt.Sprintf("%.0f %%", room.Percent()), "limit", fmt.Sprintf("%.0f %%", limit.LeastHeadspace.Percent()))
	}
}

// units is how the words of a caution write numbers.
func (a *Answer) units() limit.Units {
	return limit.Units{
		Style:       a.style,
		Pressure:    func(g unit.Gauge) string { return a.style.Dials(g, 0) },
		Most:        a.style.LimitDials,
		Temperature: func(t unit.Temperature) string { return a.style.Temperature(t, 0) },
	}
}

// rate compares the highest pressure of a plan with the rating, if one was given. A
// program ends with exit code 3 only where a rating was given and would be reached.
func (a *Answer) rate(in Inputs, highest unit.Gauge) { a.held(in, highest, limit.Plan) }

// stood does so with the highest pressure that was read.
func (a *Answer) stood(in Inputs, highest unit.Gauge) { a.held(in, highest, limit.Reading) }

func (a *Answer) held(in Inputs, highest unit.Gauge, from limit.Source) {
	rating := in.rating()
	if f, ok := limit.Rated(highest, rating); !ok {
		f.From = from
		a.Cautions = append(a.Cautions, f.Sentence(a.units()))
		a.Passed = a.Passed || rating != nil
	}
}
