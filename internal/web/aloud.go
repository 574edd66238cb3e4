package web

import (
	"bytes"
	"html"
	"regexp"
	"strings"

	hypertext "golang.org/x/net/html"

	"spile/wording"
)

// What has a slash in it is spelled letter by letter where a page is read aloud. A page is therefore gone through once
// when it is made: its text says such a unit in words too, for the ear alone, and a name that is only heard has the words.

// aloud is each unit with a slash, in words.
var aloud = []struct{ written, said wording.Text }{
	{"g/L", "grams per litre"}, {"mg/L", "milligrams per litre"}, {"kg/L", "kilograms per litre"}, {"kg/m³", "kilograms per cubic metre"}, {"mol/m³", "moles per cubic metre"},
	{"L/min", "litres per minute"}, {"L/h", "litres per hour"}, {"g/h", "grams per hour"}, {"g/day", "grams per day"}, {"W/K", "watts per kelvin"},
}

// ear finds units with a slash, and says them in words.
type ear struct {
	unit *regexp.Regexp
	said map[string]string
}

func newEar(t *wording.Tongue) ear {
	e := ear{said: map[string]string{}}
	var names []string
	for _, u := range aloud {
		for _, written := range []string{string(u.written), t.Word(u.written)} {
			e.said[written] = t.Word(u.said)
			names = append(names, regexp.QuoteMeta(written))
		}
	}
	e.unit = regexp.MustCompile(`(^|[^\pL\pN/_])(` + strings.Join(names, "|") + `)($|[^\pL\pN/_])`)
	return e
}

// silent are the elements whose text no tag may stand in, or that are heard by their name.
var silent = map[string]bool{"title": true, "script": true, "style": true, "textarea": true, "option": true, "code": true, "svg": true}

// named is what is heard in place of an element.
var named = regexp.MustCompile(` aria-label="[^"]*"`)

// heard is a page with the words for the ear.
func (e ear) heard(page []byte) []byte {
	if !e.unit.Match(page) {
		return page
	}
	var out bytes.Buffer
	inside, depth := "", 0 // a silent element, and how many of its name are open
	for z := hypertext.NewTokenizer(bytes.NewReader(page)); ; {
		kind := z.Next()
		raw := bytes.Clone(z.Raw())
		switch kind {
		case hypertext.ErrorToken:
			out.Write(raw)
			return out.Bytes()
		case hypertext.StartTagToken, hypertext.EndTagToken:
			name, _ := z.TagName()
			if tag := string(name); inside == "" && kind == hypertext.StartTagToken && silent[tag] {
				inside, depth = tag, 1
			} else if tag == inside && kind == hypertext.StartTagToken {
				depth++
			} else if tag == inside {
				if depth--; depth == 0 {
					inside = ""
				}
			}
			raw = named.ReplaceAllFunc(raw, e.words)
		case hypertext.TextToken:
			if inside == "" {
				raw = e.each(raw, func(unit string) string {
					return `<span aria-hidden="true">` + unit + `</span><span class="hidden">` + html.EscapeString(e.said[unit]) + `</span>`
				})
			}
		}
		out.Write(raw)
	}
}

// words has words in place of units.
func (e ear) words(text []byte) []byte {
	return e.each(text, func(unit string) string { return html.EscapeString(e.said[unit]) })
}

func (e ear) each(text []byte, say func(unit string) string) []byte {
	return e.unit.ReplaceAllFunc(text, func(found []byte) []byte {
		at := e.unit.FindSubmatchIndex(found)
		unit := string(found[at[4]:at[5]])
		return []byte(string(found[:at[4]]) + say(unit) + string(found[at[5]:]))
	})
}
