package unit

import (
	"math"
	"strconv"
	"strings"

	"spile/wording"
)

// Measure is a unit in which people read a quantity, and how finely it is said.
type Measure struct {
	Unit     string   // as it is written behind a number; empty for specific gravity
	Quantity string   // in words
	Finest   float64  // the finest step said, in the unit
	Spelt    []string // how a choice of it is typed, in small letters; none: it is never chosen by itself
	keep     bool     // zeros at the end are written
	symbol
	from   func(si float64) float64 // SI of the quantity to SI of the symbol; nil: the same
	comma  bool
	tongue *wording.Tongue
}

// measure is a row of the table. Its factor stands once, in the table that k is read by.
func measure(k *kind, quantity string, name wording.Text, finest float64, keep bool, words string) *Measure {
	u, known := k.find(canonical(tidy.Replace(string(name))))
	if !known {
		panic("unit: no symbol " + string(name))
	}
	return &Measure{Unit: string(name), Quantity: quantity, Finest: finest, Spelt: strings.Split(words, "|"), keep: keep, symbol: u}
}

// The units that people choose from. The steps are those of the trade: half a psi, a twentieth
// of a bar, 5 kPa, half a degree Celsius, a whole one Fahrenheit, a thousandth of gravity.
var (
	psi        = measure(&gaugeKind, "pressure", "psi", 0.5, false, "psi|psig")
	bar        = measure(&gaugeKind, "pressure", "bar", 0.05, true, "bar|barg")
	kilopascal = measure(&gaugeKind, "pressure", "kPa", 5, false, "kpa")

	celsius    = measure(&temperatureKind, "temperature", "°C", 0.5, false, "c|celsius")
	fahrenheit = measure(&temperatureKind, "temperature", "°F", 1, false, "f|fahrenheit")

	degreesC = measure(&differenceKind, "temperature", "°C", 0.5, false, "c")
	degreesF = measure(&differenceKind, "temperature", "°F", 1, false, "f")

	litre       = measure(&volumeKind, "volume", "L", 0.1, false, "l|litre|litres|liter|liters")
	millilitre  = measure(&volumeKind, "volume", "mL", 5, false, "ml")
	gallonUS    = measure(&volumeKind, "volume", "gal (US)", 0.05, false, "gal(us)|gallon(us)|gallons(us)")
	gallonUK    = measure(&volumeKind, "volume", "gal (UK)", 0.05, false, "gal(uk)|gallon(uk)|gallons(uk)")
	fineOunceUS = measure(&volumeKind, "volume", "fl oz (US)", 0.1, false, "")
	ounceUS     = measure(&volumeKind, "volume", "fl oz (US)", 1, false, "floz(us)")
	fineOunceUK = measure(&volumeKind, "volume", "fl oz (UK)", 0.1, false, "")
	ounceUK     = measure(&volumeKind, "volume", "fl oz (UK)", 1, false, "floz(uk)")

	specific = measure(&gravityKind, "gravity", "", 0.001, true, "sg")
	plato    = measure(&extractKind, "gravity", "°P", 0.1, true, "p|plato")

	volumes       = measure(&volumesKind, "gas in the beer", "volumes", 0.1, true, "volumes|volume|vol|vols")
	gramsPerLitre = measure(&volumesKind, "gas in the beer", "g/L", 0.1, true, "g/l")

	fineGram  = measure(&massKind, "mass", "g", 0.1, false, "")
	gram      = measure(&massKind, "mass", "g", 1, false, "g|gram|grams")
	kilogram  = measure(&massKind, "mass", "kg", 0.01, false, "kg")
	fineOunce = measure(&massKind, "mass", "oz", 0.01, false, "")
	ounce     = measure(&massKind, "mass", "oz", 0.05, false, "oz|ounce|ounces")
	pound     = measure(&massKind, "mass", "lb", 0.05, false, "lb|lbs|pounds")

	percent = measure(&abvKind, "alcohol", "%", 0.1, true, "%")

	cubicMetre = measure(&volumeKind, "volume", "m³", 0.1, false, "m3")
	hour       = measure(&durationKind, "time", "h", 1, false, "h|hour|hours")
	day        = measure(&durationKind, "time", "days", 0.1, false, "days|day|d")
	minute     = measure(&durationKind, "time", "min", 1, false, "min|minute|minutes")
	month      = measure(&durationKind, "time", "months", 0.1, false, "months|month")
	metre      = measure(&lengthKind, "length", "m", 0.1, false, "m|metre|metres")
	centimetre = measure(&lengthKind, "length", "cm", 1, false, "cm")
	millimetre = measure(&lengthKind, "length", "mm", 0.1, false, "mm")
	foot       = measure(&lengthKind, "length", "ft", 0.1, false, "ft|foot|feet")
	inch       = measure(&lengthKind, "length", "in", 0.1, false, "in|inch|inches")
)

