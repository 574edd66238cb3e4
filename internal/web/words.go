package web

import (
	"html/template"
	"regexp"
	"strings"

	"spile/calc"
	"spile/wording"
)

// label is what a field of a calculation is called, and what else helps.
func label(row *calc.Calculation, f calc.Flag) (name, hint string) {
	t := row.Style().Tongue
	return wording.Capital(t.Word(f.Label)), t.Word(f.Hint)
}

var (
	flagName    = regexp.MustCompile(`--([a-z-]*[a-z])`)
	calcCommand = regexp.MustCompile(`spile calc ([a-z-]*[a-z])\b`)
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
