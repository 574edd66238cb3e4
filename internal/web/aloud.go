package web

import (
	"bytes"
	"html"
	"regexp"
	"strings"

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

// heard is a page with the words for the ear. It is one that a template made, so that no mark of a tag stands in an attribute.
func (e ear) heard(page []byte) []byte {
	var out bytes.Buffer
	out.Grow(len(page) + len(page)/8)
	for len(page) > 0 {
		text := page[:until(page, '<')]
		page = page[len(text):]
		out.Write(e.spoken(text))
		tag := page[:min(until(page, '>')+1, len(page))]
		page = page[len(tag):]
		if bytes.IndexByte(tag, '/') > 0 && bytes.Contains(tag, []byte("aria-label")) {
			out.Write(named.ReplaceAllFunc(tag, e.words))
		} else {
			out.Write(tag)
		}
		if name := nameOf(tag); silent[name] {
			end := pastEnd(page, name)
			out.Write(page[:end])
			page = page[end:]
		}
	}
	return out.Bytes()
}

// until is how many bytes stand before the first c, all where there is none.
func until(text []byte, c byte) int {
	if i := bytes.IndexByte(text, c); i >= 0 {
		return i
	}
	return len(text)
}

// nameOf is the name of the element that a tag opens; empty where it ends one.
func nameOf(tag []byte) string {
	n := 1
	for n < len(tag) && 'a' <= tag[n] && tag[n] <= 'z' {
		n++
	}
	return string(tag[min(1, len(tag)):min(n, len(tag))])
}

// pastEnd is where the end of an element that has just been opened stands, other ones of its name within it passed over.
func pastEnd(page []byte, name string) int {
	for at, open := 0, 1; ; at += len(name) {
		i := bytes.Index(page[at:], []byte(name))
		if i < 0 {
			return len(page)
		}
		at += i
		switch {
		case bytes.HasSuffix(page[:at], []byte("</")):
			open--
		case bytes.HasSuffix(page[:at], []byte("<")):
			open++
		}
		if open == 0 {
			return at
		}
	}
}

// spoken is text with the words for the ear beside its units.
func (e ear) spoken(text []byte) []byte {
	if bytes.IndexByte(text, '/') < 0 {
		return text
	}
	return e.each(text, func(unit string) string {
		return `<span aria-hidden="true">` + unit + `</span><span class="hidden">` + html.EscapeString(e.said[unit]) + `</span>`
	})
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
