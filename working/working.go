// Package working records how a number came about: symbol, formula, inputs
// with their origin, source, range and error. A relation that can be opened
// takes a *Sheet as its last argument; nil records nothing and costs nothing.
package working

import "slices"

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

// Step is one line of the working.
type Step struct {
	Symbol  string  // as in the formula, "V"
	Name    string  // in words, "carbonation"
	Formula string  // in words or symbols; empty for an input
	Value   float64 // in Unit
	Unit    string
	Origin  Origin
	Source  string // key in REFERENCES.md without brackets, or empty
}

// Band is the error of a result and where it comes from.
type Band struct {
	Low, High float64 // in the result's unit, nine times in ten
	Why       string
}

// Sheet is the working of one result.
type Sheet struct {
	Steps    []Step
	Valid    []string // ranges, in words
	Outside  []string // ranges that were left, in words
	Cautions []string
	Band     *Band
}

// Input records an input. It is safe on a nil sheet, as are all methods.
func (s *Sheet) Input(symbol, name string, value float64, unit string, origin Origin) {
	if s != nil {
		s.Steps = append(s.Steps, Step{Symbol: symbol, Name: name, Value: value, Unit: unit, Origin: origin})
	}
}

// Step records a computed value with its formula and source key.
func (s *Sheet) Step(symbol, name, formula string, value float64, unit, source string) {
	if s != nil {
		s.Steps = append(s.Steps, Step{symbol, name, formula, value, unit, Computed, source})
	}
}

// Range records the range in which a relation holds, and whether x left it.
func (s *Sheet) Range(what string, x, low, high float64) {
	if s == nil {
		return
	}
	s.Valid = once(s.Valid, what)
	if x < low || x > high {
		s.Outside = once(s.Outside, what)
	}
}

// once adds words that are not there yet.
func once(list []string, words string) []string {
	if slices.Contains(list, words) {
		return list
	}
	return append(list, words)
}

// Caution records words that must stand beside the result.
func (s *Sheet) Caution(words string) {
	if s != nil {
		s.Cautions = append(s.Cautions, words)
	}
}

// Error records the band of the result.
func (s *Sheet) Error(low, high float64, why string) {
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
