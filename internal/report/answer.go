package report

import (
	"strings"

	"spile/calc"
)

// ResultRows are the results of an answer for people, name and words, in the units chosen.
func ResultRows(a *calc.Answer, units calc.Units) []calc.Result {
	var rows []calc.Result
	units = a.Units(units)
	for _, r := range a.Results {
		words := r.Words
		if words != "" && units.Chosen(r.Key) {
			low, high := r.Value, r.Value
			if a.Band != nil && a.Band.Key == r.Key {
				low, high = a.Band.Low, a.Band.High
			}
			words = units.Of(r.Key).In(a.Calculation.Style()).Words(r.Value, low, high)
		}
		if words != "" {
			r.Words = words
			rows = append(rows, r)
		}
	}
	return rows
}

// BandSentence says the error of a result in the words of people.
func BandSentence(a *calc.Answer, units calc.Units) string {
	units = a.Units(units)
	style := a.Calculation.Style()
	m := units.Of(a.Band.Key).In(style)
	low, high := m.Words(a.Band.Low, 0, 0), m.Words(a.Band.High, 0, 0)
	if low == high {
		m = m.Finer()
		low, high = m.Words(a.Band.Low, 0, 0), m.Words(a.Band.High, 0, 0)
	}
	if m.Quantity == "pressure" && !units.Chosen(a.Band.Key) { // a value alone is said in psi too
		psi := psi.In(style)
		low, high = psi.Words(a.Band.Low, 0, 0)+" ("+low+")", psi.Words(a.Band.High, 0, 0)+" ("+high+")"
	} else {
		low = strings.TrimSuffix(low, " "+m.Said())
	}
	return style.Say("Between %s and %s, nine times in ten: %s.", low, high, a.Band.Why)
}

var psi = func() *calc.Measure {
	units, err := calc.ParseUnits("psi")
	if err != nil {
		panic(err) // a mistake of the program
	}
	return units.Of("kpa")
}()

// CurveWords is what Curve draws: in a sentence, and as rows.
func CurveWords(v *calc.Curve, key string, chosen calc.Units) (sentence string, rows [][3]string) {
	p := newPlot(v, key, v.Units(chosen))
	return p.sentence(), p.rows()
}

// Colours are the variables of a style sheet, light and dark.
func Colours() (onLight, onDark string) { return light.variables(), dark.variables() }
