package web

import (
	"errors"
	"math"
	"strconv"
	"strings"

	"spile/calc"
	"spile/internal/batchfile"
	"spile/unit"
	"spile/wording"
	"spile/wort"
)

// figure is a number that is typed with its unit: what it may be, and how it is written.
type figure struct {
	of     unit.Quantity // unchosen: nobody chooses a unit for it
	parse  func(string) (float64, error)
	fact   string  // whose bounds hold
	usual  float64 // by which the unit behind the field is picked, SI
	sample string
	signed bool    // may be zero and less
	units  []fixed // of what nobody chooses a unit for, the first for bare numbers
}

// fixed is a unit that a number is written in whatever was chosen.
type fixed struct {
	unit  string
	scale float64
}

const unchosen unit.Quantity = -1

// The figures that are asked for.
var (
	wortVolume   = &figure{of: unit.OfVolume, parse: inSI(unit.ParseVolume), fact: "wort", usual: 20 * unit.Litre, sample: "20 L"}
	vesselSize   = &figure{of: unit.OfVolume, parse: inSI(unit.ParseVolume), fact: "capacity", usual: 26 * unit.Litre, sample: "26 L"}
	vesselWidth  = &figure{of: unchosen, parse: inSI(unit.ParseLength), fact: "diameter", sample: "30 cm", units: []fixed{{"cm", unit.Centimetre}}}
	wortGravity  = &figure{of: unit.OfGravity, fact: "original", usual: 1.046, sample: "1.046", parse: parseGravity}
	plateMark    = &figure{of: unit.OfPressure, parse: inSI(unit.ParseGauge), fact: "rating", usual: 2.5 * unit.Bar, sample: "2.5 bar"}
	knobMark     = &figure{of: unit.OfPressure, parse: inSI(unit.ParseGauge), fact: "setting", usual: 10 * unit.PSI, sample: "10 psi"}
	airHeat      = &figure{of: unit.OfTemperature, parse: inSI(unit.ParseTemperature), fact: "ambient", usual: 291, sample: "18 °C"}
	beerHeat     = &figure{of: unit.OfTemperature, parse: inSI(unit.ParseTemperature), fact: "beer", usual: 277, sample: "4 °C"}
	fridgeHeat   = &figure{of: unit.OfTemperature, parse: inSI(unit.ParseTemperature), fact: "ambient", usual: 275, sample: "2 °C"}
	siteHeight   = &figure{of: unchosen, parse: inSI(unit.ParseLength), fact: "altitude", sample: "40 m", units: []fixed{{"m", 1}}}
	beltPower    = &figure{of: unchosen, parse: inSI(unit.ParsePower), fact: "belt", sample: "30 W", units: []fixed{{"W", 1}}}
	gasMass      = &figure{of: unit.OfMass, parse: inSI(unit.ParseMass), fact: "cylinder", usual: 2, sample: "2.6 kg"}
	bottleMass   = &figure{of: unit.OfMass, parse: inSI(unit.ParseMass), fact: "cylinder", usual: 2, sample: "5.4 kg"}
	yeastMass    = &figure{of: unit.OfMass, parse: inSI(unit.ParseMass), fact: "yeast", usual: 11.5 * unit.Gram, sample: "11.5 g"}
	sugarUsed    = &figure{of: unchosen, parse: inSI(unit.ParsePercent), fact: "attenuation", sample: "77 %", units: []fixed{{"%", 0.01}}}
	wortBitter   = &figure{of: unchosen, parse: inSI(unit.ParseBitterness), fact: "bitterness", sample: "28 IBU", units: []fixed{{"IBU", 1}}}
	gasWish      = &figure{of: unit.OfGas, parse: inSI(unit.ParseVolumes), fact: "co2", usual: 2.4, sample: "2.4 volumes"}
	lineLength   = &figure{of: unchosen, parse: inSI(unit.ParseLength), fact: "diameter", sample: "2 m", units: []fixed{{"m", 1}}}
	lineBore     = &figure{of: unchosen, parse: inSI(unit.ParseLength), sample: "5 mm", units: []fixed{{"mm", unit.Millimetre}}}
	restFor      = &figure{of: unchosen, parse: inSI(unit.ParseDuration), sample: "2 days", units: []fixed{{"days", unit.Day}}}
	roomLeft     = &figure{of: unit.OfVolume, parse: inSI(unit.ParseVolume), usual: unit.Litre, sample: "1 L"}
	betweenLooks = &figure{of: unchosen, parse: inSI(unit.ParseDuration), sample: "12 h", units: []fixed{{"h", unit.Hour}}}
)

// offsets are how much too much an instrument shows, by what it reads.
var offsets = map[string]*figure{
	"gravity":     {of: unchosen, parse: points, sample: "2 points", signed: true, units: []fixed{{"points", 0.001}}},
	"pressure":    {of: unit.OfPressure, parse: inSI(unit.ParseGauge), usual: unit.PSI, sample: "1 psi", signed: true},
	"temperature": {of: unchosen, parse: inSI(unit.ParseTemperatureDifference), sample: "0.5 °C", signed: true, units: []fixed{{"°C", 1}}},
	"mass":        {of: unit.OfMass, parse: inSI(unit.ParseMass), usual: 20 * unit.Gram, sample: "20 g", signed: true},
}

