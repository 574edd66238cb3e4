package batchfile

import (
	"bufio"
	"bytes"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"

	"spile/batch"
)

// The first line of a file of log lines, and the version of its form.
const (
	logFormat  = "spile log"
	logVersion = 1
)

// chains are the last checksums of the logs, by batch.
type chains map[batch.ID]batch.Sum

// next is the checksum of the next entry of a log, by its canonical form.
func (c chains) next(log batch.ID, form []byte) batch.Sum {
	before, begun := c[log]
	if !begun {
		before = batch.FirstSum()
	}
	c[log] = before.Next(form)
	return c[log]
}

// LogWriter writes logs as JSON Lines: a line that names the form, then every entry in
// its canonical form with its checksum, then their number. The same logs give the same
// bytes.
type LogWriter struct {
	out  *bufio.Writer
	sums chains
	n    int
}

// NewLogWriter begins a file.
func NewLogWriter(w io.Writer) *LogWriter {
	l := &LogWriter{bufio.NewWriterSize(w, 64<<10), chains{}, 0}
	fmt.Fprintf(l.out, `{"format":%q,"version":%d}`+"\n", logFormat, logVersion)
	return l
}

// Write adds an entry by its canonical form. Each log is chained anew over what is
// written, so that what was left out as damaged does not spoil the rest.
func (l *LogWriter) Write(log batch.ID, form []byte) error {
	l.n++
	sum := l.sums.next(log, form)
	_, err := fmt.Fprintf(l.out, `{"entry":%s,"sum":"%x"}`+"\n", form, sum[:])
	return err
}

// Close writes the last line.
func (l *LogWriter) Close() error {
	fmt.Fprintf(l.out, `{"entries":%d}`+"\n", l.n)
	return l.out.Flush()
}

// logLine is any line of such a file.
type logLine struct {
	Format  string          `json:"format"`
	Version int             `json:"version"`
	Entry   json.RawMessage `json:"entry"`
	Sum     string          `json:"sum"`
	Entries *int            `json:"entries"`
}

// logReader reads a file of log lines.
type logReader struct {
	file  string
	line  int
	n     int  // entries so far
	whole bool // the file has a first line, and must have a last one
	ended bool
	sums  chains
}

// ReadLogLines calls f for every entry of a file that LogWriter wrote, or of bare
// {"entry":...} lines. A line that was changed, an end that is missing and whatever is no
// entry are refused with their line. Entries were given to f by then: read a file once
// to check it and again to keep it.
func ReadLogLines(file string, r io.Reader, f func(line int, e batch.Entry) error) error {
	l := logReader{file: file, sums: chains{}}
	in := bufio.NewScanner(r)
	in.Buffer(nil, batch.MaxFormBytes+maxRowBytes)
	for in.Scan() {
		l.line++
		if len(bytes.TrimSpace(in.Bytes())) == 0 {
			continue
		}
		e, err := l.read(in.Bytes())
		if err != nil {
			return err
		}
		if e == nil {
			continue
		}
		if err := f(l.line, *e); err != nil {
			return err
		}
	}
	if err := in.Err(); errors.Is(err, bufio.ErrTooLong) {
		return &Refusal{file, l.line + 1, "a line that is too long", "accepted: JSON Lines, as spile export writes them"}
	} else if err != nil {
		return fmt.Errorf("read %s: %w", file, err)
	}
	if l.whole && !l.ended {
		return &Refusal{file, l.line, "the end of the file before its last line", "accepted: the whole file, which ends with the number of its lines"}
	}
	if l.n == 0 && !l.whole {
		return &Refusal{file, 1, "a file without lines", "accepted: JSON Lines, as spile export writes them"}
	}
	return nil
}

// read takes one line; it gives no entry for the first and the last.
func (l *logReader) read(text []byte) (*batch.Entry, error) {
	var x logLine
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	if err := d.Decode(&x); err != nil || d.More() {
		return nil, l.refuse("a line that is not understood ("+quoted(string(text))+")", `accepted: {"entry":{...},"sum":"..."}, as spile export writes them`)
	}
	switch {
	case l.ended:
		return nil, l.refuse("a line after the last one", "accepted: one file as it was written")
	case x.Format != "":
		if x.Format != logFormat || x.Version > logVersion || l.n > 0 {
			return nil, l.refuse(fmt.Sprintf("form %s, version %d", quoted(x.Format), x.Version), fmt.Sprintf("accepted: form %q up to version %d, on the first line", logFormat, logVersion))
		}
		l.whole = true
		return nil, nil
	case x.Entries != nil:
		if *x.Entries != l.n {
			return nil, l.refuse(strconv.Itoa(l.n)+" lines where "+strconv.Itoa(*x.Entries)+" were written", "accepted: the whole file")
		}
		l.ended = true
		return nil, nil
	}
	e, err := batch.ParseEntry(x.Entry)
	if err != nil {
		read, accepted := split(err)
		return nil, l.refuse(read, accepted)
	}
	l.n++
	return &e, l.check(&e, x.Sum)
}

// check follows the chain of a log, where the lines carry checksums.
func (l *logReader) check(e *batch.Entry, text string) error {
	if text == "" {
		return nil
	}
	form, err := e.Form()
	if err != nil {
		return l.refuse(err.Error(), "accepted: lines as spile export writes them")
	}
	if sum := l.sums.next(e.Batch, form); hex.EncodeToString(sum[:]) != text {
		return l.refuse("a checksum that does not fit: this line was changed, or one before it is missing", "accepted: the file as it was written, or lines without sum")
	}
	return nil
}

func (l *logReader) refuse(read, accepted string) error {
	return &Refusal{l.file, l.line, read, accepted}
}

// split parts an error that says what is accepted.
func split(err error) (read, accepted string) {
	text := err.Error()
	if i := strings.LastIndex(text, "; accepted"); i >= 0 {
		return text[:i], text[i+2:]
	}
	return text, "accepted: lines as spile export writes them"
}
