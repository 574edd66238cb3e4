package unit

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
	"time"

	"spile/wording"
)

// Quantity is something that people write in more than one unit.
type Quantity int

// The quantities to choose a unit for.
const (
	OfPressure Quantity = iota
	OfTemperature
	OfVolume
	OfGravity
	OfGas
	OfMass
	OfAlcohol // by volume; there is one way to write it
	quantities
)

// Style is how somebody wants quantities written. The zero Style is metric with psi, bar and
// g/L beside where there is room, a decimal point, and the zone of what is written about.
//
// Each method takes a value and the width of its band in the same quantity, from low to high
// edge, and shows nothing finer than a third of it; 0 where no band is known.
type Style struct {
	Comma  bool            // a decimal comma
	Zone   *time.Location  // of every date; nil: that of what is written about
	Dated  bool            // every day has its date, for paper
	Tongue *wording.Tongue // nil: English
	chosen [quantities]int // one more than the place among the systems; 0: nothing chosen
	plato  func(Gravity) Extract
}

// ParseStyle reads a list such as "bar, F, comma": a unit for each quantity it names, and
// comma or point for the decimal mark. plato relates gravity to degrees Plato; without it they are refused.
func ParseStyle(list string, plato func(Gravity) Extract) (Style, error) {
	s := Style{plato: plato}
	for _, word := range strings.Split(list, ",") {
		read := Spelling(word)
		q, i := find(read)
		switch {
		case read == "comma" || read == "point":
			s.Comma = read == "comma"
		case i < 0 || q == OfGravity && i > 0 && plato == nil:
			return Style{}, fmt.Errorf("read %q; accepted are %s, comma, point, for example bar,F", strings.TrimSpace(word), strings.Join(styleWords(), ", "))
		case s.chosen[q] != 0 && s.chosen[q] != i+1:
			return Style{}, fmt.Errorf("read %q, the second unit for %s; one of them is accepted", strings.TrimSpace(word), systems[q][0].sizes[0].Quantity)
		default:
			s.chosen[q] = i + 1
		}
	}
	return s, nil
}

// Spelling brings the word for a unit to the form in which the tables hold it.
func Spelling(word string) string {
	return strings.ReplaceAll(strings.TrimPrefix(strings.ToLower(strings.TrimSpace(word)), "°"), " ", "")
}

// find looks up the system that a word chooses; i is -1 for none.
func find(word string) (q Quantity, i int) {
	for q := range OfAlcohol {
		for i := range systems[q] {
			for _, x := range systems[q][i].sizes {
				if word != "" && slices.Contains(x.Spelt, word) {
					return q, i
				}
			}
		}
	}
	return 0, -1
}

// styleWords are the words that choose a system.
func styleWords() []string {
	var out []string
	for q := range OfAlcohol {
		for _, c := range Choices(q) {
			out = append(out, c.Word)
		}
	}
	return out
}

// Choice is one way to write a quantity: the word that chooses it, and its units as they are written.
type Choice struct {
	Word  string
	Units []wording.Text
}

// Choices are the ways to write a quantity, the usual one first.
func Choices(q Quantity) []Choice {
	var out []Choice
	for _, s := range systems[q] {
		var names []wording.Text
		for _, x := range s.sizes {
			names = append(names, wording.Text(x.Unit))
		}
		out = append(out, Choice{s.word, slices.Compact(names)})
	}
	return out
}

// Chosen is the word for what was chosen, empty where nothing was.
func (s Style) Chosen(q Quantity) string {
	if s.chosen[q] == 0 {
		return ""
	}
	return systems[q][s.chosen[q]-1].word
}

// Chooses tells whether m is a measure of what was chosen.
func (s Style) Chooses(m *Measure) bool {
	for q, i := range s.chosen {
		if i > 0 && systems[q][i-1].holds(m) {
			return true
		}
	}
	return false
}

// Of is the measure in which an amount of q, in SI, is written.
func (s Style) Of(q Quantity, si float64) *Measure {
	m := *systems[q][max(s.chosen[q]-1, 0)].of(si)
	return s.marked(m)
}

// marked gives a measure the decimal mark and the relation of the style.
func (s Style) marked(m Measure) *Measure {
	m.comma, m.tongue = s.Comma, s.Tongue
	if m.Unit == plato.Unit {
		m.from = func(g float64) float64 { return float64(s.plato(Gravity(g))) }
	}
	return &m
}

// Pressure writes what a dial shows: 10 psi.
func (s Style) Pressure(g, band Gauge) string {
	return s.Of(OfPressure, float64(g)).words(float64(g), float64(band))
}

// Dials writes a pressure in the chosen unit, or as both kinds of dial show it: 10 psi (0.70 bar).
func (s Style) Dials(g, band Gauge) string {
	if s.chosen[OfPressure] != 0 {
		return s.Pressure(g, band)
	}
	g = Gauge(psi.SI(psi.nearest(float64(g), float64(band)))) // both from the same rounded value
	return s.Pressure(g, 0) + " (" + s.marked(*bar).words(float64(g), 0) + ")"
}

// Temperature writes 18.5 °C or 65 °F.
func (s Style) Temperature(t Temperature, band TemperatureDifference) string {
	return s.Of(OfTemperature, float64(t)).words(float64(t), float64(band))
}

