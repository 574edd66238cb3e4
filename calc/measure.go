package calc

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"spile/unit"
	"spile/wort"
)

// Measure is a unit in which numbers of one kind of key are shown.
type Measure struct {
	Suffix   string // of the keys
	Unit     string // as it is written behind a number
	Quantity string // in words
	Finest   float64
	spelling []string // as it is typed, small letters
	scale    float64  // of Unit in the unit of the key
	zero     float64  // in the unit of the key
	shown    func(key float64) float64
	key      func(shown float64) float64
}

// gramsPerVolume is what a volume of gas weighs in a litre of beer.
var gramsPerVolume = unit.Volumes(1).GramsPerLitre()

func toPlato(sg float64) float64 { return wort.ExtractFromGravity(unit.Gravity(sg)).Plato() }
func fromPlato(p float64) float64 {
	return float64(wort.GravityFromExtract(unit.Plato(p)))
}

// measures are the units to choose from, the first of each suffix where nothing is chosen.
// The finest steps are those of what is said of a value.
var measures = []Measure{
	{Suffix: "kpa", Unit: "bar", Quantity: "pressure", Finest: 0.05, spelling: []string{"bar", "barg"}, scale: 100},
	{Suffix: "kpa", Unit: "psi", Quantity: "pressure", Finest: 0.5, spelling: []string{"psi", "psig"}, scale: unit.PSI / unit.Kilopascal},
	{Suffix: "kpa", Unit: "kPa", Quantity: "pressure", Finest: 5, spelling: []string{"kpa"}, scale: 1},
	{Suffix: "c", Unit: "°C", Quantity: "temperature", Finest: 0.5, spelling: []string{"c", "celsius"}, scale: 1},
	{Suffix: "c", Unit: "°F", Quantity: "temperature", Finest: 1, spelling: []string{"f", "fahrenheit"}, scale: 1 / 1.8, zero: -32 / 1.8},
	{Suffix: "sg", Quantity: "gravity", Finest: 0.001, spelling: []string{"sg"}, scale: 1},
	{Suffix: "sg", Unit: "°P", Quantity: "gravity", Finest: 0.1, spelling: []string{"p", "plato"}, shown: toPlato, key: fromPlato},
	{Suffix: "volumes", Unit: "volumes", Quantity: "gas in the beer", Finest: 0.1, spelling: []string{"volumes", "volume", "vol", "vols"}, scale: 1},
	{Suffix: "volumes", Unit: "g/L", Quantity: "gas in the beer", Finest: 0.1, spelling: []string{"g/l"}, scale: 1 / gramsPerVolume},
	{Suffix: "l", Unit: "L", Quantity: "volume", Finest: 0.1, spelling: []string{"l", "litre", "litres", "liter", "liters"}, scale: 1},
	{Suffix: "l", Unit: "gal (US)", Quantity: "volume", Finest: 0.05, spelling: []string{"gal(us)", "gallon(us)", "gallons(us)"}, scale: unit.GallonUS / unit.Litre},
	{Suffix: "l", Unit: "gal (UK)", Quantity: "volume", Finest: 0.05, spelling: []string{"gal(uk)", "gallon(uk)", "gallons(uk)"}, scale: unit.GallonImperial / unit.Litre},
	{Suffix: "l", Unit: "mL", Quantity: "volume", Finest: 5, spelling: []string{"ml"}, scale: 1e-3},
	{Suffix: "l", Unit: "m³", Quantity: "volume", Finest: 0.1, spelling: []string{"m3"}, scale: 1000},
	{Suffix: "h", Unit: "h", Quantity: "time", Finest: 1, spelling: []string{"h", "hour", "hours"}, scale: 1},
	{Suffix: "h", Unit: "days", Quantity: "time", Finest: 0.1, spelling: []string{"days", "day", "d"}, scale: 24},
	{Suffix: "h", Unit: "min", Quantity: "time", Finest: 1, spelling: []string{"min", "minute", "minutes"}, scale: 1.0 / 60},
	{Suffix: "h", Unit: "months", Quantity: "time", Finest: 0.1, spelling: []string{"months", "month"}, scale: unit.Month / unit.Hour},
	{Suffix: "m", Unit: "m", Quantity: "length", Finest: 0.1, spelling: []string{"m", "metre", "metres"}, scale: 1},
	{Suffix: "m", Unit: "cm", Quantity: "length", Finest: 1, spelling: []string{"cm"}, scale: 0.01},
	{Suffix: "m", Unit: "mm", Quantity: "length", Finest: 0.1, spelling: []string{"mm"}, scale: 0.001},
	{Suffix: "m", Unit: "ft", Quantity: "length", Finest: 0.1, spelling: []string{"ft", "foot", "feet"}, scale: unit.Foot},
	{Suffix: "m", Unit: "in", Quantity: "length", Finest: 0.1, spelling: []string{"in", "inch", "inches"}, scale: unit.Inch},
	{Suffix: "g", Unit: "g", Quantity: "mass", Finest: 1, spelling: []string{"g", "gram", "grams"}, scale: 1},
	{Suffix: "g", Unit: "oz", Quantity: "mass", Finest: 0.05, spelling: []string{"oz", "ounce", "ounces"}, scale: unit.Ounce / unit.Gram},
	{Suffix: "g", Unit: "kg", Quantity: "mass", Finest: 0.01, spelling: []string{"kg"}, scale: 1000},
	{Suffix: "kg", Unit: "kg", Quantity: "mass", Finest: 1, spelling: []string{"kg"}, scale: 1},
	{Suffix: "kg", Unit: "lb", Quantity: "mass", Finest: 1, spelling: []string{"lb", "lbs", "pounds"}, scale: unit.Pound},
	{Suffix: "percent", Unit: "%", Quantity: "share", Finest: 0.1, scale: 1},
	{Suffix: "ml", Unit: "mL", Quantity: "volume", Finest: 1, scale: 1},
	{Suffix: "ppm", Unit: "ppm", Quantity: "share by volume", Finest: 1, scale: 1},
	{Suffix: "min", Unit: "min", Quantity: "time", Finest: 0.1, scale: 1},
	{Suffix: "s", Unit: "s", Quantity: "time", Finest: 0.1, scale: 1},
	{Suffix: "mm", Unit: "mm", Quantity: "length", Finest: 0.1, scale: 1},
	{Suffix: "mm2", Unit: "mm²", Quantity: "area", Finest: 0.1, scale: 1},
	{Suffix: "n", Unit: "N", Quantity: "force", Finest: 1, scale: 1},
	{Suffix: "w", Unit: "W", Quantity: "power", Finest: 1, scale: 1},
	{Suffix: "w_per_k", Unit: "W/K", Quantity: "heat loss", Finest: 0.1, scale: 1},
	{Suffix: "g_per_l", Unit: "g/L", Quantity: "content", Finest: 0.1, scale: 1},
	{Suffix: "mg_per_l", Unit: "mg/L", Quantity: "content", Finest: 1, scale: 1},
	{Suffix: "g_per_h", Unit: "g/h", Quantity: "rate", Finest: 0.1, scale: 1},
	{Suffix: "g_per_day", Unit: "g a day", Quantity: "rate", Finest: 0.1, scale: 1},
	{Suffix: "l_per_min", Unit: "L/min", Quantity: "flow", Finest: 0.01, scale: 1},
	{Suffix: "ml_per_s", Unit: "mL/s", Quantity: "flow", Finest: 1, scale: 1},
	{Suffix: "per_h", Unit: "per h", Quantity: "frequency", Finest: 0.1, scale: 1},
	{Suffix: "points_per_day", Unit: "points a day", Quantity: "rate", Finest: 0.01, scale: 1},
	{Suffix: "points", Unit: "points", Quantity: "gravity", Finest: 0.1, scale: 1},
	{Suffix: "e9", Unit: "thousand million", Quantity: "number of cells", Finest: 1, scale: 1},
}

