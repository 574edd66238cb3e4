package web

import (
	"html/template"
	"regexp"
	"strings"

	"spile/calc"
	"spile/wording"
)

// labels are what a field is called where the words of the command line do not stand
// alone, by calculation and flag, by flag, or behind = by those words, and what else helps.
var labels = map[string]struct{ name, hint wording.Text }{
	"dilution/gravity":             {"Gravity of the wort", ""},
	"pitch/gravity":                {"Gravity of the wort", ""},
	"pitch/age":                    {"Age of the pack or slurry", "Since the pack was made or the slurry was taken."},
	"pitch/form":                   {"How the yeast comes", ""},
	"sanitiser/ratio":              {"Ratio on the label", ""},
	"sanitiser/strength":           {"Strength wanted in the water", "Of what it is to do the work."},
	"leak/volume":                  {"Room for gas in the vessel", "Of gas, not of water or beer."},
	"leak/from-pressure":           {"Pressure at the first reading", ""},
	"leak/to-pressure":             {"Pressure at the second reading", ""},
	"leak/from-temperature":        {"Temperature at the first reading", ""},
	"leak/to-temperature":          {"Temperature at the second reading", ""},
	"quiet-gauge/from-pressure":    {"Pressure at the first reading", ""},
	"quiet-gauge/to-pressure":      {"Pressure at the second reading", ""},
	"quiet-gauge/from-temperature": {"Temperature of the beer at the first reading", ""},
	"quiet-gauge/to-temperature":   {"Temperature of the beer at the second reading", ""},
	"instruments":                  {"What you read with", "A dial with a strip thermometer, or a transducer with a probe."},
	"vented-from":                  {"Pressure before you let it down", ""},
	"vented-to":                    {"Pressure you let it down to", ""},
	"vent/from-pressure":           {"Pressure on the dial", "The beer at rest."},
	"vent/to-pressure":             {"Pressure you let it down to", ""},
	"heating/ambient":              {"Temperature of the room or fridge", ""},
	"ua":                           {"Heat that the vessel loses", "A bare vessel of 20 to 23 L loses 3 to 4.5 W/K."},
	"capacity":                     {"Size of the vessel, to the brim", ""},
	"end-pressure":                 {"Pressure on the dial at the end", "To find the start or a temperature."},
	"chill/gas":                    {"Setting of the regulator, if it stays open", ""},
	"warming/gas":                  {"Setting of the regulator, if it stays open", ""},
	"tube":                         {"Kind of tube", "Hard is polyethylene or barrier tube."},
	"tap-loss":                     {"Loss of couplings and tap", "K on a bore of 6 mm, mostly 3 to 8."},
	"bore":                         {"Bore of the tube", ""},
	"rise":                         {"Rise of the far end above the middle of the beer", "Below is minus."},
	"warmest":                      {"Temperature of the warmest spot of the line", ""},
	"pour-time":                    {"Time that the pour took", ""},
	"transfer/from-pressure":       {"Pressure in the vessel", "Held by gas."},
	"transfer/to-pressure":         {"Pressure in the keg", "Held by its valve."},
	"purge/pressure":               {"Pressure you fill to", ""},
	"purge/cycles":                 {"How many times you fill and let down", ""},
	"purge/target":                 {"Oxygen to get below", ""},
	"drinks/country":               {"Country whose standard drink counts", ""},
	"cylinder/content":             {"Gas in the cylinder", "Its weight less the tare stamped on it."},
	"room-air/time":                {"Time", ""},
	"difference/second":            {"The second number", ""},
	"=wort":                        {"How much wort", ""},
	"=beer":                        {"How much beer", ""},
	"=water":                       {"How much water", ""},
	"rating":                       {"Pressure rating of the weakest part", "From the plate, a moulded mark or the maker's sheet. It is never guessed: without it there is no pressure advice."},
	"safety-relief":                {"Setting of the safety valve", "From its stamp. It is never guessed."},
}

// label is what a field of a calculation is called, and what else helps.
func label(row *calc.Calculation, f calc.Flag) (name, hint string) {
	t := row.Style().Tongue
	for _, key := range []string{row.Name + "/" + f.Name, f.Name, "=" + string(f.Label)} {
		if text, found := labels[key]; found {
			return t.Word(text.name), t.Word(text.hint)
		}
	}
	return capital(t.Word(f.Label)), t.Word(f.Hint)
}

var (
	flagName    = regexp.MustCompile(`--([a-z-]*[a-z])`)
	calcCommand = regexp.MustCompile(`spile calc ([a-z-]*[a-z])\b`)
	beforeUnit  = regexp.MustCompile(`(\d) ((?:psi|bar|kPa|gal|g|kg|L|mL|h|W|mm|points?|volumes)\b|°C|°F|%)`)
)

// plain puts what was written for the command line into the words of the page: the labels
// of its fields for flags, the questions for the commands of calculations.
func plain(row *calc.Calculation, text string) string {
	text = flagName.ReplaceAllStringFunc(text, func(flag string) string {
		for _, f := range row.Flags {
			if f.Name == flag[2:] {
				name, _ := label(row, f)
				return "“" + name + "”"
			}
		}
		return flag
	})
	return calcCommand.ReplaceAllStringFunc(text, func(command string) string {
		if other, ok := calc.Find(calcCommand.FindStringSubmatch(command)[1]); ok {
			return "“" + row.Style().Word(other.Question) + "”"
		}
		return command
	})
}

// unbroken keeps a number and its unit on one line.
func unbroken(text string) string { return beforeUnit.ReplaceAllString(text, "$1\u00a0$2") }

// trade leads from the first use of each word of the trade to the glossary.
func (v *speaker) trade(x any) template.HTML {
	var b strings.Builder
	rest, linked := v.unbroken(x), map[string]bool{}
	for {
		found := v.tradeWord.FindStringSubmatchIndex(rest)
		if found == nil {
			break
		}
		at := found[2:]
		word := rest[at[0]:at[1]]
		id := v.anchors[strings.ToLower(word)]
		b.WriteString(template.HTMLEscapeString(rest[:at[0]]))
		if linked[id] {
			b.WriteString(template.HTMLEscapeString(word))
		} else {
			linked[id] = true
			b.WriteString(`<a class="trade" href="/glossary#` + id + `">` + template.HTMLEscapeString(word) + `</a>`)
		}
		rest = rest[at[1]:]
	}
	b.WriteString(template.HTMLEscapeString(rest))
	return template.HTML(b.String())
}