// Difference writes a difference of temperatures: 2 °C or 4 °F.
func (s Style) Difference(d, band TemperatureDifference) string {
	m := degreesC
	if s.chosen[OfTemperature] > 1 {
		m = degreesF
	}
	return s.marked(*m).words(float64(d), float64(band))
}

// Gravity writes 1.014 or 3.6 °P.
func (s Style) Gravity(g, band Gravity) string {
	return s.Of(OfGravity, float64(g)).words(float64(g), float64(band))
}

// Gas writes a carbonation in the chosen unit, or in both: 2.5 volumes (4.9 g/L).
func (s Style) Gas(v, band Volumes) string {
	if s.chosen[OfGas] != 0 {
		return s.BareGas(v, band)
	}
	step := Resolution(0.1, float64(band))
	v = Volumes(roundTo(float64(v), step)) // both from the same rounded value
	return s.BareGas(v, 0) + " (" + s.marked(*gramsPerLitre).words(float64(v), 0) + ")"
}

// BareGas writes a carbonation in one unit, for the middle of a sentence: 2.5 volumes.
func (s Style) BareGas(v, band Volumes) string {
	return s.Of(OfGas, float64(v)).words(float64(v), float64(band))
}

// ABV writes one decimal: 4.8 %.
func (s Style) ABV(a, band ABV) string {
	return s.Of(OfAlcohol, float64(a)).words(float64(a), float64(band))
}

// Between writes the ends of a band in SI, rounded away from its middle.
func (s Style) Between(q Quantity, low, high float64) (lo, hi string) {
	m := s.Of(q, math.Max(math.Abs(low), math.Abs(high)))
	lo, hi = m.Edges(low, high)
	return m.With(lo), m.With(hi)
}

// Limit writes the most that a dial may show, rounded down.
func (s Style) Limit(g Gauge) string { return s.Of(OfPressure, float64(g)).AtMost(float64(g)) }

// LimitDials writes the most that a dial may show as Dials does, rounded down.
func (s Style) LimitDials(g Gauge) string {
	if s.chosen[OfPressure] != 0 {
		return s.Limit(g)
	}
	return s.Limit(g) + " (" + s.marked(*bar).AtMost(float64(g)) + ")"
}

// Falls is the measure of differences of gravity: points, or degrees Plato about 1.010. It takes
// points, and says them to steps of finest points.
func (s Style) Falls(finest float64) *Measure {
	m := s.marked(Measure{Unit: string(points), Quantity: "fall of gravity", Finest: finest, keep: true, symbol: symbol{factor: 1}})
	if s.chosen[OfGravity] > 1 {
		perPoint := (s.plato(FromPoints(11)) - s.plato(FromPoints(10))).Plato()
		m.Unit, m.Finest, m.factor = plato.Unit, finest/10, 1/perPoint
	}
	return m
}

// points are thousandths of gravity.
const points wording.Text = "points"

// With puts a unit in the language of the style behind a number.
func (s Style) With(number string, unit wording.Text) string { return number + " " + s.Word(unit) }

// Duration writes minutes to 2 h, hours to 2 days, then days: 45 min, 15 h, 4 days.
func (s Style) Duration(d, band Duration) string {
	m := day
	switch size := math.Abs(float64(d)); {
	case size < 2*Hour-Minute/2:
		m = minute
	case size < 2*Day-Hour/2:
		m = hour
	}
	per := float64(m.factor) * math.Pow10(m.exp10)
	return s.With(Plain(roundTo(float64(d)/per, Resolution(1, float64(band)/per)), 0), wording.Text(m.Unit))
}

// Volume writes tenths of a litre, or steps of 5 mL under one litre; gallons, and fluid ounces under one.
func (s Style) Volume(v, band Volume) string {
	return s.Of(OfVolume, float64(v)).words(float64(v), float64(band))
}

// Mass writes tenths of a gram to 20 g, grams to 1 kg, then hundredths of a kilogram; ounces, and pounds from 16 of them.
func (s Style) Mass(m, band Mass) string {
	return s.Of(OfMass, float64(m)).words(float64(m), float64(band))
}

// Decimal gives words that were written with decimal points the decimal mark of the style.
func (s Style) Decimal(words string) string {
	if s.Comma {
		return decimalPoint.ReplaceAllString(words, "$1,$2")
	}
	return words
}

var decimalPoint = regexp.MustCompile(`(\d)\.(\d)`)

// In gives t in the zone of the style, else in that of what is written about.
func (s Style) In(t time.Time, here *time.Location) time.Time {
	if s.Zone != nil {
		here = s.Zone
	}
	return t.In(here)
}

// Say says a text in the language of the style, its verbs filled (see [wording.Tongue.Say]).
func (s Style) Say(english wording.Text, slots ...any) string { return s.Tongue.Say(english, slots...) }

// Word says a text without slots in the language of the style.
func (s Style) Word(english wording.Text) string { return s.Tongue.Word(english) }

// Time writes a moment as it is, in a layout of package time, in the language of the style.
func (s Style) Time(at time.Time, layout wording.Text) string { return s.Tongue.Time(at, layout) }
