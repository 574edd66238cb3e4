package web

import (
	"bufio"
	"context"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"spile/batch"
	"spile/internal/monitor"
	"spile/internal/store"
)

// follow opens the line of changes; lines are what comes over it.
func followLive(t *testing.T, home string) (lines chan string, hangUp func()) {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, home+"/live", nil)
	if err != nil {
		t.Fatal(err)
	}
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	if kind := answer.Header.Get("Content-Type"); !strings.HasPrefix(kind, "text/event-stream") {
		t.Fatalf("the line of changes is %q", kind)
	}
	lines = make(chan string, 4096)
	go func() {
		defer close(lines)
		defer answer.Body.Close()
		for in := bufio.NewScanner(answer.Body); in.Scan(); {
			lines <- in.Text()
		}
	}()
	return lines, cancel
}

// hear waits for a line that begins so.
func hear(t *testing.T, lines chan string, begin string) string {
	t.Helper()
	over := time.After(20 * time.Second)
	for {
		select {
		case line, more := <-lines:
			if strings.HasPrefix(line, begin) {
				return line
			}
			if !more {
				t.Fatalf("the line ended before %q", begin)
			}
		case <-over:
			t.Fatalf("nothing begins with %q", begin)
		}
	}
}

func jot(t *testing.T, w *monitor.Watch, id batch.ID, words string) {
	t.Helper()
	body, err := batch.EncodeBody(&batch.Said{Words: words})
	if err != nil {
		t.Fatal(err)
	}
	now := time.Now()
	if _, err := w.Keep(t.Context(), batch.Entry{ID: store.NewID(), Batch: id, Kind: batch.KindNote, At: now, Made: now, Body: body}); err != nil {
		t.Fatal(err)
	}
}

// What is kept is told to every page that follows; the server can stop in spite of them.
func TestLive(t *testing.T) {
	s := newSite(t)
	server := httptest.NewServer(s)
	defer server.Close()
	lines, hangUp := followLive(t, server.URL)
	defer hangUp()
	hear(t, lines, "retry:")
	id := store.NewID()
	jot(t, s.watch, id, "smells of pears")
	if event := hear(t, lines, "event:"); event != "event: changed" {
		t.Errorf("got %q", event)
	}
	if data := hear(t, lines, "data:"); data != `data: {"batch":"`+id.String()+`","position":1}` {
		t.Errorf("got %q", data)
	}
	s.End()
	for range lines { // it ends, or the test does not
	}
}

// Who hangs up without reading, or reads nothing, holds nobody up.
func TestLiveSlow(t *testing.T) {
	s := newSite(t)
	server := httptest.NewServer(s)
	defer server.Close()
	defer s.End()
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, server.URL+"/live", nil)
	if err != nil {
		t.Fatal(err)
	}
	idle, err := http.DefaultClient.Do(r) // and never reads
	if err != nil {
		t.Fatal(err)
	}
	defer idle.Body.Close()
	lines, hangUp := followLive(t, server.URL)
	hear(t, lines, "retry:")
	hangUp()
	id, start := store.NewID(), time.Now()
	for range 300 {
		jot(t, s.watch, id, strings.Repeat("a long note, ", 100))
	}
	if took := time.Since(start); took > 10*time.Second {
		t.Errorf("300 notes took %v beside one who does not read", took)
	}
	again, hangUp := followLive(t, server.URL)
	defer hangUp()
	hear(t, again, "retry:")
	jot(t, s.watch, id, "the last")
	if data := hear(t, again, "data:"); !strings.Contains(data, `"position":301`) {
		t.Errorf("got %q", data)
	}
}
