package web

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"spile/internal/monitor"
	"spile/internal/shed"
	"spile/internal/store"
	"spile/unit"
)

var shedNow = time.Date(2026, 11, 28, 12, 0, 0, 0, time.UTC)

// looked is a backup of the demonstration with every vessel looked at, made for the first test that asks: the looks take
// longer than all that is done with them. TestMain removes it.
var looked = sync.OnceValues(func() (string, error) {
	s, err := store.Open(filepath.Join(scratch, "cellar"))
	if err != nil {
		return "", err
	}
	defer s.Close()
	if err := furnish(s); err != nil {
		return "", err
	}
	w := monitor.New(s, quiet, func() time.Time { return shedNow })
	ctx, end := context.WithCancel(context.Background())
	ran := make(chan error, 1)
	go func() { ran <- w.Run(ctx) }()
	err = settled(w)
	end()
	if stopped := <-ran; err == nil && !errors.Is(stopped, context.Canceled) {
		err = stopped
	}
	if err != nil {
		return "", err
	}
	file := filepath.Join(scratch, "shed")
	_, err = s.Backup(context.Background(), file)
	return file, err
})

// scratch is a folder that all tests share.
var scratch string

func TestMain(m *testing.M) {
	var err error
	if scratch, err = os.MkdirTemp("", "spile-web-"); err != nil {
		panic(err)
	}
	code := m.Run()
	os.RemoveAll(scratch)
	os.Exit(code)
}

// furnish puts the entries of the demonstration into a store.
func furnish(s *store.Store) error {
	entries, err := shed.Entries(shedNow, 7, store.NewID)
	if err == nil {
		_, err = s.Append(context.Background(), entries...)
	}
	return err
}

// newShed is the pages of the demonstration, every vessel looked at once.
func newShed(t testing.TB) *Site {
	t.Helper()
	from, err := looked()
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	if _, _, err := store.Restore(t.Context(), dir, from); err != nil {
		t.Fatal(err)
	}
	s, err := store.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	w := monitor.New(s, quiet, func() time.Time { return shedNow })
	ctx, end := context.WithCancel(context.Background())
	var running sync.WaitGroup
	running.Go(func() {
		if err := w.Run(ctx); err != nil && ctx.Err() == nil {
			t.Error(err)
		}
	})
	t.Cleanup(func() { end(); running.Wait() })
	if err := settled(w); err != nil {
		t.Fatal(err)
	}
	return New("test", quiet, w)
}

// Before the first look nothing is said of what the beer does: a cold one under gas was called waking.
func TestNothingIsSaidBeforeTheFirstLook(t *testing.T) {
	memory, err := store.OpenMemory()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { memory.Close() })
	if err := furnish(memory); err != nil {
		t.Fatal(err)
	}
	s := New("test", quiet, monitor.New(memory, quiet, func() time.Time { return shedNow }))
	standing, err := s.allStandingIn(t.Context(), unit.Style{})
	if err != nil || len(standing) != 5 {
		t.Fatalf("vessels: %d, %v", len(standing), err)
	}
	for _, path := range []string{"/", standing[0].Path(), standing[2].Path()} {
		page := get(s, path).Body.String()
		if !strings.Contains(page, "The first look takes a few seconds.") || strings.Contains(page, "Waking") || strings.Contains(page, "First night") {
			t.Errorf("%s says of a beer that was not looked at yet what it does, or not that it is looked at", path)
		}
	}
}

// settled waits until every batch has been looked at.
func settled(w *monitor.Watch) error {
	all, err := w.Batches(context.Background())
	if err != nil {
		return err
	}
	for _, b := range all {
		seen, err := w.Settle(context.Background(), b.ID, 3*time.Minute)
		if err != nil {
			return err
		}
		if !seen.Fresh() {
			return fmt.Errorf("%s: no forecast: %s", b.Name, seen.Failed)
		}
	}
	return nil
}

// Every vessel of the shed says its state, its next act and its evidence; what is tried is set beside the plan.
func TestShedPages(t *testing.T) {
	s := newShed(t)
	home := get(s, "/").Body.String()
	for _, say := range []string{"Dunlin", "Godwit", "Sanderling", "Turnstone", "Whimbrel", "Working", "Taking gas", "Pouring", "Losing gas", "Do the round"} {
		if !strings.Contains(home, say) {
			t.Errorf("Vessels does not say %q", say)
		}
	}
	if strings.Contains(home, "does not fit what is believed of each") {
		t.Error("what its cylinder weighs does not fit what two vessels of the shed took")
	}
	if _, card, there := strings.Cut(home, ">Whimbrel<"); !there || strings.Contains(card, "Ready to pour:") {
		t.Error("a beer that is being poured is awaited still")
	}
	coming := get(s, "/coming-up")
	checkPage(t, "/coming-up", coming.Body.String(), parse(t, coming))
	for _, say := range []string{"Godwit", "Wished for this day", "Ready to pour", "December", "may come earlier or later, one as likely as the other"} {
		if !strings.Contains(coming.Body.String(), say) {
			t.Errorf("Coming up does not say %q", say)
		}
	}
	all, err := s.watch.Round(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, in := range all {
		path := "/vessels/" + in.Vessel.ID.String()
		page := get(s, path)
		d := parse(t, page)
		checkPage(t, path, page.Body.String(), d)
		for _, id := range []string{"now", "next", "ahead", "try", "gas", "log", "why"} {
			if d.ids[id] == nil {
				t.Errorf("%s has no section %s", in.Vessel.Name, id)
			}
		}
		tried := get(s, path+"?hold=21&gas=off&from=24").Body.String()
		if !strings.Contains(tried, "If changed") || !strings.Contains(tried, "Highest pressure") {
			t.Errorf("%s: a change that is tried is not answered", in.Vessel.Name)
		}
		if refused := get(s, path+"?hold=warm"); refused.Code != 422 || !strings.Contains(refused.Body.String(), "There is a problem") {
			t.Errorf("%s: a temperature that cannot be read is not refused: %d", in.Vessel.Name, refused.Code)
		}
		whole := get(s, path+"/everything")
		checkPage(t, path+"/everything", whole.Body.String(), parse(t, whole))
	}
}

// The pages of one vessel among others, and the page of all.
func BenchmarkVessels(b *testing.B) {
	s := newShed(b)
	all, err := s.watch.Round(b.Context())
	if err != nil {
		b.Fatal(err)
	}
	one := "/vessels/" + all[0].Vessel.ID.String()
	for _, address := range []string{"/", one, one + "/everything", one + "/strips.json", one + "/i-read", one + "?hold=21&from=24"} {
		b.Run(strings.Replace(address, one, "one", 1), func(b *testing.B) {
			for b.Loop() {
				if w := get(s, address); w.Code != 200 {
					b.Fatal(w.Code)
				}
			}
		})
	}
}
