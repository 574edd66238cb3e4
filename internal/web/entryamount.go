package web

import (
	"errors"
	"math"
	"regexp"
	"strings"

	"spile/batch"
	"spile/calc"
	"spile/estimate"
	"spile/internal/batchfile"
	"spile/unit"
	"spile/wording"
	"spile/wort"
)

// amount is a quantity as people type it.
type amount struct {
	Name    wording.Text // of the quantity, to begin a sentence
	of      unit.Quantity
	reads   batch.Quantity // whose bounds hold; only where bounded
	bounded bool
	parse   func(string) (float64, error) // gives SI
	example wording.Text
	labels  []string // words that may stand before the number
}

func inSI[T ~float64](parse func(string) (T, error)) func(string) (float64, error) {
	return func(s string) (float64, error) { v, err := parse(s); return float64(v), err }
}

// The amounts that are asked for.
var (
	pressureRead = &amount{"Pressure", unit.OfPressure, batch.Pressure, true, inSI(unit.ParseGauge), "10 psi, 0.7 bar or 70 kPa",
		[]string{"pressure", "press", "gauge", "dial"}}
	temperatureRead = &amount{"Temperature", unit.OfTemperature, batch.Temperature, true, inSI(unit.ParseTemperature), "19 °C or 66 °F",
		[]string{"temperature", "temp", "thermometer", "strip", "beer"}}
	airRead     = &amount{"Temperature of the air", unit.OfTemperature, batch.AirTemperature, true, inSI(unit.ParseTemperature), "13.5 °C or 56 °F", nil}
	gravityRead = &amount{"Gravity", unit.OfGravity, batch.Gravity, true, parseGravity, "1.014 or 3.6 °P",
		[]string{"gravity", "specific gravity", "sg", "fg", "og", "hydrometer"}}
	vesselWeight = &amount{"Weight of the vessel", unit.OfMass, batch.VesselMass, true, inSI(unit.ParseMass), "24.1 kg or 53 lb",
		[]string{"weight", "vessel", "weighs", "scale"}}
	cylinderWeight = &amount{"Weight of the cylinder", unit.OfMass, batch.CylinderMass, true, inSI(unit.ParseMass), "5.3 kg or 11.7 lb",
		[]string{"cylinder", "gas bottle"}}
	drawnVolume  = &amount{"Volume", unit.OfVolume, 0, false, inSI(unit.ParseVolume), "150 mL, 2 L or 5 gal (US)", nil}
	sampleVolume = &amount{"Volume", unit.OfVolume, 0, false, inSI(unit.ParseVolume), "150 mL or 5 fl oz (US)", nil}
	hopsMass     = &amount{"Weight", unit.OfMass, 0, false, inSI(unit.ParseMass), "60 g or 2 oz", nil}
	shakenFor    = &amount{"Time", -1, 0, false, inSI(unit.ParseDuration), "5 min", nil}
)

func parseGravity(s string) (float64, error) {
	g, err := unit.ParseGravity(s, wort.GravityFromExtract)
	return float64(g), err
}

// doubt is a question about what was typed: it could be read, but hardly be meant.
type doubt struct {
	Says string // "I read 46 as gravity 1.046. Keep it?"
	Take string // what is taken instead: "1.046"
	Keep string // what was typed, where that can be kept; empty: it cannot
}

var (
	numberAlone = regexp.MustCompile(`^[+\-−–]?(\d+([.,]\d*)?|[.,]\d+|\d*\s?[½¼¾])$`)
	degreeMark  = regexp.MustCompile(`(?i)^(.*[\d½¼¾])\s*(°|º|˚|deg\.?|degrees?)$`)
	pointed     = regexp.MustCompile(`^[01][.,]\d{3,4}$`) // 1.046 is a gravity, whatever unit was chosen
	roundly     = regexp.MustCompile(`(?i)^(about|around|roughly|approximately|approx\.?|circa|ca\.?|nearly|some|~|≈)\s*`)
	copula      = regexp.MustCompile(`(?i)^(is|was|are|reads|shows|says|at|of|on|the|now|:|=)\s*`)
)

// plainly is what was typed without what people put around a number: the name of the
// quantity, "about", words for digits.
func (a *amount) plainly(typed string) string {
	text := strings.TrimSpace(digits(typed))
	for again := true; again; {
		before := text
		for _, l := range a.labels {
			if rest, found := cutLabel(text, l); found {
				text = rest
			}
		}
		text = roundly.ReplaceAllString(copula.ReplaceAllString(text, ""), "")
		again = text != before
	}
	if a.of == unit.OfTemperature {
		if m := degreeMark.FindStringSubmatch(text); m != nil {
			text = m[1]
		}
	}
	return text
}

