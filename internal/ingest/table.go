package ingest

import (
	"bytes"
	"encoding/binary"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf16"
	"unicode/utf8"

	"spile/internal/batchfile"
	"spile/wording"
)

// Bounds of a file that anybody made.
const (
	MostBytes   = 4 << 20
	mostColumns = 60
	sampled     = 200 // rows from which is guessed
)

// Bad is a row that cannot be taken, with the cell that is at fault.
type Bad struct {
	Line   int
	Column string // its name
	Cell   string // as it stands there
	Why    error  // why, and what is accepted
}

// table is a file cut into cells.
type table struct {
	encoding  string
	separator rune
	before    int      // lines before the table, left out
	header    []string // nil: the first line holds values already
	rows      [][]string
	lines     []int // where each row begins
	width     int
	bad       []Bad // lines that are not cells between separators
	fridge    bool  // its vessel stands in one
}

// Unreadable is why nothing could be made of a file, in words that are translated.
type Unreadable struct {
	batchfile.Refusal
	Why wording.Sentence
}

// Unwrap is the refusal as it is told in a line.
func (u *Unreadable) Unwrap() error { return &u.Refusal }

// unreadable refuses a file; the line is 0 where the file as a whole is at fault.
func unreadable(file string, line int, why wording.Sentence) error {
	read, accepted, _ := strings.Cut(why.String(), "; ")
	return &Unreadable{batchfile.Refusal{File: file, Line: line, Read: read, Accepted: accepted}, why}
}

// cut makes a table of a file. What it cannot be made of is refused in one line.
func cut(file string, data []byte, separator, header string) (*table, error) {
	if len(data) > MostBytes {
		return nil, unreadable(file, 0, wording.Unsaid("a file of %.1f MB; accepted: at most %d MB; cut it in two, by time", float64(len(data))/(1<<20), MostBytes>>20))
	}
	t := &table{}
	text, err := t.plain(file, data)
	if err != nil {
		return nil, err
	}
	if t.separator = separators[separator]; t.separator == 0 {
		text, t.separator = guessSeparator(text)
	}
	t.split(text)
	if err := t.trim(file); err != nil {
		return nil, err
	}
	if header == "yes" || header == "" && headed(t.rows) {
		t.header = t.rows[0]
		t.rows, t.lines = t.rows[1:], t.lines[1:]
	}
	if len(t.rows) == 0 {
		return nil, unreadable(file, 0, wording.Unsaid("a line of names without a row below it; accepted: at least one reading"))
	}
	return t, nil
}

// plain is the text of a file, its lines ended alike.
func (t *table) plain(file string, data []byte) (string, error) {
	t.encoding = "UTF-8"
	order, wide := wideOrder(data)
	switch {
	case wide:
		t.encoding = "UTF-16"
		units := make([]uint16, len(data)/2)
		for i := range units {
			units[i] = order.Uint16(data[2*i:])
		}
		data = []byte(string(utf16.Decode(units)))
	case !utf8.Valid(data):
		t.encoding = "ISO 8859-1" // the old form of Western Europe: each byte is the letter of its number
		letters := make([]rune, len(data))
		for i, b := range data {
			letters[i] = rune(b)
		}
		data = []byte(string(letters))
	}
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	if i := bytes.IndexByte(data, 0); i >= 0 {
		return "", unreadable(file, 1+bytes.Count(data[:i], []byte("\n")), wording.Unsaid("a zero byte, which no text holds; accepted: a file of plain text, saved as CSV"))
	}
	text := strings.NewReplacer("\r\n", "\n", "\r", "\n").Replace(string(data))
	if strings.TrimSpace(text) == "" {
		return "", unreadable(file, 1, wording.Unsaid("an empty file; accepted: rows with a time and what was read then"))
	}
	return text, nil
}

// wideOrder tells whether a text has two bytes a letter, and which comes first: by its mark,
// or by the zero bytes that plain letters have then.
func wideOrder(data []byte) (order binary.ByteOrder, wide bool) {
	switch {
	case bytes.HasPrefix(data, []byte{0xff, 0xfe}):
		return binary.LittleEndian, true
	case bytes.HasPrefix(data, []byte{0xfe, 0xff}):
		return binary.BigEndian, true
	}
	var zeros [2]int
	some := data[:min(len(data), 400)]
	for i, b := range some {
		if b == 0 {
			zeros[i%2]++
		}
	}
	most := len(some) / 4
	switch {
	case zeros[0] == 0 && zeros[1] > most:
		return binary.LittleEndian, true
	case zeros[1] == 0 && zeros[0] > most:
		return binary.BigEndian, true
	}
	return nil, false
}

// separators are what may stand between cells, by name.
var separators = map[string]rune{"comma": ',', "semicolon": ';', "tab": '\t'}

// nameOf is the name of a separator.
func nameOf(separator rune) string {
	for name, r := range separators {
		if r == separator {
			return name
		}
	}
	return ""
}

