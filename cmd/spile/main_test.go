package main

import (
	"bytes"
	"strings"
	"testing"
)

// What is not accepted is said in one line that tells where to look; help is also asked for by its word.
func TestUsage(t *testing.T) {
	for _, c := range []struct {
		args string
		code int
		says string
	}{
		{"help", exitOK, "Usage: spile <command>"},
		{"help forecast", exitOK, "Usage: spile forecast "},
		{"nonsense", exitUsage, "unexpected argument nonsense (spile --help tells what is accepted)\n"},
		{"forecast --nonsense", exitUsage, "unknown flag --nonsense (spile forecast --help tells what is accepted)\n"},
		{"forecast", exitUsage, `expected "<BATCH.yaml>" (spile forecast --help tells what is accepted)` + "\n"},
	} {
		var out, errs bytes.Buffer
		code := run(strings.Fields(c.args), &out, &errs)
		said := out.String()
		if c.code != exitOK {
			said = errs.String()
		}
		if code != c.code || !strings.HasPrefix(said, c.says) {
			t.Errorf("spile %s: exit %d and %q; want %d and %q", c.args, code, said, c.code, c.says)
		}
	}
}
