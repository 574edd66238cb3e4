package catalogue

import (
	"html"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"spile/wording"
)

// Page gives a template of a page with its texts as say has them. A text is what stands between two
// tags or actions that steer, or in an attribute that is read; an action that is shown, and a tag within
// a sentence, are slots of it, in braces. What say leaves as it is, stays to the byte.
func Page(source string, say func(wording.Text) string) string {
	var out strings.Builder
	var run []piece
	flush := func() {
		for _, part := range balanced(run) {
			out.WriteString(sentence(part, say))
		}
		run = run[:0]
	}
	for _, p := range pieces(source) {
		if p.kind == tag {
			p.raw = attribute.ReplaceAllStringFunc(p.raw, func(a string) string {
				m := attribute.FindStringSubmatch(a)
				return m[1] + `"` + Page(m[2], say) + `"`
			})
		}
		if p.kind == words || p.kind == shown || p.kind == tag && p.inline() {
			run = append(run, p)
			continue
		}
		flush()
		out.WriteString(p.raw)
	}
	flush()
	return out.String()
}

// kind is what a piece of a template is.
type kind int

const (
	words  kind = iota
	shown       // an action that writes something
	steers      // any other action: if, range, end
	tag
)

// piece is a part of a template, as it is written.
type piece struct {
	kind kind
	raw  string
}

var (
	cut       = regexp.MustCompile(`(?s)\{\{.*?\}\}|<!--.*?-->|<code>.*?</code>|</?[a-zA-Z!](?:[^<>{]|\{\{.*?\}\}|\{)*>`)
	steering  = regexp.MustCompile(`^\{\{-?\s*(?:/\*|if\b|else\b|end\b|range\b|with\b|template\b|define\b|block\b|break\b|continue\b|\$\w+\s*:?=)`)
	tagName   = regexp.MustCompile(`^<(/?)([a-zA-Z][a-zA-Z0-9-]*)`)
	attribute = regexp.MustCompile(`(\s(?:title|aria-label|placeholder|alt|data-live)=)"([^"]*)"`)
	lastWord  = regexp.MustCompile(`\.(\w+)[^.\w]*$`)
	letters   = regexp.MustCompile(`\pL`)
	inlines   = []string{"a", "b", "strong", "em", "i", "span", "code", "sub", "sup"}
)

// pieces cuts a template at its tags and actions.
func pieces(source string) (all []piece) {
	at := 0
	for _, m := range cut.FindAllStringIndex(source, -1) {
		if m[0] > at {
			all = append(all, piece{words, source[at:m[0]]})
		}
		raw := source[m[0]:m[1]]
		switch {
		case strings.HasPrefix(raw, "<"):
			all = append(all, piece{tag, raw})
		case steering.MatchString(raw):
			all = append(all, piece{steers, raw})
		default:
			all = append(all, piece{shown, raw})
		}
		at = m[1]
	}
	if at < len(source) {
		all = append(all, piece{words, source[at:]})
	}
	return all
}

// name is that of a tag; open tells whether it begins an element.
func (p piece) name() (name string, open bool) {
	if m := tagName.FindStringSubmatch(p.raw); m != nil {
		return strings.ToLower(m[2]), m[1] == ""
	}
	return "", false
}

func (p piece) inline() bool {
	name, _ := p.name()
	return slices.Contains(inlines, name)
}

// nests is 1 where an element begins, -1 where one ends, and 0 for all else; the content of code is no text,
// so that it is one piece.
func (p piece) nests() int {
	if p.kind != tag || strings.HasPrefix(p.raw, "<code>") {
		return 0
	}
	if _, opens := p.name(); opens {
		return 1
	}
	return -1
}

// balanced cuts a run where a tag has no partner within it.
func balanced(run []piece) (parts [][]piece) {
	partner, open := map[int]bool{}, []int{}
	for i, p := range run {
		switch nests := p.nests(); {
		case nests > 0:
			open = append(open, i)
		case nests < 0 && len(open) > 0:
			partner[i], partner[open[len(open)-1]] = true, true
			open = open[:len(open)-1]
		}
	}
	from := 0
	for i, p := range run {
		if p.nests() != 0 && !partner[i] {
			parts, from = append(parts, run[from:i], run[i:i+1]), i+1
		}
	}
	return append(parts, run[from:])
}

// sentence says one run whose tags are in pairs. Where only its elements hold words, each is one of its own.
func sentence(run []piece, say func(wording.Text) string) string {
	var out, bare strings.Builder
	depth := 0
	for _, p := range run {
		if depth += p.nests(); p.kind == words && depth == 0 {
			bare.WriteString(p.raw)
		}
	}
	if isText(bare.String()) {
		return message(run, say)
	}
	for len(run) > 0 {
		n := element(run)
		out.WriteString(run[0].raw)
		if n > 2 {
			out.WriteString(sentence(run[1:n-1], say))
		}
		if n > 1 {
			out.WriteString(run[n-1].raw)
		}
		run = run[n:]
	}
	return out.String()
}

// element is how many pieces the element has that a run begins with; 1 where it begins with none.
func element(run []piece) int {
	depth := 0
	for i, p := range run {
		if depth += p.nests(); depth <= 0 {
			return i + 1
		}
	}
	return len(run)
}

// message is one text of the catalogue, with the spaces around it left outside.
func message(run []piece, say func(wording.Text) string) string {
	var english, raw strings.Builder
	slots, open := map[string]string{}, []string{}
	for _, p := range run {
		raw.WriteString(p.raw)
		if p.kind == words {
			english.WriteString(p.raw)
			continue
		}
		name := p.slot(&open)
		for n, base := 2, name; slots[name] != "" && !strings.HasPrefix(name, "/"); n++ {
			name = base + strconv.Itoa(n)
		}
		if p.nests() > 0 {
			open = append(open, name)
		}
		slots[name] = p.raw
		english.WriteString("{" + name + "}")
	}
	plain := strings.Join(strings.Fields(html.UnescapeString(english.String())), " ")
	said := say(wording.Text(plain))
	if said == plain {
		return raw.String()
	}
	front, back := raw.String(), raw.String()
	front = front[:len(front)-len(strings.TrimLeft(front, " \n\t"))]
	back = back[len(strings.TrimRight(back, " \n\t")):]
	said = strings.NewReplacer("{{", "", "}}", "").Replace(html.EscapeString(said)) // a translation holds no actions
	return front + slotted.ReplaceAllStringFunc(said, func(s string) string { return slots[s[1:len(s)-1]] }) + back
}

var slotted = regexp.MustCompile(`\{[^{}]+\}`)

// slot is what an action or a tag is called within a text; a tag that ends is called as the one that began.
func (p piece) slot(open *[]string) string {
	if p.kind == tag {
		name, _ := p.name()
		if p.nests() >= 0 || len(*open) == 0 {
			return name
		}
		name = (*open)[len(*open)-1]
		*open = (*open)[:len(*open)-1]
		return "/" + name
	}
	if m := lastWord.FindStringSubmatch(p.raw); m != nil {
		return m[1]
	}
	return "it"
}

// isText tells words from bare signs and from the program's own name.
func isText(s string) bool {
	return letters.MatchString(strings.ReplaceAll(html.UnescapeString(s), "Spile", ""))
}