// guessSeparator is what stands equally often in most lines. A comma may be a decimal one, so
// that it comes last. Spreadsheets write "sep=;" into a first line, which then settles it.
func guessSeparator(text string) (rest string, separator rune) {
	first, after, _ := strings.Cut(text, "\n")
	if mark, found := strings.CutPrefix(strings.TrimSpace(first), "sep="); found && len(mark) == 1 && nameOf(rune(mark[0])) != "" {
		return "\n" + after, rune(mark[0])
	}
	best := 0
	for _, r := range []rune{'\t', ';', ','} {
		seen, lines := map[int]int{}, 0
		for line := range strings.Lines(text) {
			if lines++; lines > sampled {
				break
			}
			if n := marksIn(line, r); n > 0 {
				seen[n]++
			}
		}
		for _, n := range seen {
			if n > best {
				best, separator = n, r
			}
		}
	}
	if best == 0 {
		separator = ','
	}
	return text, separator
}

// marksIn counts a separator outside quotes.
func marksIn(line string, separator rune) (n int) {
	quoted := false
	for _, r := range line {
		switch {
		case r == '"':
			quoted = !quoted
		case r == separator && !quoted:
			n++
		}
	}
	return n
}

// split cuts a text into rows. A line that is not cells is named, and the rest is read on.
func (t *table) split(text string) {
	var lines []string // only where one of them is at fault
	in := csv.NewReader(strings.NewReader(text))
	in.Comma, in.FieldsPerRecord, in.TrimLeadingSpace = t.separator, -1, t.separator != '\t'
	for {
		row, err := in.Read()
		var syntax *csv.ParseError
		switch {
		case errors.Is(err, io.EOF):
			return
		case errors.As(err, &syntax):
			why := wording.Unsaid("a quote stands within a cell; accepted: quotes around the whole cell, doubled within it")
			if syntax.Line > syntax.StartLine {
				why = wording.Unsaid("a quote opens here and closes nowhere, so that nothing could be read down to line %d; accepted: quotes in pairs", syntax.Line)
			}
			if lines == nil {
				lines = strings.Split(text, "\n")
			}
			t.bad = append(t.bad, Bad{Line: syntax.StartLine, Cell: clipped(strings.TrimSpace(lines[syntax.StartLine-1])), Why: why})
			continue
		}
		line, _ := in.FieldPos(0)
		for i := range row {
			row[i] = strings.TrimSpace(row[i])
		}
		t.rows, t.lines = append(t.rows, row), append(t.lines, line)
	}
}

// clipped is as much of a cell as is shown back.
func clipped(cell string) string {
	const most = 60
	if letters := []rune(cell[:min(len(cell), 4*most)]); len(letters) > most || len(cell) > 4*most {
		return string(letters[:min(len(letters), most-1)]) + "…"
	}
	return cell
}

// trim finds where the table begins, and how wide it is: as most of its first rows are.
func (t *table) trim(file string) error {
	seen := map[int]int{}
	for _, row := range t.rows[:min(len(t.rows), sampled)] {
		if seen[len(row)]++; len(row) > 1 && (seen[len(row)] > seen[t.width] || t.width < 2) {
			t.width = len(row)
		}
	}
	switch {
	case t.width < 2:
		return unreadable(file, 1, wording.Unsaid("one column alone; accepted: a column with the time, and another with what was read"))
	case t.width > mostColumns:
		return unreadable(file, 1, wording.Unsaid("%d columns; accepted: at most %d", t.width, mostColumns))
	}
	for len(t.rows[0]) != t.width { // a row of that width is there
		t.rows, t.lines, t.before = t.rows[1:], t.lines[1:], t.before+1
	}
	return nil
}

// headed tells whether the first row names the columns: no cell of it is a value, and some below are.
func headed(rows [][]string) bool {
	for _, cell := range rows[0] {
		if valued(cell) {
			return false
		}
	}
	if len(rows) == 1 {
		return true
	}
	for _, row := range rows[1:min(len(rows), sampled)] {
		for _, cell := range row {
			if valued(cell) {
				return true
			}
		}
	}
	return false
}

// valued tells whether a cell begins as a number or a date does.
func valued(cell string) bool {
	cell = strings.TrimLeft(cell, "+-−.,")
	return cell != "" && cell[0] >= '0' && cell[0] <= '9'
}

// name is what a column is called.
func (t *table) name(i int) string {
	if i < len(t.header) && t.header[i] != "" {
		return clipped(t.header[i])
	}
	return fmt.Sprintf("column %d", i+1)
}

// cells are those of a column that are not empty, of the first rows.
func (t *table) cells(i int) (out []string) {
	for _, row := range t.rows[:min(len(t.rows), sampled)] {
		if i < len(row) && !empty(row[i]) {
			out = append(out, row[i])
		}
	}
	return out
}

// empty tells that a cell says that nothing was read.
func empty(cell string) bool {
	switch cell {
	case "", "-", "--", "–", "—":
		return true
	}
	if len(cell) > 4 {
		return false
	}
	switch strings.ToLower(cell) {
	case "n/a", "na", "nan", "null", "none":
		return true
	}
	return false
}
