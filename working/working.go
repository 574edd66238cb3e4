// Package working records how a number came about: symbol, formula, inputs
// with their origin, source, range and error. A relation that can be opened
// takes a *Sheet as its last argument; nil records nothing and costs nothing.
package working

import (
	"slices"

	"spile/wording"
)

// Origin says where a value came from.
type Origin string

// The origins a value can have.
const (
	Given    Origin = "given"    // by the user
	Default  Origin = "default"  // assumed, since nothing was given
	Learnt   Origin = "learnt"   // from earlier batches or readings
	Computed Origin = "computed" // by a step of this working
	Constant Origin = "constant" // published or exact
)

// Wording is the origin as it is read.
func (o Origin) Wording() wording.Text { return wording.Text(o) }

// Formula is how a value is computed, in symbols and words. Its slots are verbs of package fmt.
type Formula string

// Wording is the formula as it is read.
func (f Formula) Wording() wording.Text { return wording.Text(f) }

// Unit is what a value is in, as it is written behind it.
type Unit string

// Wording is the unit as it is read.
func (u Unit) Wording() wording.Text { return wording.Text(u) }

// Step is one line of the working.
type Step struct {
	Symbol  string           // as in the formula, "V"
	Name    wording.Sentence // in words, "carbonation"
	Formula wording.Sentence // in words or symbols; none for an input
	Value   float64          // in Unit
	Unit    Unit
	Origin  Origin
	Source  string // key in REFERENCES.md without brackets, or empty
}

// IsInput tells that the value went in; all others have a formula.
func (s Step) IsInput() bool { return s.Formula.English == "" }

// Band is the error of a result and where it comes from.
type Band struct {
	Low, High float64 // in the result's unit, nine times in ten
	Why       wording.Text
}

// Sheet is the working of one result.
type Sheet struct {
	Steps    []Step
	Valid    []wording.Text // ranges, in words
	Outside  []wording.Text // ranges that were left, in words
	Cautions []wording.Text
	Band     *Band
}

// Input records an input; slots fill its name. It is safe on a nil sheet, as are all methods.
func (s *Sheet) Input(symbol string, name wording.Text, value float64, unit Unit, origin Origin, slots ...any) {
	if s != nil {
		s.Steps = append(s.Steps, Step{Symbol: symbol, Name: wording.Unsaid(name, slots...), Value: value, Unit: unit, Origin: origin})
	}
}

// Step records a computed value with its formula, what fills the slots of that, and its source key.
func (s *Sheet) Step(symbol string, name wording.Text, formula Formula, value float64, unit Unit, source string, slots ...any) {
	if s != nil {
		s.Steps = append(s.Steps, Step{symbol, wording.Unsaid(name), wording.Unsaid(formula.Wording(), slots...), value, unit, Computed, source})
	}
}

// Range records the range in which a relation holds, and whether x left it.
func (s *Sheet) Range(what wording.Text, x, low, high float64) {
	if s == nil {
		return
	}
	s.Valid = once(s.Valid, what)
	if x < low || x > high {
		s.Outside = once(s.Outside, what)
	}
}

// once adds words that are not there yet.
func once(list []wording.Text, words wording.Text) []wording.Text {
	if slices.Contains(list, words) {
		return list
	}
	return append(list, words)
}

// Caution records words that must stand beside the result.
func (s *Sheet) Caution(words wording.Text) {
	if s != nil {
		s.Cautions = append(s.Cautions, words)
	}
}

// Error records the band of the result.
func (s *Sheet) Error(low, high float64, why wording.Text) {
	if s != nil {
		s.Band = &Band{low, high, why}
	}
}

// Sources lists the source keys used, in order of first use, without repeats.
func (s *Sheet) Sources() []string {
	if s == nil {
		return nil
	}
	var keys []string
	seen := map[string]bool{}
	for _, st := range s.Steps {
		if st.Source != "" && !seen[st.Source] {
			seen[st.Source] = true
			keys = append(keys, st.Source)
		}
	}
	return keys
}