// bare is for numbers without a unit.
var bare = Measure{Quantity: "number", scale: 1}

// suffixOf is the unit at the end of a key, the longest that fits; "" for a bare number.
func suffixOf(key string) string {
	best := ""
	for i := range measures {
		if s := measures[i].Suffix; len(s) > len(best) && (key == s || strings.HasSuffix(key, "_"+s)) {
			best = s
		}
	}
	return best
}

// Units are the measures somebody chose, by suffix of the key.
type Units map[string]*Measure

// Of is the measure of the numbers under that key: the one chosen, or the usual one.
func (u Units) Of(key string) *Measure {
	suffix := suffixOf(key)
	if m := u[suffix]; m != nil {
		return m
	}
	for i := range measures {
		if measures[i].Suffix == suffix {
			return &measures[i]
		}
	}
	return &bare
}

// Chosen tells whether somebody chose how numbers under that key are shown.
func (u Units) Chosen(key string) bool { return u[suffixOf(key)] != nil }

// ParseUnits reads a list such as "psi, F", a unit for each quantity it names.
func ParseUnits(list string) (Units, error) {
	units := Units{}
	for _, word := range strings.Split(list, ",") {
		spelt, found := spelling(word), false
		for i := range measures {
			m := &measures[i]
			if !slices.Contains(m.spelling, spelt) {
				continue
			}
			if before := units[m.Suffix]; before != nil && before != m {
				return nil, fmt.Errorf("--units: read %q and %q, both for %s; one of them is accepted", before.spelling[0], spelt, m.Quantity)
			}
			units[m.Suffix], found = m, true
		}
		if !found {
			return nil, fmt.Errorf("--units: read %q; accepted are %s, for example psi,F", strings.TrimSpace(word), allSpellings())
		}
	}
	return units, nil
}

