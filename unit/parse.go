package unit

import (
	"strings"
	"unicode/utf8"

	"spile/wording"
)

// ParseError says in one line what was read and what is accepted.
type ParseError struct {
	Quantity   wording.Text     // "pressure"
	Read       string           // what was written, shortened if long
	Problem    wording.Sentence // why it was refused
	Accepted   wording.Text     // what is accepted, with examples
	Suggestion string           // what may have been meant, or empty
}

// NeedsUnit is the problem of a number without a unit.
const NeedsUnit wording.Text = "it needs a unit"

// Error is one line: what was read, why it is refused, what is accepted.
func (e *ParseError) Error() string { return e.Sentence().String() }

// Sentence is the error, to be said in any language.
func (e *ParseError) Sentence() wording.Sentence {
	if e.Suggestion != "" {
		return wording.Unsaid("read %q as %s: %s; accepted: %s. Did you mean %s?", e.Read, e.Quantity, e.Problem, e.Accepted, e.Suggestion)
	}
	return wording.Unsaid("read %q as %s: %s; accepted: %s", e.Read, e.Quantity, e.Problem, e.Accepted)
}

// symbol is one unit a quantity may be written in: SI = number*10^exp10*factor + offset.
type symbol struct {
	factor float64 // 1 for units that are powers of ten of the SI unit
	exp10  int
	offset float64
}

// kind is how one quantity is written.
type kind struct {
	name     wording.Text
	accepted wording.Text
	symbols  map[string]symbol       // by canonical text, lower case unless case matters
	refused  map[string]wording.Text // canonical text to the reason
	usual    []string                // tried, in this order, for a suggestion
	low      float64                 // SI, inclusive
	high     float64                 // SI, inclusive
	limits   wording.Text            // the same in words
	small    bool                    // values are below 1000, so that a comma can only be a decimal one
}

// longest is the length in bytes beyond which nothing is read.
const longest = 64

// bare drops what a unit may carry without meaning more.
var bare = strings.NewReplacer(" ", "", "(", "", ")", "", "°", "", "º", "", "˚", "", "℃", "C", "℉", "F")

// canonical brings the text of a unit to the form the tables use.
func canonical(s string) string {
	s = strings.TrimSuffix(strings.TrimSpace(s), ".")
	s = bare.Replace(s)
	for _, word := range []string{"degrees", "degree", "deg"} {
		if len(s) > len(word) && strings.EqualFold(s[:len(word)], word) {
			return s[len(word):]
		}
	}
	return s
}

// find looks a unit up, first as written, then in lower case.
func (k *kind) find(text string) (u symbol, known bool) {
	if u, known = k.symbols[text]; known {
		return u, true
	}
	u, known = k.symbols[strings.ToLower(text)]
	return u, known
}

func (u symbol) apply(n numeral) float64 { return n.value(u.exp10)*u.factor + u.offset }

// parse reads s as a quantity of kind k and gives it in SI.
func (k *kind) parse(s string) (float64, error) {
	if len(s) > longest {
		return 0, k.fail(s, wording.Unsaid("that is too long"), "")
	}
	n, rest, problem := scan(tidy.Replace(s))
	if problem != "" {
		return 0, k.fail(s, wording.Unsaid(problem), "")
	}
	text := canonical(rest)
	u, known := k.find(text)
	if !known {
		return 0, k.fail(s, k.why(text), "")
	}
	if n.ambiguous() && !k.small {
		return 0, k.fail(s, wording.Unsaid("the comma could mean a thousand or a decimal; write 1000 or 1.0"), "")
	}
	v := u.apply(n)
	if !(v >= k.low && v <= k.high) {
		return 0, k.fail(s, wording.Unsaid("that is outside %s", k.limits), k.suggest(n, rest))
	}
	return v, nil
}

// why says what is wrong with a unit that is not in the table.
func (k *kind) why(text string) wording.Sentence {
	if text == "" {
		return wording.Unsaid(NeedsUnit)
	}
	if reason, ok := k.refused[text]; ok {
		return wording.Unsaid(reason)
	}
	if reason, ok := k.refused[strings.ToLower(text)]; ok {
		return wording.Unsaid(reason)
	}
	return wording.Unsaid("the unit %q is not known here", short(text))
}

// suggest finds a usual unit in which the same number would be in range.
func (k *kind) suggest(n numeral, written string) string {
	for _, name := range k.usual {
		u, _ := k.find(canonical(name))
		if v := u.apply(n); v >= k.low && v <= k.high && canonical(written) != canonical(name) {
			return n.mantissa + " " + name
		}
	}
	return ""
}

func (k *kind) fail(s string, problem wording.Sentence, suggestion string) error {
	return &ParseError{Quantity: k.name, Read: short(s), Problem: problem, Accepted: k.accepted, Suggestion: suggestion}
}

// short keeps at most 40 characters of s, for a message of one line.
func short(s string) string {
	if utf8.RuneCountInString(s) <= 40 {
		return s
	}
	return string([]rune(s)[:40]) + "…"
}
