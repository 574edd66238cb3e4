package catalogue

import (
	"bufio"
	"fmt"
	"io"
	"strconv"
	"strings"

	"spile/wording"
)

// Entry is one text of the catalogue.
type Entry struct {
	English wording.Text
	Plural  wording.Text // of many; empty where the text knows no number
	Note    string       // for whoever translates
	Where   []string     // the files that hold it
	Said    []string     // its translation, in all its forms; empty: none yet
	Guessed bool         // no person has confirmed the translation (fuzzy): it is not used
}

// Write writes a catalogue in the PO format of GNU gettext (its manual, chapter "The Format of PO Files").
func Write(w io.Writer, header string, entries []Entry) error {
	out := bufio.NewWriter(w)
	fmt.Fprintf(out, "msgid \"\"\nmsgstr \"\"\n")
	for line := range strings.Lines(header) {
		fmt.Fprintln(out, quoted(line))
	}
	for _, e := range entries {
		fmt.Fprintln(out)
		if e.Note != "" {
			fmt.Fprintf(out, "#. %s\n", e.Note)
		}
		for _, at := range e.Where {
			fmt.Fprintf(out, "#: %s\n", at)
		}
		fmt.Fprintf(out, "msgid %s\n", quoted(string(e.English)))
		if e.Plural == "" {
			fmt.Fprintf(out, "msgstr %s\n", quoted(strings.Join(e.Said, "")))
			continue
		}
		fmt.Fprintf(out, "msgid_plural %s\n", quoted(string(e.Plural)))
		for i := range max(2, len(e.Said)) {
			said := ""
			if i < len(e.Said) {
				said = e.Said[i]
			}
			fmt.Fprintf(out, "msgstr[%d] %s\n", i, quoted(said))
		}
	}
	return out.Flush() // it keeps the first error
}

// quoted escapes what C escapes.
func quoted(text string) string {
	return `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`, "\n", `\n`, "\t", `\t`).Replace(text) + `"`
}

// Read reads a catalogue in the PO format: its header, the translation of the empty text, by the
// names of its lines, and its entries. An error tells the line.
func Read(r io.Reader) (header map[string]string, entries []Entry, err error) {
	p := poReader{}
	lines := bufio.NewScanner(r)
	for n := 1; lines.Scan(); n++ {
		if err := p.line(strings.TrimSpace(lines.Text())); err != nil {
			return nil, nil, fmt.Errorf("line %d: %w", n, err)
		}
	}
	if err := lines.Err(); err != nil {
		return nil, nil, err
	}
	p.end()
	header = map[string]string{}
	for _, e := range p.entries {
		if e.English != "" {
			entries = append(entries, e)
			continue
		}
		for line := range strings.Lines(strings.Join(e.Said, "")) {
			if name, value, found := strings.Cut(line, ":"); found {
				header[name] = strings.TrimSpace(value)
			}
		}
	}
	return header, entries, nil
}

// poReader is where a reader of a catalogue is.
type poReader struct {
	entries []Entry
	now     Entry
	began   bool         // now holds something
	more    func(string) // takes a string that goes on from the line before
}

// line takes one line; comments come before the text that they are of.
func (p *poReader) line(line string) error {
	word, rest, _ := strings.Cut(line, " ")
	switch {
	case line == "":
		if p.began { // else comments wait for their text
			p.end()
		}
	case strings.HasPrefix(line, "#~"): // what the program does not say any more
		p.end()
	case strings.HasPrefix(line, "#"):
		if p.began {
			p.end()
		}
		p.comment(line)
	case strings.HasPrefix(line, `"`):
		if p.more == nil {
			return fmt.Errorf("read %s before any msgid", line)
		}
		return p.take(line)
	case word == "msgid":
		if p.now.English != "" || len(p.now.Said) > 0 {
			p.end()
		}
		p.more = func(s string) { p.now.English += wording.Text(s) }
		return p.take(rest)
	case word == "msgid_plural":
		p.more = func(s string) { p.now.Plural += wording.Text(s) }
		return p.take(rest)
	case strings.HasPrefix(word, "msgstr"):
		p.now.Said = append(p.now.Said, "")
		p.more = func(s string) { p.now.Said[len(p.now.Said)-1] += s }
		return p.take(rest)
	default:
		return fmt.Errorf("read %q; accepted are msgid, msgid_plural, msgstr, strings and comments", line)
	}
	return nil
}

func (p *poReader) comment(line string) {
	switch mark, rest := line[:min(2, len(line))], strings.TrimSpace(line[min(2, len(line)):]); mark {
	case "#.":
		p.now.Note = rest
	case "#:":
		p.now.Where = append(p.now.Where, strings.Fields(rest)...)
	case "#,":
		p.now.Guessed = strings.Contains(rest, "fuzzy")
	}
}

func (p *poReader) take(quoted string) error {
	text, err := strconv.Unquote(strings.TrimSpace(quoted))
	if err != nil {
		return fmt.Errorf("read %s; accepted is a text in double quotes, as in C", quoted)
	}
	p.began = true
	p.more(text)
	return nil
}

// end keeps the text that was read, and forgets comments that were of none.
func (p *poReader) end() {
	if p.began {
		p.entries = append(p.entries, p.now)
	}
	p.now, p.began, p.more = Entry{}, false, nil
}