func spelling(word string) string {
	return strings.ReplaceAll(strings.TrimPrefix(strings.ToLower(strings.TrimSpace(word)), "°"), " ", "")
}

func allSpellings() string {
	var all []string
	for i := range measures {
		if m := &measures[i]; len(m.spelling) > 0 && !slices.Contains(all, m.spelling[0]) {
			all = append(all, m.spelling[0])
		}
	}
	return strings.Join(all, ", ")
}

// typed adds the unit in which a value of that key was written, unless one is chosen.
func (u Units) typed(key, text string) {
	suffix := suffixOf(key)
	word := spelling(strings.TrimLeft(strings.TrimSpace(text), "+-0123456789.,/ "))
	for i := range measures {
		if m := &measures[i]; u[suffix] == nil && m.Suffix == suffix && slices.Contains(m.spelling, word) {
			u[suffix] = m
		}
	}
}

// Shown gives a number in the unit of its key as it is shown.
func (m *Measure) Shown(v float64) float64 {
	if m.shown != nil {
		return m.shown(v)
	}
	return (v - m.zero) / m.scale
}

// key turns a shown number back.
func (m *Measure) inKey(v float64) float64 {
	if m.key != nil {
		return m.key(v)
	}
	return v*m.scale + m.zero
}

// Decimals are those that steps of that size need, four at most.
func Decimals(step float64) int {
	for d := range 4 {
		if scaled := step * math.Pow(10, float64(d)); math.Abs(scaled-math.Round(scaled)) < 1e-6*scaled {
			return d
		}
	}
	return 4
}

// Words writes a number in the unit of its key, no finer than the measure is, nor than a
// third of the band from its low to its high edge.
func (m *Measure) Words(v, low, high float64) string {
	x, finest := m.Shown(v), m.Finest
	if finest == 0 {
		return compact(x, 4)
	}
	step := unit.Resolution(finest, math.Abs(m.Shown(high)-m.Shown(low)))
	text := Plain(math.Round(x/step)*step, Decimals(finest))
	if m.Suffix != "sg" && m.Unit != "bar" && strings.Contains(text, ".") { // as package unit writes them
		text = strings.TrimRight(strings.TrimRight(text, "0"), ".")
	}
	return strings.TrimSpace(text + " " + m.Unit)
}

// Finer is the measure with one digit more.
func (m Measure) Finer() *Measure {
	m.Finest /= 10
	return &m
}

// Plain writes a number with so many decimals, nothing without a minus.
func Plain(v float64, decimals int) string {
	text := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Trim(text, "-0.") == "" {
		text = strings.TrimPrefix(text, "-")
	}
	return text
}

// Label is what the flag holds, in words that stand alone.
func (f Flag) Label() string {
	help, _, _ := strings.Cut(f.Help, ";")
	help, _, _ = strings.Cut(help, ",")
	first, _, _ := strings.Cut(help, " ")
	if slices.Contains([]string{"of", "on", "at", "as", "in", "set", "filled", "while", "between", "under"}, first) {
		return strings.ReplaceAll(f.Name, "-", " ") + " " + help
	}
	return help
}

// With is words and the unit behind them.
func (m *Measure) With(words string) string {
	if m.Unit == "" {
		return words
	}
	return words + " (" + m.Unit + ")"
}

// Digits writes a number with at most so many significant digits.
func Digits(v float64, digits int) string { return compact(v, digits) }

// In writes an input in these units, or as it is usually said.
func (u Units) In(g Given) string {
	switch key := g.Flag.JSONKey(); {
	case g.Flag.Kind.Words == nil:
		return g.Text
	case u.Chosen(key):
		v := g.Flag.Kind.InKey(g.Value)
		return u.Of(key).Words(v, v, v)
	case !g.Default && g.Flag.Kind.Suffix != "kpa": // as it was typed
		own := Units{}
		own.typed(key, g.Text)
		if m := own[suffixOf(key)]; m != nil && m != Units(nil).Of(key) {
			return compact(m.Shown(g.Flag.Kind.InKey(g.Value)), 4) + " " + m.Unit
		}
	}
	return g.Flag.Kind.Words(g.Value)
}