// choices are the measures that a word chooses.
var choices = []*Measure{
	bar, psi, kilopascal, celsius, fahrenheit, specific, plato, volumes, gramsPerLitre, litre, gallonUS, gallonUK, millilitre, cubicMetre,
	ounceUS, ounceUK, hour, day, minute, month, metre, centimetre, millimetre, foot, inch, gram, ounce, kilogram, pound,
}

// MeasureOf is the measure of that name, as it is written behind a number. It panics on a name that is not
// in the table: that is a mistake of the program, not of its input.
func MeasureOf(name string) *Measure {
	for _, m := range choices {
		if m.Unit == name {
			return m
		}
	}
	panic("unit: no measure " + name)
}

// Named is a measure of numbers that are written in one way alone.
func Named(name wording.Text, quantity string, finest float64) *Measure {
	return &Measure{Unit: string(name), Quantity: quantity, Finest: finest, symbol: symbol{factor: 1}}
}

// Shown gives a value in SI as it reads in the unit.
func (m *Measure) Shown(si float64) float64 {
	if m.from != nil {
		si = m.from(si)
	}
	return (si - m.offset) / m.factor / math.Pow10(m.exp10)
}

// SI gives back what reads as x in the unit. Degrees Plato need the relation that Style has.
func (m *Measure) SI(x float64) float64 { return x*math.Pow10(m.exp10)*m.factor + m.offset }

// Finer is the measure with one digit more.
func (m *Measure) Finer() *Measure {
	finer := *m
	finer.Finest /= 10
	return &finer
}

// Decimals are those that the finest step needs.
func (m *Measure) Decimals() int { return Decimals(m.Finest) }

// Decimals are those that steps of that size need, four at most.
func Decimals(step float64) int {
	for d := range 4 {
		if scaled := step * math.Pow10(d); math.Abs(scaled-math.Round(scaled)) < 1e-6*scaled {
			return d
		}
	}
	return 4
}

// Step is the step in which a value is said whose band goes from low to high, all in SI.
func (m *Measure) Step(low, high float64) float64 {
	return Resolution(m.Finest, math.Abs(m.Shown(high)-m.Shown(low)))
}

// Number writes a value in SI to the nearest step, without its unit. The band is its width in SI, 0 where none is known.
func (m *Measure) Number(si, band float64) string { return m.Text(m.nearest(si, band)) }

// nearest is the step nearest to a value in SI, in the unit.
func (m *Measure) nearest(si, band float64) float64 {
	return roundTo(m.Shown(si), m.Step(si-band/2, si+band/2))
}

// Edges writes the ends of a band in SI rounded away from its middle, without their unit.
func (m *Measure) Edges(low, high float64) (lo, hi string) {
	step := m.Step(low, high)
	return m.Text(floorTo(m.Shown(low), step)), m.Text(-floorTo(-m.Shown(high), step))
}