// cutLabel takes a word, or words, off the front.
func cutLabel(text, label string) (rest string, found bool) {
	if len(text) < len(label) || !strings.EqualFold(text[:len(label)], label) {
		return text, false
	}
	rest = text[len(label):]
	if rest != "" && (rest[0] >= 'a' && rest[0] <= 'z' || rest[0] >= 'A' && rest[0] <= 'Z') {
		return text, false // only the beginning of another word
	}
	return strings.TrimLeft(rest, " :=,"), true
}

// bare tells whether text is a number without a unit; 1.046 carries its own.
func (a *amount) bare(text string) bool {
	return numberAlone.MatchString(text) && !(a.of == unit.OfGravity && pointed.MatchString(text))
}

// inFull is what was typed, a bare number with the unit in, which stands behind the field.
func (a *amount) inFull(typed, in string) (text string, bare bool) {
	text = a.plainly(typed)
	if bare = a.bare(text); bare && in != "" {
		text += " " + in
	}
	return text, bare
}

// read understands what was typed. A bare number counts in the unit in, which stands
// behind the field; expected is what the instrument should show, nil where nobody knows.
// Exactly one of the value, a doubt and a problem is given.
func (a *amount) read(style unit.Style, typed, in string, expected *estimate.Band) (si float64, d *doubt, problem string) {
	t := style.Tongue
	text, bare := a.inFull(calc.Typed(t, typed), in)
	si, err := a.parse(text)
	if err != nil {
		return 0, a.meant(t, typed, text, err), a.refusal(t, typed, err)
	}
	if low, high := a.bounds(); !(si >= low && si <= high) {
		if d := a.otherwise(t, text, low, high); d != nil {
			return 0, d, ""
		}
		return 0, nil, a.outside(style, text)
	}
	if bare && expected != nil {
		if d := a.elsewhere(t, text, si, expected); d != nil {
			return 0, d, ""
		}
	}
	return si, nil, ""
}

// surely is read after a doubt was answered: what is meant then holds, within bounds.
func (a *amount) surely(style unit.Style, meant, in string) (si float64, problem string) {
	t := style.Tongue
	text, _ := a.inFull(calc.Typed(t, meant), in)
	si, err := a.parse(text)
	if err != nil {
		return 0, a.refusal(t, meant, err)
	}
	if low, high := a.bounds(); !(si >= low && si <= high) {
		return 0, a.outside(style, text)
	}
	return si, ""
}

// outside is what is said of an amount that no instrument shows.
func (a *amount) outside(style unit.Style, text string) string {
	low, high := a.bounds()
	m := style.Of(a.of, high)
	return style.Say("I read %s, which is outside %s to %s. Look once more.", calc.Said(style.Tongue, text), m.Text(m.Shown(low)), m.With(m.Text(m.Shown(high))))
}

// bounds are what an instrument can show, in SI.
func (a *amount) bounds() (low, high float64) {
	if !a.bounded {
		return math.Inf(-1), math.Inf(1)
	}
	low, high, _ = batchfile.ReadingBounds(a.reads)
	return low, high
}

const cannotBe wording.Text = "%s cannot be right here. Did you mean %s?"

// meant is the question that package unit suggests, nil where it suggests nothing.
func (a *amount) meant(t *wording.Tongue, typed, text string, err error) *doubt {
	var bad *unit.ParseError
	if !errors.As(err, &bad) || bad.Suggestion == "" {
		return nil
	}
	switch a.of {
	case unit.OfGravity:
		return &doubt{Says: t.Say("I read %s as gravity %s. Keep it?", typed, calc.Said(t, bad.Suggestion)), Take: bad.Suggestion}
	case unit.OfPressure:
		if strings.ContainsAny(text[:1], "-−–") {
			break
		}
		return &doubt{Says: t.Say("%s is above any limit here. Did you mean %s?", calc.Said(t, text), calc.Said(t, bad.Suggestion)), Take: bad.Suggestion}
	}
	return &doubt{Says: t.Say(cannotBe, calc.Said(t, text), calc.Said(t, bad.Suggestion)), Take: bad.Suggestion}
}

// refusal says what was read and what is accepted; empty where a doubt says it.
func (a *amount) refusal(t *wording.Tongue, typed string, err error) string {
	var bad *unit.ParseError
	switch {
	case !errors.As(err, &bad):
		return refused(t, err)
	case bad.Suggestion != "":
		return ""
	case bad.Problem.English == unit.NeedsUnit:
		return a.needsUnit(t)
	}
	return t.Say("I read “%s”: %s. Write it as %s.", clipped(typed), bad.Problem, a.example)
}

// needsUnit says that a number stands alone.
func (a *amount) needsUnit(t *wording.Tongue) string {
	return t.Say("%s needs a unit: %s.", a.Name, a.example)
}

