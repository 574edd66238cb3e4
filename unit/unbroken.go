package unit

import (
	"regexp"
	"strings"

	"spile/wording"
)

// behind are the units that stand behind a number in a sentence.
var behind = []wording.Text{"psi", "bar", "kPa", "atm", "°C", "°F", "°P", "L/min", "L", "mL", "gal", "fl oz", "m³", "g/L", "g", "kg", "oz", "lb",
	"W", "mm", "cm", "m", "h", "min", "days", "months", "points", "point", "volumes", "ppm", "%"}

// below is a hyphen before a number that has nothing to hyphenate.
var below = regexp.MustCompile(`(^|[\s(])-(\d)`)

// Minus writes numbers below zero with the sign that is read aloud; a hyphen is not.
func Minus(text string) string { return below.ReplaceAllString(text, "$1\u2212$2") }

// Unbroken gives what keeps a number and its unit on one line of a text in a language, and its sign to be read aloud.
func Unbroken(t *wording.Tongue) func(text string) string {
	var names []string
	for _, u := range behind {
		names = append(names, regexp.QuoteMeta(string(u)), regexp.QuoteMeta(t.Word(u)))
	}
	number := regexp.MustCompile(`(\d) ((?:` + strings.Join(names, "|") + `)(?:[^\pL\pM\pN_]|$))`) // \b knows no letter with an accent
	return func(text string) string { return number.ReplaceAllString(Minus(text), "$1\u00a0$2") }
}
