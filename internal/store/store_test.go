package store

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"spile/batch"
)

var ctx = context.Background()

// oneReading is a reading of batch b with a value.
func oneReading(b batch.ID, value int) batch.Entry {
	now := time.Now().UTC()
	return batch.Entry{ID: NewID(), Batch: b, Kind: batch.KindReading, At: now, Made: now, By: "Ada", Body: json.RawMessage(fmt.Sprintf(`{"pressure_pa":%d}`, value))}
}

// opened is a cellar that is closed with the test.
func opened(t testing.TB, dir string) *Store {
	t.Helper()
	s, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

func keep(t testing.TB, s *Store, entries ...batch.Entry) []Kept {
	t.Helper()
	kept, err := s.Append(ctx, entries...)
	if err != nil {
		t.Fatal(err)
	}
	return kept
}

// sound fails where the cellar is not as it was kept, or does not hold so many entries.
func sound(t testing.TB, s *Store, entries int) {
	t.Helper()
	r, err := s.Verify(ctx)
	if err != nil || len(r.Findings) > 0 || r.Entries != entries {
		t.Fatalf("expected %d sound entries, got %d with %v, %v", entries, r.Entries, r.Findings, err)
	}
}

// everyBackend runs a suite on a file and in memory.
func everyBackend(t *testing.T, suite func(t *testing.T, s *Store)) {
	t.Run("file", func(t *testing.T) { suite(t, opened(t, t.TempDir())) })
	t.Run("memory", func(t *testing.T) {
		s, err := OpenMemory()
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { s.Close() })
		suite(t, s)
	})
}

func TestAppend(t *testing.T) {
	everyBackend(t, func(t *testing.T, s *Store) {
		a, b := NewID(), NewID()
		first, second, other := oneReading(a, 1), oneReading(a, 2), oneReading(b, 3)
		kept := keep(t, s, first, second, other, first)
		for i, want := range []Kept{{1, false}, {2, false}, {1, false}, {0, true}} {
			if kept[i] != want {
				t.Errorf("entry %d: expected %v, got %v", i, want, kept[i])
			}
		}
		if again := keep(t, s, second)[0]; again != (Kept{2, true}) {
			t.Errorf("sent again: expected number 2, known, got %v", again)
		}
		changed := first
		changed.Body = json.RawMessage(`{"pressure_pa":9}`)
		if _, err := s.Append(ctx, oneReading(a, 4), changed); !errors.Is(err, ErrOther) {
			t.Errorf("another entry with a known id: expected a refusal, got %v", err)
		}
		if _, err := s.Append(ctx, oneReading(a, 4), batch.Entry{}); err == nil {
			t.Error("an empty entry was kept")
		}
		entries, damaged, err := s.Log(ctx, a, 0)
		if err != nil || len(damaged) > 0 || len(entries) != 2 || entries[1].ID != second.ID {
			t.Errorf("expected the two entries alone, got %v, %v, %v", entries, damaged, err)
		}
		if entries, _, err := s.Log(ctx, a, 1); err != nil || len(entries) != 1 || entries[0].ID != second.ID {
			t.Errorf("after number 1: expected the second, got %v, %v", entries, err)
		}
		sound(t, s, 3)
	})
}

func TestManyWritersAtOnce(t *testing.T) {
	everyBackend(t, func(t *testing.T, s *Store) {
		logs := []batch.ID{NewID(), NewID(), {}}
		var all sync.WaitGroup
		for w := range 24 {
			all.Go(func() {
				for i := range 20 {
					if _, err := s.Append(ctx, oneReading(logs[(w+i)%3], i)); err != nil {
						t.Error(err)
					}
				}
			})
		}
		all.Wait()
		sound(t, s, 480)
		heads, err := s.Heads(ctx)
		if err != nil || len(heads) != 3 || heads[0].Batch != (batch.ID{}) || heads[0].Position+heads[1].Position+heads[2].Position != 480 {
			t.Errorf("expected three logs of 480 entries, the cellar's own first, got %v, %v", heads, err)
		}
	})
}

