package unit

import (
	"math"
	"regexp"
	"strconv"
	"strings"

	"spile/wording"
)

// numeral is a number as written, kept as text so that 12 % is read as 12e-2
// and rounded once, not twice.
type numeral struct {
	mantissa    string // digits with a decimal point, sign first
	exponent    int
	denominator float64 // of a fraction such as 3/16, else 1
	whole       float64 // of a mixed number such as 1 1/2, else 0
}

var (
	decimalRE  = regexp.MustCompile(`^([+-]?)(\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE]([+-]?\d{1,3}))?`)
	fractionRE = regexp.MustCompile(`^([+-]?)(?:(\d{1,4}) +)?(\d{1,4}) ?/ ?(\d{1,4})(?:\D|$)`)
	thousandRE = regexp.MustCompile(`^[1-9]\d{0,2}(,\d{3})+$`)
)

// tidy brings signs, spaces and fractions that phones and word processors
// insert back to plain ones.
var tidy = strings.NewReplacer(
	"\u2212", "-", "\u2013", "-", "\u00a0", " ", "\u202f", " ", "\u2009", " ", "\t", " ",
	"½", " 1/2", "¼", " 1/4", "¾", " 3/4", "³", "3", "²", "2", "’", "'", "″", `"`, "”", `"`,
)

// scan splits s into its number and the text after it.
// problem is empty if a number was found.
func scan(s string) (n numeral, rest string, problem wording.Text) {
	s = strings.TrimSpace(s)
	if strings.Contains(s, "/") { // few are, and the pattern is slow
		if m := fractionRE.FindStringSubmatch(s); m != nil {
			return scanFraction(s, m)
		}
	}
	m := decimalRE.FindStringSubmatch(s)
	if m == nil {
		return n, "", "a number was expected"
	}
	digits, rest := m[2], s[len(m[0]):]
	if strings.HasPrefix(rest, ",") || strings.HasPrefix(rest, ".") && strings.ContainsAny(rest, "0123456789") {
		return n, "", "write one decimal point and no thousands separator"
	}
	n = numeral{mantissa: m[1] + digits, denominator: 1}
	n.exponent, _ = strconv.Atoi(m[3]) // the pattern allows at most three digits, and none is 0
	return n, rest, ""
}

func scanFraction(s string, m []string) (n numeral, rest string, problem wording.Text) {
	n.mantissa = m[1] + m[3]
	n.denominator, _ = strconv.ParseFloat(m[4], 64) // digits only, by the pattern
	if n.denominator == 0 {
		return n, "", "nothing can be divided by 0"
	}
	if m[2] != "" {
		n.whole, _ = strconv.ParseFloat(m[1]+m[2], 64) // digits only, by the pattern
	}
	slash := strings.IndexByte(s, '/')
	rest = strings.TrimLeft(s[slash+1:], " ")
	return n, strings.TrimLeft(rest, "0123456789"), ""
}

// ambiguous tells 1,000 (a thousand, or one?) from 0,750 and 12,5.
func (n numeral) ambiguous() bool {
	return thousandRE.MatchString(strings.TrimLeft(n.mantissa, "+-"))
}

// value is the number times ten to the power exp10.
func (n numeral) value(exp10 int) float64 {
	text := strings.Replace(n.mantissa, ",", ".", 1)
	v, err := strconv.ParseFloat(text+"e"+strconv.Itoa(n.exponent+exp10), 64)
	if err != nil {
		return math.NaN() // only overflow is left, which no range admits
	}
	if n.denominator != 1 {
		v /= n.denominator
	}
	return v + n.whole*math.Pow10(exp10)
}

// shift moves the decimal point of the shortest exact text of v by exp10 places,
// so that value(-exp10) of the result gives v again to the last bit.
func shift(v float64, exp10 int) string {
	text := strconv.FormatFloat(v, 'e', -1, 64)
	mantissa, exponent, _ := strings.Cut(text, "e")
	e, _ := strconv.Atoi(exponent) // FormatFloat wrote it
	e += exp10
	if e < -5 || e > 20 {
		return mantissa + "e" + strconv.Itoa(e)
	}
	return plain(mantissa, e)
}

// plain writes d.ddd times ten to the power e without an exponent.
func plain(mantissa string, e int) string {
	sign := ""
	if mantissa[0] == '-' {
		sign, mantissa = "-", mantissa[1:]
	}
	digits := strings.Replace(mantissa, ".", "", 1)
	if e < 0 {
		return sign + "0." + strings.Repeat("0", -e-1) + digits
	}
	if len(digits) <= e+1 {
		return sign + digits + strings.Repeat("0", e+1-len(digits))
	}
	return sign + digits[:e+1] + "." + digits[e+1:]
}
