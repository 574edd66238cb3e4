package calc

import (
	"strconv"
	"strings"

	"spile/unit"
	"spile/wording"
	"spile/wort"
)

// Kind is what a flag holds: how it is read, and its name and unit in JSON.
type Kind struct {
	Name    string
	Example string
	Suffix  string  // of the JSON key, with its unit
	Scale   float64 // SI per unit of the key
	Zero    float64 // SI value at which the unit of the key reads 0
	Words   func(style unit.Style, si float64) string
	parse   func(string) (float64, error)
	Choices []wording.Text // of a word; nil: it is a number
}

// InKey gives a value in the unit of the JSON key.
func (k *Kind) InKey(si float64) float64 { return (si - k.Zero) / k.Scale }

// JSONKey is the name of flag f in JSON.
func (f Flag) JSONKey() string {
	key := strings.ReplaceAll(f.Name, "-", "_")
	if f.Kind.Suffix == "" || strings.HasSuffix(key, f.Kind.Suffix) {
		return key
	}
	return key + "_" + f.Kind.Suffix
}

// number turns a parser of package unit into one of a plain number.
func number[T ~float64](parse func(string) (T, error)) func(string) (float64, error) {
	return func(s string) (float64, error) { v, err := parse(s); return float64(v), err }
}

// positive refuses zero and less.
func positive(parse func(string) (float64, error)) func(string) (float64, error) {
	return func(s string) (float64, error) {
		v, err := parse(s)
		if err == nil && v <= 0 {
			err = wording.Unsaid("read %q; it must be above zero", s)
		}
		return v, err
	}
}

func parseGravity(s string) (unit.Gravity, error) {
	return unit.ParseGravity(s, wort.GravityFromExtract)
}

// compact writes a number with at most so many significant digits.
func compact(v float64, digits int) string {
	if r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', digits, 64), 64); err == nil {
		return strconv.FormatFloat(r, 'f', -1, 64)
	}
	return strconv.FormatFloat(v, 'g', digits, 64)
}

func in(scale float64, word wording.Text) func(unit.Style, float64) string {
	return func(s unit.Style, si float64) string { return s.With(compact(si/scale, 4), word) }
}

