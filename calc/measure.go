package calc

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"

	"spile/unit"
	"spile/wording"
	"spile/wort"
)

// Measure is a unit in which numbers of one kind of key are shown.
type Measure struct {
	Suffix string // of the keys
	*unit.Measure
	scale float64 // SI of the quantity in the unit of the key
	zero  float64 // SI at which the key reads 0
	shown func(key float64) float64
	key   func(shown float64) float64
	free  bool // somebody may choose it
}

func toPlato(sg float64) float64 { return wort.ExtractFromGravity(unit.Gravity(sg)).Plato() }
func fromPlato(p float64) float64 {
	return float64(wort.GravityFromExtract(unit.Plato(p)))
}

// chosen are measures of package unit for keys in units of scale SI.
func chosen(suffix string, scale, zero float64, names ...string) []Measure {
	var out []Measure
	for _, name := range names {
		m := Measure{Suffix: suffix, Measure: unit.MeasureOf(name), scale: scale, zero: zero, free: true}
		if name == "°P" {
			m.shown, m.key = toPlato, fromPlato
		}
		out = append(out, m)
	}
	return out
}

// whole are measures said to whole units.
func whole(measures []Measure) []Measure {
	for i := range measures {
		m := *measures[i].Measure
		m.Finest = 1
		measures[i].Measure = &m
	}
	return measures
}

// only is a unit that nobody chooses.
func only(suffix string, name wording.Text, quantity string, finest float64) []Measure {
	return []Measure{{Suffix: suffix, Measure: unit.Named(name, quantity, finest), scale: 1}}
}

// measures are the units to choose from, the first of each suffix where nothing is chosen.
var measures = slices.Concat(
	chosen("kpa", unit.Kilopascal, 0, "bar", "psi", "kPa"),
	chosen("c", 1, float64(unit.Celsius(0)), "°C", "°F"),
	chosen("sg", 1, 0, "", "°P"),
	chosen("volumes", 1, 0, "volumes", "g/L"),
	chosen("l", unit.Litre, 0, "L", "gal (US)", "gal (UK)", "mL", "m³"),
	chosen("h", unit.Hour, 0, "h", "days", "min", "months"),
	chosen("m", unit.Metre, 0, "m", "cm", "mm", "ft", "in"),
	chosen("g", unit.Gram, 0, "g", "oz", "kg"),
	whole(chosen("kg", unit.Kilogram, 0, "kg", "lb")),
	only("percent", "%", "share", 0.1),
	only("ml", "mL", "volume", 1),
	only("ppm", "ppm", "share by volume", 1),
	only("min", "min", "time", 0.1),
	only("s", "s", "time", 0.1),
	only("mm", "mm", "length", 0.1),
	only("mm2", "mm²", "area", 0.1),
	only("n", "N", "force", 1),
	only("w", "W", "power", 1),
	only("w_per_k", "W/K", "heat loss", 0.1),
	only("g_per_l", "g/L", "content", 0.1),
	only("kg_per_l", "kg/L", "density", 0.001),
	only("mg_per_l", "mg/L", "content", 1),
	only("g_per_h", "g/h", "rate", 0.1),
	only("g_per_day", "g a day", "rate", 0.1),
	only("l_per_min", "L/min", "flow", 0.01),
	only("ml_per_s", "mL/s", "flow", 1),
	only("per_h", "per h", "frequency", 0.1),
	only("points_per_day", "points a day", "rate", 0.01),
	only("points", "points", "gravity", 0.1),
	only("e9", "thousand million", "number of cells", 1),
)

// bare is for numbers without a unit.
var bare = Measure{Measure: unit.Named("", "number", 0), scale: 1}

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

// UnitsOf are the measures of what somebody chose, the first that fits each suffix.
func UnitsOf(style unit.Style) Units {
	units := Units{}
	for i := range measures {
		if m := &measures[i]; m.free && units[m.Suffix] == nil && style.Chooses(m.Measure) {
			units[m.Suffix] = m
		}
	}
	return units
}

