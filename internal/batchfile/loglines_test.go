package batchfile

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"
	"time"

	"spile/batch"
)

// logText is a file of three lines in two logs.
func logText(t testing.TB) string {
	t.Helper()
	var out bytes.Buffer
	w := NewLogWriter(&out)
	at := time.Date(2026, 11, 21, 12, 0, 0, 0, time.UTC)
	for i := range byte(3) {
		e := batch.Entry{ID: batch.NewID(at, [10]byte{9: i}), Kind: batch.KindNote, At: at, Made: at, Body: json.RawMessage(`{"words":"moved"}`)}
		if i > 0 {
			e.Batch = batch.NewID(at, [10]byte{8: 1})
		}
		form, err := e.Form()
		if err != nil {
			t.Fatal(err)
		}
		if err := w.Write(e.Batch, form); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return out.String()
}

func TestLogLinesRoundTrip(t *testing.T) {
	text := logText(t)
	var out bytes.Buffer
	w := NewLogWriter(&out)
	err := ReadLogLines("log.jsonl", strings.NewReader(text), func(_ int, e batch.Entry) error {
		form, err := e.Form()
		if err != nil {
			return err
		}
		return w.Write(e.Batch, form)
	})
	if err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil || out.String() != text {
		t.Errorf("expected\n%s\ngot\n%s, %v", text, out.String(), err)
	}
}

func TestLogLinesRefuse(t *testing.T) {
	text := logText(t)
	lines := strings.SplitAfter(text, "\n")
	for _, c := range []struct{ what, text, says string }{
		{"empty", "", "log.jsonl:1: a file without lines; accepted"},
		{"no JSON", "hours,gravity_sg\n", "log.jsonl:1: a line that is not understood"},
		{"a key too many", strings.Replace(text, `"sum"`, `"mus"`, 1), "log.jsonl:2: a line that is not understood"},
		{"a letter changed", strings.Replace(text, "moved", "mowed", 1), "log.jsonl:2: a checksum that does not fit"},
		{"a line missing", lines[0] + lines[1] + lines[3] + lines[4], "log.jsonl:3: a checksum that does not fit"},
		{"the last lines missing", lines[0] + lines[1] + lines[2], "log.jsonl:3: the end of the file before its last line"},
		{"fewer than written", lines[0] + lines[1] + lines[2] + lines[4], "log.jsonl:4: 2 lines where 3 were written"},
		{"twice", text + text, "log.jsonl:6: a line after the last one"},
		{"newer", strings.Replace(text, `"version":1`, `"version":2`, 1), "log.jsonl:1: form"},
		{"no id", `{"entry":{"at":"2026-11-21T12:00:00Z","kind":"note","made":"2026-11-21T12:00:00Z"}}`, "log.jsonl:1: no id; accepted: a UUID"},
		{"too long", strings.Repeat("x", 300_000), "log.jsonl:1: a line that is too long"},
	} {
		err := ReadLogLines("log.jsonl", strings.NewReader(c.text), func(int, batch.Entry) error { return nil })
		if err == nil || !strings.HasPrefix(err.Error(), c.says) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: expected %q, got %v", c.what, c.says, err)
		}
	}
	if err := ReadLogLines("log.jsonl", strings.NewReader(`{"entry":`+lines[1][9:strings.Index(lines[1], `,"sum"`)]+"}"), func(int, batch.Entry) error { return nil }); err != nil {
		t.Errorf("a bare line: %v", err)
	}
}

func FuzzLogLines(f *testing.F) {
	f.Add(logText(f))
	f.Add(`{"entry":{}}`)
	f.Fuzz(func(t *testing.T, text string) {
		err := ReadLogLines("log.jsonl", strings.NewReader(text), func(_ int, e batch.Entry) error {
			form, err := e.Form()
			if err != nil {
				t.Fatalf("an entry that was read has no form: %v", err)
			}
			if back, err := batch.ReadForm(form); err != nil || back.ID != e.ID {
				t.Fatalf("expected %s again, got %s, %v", e.ID, back.ID, err)
			}
			return nil
		})
		if err != nil && strings.Contains(err.Error(), "\n") {
			t.Errorf("more than one line: %q", err)
		}
	})
}