// AtMost writes a limit in SI rounded down to the finest step, with its unit: what is written is never above it.
func (m *Measure) AtMost(si float64) string { return m.With(m.Text(floorTo(m.Shown(si), m.Finest))) }

// floorTo gives v down to a multiple of step; what stands on one to nine digits stays.
func floorTo(v, step float64) float64 {
	if math.IsInf(v, 0) {
		return v
	}
	return math.Floor(v/step+1e-9*math.Max(1, math.Abs(v/step))) * step
}

// Heading names a column or scale with its unit.
func (m *Measure) Heading(name string) string {
	if m.Unit == "" {
		return name
	}
	return name + " (" + m.Said() + ")"
}

// Said is the unit in the language of the style that the measure was marked with.
func (m *Measure) Said() string { return m.tongue.Word(wording.Text(m.Unit)) }

// In is the measure in the language of a style, and with its decimal mark.
func (m *Measure) In(s Style) *Measure { return s.marked(*m) }

// With puts the unit behind a number.
func (m *Measure) With(number string) string {
	if m.Unit == "" {
		return number
	}
	return number + " " + m.Said()
}

// Text writes a number that is already in the unit with the decimals of its finest step.
func (m *Measure) Text(v float64) string {
	text := Plain(v, m.Decimals())
	if !m.keep && strings.Contains(text, ".") {
		text = strings.TrimRight(strings.TrimRight(text, "0"), ".")
	}
	return m.marked(text)
}

// Fixed writes a number that is already in the unit with so many decimals, for a scale.
func (m *Measure) Fixed(v float64, decimals int) string { return m.marked(Plain(v, decimals)) }

func (m *Measure) marked(number string) string { return Style{Comma: m.comma}.Decimal(number) }

// Plain writes a number with so many decimals, nothing without a minus.
func Plain(v float64, decimals int) string {
	text := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Trim(text, "-0.") == "" {
		text = strings.TrimPrefix(text, "-")
	}
	return text
}

// words writes a value in SI with its unit.
func (m *Measure) words(si, band float64) string { return m.With(m.Number(si, band)) }

// system is one way to write a quantity: small amounts in the first measures, what is left in the last.
type system struct {
	word  string // that chooses it
	sizes []size
}

type size struct {
	*Measure
	below float64 // in the unit: this measure is taken while it shows less; 0 in the last
}

func one(m *Measure) system { return system{m.Spelt[0], []size{{m, 0}}} }

// of picks the measure for an amount.
func (s *system) of(si float64) *Measure {
	last := len(s.sizes) - 1
	for _, x := range s.sizes[:last] {
		if math.Abs(x.Shown(si)) < x.below-x.Finest/2 {
			return x.Measure
		}
	}
	return s.sizes[last].Measure
}

// holds tells whether m is one of the system.
func (s *system) holds(m *Measure) bool {
	for _, x := range s.sizes {
		if x.Quantity == m.Quantity && x.Unit == m.Unit {
			return true
		}
	}
	return false
}

// systems are what there is to choose from for each quantity, the usual one first.
var systems = [quantities][]system{
	OfPressure:    {one(psi), one(bar), one(kilopascal)},
	OfTemperature: {one(celsius), one(fahrenheit)},
	OfVolume: {
		{"l", []size{{millilitre, 1000}, {litre, 0}}},
		{"gal(us)", []size{{fineOunceUS, 20}, {ounceUS, 128}, {gallonUS, 0}}},
		{"gal(uk)", []size{{fineOunceUK, 20}, {ounceUK, 160}, {gallonUK, 0}}},
	},
	OfGravity: {one(specific), one(plato)},
	OfGas:     {one(volumes), one(gramsPerLitre)},
	OfMass: {
		{"g", []size{{fineGram, 20}, {gram, 1000}, {kilogram, 0}}},
		{"oz", []size{{fineOunce, 1}, {ounce, 16}, {pound, 0}}},
	},
	OfAlcohol: {one(percent)},
}