// ParseUnits reads a list such as "psi, F", a unit for each quantity it names.
func ParseUnits(list string) (Units, error) {
	units := Units{}
	for _, word := range strings.Split(list, ",") {
		spelt, found := unit.Spelling(word), false
		for i := range measures {
			m := &measures[i]
			if !slices.Contains(m.Spelt, spelt) {
				continue
			}
			if before := units[m.Suffix]; before != nil && before != m {
				return nil, fmt.Errorf("--units: read %q and %q, both for %s; one of them is accepted", before.Spelt[0], spelt, m.Quantity)
			}
			units[m.Suffix], found = m, true
		}
		if !found {
			return nil, fmt.Errorf("--units: read %q; accepted are %s, for example psi,F", strings.TrimSpace(word), allSpellings())
		}
	}
	return units, nil
}

func allSpellings() string {
	var all []string
	for i := range measures {
		if m := &measures[i]; len(m.Spelt) > 0 && !slices.Contains(all, m.Spelt[0]) {
			all = append(all, m.Spelt[0])
		}
	}
	return strings.Join(all, ", ")
}

// typed adds the unit in which a value of that key was written, unless one is chosen.
func (u Units) typed(key, text string) {
	suffix := suffixOf(key)
	word := unit.Spelling(strings.TrimLeft(strings.TrimSpace(text), "+-0123456789.,/ "))
	for i := range measures {
		if m := &measures[i]; u[suffix] == nil && m.Suffix == suffix && slices.Contains(m.Spelt, word) {
			u[suffix] = m
		}
	}
}

// amountTyped is a number with what stands behind it.
var amountTyped = regexp.MustCompile(`^([-+−]?[0-9][0-9.,/ ]*)(\D.*)$`)

// Said is an amount as it is typed in English, as 3 days, in a language.
func Said(t *wording.Tongue, typed string) string {
	return amountTyped.ReplaceAllStringFunc(typed, func(amount string) string {
		part := amountTyped.FindStringSubmatch(amount)
		return part[1] + t.Word(wording.Text(part[2]))
	})
}

// Typed is an amount as somebody typed it with the words of their language, as it is read: in English.
func Typed(t *wording.Tongue, typed string) string {
	part := amountTyped.FindStringSubmatch(strings.TrimSpace(typed))
	if t == nil || part == nil {
		return typed
	}
	for i := range measures {
		if name := measures[i].Unit; strings.EqualFold(part[2], t.Word(wording.Text(name))) {
			return part[1] + name
		}
	}
	return typed
}

// Shown gives a number in the unit of its key as it is shown.
func (m *Measure) Shown(v float64) float64 {
	if m.shown != nil {
		return m.shown(v)
	}
	return m.Measure.Shown(v*m.scale + m.zero)
}

// key turns a shown number back.
func (m *Measure) inKey(v float64) float64 {
	if m.key != nil {
		return m.key(v)
	}
	return (m.Measure.SI(v) - m.zero) / m.scale
}

// Words writes a number in the unit of its key, no finer than the measure is, nor than a
// third of the band from its low to its high edge.
func (m *Measure) Words(v, low, high float64) string {
	x, finest := m.Shown(v), m.Finest
	if finest == 0 {
		return compact(x, 4)
	}
	step := unit.Resolution(finest, math.Abs(m.Shown(high)-m.Shown(low)))
	return m.With(m.Text(math.Round(x/step) * step))
}

// In is the measure in the language of a style.
func (m Measure) In(style unit.Style) *Measure {
	m.Measure = m.Measure.In(unit.Style{Tongue: style.Tongue})
	return &m
}

// Finer is the measure with one digit more.
func (m Measure) Finer() *Measure {
	m.Measure = m.Measure.Finer()
	return &m
}

// Digits writes a number with at most so many significant digits.
func Digits(v float64, digits int) string { return compact(v, digits) }

// In writes an input in these units, or as it is usually said, in the language of a style.
func (u Units) In(style unit.Style, g Given) string {
	switch key := g.Flag.JSONKey(); {
	case g.Flag.Kind.Choices != nil:
		return style.Word(g.Flag.Kind.Choices[int(g.Value)])
	case u.Chosen(key):
		v := g.Flag.Kind.InKey(g.Value)
		return u.Of(key).In(style).Words(v, v, v)
	case !g.Default && g.Flag.Kind.Suffix != "kpa": // as it was typed
		own := Units{}
		own.typed(key, g.Text)
		if m := own[suffixOf(key)]; m != nil && m != Units(nil).Of(key) {
			return m.In(style).With(compact(m.Shown(g.Flag.Kind.InKey(g.Value)), 4))
		}
	}
	return g.Flag.Kind.Words(style, g.Value)
}