// clipped keeps what is quoted back short.
func clipped(s string) string {
	if runes := []rune(s); len(runes) > 40 {
		return string(runes[:40]) + "…"
	}
	return s
}

// symbols are the units a number could have been meant in.
var symbols = map[unit.Quantity][]string{unit.OfPressure: {"psi", "bar", "kPa"}, unit.OfTemperature: {"°C", "°F"}, unit.OfMass: {"kg", "lb", "g"}}

// otherwise is the question about a value out of bounds that would be within them in another unit.
func (a *amount) otherwise(t *wording.Tongue, text string, low, high float64) *doubt {
	number, _, _ := strings.Cut(text, " ")
	for _, symbol := range symbols[a.of] {
		other := number + " " + symbol
		if v, err := a.parse(other); err == nil && other != text && v >= low && v <= high {
			return &doubt{Says: t.Say(cannotBe, calc.Said(t, text), calc.Said(t, other)), Take: other}
		}
	}
	return nil
}

// far is how far off the expected a bare number must be before another unit is thought of,
// and near how close that one must come, in SI (assumptions: three marks of a dial, a warm
// day; and a misreading of either).
var far, near = map[unit.Quantity]float64{unit.OfPressure: 5 * unit.PSI, unit.OfTemperature: 12},
	map[unit.Quantity]float64{unit.OfPressure: 3 * unit.PSI, unit.OfTemperature: 5}

// elsewhere is the question about a bare number that is far from what is expected in the unit
// of the field and near it in another.
func (a *amount) elsewhere(t *wording.Tongue, text string, si float64, expected *estimate.Band) *doubt {
	off := math.Abs(si - expected.P50)
	if far[a.of] == 0 || off < far[a.of] {
		return nil
	}
	number, _, _ := strings.Cut(text, " ")
	for _, symbol := range symbols[a.of] {
		other := number + " " + symbol
		if v, err := a.parse(other); err == nil && other != text && math.Abs(v-expected.P50) < min(near[a.of], off/4) {
			return &doubt{Says: t.Say("I read %s. Did you mean %s? That is about what was expected.", calc.Said(t, text), calc.Said(t, other)), Take: other, Keep: text}
		}
	}
	return nil
}

// unitOf is what a bare number counts in: the unit somebody chose, else the usual one.
func (a *amount) unitOf(style unit.Style) string {
	switch {
	case a.of < 0:
		return ""
	case a.reads == batch.VesselMass && a.bounded, a.reads == batch.CylinderMass && a.bounded:
		return style.Of(unit.OfMass, 20).Unit // kg or lb
	}
	return style.Of(a.of, a.usual()).Unit
}

// usual is an amount of the size that is asked for, by which the unit is picked.
func (a *amount) usual() float64 {
	switch a {
	case drawnVolume:
		return 2 * unit.Litre
	case sampleVolume:
		return 150 * unit.Millilitre
	case hopsMass:
		return 60 * unit.Gram
	}
	return 1
}

// echo writes a value as it was read, finer than it is said elsewhere, and in another unit
// beside: 12.3 psi (0.848 bar).
func (a *amount) echo(si float64, style unit.Style) string {
	if a.of < 0 {
		return unit.FormatDuration(unit.Duration(si), 0)
	}
	m := style.Of(a.of, si)
	text := exactly(m, si)
	for _, symbol := range beside[m.Unit] {
		if other, err := unit.ParseStyle(symbol, wort.ExtractFromGravity); err == nil {
			other.Comma = style.Comma
			text += " (" + exactly(other.Of(a.of, si), si) + ")"
		}
	}
	return text
}

// inWords writes a value exactly, as it is read again.
func (a *amount) inWords(si float64) string {
	switch a.of {
	case unit.OfPressure:
		return unit.Gauge(si).String()
	case unit.OfTemperature:
		return unit.Temperature(si).String()
	case unit.OfVolume:
		return unit.Volume(si).String()
	case unit.OfMass:
		return unit.Mass(si).String()
	case unit.OfGravity:
		return unit.Gravity(si).String()
	}
	return unit.Duration(si).String()
}

// beside is the other unit of an echo, by the one it is in.
var beside = map[string][]string{"psi": {"bar"}, "bar": {"psi"}, "kPa": {"psi"}, "°C": {"F"}, "°F": {"C"}, "": {"p"}, "°P": {"sg"}}

// exactly writes a value ten times as fine as it is said elsewhere.
func exactly(m *unit.Measure, si float64) string {
	fine := *m
	fine.Finest /= 10
	text := fine.Number(si, 0)
	if m.Unit == "" || m.Unit == "°P" || m.Unit == "bar" { // zeros are kept, but for the last
		text = strings.TrimSuffix(text, "0")
	}
	return m.With(text)
}
