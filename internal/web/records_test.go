package web

import (
	"bytes"
	"net/http"
	"strings"
	"testing"

	"spile/batch"
	"spile/internal/batchfile"
)

// What is handed out reads back whole, and an empty cellar says that it is empty.
func TestWholeLogReadsBack(t *testing.T) {
	s := newSite(t)
	if w := get(s, "/settings/records"); !strings.Contains(w.Body.String(), "Nothing yet.") {
		t.Errorf("an empty cellar: %s", w.Body.String())
	}
	body, err := batch.EncodeThing("place", "Bench", batch.PlaceFacts{Place: batch.Place{Ambient: 289}})
	if err != nil {
		t.Fatal(err)
	}
	e, err := s.written(batch.NewID(shedNow, [10]byte{1}), batch.KindThing, shedNow, body)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.watch.Keep(t.Context(), e); err != nil {
		t.Fatal(err)
	}
	w := get(s, "/settings/records/log.jsonl")
	read := 0
	err = batchfile.ReadLogLines("log.jsonl", bytes.NewReader(w.Body.Bytes()), func(_ int, got batch.Entry) error {
		if got.ID != e.ID {
			t.Errorf("expected %s, got %s", e.ID, got.ID)
		}
		read++
		return nil
	})
	if err != nil || read != 1 || w.Code != http.StatusOK || !strings.Contains(w.Header().Get("Content-Disposition"), ".jsonl") {
		t.Errorf("read back %d lines: %v", read, err)
	}
	if w := get(s, "/settings/records"); !strings.Contains(w.Body.String(), "1 line since") {
		t.Errorf("a cellar with a line: %s", w.Body.String())
	}
}
