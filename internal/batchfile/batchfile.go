// Package batchfile reads and writes the files of a batch: BATCH.yaml,
// READINGS.csv and the JSON that the commands print.
//
// Whatever does not fit is refused in one line, with the file and the line it
// stands on, what was read there and what is accepted. What does fit but is not
// safe (no rating, a valve set above it) is read: package limit says so, so that
// the result still comes with its caution.
package batchfile

import (
	"fmt"
	"strings"
)

// Refusal is why a file was not read. It prints as one line:
// FILE:LINE: what was read; what is accepted.
type Refusal struct {
	File     string
	Line     int // 0 where the file as a whole is at fault
	Read     string
	Accepted string
}

// Error is the refusal in one line.
func (r *Refusal) Error() string {
	text := oneLine(r.Read) + "; " + oneLine(r.Accepted)
	if r.Line == 0 {
		return r.File + ": " + text
	}
	return fmt.Sprintf("%s:%d: %s", r.File, r.Line, text)
}

// shownRunes is how much of what was read is shown back.
const shownRunes = 240

// oneLine keeps a message on one line and within reason, whatever was read.
func oneLine(s string) string {
	s = strings.Map(func(r rune) rune {
		if r == '\n' || r == '\r' || r == '\t' {
			return ' '
		}
		if r < ' ' || r == 0x7f || r == 0x2028 || r == 0x2029 {
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, "?"))
	if runes := []rune(s); len(runes) > shownRunes {
		return string(runes[:shownRunes-3]) + "..."
	}
	return s
}

// quoted shows a cell or a scalar as it was read, shortened to 40 runes.
func quoted(s string) string {
	if runes := []rune(s); len(runes) > 40 {
		s = string(runes[:37]) + "..."
	}
	return `"` + s + `"`
}

// nearest is the accepted word most like s, or "" where none is near.
func nearest(s string, accepted []string) string {
	best, at := "", 2+len(s)/5
	for _, a := range accepted {
		if d := distance(strings.ToLower(s), a); d < at {
			best, at = a, d
		}
	}
	return best
}

// distance counts the letters to change, add, drop or swap with their neighbour to turn a into b.
func distance(a, b string) int {
	if len(a) > 64 {
		return len(a)
	}
	d := make([][]int, len(a)+1)
	for i := range d {
		d[i] = make([]int, len(b)+1)
		d[i][0] = i
	}
	for j := range d[0] {
		d[0][j] = j
	}
	for i := 1; i <= len(a); i++ {
		for j := 1; j <= len(b); j++ {
			change := d[i-1][j-1]
			if a[i-1] != b[j-1] {
				change++
			}
			d[i][j] = min(change, d[i-1][j]+1, d[i][j-1]+1)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				d[i][j] = min(d[i][j], d[i-2][j-2]+1)
			}
		}
	}
	return d[len(a)][len(b)]
}

// unknownWord says what is accepted in place of s.
func unknownWord(s string, accepted []string) string {
	if near := nearest(s, accepted); near != "" {
		return "did you mean " + near + "? Accepted: " + strings.Join(accepted, ", ")
	}
	return "accepted: " + strings.Join(accepted, ", ")
}
