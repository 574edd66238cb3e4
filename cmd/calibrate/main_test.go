package main

import (
	"errors"
	"io"
	"strings"
	"testing"
)

// A wrong flag is one clear line, and nothing is written.
func TestWrongFlags(t *testing.T) {
	for _, c := range []struct {
		args []string
		say  string
	}{
		{[]string{"-budget", "huge"}, `budget "huge": expected one of quick, ci, full`},
		{[]string{"quick"}, `unexpected "quick"`},
		{[]string{"-seed", "x"}, "invalid value"},
		{[]string{"-minutes", "-1"}, "-minutes -1: expected 0 or more"},
	} {
		err := run(append([]string{"-store", t.TempDir() + "/kept", "-o", t.TempDir() + "/page.md"}, c.args...), io.Discard)
		if err == nil || !strings.Contains(err.Error(), c.say) || !errors.Is(err, errUsage) {
			t.Errorf("%v: got %v, expected a usage error with %q", c.args, err, c.say)
		}
	}
	err := run([]string{"-budget", "quick", "-ferments", t.TempDir(), "-store", t.TempDir() + "/kept"}, io.Discard)
	if err == nil || !strings.Contains(err.Error(), "no measured ferments there") {
		t.Errorf("an empty folder: got %v", err)
	}
}