func TestAppendEnds(t *testing.T) {
	s := opened(t, t.TempDir())
	gone, cancel := context.WithCancel(ctx)
	cancel()
	if _, err := s.Append(gone, oneReading(NewID(), 1)); err != nil && !errors.Is(err, context.Canceled) {
		t.Errorf("expected it kept or not handed over, got %v", err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Append(ctx, oneReading(NewID(), 1)); err == nil || !strings.Contains(err.Error(), "not open for writing") {
		t.Errorf("after the end: got %v", err)
	}
}

// Whoever opens the folder again finds the same cellar.
func TestReopen(t *testing.T) {
	dir, b := t.TempDir(), NewID()
	s := opened(t, dir)
	keep(t, s, oneReading(b, 1))
	if _, err := Open(dir); err == nil || !strings.Contains(err.Error(), "another Spile has this cellar open") {
		t.Errorf("a second one that writes: expected one sentence, got %v", err)
	}
	r, err := OpenReader(dir)
	if err != nil {
		t.Fatalf("a reader beside it: %v", err)
	}
	defer r.Close()
	sound(t, r, 1)
	keep(t, s, oneReading(b, 2))
	sound(t, r, 2)
	if _, err := r.Append(ctx, oneReading(b, 3)); err == nil {
		t.Error("a reader wrote")
	}
	s.Close()
	again := opened(t, dir)
	if again.cellar != s.cellar {
		t.Errorf("expected cellar %s, got %s", s.cellar, again.cellar)
	}
	keep(t, again, oneReading(b, 3))
	sound(t, again, 3)
}

func TestOneSentence(t *testing.T) {
	write := func(dir, name, text string) string {
		if err := os.MkdirAll(dir, 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return dir
	}
	garbage := strings.Repeat("this is no database ", 500)
	file := write(t.TempDir(), "file", "")
	for _, c := range []struct {
		what string
		do   func() error
		say  string
	}{
		{"no cellar to read", func() error { _, err := OpenReader(t.TempDir()); return err }, "no spile.db in it"},
		{"a file for a folder", func() error { _, err := Open(filepath.Join(file, "file")); return err }, "not a directory"},
		{"no database", func() error { _, err := Open(write(t.TempDir(), DataFile, garbage)); return err }, "is damaged"},
		{"no database to read", func() error { _, err := OpenReader(write(t.TempDir(), DataFile, garbage)); return err }, "is damaged"},
		{"an empty file to read", func() error { _, err := OpenReader(write(t.TempDir(), DataFile, "")); return err }, "no cellar in this file"},
		{"half a restore", func() error { _, err := Open(write(t.TempDir(), restoring, "")); return err }, "run spile restore again"},
		{"no backup", func() error { _, err := VerifyFile(ctx, filepath.Join(t.TempDir(), "none")); return err }, "no such file"},
		{"no backup either", func() error {
			_, _, err := Restore(ctx, t.TempDir(), filepath.Join(write(t.TempDir(), "b.db", garbage), "b.db"))
			return err
		}, "cannot be read as a cellar"},
	} {
		err := c.do()
		var f *Fault
		if err == nil || !errors.As(err, &f) || !strings.Contains(err.Error(), c.say) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: expected one sentence with %q, got %v", c.what, c.say, err)
		}
	}
}

func TestBackupUnderLoadAndRestore(t *testing.T) {
	dir, b := t.TempDir(), NewID()
	s := opened(t, dir)
	keep(t, s, oneReading(b, 0))
	stop, confirmed := make(chan struct{}), []batch.ID{}
	var load sync.WaitGroup
	load.Go(func() {
		for i := 1; ; i++ {
			select {
			case <-stop:
				return
			default:
			}
			e := oneReading(b, i)
			if _, err := s.Append(ctx, e); err != nil {
				t.Error(err)
				return
			}
			confirmed = append(confirmed, e.ID)
		}
	})
	time.Sleep(50 * time.Millisecond)
	path := filepath.Join(t.TempDir(), "b.db")
	report, err := s.Backup(ctx, path)
	close(stop)
	load.Wait()
	if err != nil || len(report.Findings) > 0 || report.Entries < 1 {
		t.Fatalf("backup: got %+v, %v", report, err)
	}
	if _, err := s.Backup(ctx, path); err == nil {
		t.Error("a backup was written over another")
	}
	s.Close()
	for _, to := range []string{dir, t.TempDir()} { // over a cellar, and on a clean machine
		again, kept, err := Restore(ctx, to, path)
		if err != nil || again.Entries != report.Entries || (kept != "") != (to == dir) {
			t.Fatalf("restore: expected %d entries, got %d, %q, %v", report.Entries, again.Entries, kept, err)
		}
		r := opened(t, to)
		sound(t, r, report.Entries)
		entries, _, err := r.Log(ctx, b, 1)
		if err != nil || len(entries) != report.Entries-1 {
			t.Fatal(len(entries), err)
		}
		for i, e := range entries {
			if e.ID != confirmed[i] {
				t.Fatalf("entry %d up to the backup: expected %s, got %s", i, confirmed[i], e.ID)
			}
		}
		keep(t, r, oneReading(b, 1))
		if kept != "" {
			if old, err := VerifyFile(ctx, kept); err != nil || old.Entries != len(confirmed)+1 {
				t.Errorf("what was there: expected %d entries, got %d, %v", len(confirmed)+1, old.Entries, err)
			}
		}
	}
}

// Whether the words or the checksum of a line are hit, that line alone is named.
func TestOneHitIsNamedOnce(t *testing.T) {
	log := NewID()
	for _, hit := range []string{"form", "sum"} {
		c, sum, named := chain{batch: log}, batch.FirstSum(), []int64{}
		for i := range 4 {
			e := oneReading(log, i)
			form, err := e.Form()
			if err != nil {
				t.Fatal(err)
			}
			sum = sum.Next(form)
			r := row{id: e.ID[:], form: form, sum: bytes.Clone(sum[:]), position: int64(i + 1), time: e.At.UnixNano()}
			switch {
			case i == 1 && hit == "form":
				r.form = bytes.Replace(form, []byte("reading"), []byte("Reading"), 1)
			case i == 1:
				r.sum[5] ^= 1
			}
			if _, found := c.next(r); found != nil {
				named = append(named, found.Position)
			}
		}
		if len(named) != 1 || named[0] != 2 {
			t.Errorf("%s of number 2 hit: expected 2 alone, got %v", hit, named)
		}
	}
}