// points reads a difference of gravities: 2 points.
func points(s string) (float64, error) {
	number := strings.TrimSpace(strings.TrimSuffix(strings.TrimSuffix(strings.TrimSpace(s), "s"), "point"))
	v, err := strconv.ParseFloat(strings.Replace(number, ",", ".", 1), 64)
	if err != nil || math.Abs(v) > 50 {
		return 0, wording.Unsaid("I read “%s”; accepted are points of gravity, for example %s or %s", s, "2 points", "-1 point")
	}
	return v / 1000, nil
}

// behind is the unit in which a bare number counts.
func (f *figure) behind(style unit.Style) string {
	switch {
	case f.of == unchosen:
		return f.units[0].unit
	case f == plateMark: // a plate has a unit of its own, and a mistake here is dangerous
		return ""
	}
	return style.Of(f.of, f.usual).Unit
}

// digits tells that a keyboard of digits is enough: the unit stands behind the field, or there is none as with
// gravity, and nothing below zero is an answer. Such a keyboard may have no minus and no letters.
func (f *figure) digits(style unit.Style) bool {
	in := f.behind(style)
	if f.signed || in == "" && f.of != unit.OfGravity {
		return false
	}
	if in == "" || f.fact == "" {
		return true
	}
	low, _, _ := batchfile.Bounds(f.fact)
	zero, err := f.parse("0 " + in)
	return err != nil || zero <= low // what is refused is no answer either
}

// read understands what was typed, in SI, or says what is wrong with it.
func (f *figure) read(typed string, style unit.Style) (si float64, problem string) {
	text := withUnit(calc.Typed(style.Tongue, typed), f.behind(style))
	si, err := f.parse(text)
	if err != nil {
		return 0, f.refusal(style, typed, err)
	}
	if f.fact == "" {
		if si > 0 || f.signed {
			return si, ""
		}
		return 0, style.Say("I read %s. It must be above zero, for example %s.", calc.Said(style.Tongue, text), f.example(style))
	}
	if low, high, words := batchfile.Bounds(f.fact); !(si >= low && si <= high) {
		if f.chosen(style) {
			words = wording.Unsaid("%s to %s", f.write(low, style), f.write(high, style))
		}
		return 0, style.Say("I read %s. Accepted: %s, for example %s.", calc.Said(style.Tongue, text), words, f.example(style))
	}
	return si, ""
}

// chosen tells that a bare number counts in a unit that somebody chose.
func (f *figure) chosen(style unit.Style) bool {
	return f.of != unchosen && f.behind(style) != "" && style.Chosen(f.of) != ""
}

// example is how it may be typed, in the unit that stands behind it where somebody chose one.
func (f *figure) example(style unit.Style) string {
	if f.chosen(style) {
		if si, err := f.parse(f.sample); err == nil {
			return f.write(si, style)
		}
	}
	return style.Decimal(calc.Said(style.Tongue, f.sample))
}

// refusal says what was read, and what is accepted.
func (f *figure) refusal(style unit.Style, typed string, err error) string {
	var bad *unit.ParseError
	switch {
	case !errors.As(err, &bad):
		return refused(style.Tongue, err)
	case bad.Suggestion != "":
		return style.Say("I read “%s”: %s. Did you mean %s?", typed, bad.Problem, style.Decimal(calc.Said(style.Tongue, bad.Suggestion)))
	}
	return style.Say("I read “%s”: %s. Write it as %s.", typed, bad.Problem, f.example(style))
}

// write gives a value in SI as somebody reads it.
func (f *figure) write(si float64, style unit.Style) string {
	switch {
	case f.of == unchosen:
		return f.fixedly(si, 3, style)
	case f == plateMark: // as both kinds of plate have it
		return style.LimitDials(unit.Gauge(si))
	}
	m := style.Of(f.of, si)
	return m.With(m.Number(si, 0))
}

// fixedly writes a value in the unit that nobody chooses, to so many digits.
func (f *figure) fixedly(si float64, digits int, style unit.Style) string {
	return style.With(style.Decimal(calc.Digits(si/f.units[0].scale, digits)), wording.Text(f.units[0].unit))
}

// systems are the words for the units that a number may have been typed in.
var systems = []string{"", "bar", "kpa", "f", "gal(us)", "gal(uk)", "oz", "g/l"}

// typed gives a value in SI so that it is read back as it is: in the unit chosen, or in the
// one in which it was typed.
func (f *figure) typed(si float64, style unit.Style) string {
	if f.of == unchosen {
		return f.fixedly(si, 6, style)
	}
	for i, word := range systems {
		in := style
		if other, err := unit.ParseStyle(word, wort.ExtractFromGravity); i > 0 && err == nil {
			in = other
		}
		m := in.Of(f.of, si)
		for _, finer := range []float64{1, 10, 100} {
			fine := *m
			fine.Finest /= finer
			text := fine.With(fine.Number(si, 0))
			if back, err := f.parse(text); err == nil && math.Abs(back-si) <= 1e-9*math.Abs(si) {
				return text
			}
		}
	}
	m := *style.Of(f.of, si)
	m.Finest /= 1000
	return m.With(m.Number(si, 0))
}