// The kinds of input.
var (
	gaugeKind = &Kind{Name: "pressure", Example: "10 psi", Suffix: "kpa", Scale: unit.Kilopascal, parse: number(unit.ParseGauge),
		Words: func(s unit.Style, v float64) string { return s.Dials(unit.Gauge(v), 0) }}
	supplyKind = &Kind{Name: "pressure", Example: "57 bar", Suffix: "kpa", Scale: unit.Kilopascal, parse: positive(number(unit.ParseSupply)),
		Words: in(unit.Bar, "bar")}
	ratingKind = &Kind{Name: "pressure", Example: "2.5 bar", Suffix: "kpa", Scale: unit.Kilopascal, parse: positive(number(unit.ParseGauge)),
		Words: func(s unit.Style, v float64) string { return s.LimitDials(unit.Gauge(v)) }}
	setKind = &Kind{Name: "pressure", Example: "2.5 bar", Suffix: "kpa", Scale: unit.Kilopascal, parse: positive(number(unit.ParseGauge)),
		Words: func(s unit.Style, v float64) string { return s.Dials(unit.Gauge(v), 0) }}
	temperatureKind = &Kind{Name: "temperature", Example: "18 C", Suffix: "c", Scale: 1, Zero: 273.15, parse: number(unit.ParseTemperature),
		Words: func(s unit.Style, v float64) string { return s.Temperature(unit.Temperature(v), 0) }}
	volumeKind = &Kind{Name: "volume", Example: "20 L", Suffix: "l", Scale: unit.Litre, parse: positive(number(unit.ParseVolume)),
		Words: func(s unit.Style, v float64) string { return s.Volume(unit.Volume(v), 0) }}
	lengthKind = &Kind{Name: "length", Example: "10 cm", Suffix: "m", Scale: 1, parse: positive(number(unit.ParseLength)),
		Words: func(s unit.Style, v float64) string {
			if v < 0.01 {
				return s.With(compact(v/unit.Millimetre, 3), "mm")
			}
			return s.With(compact(v/unit.Centimetre, 3), "cm")
		}}
	altitudeKind = &Kind{Name: "altitude", Example: "40 m", Suffix: "m", Scale: 1, parse: number(unit.ParseLength), Words: in(1, "m")}
	gravityKind  = &Kind{Name: "gravity", Example: "1.046", Suffix: "sg", Scale: 1, parse: number(parseGravity),
		Words: func(s unit.Style, v float64) string { return s.Gravity(unit.Gravity(v), 0) }}
	volumesKind = &Kind{Name: "carbonation", Example: "2.5 volumes", Suffix: "volumes", Scale: 1, parse: positive(number(unit.ParseVolumes)),
		Words: func(s unit.Style, v float64) string { return s.Gas(unit.Volumes(v), 0) }}
	abvKind = &Kind{Name: "alcohol", Example: "4.8 %", Suffix: "percent", Scale: 0.01, parse: positive(number(unit.ParseABV)),
		Words: func(s unit.Style, v float64) string { return s.ABV(unit.ABV(v), 0) }}
	durationKind = &Kind{Name: "time", Example: "24 h", Suffix: "h", Scale: unit.Hour, parse: positive(number(unit.ParseDuration)),
		Words: func(s unit.Style, v float64) string { return s.Duration(unit.Duration(v), 0) }}
	powerKind       = &Kind{Name: "power", Example: "30 W", Suffix: "w", Scale: 1, parse: positive(number(unit.ParsePower)), Words: in(1, "W")}
	conductanceKind = &Kind{Name: "heat loss", Example: "4 W/K", Suffix: "w_per_k", Scale: 1, parse: positive(number(unit.ParseConductance)), Words: in(1, "W/K")}
	dilutionKind    = &Kind{Name: "dilution", Example: "1:400", Suffix: "", Scale: 1, parse: number(unit.ParseDilution),
		Words: func(s unit.Style, v float64) string { return "1:" + compact(1/v, 4) }}
	shareKind = &Kind{Name: "share", Example: "10 %", Suffix: "percent", Scale: 0.01, parse: share,
		Words: func(s unit.Style, v float64) string { return s.With(compact(v*100, 3), "%") }}
	massRateKind = &Kind{Name: "rate", Example: "20 g/h", Suffix: "g_per_h", Scale: unit.Gram / unit.Hour, parse: positive(number(unit.ParseMassRate)),
		Words: in(unit.Gram/unit.Hour, "g/h")}
	frequencyKind = &Kind{Name: "air changes", Example: "0.3 per h", Suffix: "per_h", Scale: 1 / unit.Hour, parse: positive(number(unit.ParseFrequency)),
		Words: in(1/unit.Hour, "per h")}
	countKind  = &Kind{Name: "number", Example: "5", Scale: 1, parse: count, Words: func(s unit.Style, v float64) string { return compact(v, 6) }}
	amountKind = &Kind{Name: "amount", Example: "24.50", Scale: 1, parse: amount, Words: func(s unit.Style, v float64) string { return compact(v, 6) }}
)

// share reads a share of a whole, 0 up to but without 100 %.
func share(s string) (float64, error) {
	v, err := unit.ParsePercent(s)
	if err == nil && !(v >= 0 && v < 1) {
		err = wording.Unsaid("read %q; accepted are 0 to under 100 %%", s)
	}
	return float64(v), err
}

// count reads a whole number from 1 to 1000.
func count(s string) (float64, error) {
	n, err := strconv.Atoi(strings.TrimSpace(s))
	if err != nil || n < 1 || n > 1000 {
		return 0, wording.Unsaid("read %q; a whole number from 1 to 1000 is accepted, for example 5", s)
	}
	return float64(n), nil
}

// amount reads a plain amount of money, zero included.
func amount(s string) (float64, error) {
	v, err := decimal(s)
	if err != nil || !(v >= 0 && v <= 1e9) {
		return 0, wording.Unsaid("read %q; a plain amount in your currency is accepted, for example 24.50", s)
	}
	return v, nil
}

// choice is a word out of a list.
func choice(name string, words ...wording.Text) *Kind {
	return &Kind{Name: name, Example: string(words[0]), Choices: words, Scale: 1, parse: func(s string) (float64, error) {
		read := strings.NewReplacer("-", " ", "_", " ").Replace(strings.TrimSpace(s))
		for i, w := range words {
			if strings.EqualFold(read, string(w)) {
				return float64(i), nil
			}
		}
		return 0, wording.Unsaid("read %q; accepted: %s", s, strings.Join(wording.English(words), ", "))
	}}
}
