package calc

import (
	"strconv"
	"strings"

	"spile/unit"
	"spile/wording"
)

// Kinds that have no dimension of their own.
var (
	plainKind = &Kind{Name: "number", Example: "1.013", Scale: 1, parse: plain, Words: func(s unit.Style, v float64) string { return compact(v, 6) }}
	paceKind  = &Kind{Name: "fall of gravity", Example: "15 points/day", Suffix: "points_per_day", Scale: 1, parse: positive(pace),
		Words: func(s unit.Style, v float64) string { return s.With(compact(v, 3), "points a day") }}
	strengthKind = &Kind{Name: "strength", Example: "150 ppm", Suffix: "ppm", Scale: 1e-6, parse: partsPerMillion,
		Words: func(s unit.Style, v float64) string { return s.With(compact(v*1e6, 3), "ppm") }}
)

// decimal reads a number with a decimal point or comma.
func decimal(s string) (float64, error) {
	return strconv.ParseFloat(strings.Replace(strings.TrimSpace(s), ",", ".", 1), 64)
}

// plain reads a number without a unit.
func plain(s string) (float64, error) {
	v, err := decimal(s)
	if err != nil || !(v > -1e9 && v < 1e9) {
		return 0, wording.Unsaid("read %q; a plain number is accepted, for example 1.013", s)
	}
	return v, nil
}

// pace reads points of gravity a day.
func pace(s string) (float64, error) {
	number := strings.TrimSpace(strings.ToLower(s))
	for _, end := range []string{"/day", "/d", " a day", " per day", "points", "point"} {
		number = strings.TrimSpace(strings.TrimSuffix(number, end))
	}
	v, err := plain(number)
	if err != nil {
		return 0, wording.Unsaid("read %q; accepted are points of gravity a day, for example 15 points/day", s)
	}
	return v, nil
}

// partsPerMillion reads a share by mass with its unit.
func partsPerMillion(s string) (float64, error) {
	number, ok := strings.CutSuffix(strings.ToLower(strings.TrimSpace(s)), "ppm")
	v, err := plain(number)
	if err != nil || !ok || !(v > 0 && v < 1e6) {
		return 0, wording.Unsaid("read %q; accepted are parts per million, for example 150 ppm", s)
	}
	return v / 1e6, nil
}

// densityKind is the density of a product as labels give it, water being 1.
var densityKind = &Kind{Name: "density", Example: "1.12", Suffix: "kg_per_l", Scale: unit.Kilogram / unit.Litre, parse: density,
	Words: in(unit.Kilogram/unit.Litre, "kg/L")}

func density(s string) (float64, error) {
	number := strings.TrimSpace(s)
	for _, end := range []string{"kg/L", "kg/l", "g/mL", "g/ml"} {
		number = strings.TrimSuffix(number, end)
	}
	v, err := plain(number)
	if err != nil || !(v > 0.5 && v < 3) {
		return 0, wording.Unsaid("read %q; accepted is a density such as 1.12 kg/L", s)
	}
	return v * unit.Kilogram / unit.Litre, nil
}
