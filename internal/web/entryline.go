package web

import (
	"regexp"
	"slices"
	"strings"
	"unicode"

	"spile/wording"
)

// Several readings are typed or said in one line: "12 psi, 19 C". Each number is told by
// its unit, or by the name of the quantity before it.

// lineAmounts are those that a line may hold, by the name of their field, with the units
// that can only be of this one.
var lineAmounts = []struct {
	field string
	*amount
	units *regexp.Regexp
}{
	{"pressure", pressureRead, regexp.MustCompile(`(?i)^(p\.?s\.?i\.?g?\b\.?|bars?\b|barg\b|mbar\b|kpa\b|mpa\b|pa\b|lbf?s?/in2|kgf?/cm2)`)},
	{"gravity", gravityRead, regexp.MustCompile(`(?i)^(sg\b|°\s*p\b|p\b|(degrees?\s+)?plato\b)`)},
	{"temperature", temperatureRead, regexp.MustCompile(`(?i)^(°\s*[cf]?\b|°|º\s*[cf]?\b|º|℃|℉|deg(rees?|\.)?(\s*(celsius|fahrenheit|centigrade|[cf]\b))?|celsius|centigrade|fahrenheit|kelvin|[cfk]\b)`)},
	{"cylinder", cylinderWeight, nil}, // by its name alone
	{"vessel", vesselWeight, regexp.MustCompile(`(?i)^(kgs?|kilos?|kilograms?)\b`)},
}

var (
	numberRE  = regexp.MustCompile(`[+\-−–]?(\d+([.,]\d+)?|[.,]\d+)(\s?[½¼¾])?|[½¼¾]`)
	segmentRE = regexp.MustCompile(`(?i),\s+|,$|\band\b|&`)
	massUnit  = regexp.MustCompile(`(?i)^(kgs?|kilos?|g|grams?|lbs?|pounds?|oz|ounces?)\b`)
	ofAir     = regexp.MustCompile(`(?i)\b(air|room|shed|fridge)\b`)
	ofBeer    = regexp.MustCompile(`(?i)\b(beer|probe|inside)\b`)

	fillers = []string{"at", "is", "the", "on", "in", "it", "reads", "shows", "says", "with", "now", "a", "an", "of", "dial", "beer", "to", "about", "ca",
		"roughly", "around", "was", "just", "read", "i", "my", "then", "also", "plus", "vessel", "strip", "probe", "inside", "sample", "ring"}
)

// A line was told to be of these fields beside those of lineAmounts.
const (
	airField   = "air"   // the temperature of the air
	whereField = "where" // the temperature was read in the beer
)

// lineExample is read, so that it is said in no other language.
const lineExample = "12 psi, 19 C"

// readLine gives what each field was told by a line, or why it was not understood.
func readLine(t *wording.Tongue, line string) (told map[string]string, problem string) {
	told = map[string]string{}
	for _, segment := range segmentRE.Split(tidyLine.Replace(digits(line)), -1) {
		if strings.TrimSpace(segment) == "" {
			continue
		}
		if problem := readSegment(t, segment, told); problem != "" {
			return nil, t.Say("%s Type it as %s.", problem, lineExample)
		}
	}
	return told, ""
}

// tidyLine brings what parts a line to commas, and superscripts to digits.
var tidyLine = strings.NewReplacer("²", "2", "\u00a0", " ", "\u202f", " ", ";", ", ", "\n", ", ", "\r", "")

// piece is one number of a line with what stands on both sides of it.
type piece struct{ before, number, after string }

// pieces parts a segment at its numbers. Digits that end a unit, as in lb/in2, are no numbers.
func pieces(segment string) (out []piece) {
	end := 0
	for _, at := range numberRE.FindAllStringIndex(segment, -1) {
		if before := []rune(segment[:at[0]]); len(before) > 0 && (unicode.IsLetter(before[len(before)-1]) || before[len(before)-1] == '/') {
			continue
		}
		if len(out) > 0 {
			out[len(out)-1].after = segment[end:at[0]]
		}
		out = append(out, piece{segment[end:at[0]], segment[at[0]:at[1]], segment[at[1]:]})
		end = at[1]
	}
	return out
}

// readSegment reads what stands between two commas: mostly one number.
func readSegment(t *wording.Tongue, segment string, told map[string]string) (problem string) {
	found := pieces(segment)
	if len(found) == 0 {
		return t.Say("I read “%s” and found no number.", clipped(strings.TrimSpace(segment)))
	}
	left := found[0].before // what was not taken as the unit of the number before
	for _, p := range found {
		if odd := strange(left); odd != "" {
			return t.Say("I did not understand “%s”.", clipped(odd))
		}
		field, text, rest := p.tell(left)
		if field == "" {
			return t.Say("I could not tell what “%s” is.", clipped(strings.TrimSpace(p.number+p.after)))
		}
		if field == "temperature" && ofAir.MatchString(segment) {
			field = airField
		} else if field == "temperature" && ofBeer.MatchString(segment) {
			told[whereField] = inBeer
		}
		if _, twice := told[field]; twice {
			return t.Say("I read two numbers for the %s.", wording.Text(field))
		}
		told[field], left = text, rest
	}
	if odd := strange(left); odd != "" {
		return t.Say("I did not understand “%s”.", clipped(odd))
	}
	return ""
}

// tell finds out what a number is: text is the number with its unit, rest what stands after.
func (p piece) tell(before string) (field, text, rest string) {
	named := namedIn(before)
	after := strings.TrimLeft(p.after, " ")
	if m := massUnit.FindString(after); m != "" && (named == "vessel" || named == "cylinder") {
		return named, p.number + " " + m, after[len(m):]
	}
	for _, a := range lineAmounts {
		if a.units == nil {
			continue
		}
		m := a.units.FindString(after)
		switch {
		case m == "":
		case named == a.field || named == "" || named == "vessel":
			return a.field, p.number + " " + strings.ReplaceAll(m, ".", ""), after[len(m):]
		default:
			return "", "", "" // the pressure is 19 °C
		}
	}
	switch {
	case pointed.MatchString(p.number) && (named == "" || named == "gravity"):
		return "gravity", p.number, p.after
	case named != "" && strange(firstWord(p.after)) == "":
		return named, p.number, p.after
	}
	return "", "", ""
}

// namedIn is the quantity that the words before a number name, the last of them.
func namedIn(before string) (field string) {
	at := -1
	for _, a := range lineAmounts {
		for _, l := range a.labels {
			if i := wordIndex(before, l); i > at {
				at, field = i, a.field
			}
		}
	}
	return field
}

// wordIndex is where a whole word stands last in text, -1 for nowhere.
func wordIndex(text, word string) int {
	text = strings.ToLower(text)
	i := strings.LastIndex(text, word)
	if i < 0 || i > 0 && unicode.IsLetter(rune(text[i-1])) || i+len(word) < len(text) && unicode.IsLetter(rune(text[i+len(word)])) {
		return -1
	}
	return i
}

func firstWord(s string) string {
	word, _, _ := strings.Cut(strings.TrimLeft(s, " "), " ")
	return word
}

// strange is the first word of text that says nothing known.
func strange(text string) string {
	for _, w := range strings.FieldsFunc(text, func(r rune) bool { return strings.ContainsRune(" .,:=~≈()", r) }) {
		if !slices.Contains(fillers, strings.ToLower(w)) && namedIn(w) == "" && !ofAir.MatchString(w) && !strings.EqualFold(w, "specific") && !strings.EqualFold(w, "bottle") {
			return w
		}
	}
	return ""
}
