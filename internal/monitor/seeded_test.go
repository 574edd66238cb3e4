package monitor

import (
	"os"
	"path/filepath"
	"reflect"
	"runtime"
	"slices"
	"sync"
	"testing"
	"time"

	"spile/batch"
	"spile/internal/monitor/seeded"
	"spile/internal/store"
)

// Whatever came in whatever portions, the hours are those of all readings.
func TestHoursAreThoseOfTheReadings(t *testing.T) {
	everyStore(t, func(t *testing.T, w *Watch, c *clock) {
		ids, err := seeded.Cellar{Seed: 3, Vessels: 2, Batches: 3, Readings: 300, Now: hours(0)}.Fill(ctx, w.store)
		if err != nil || len(ids) != 3 {
			t.Fatal(ids, err)
		}
		id := ids[0]
		check := func(what string) {
			t.Helper()
			if err := w.saveBriefs(ctx); err != nil {
				t.Fatal(err)
			}
			got, err := w.Hours(ctx, id)
			if err != nil {
				t.Fatal(err)
			}
			if want := byHand(see(t, w, id).State.Log.Readings); !reflect.DeepEqual(got, want) {
				t.Errorf("%s: %d hours, want %d", what, len(got), len(want))
			}
			if kept, err := w.store.Hours(ctx, id); err != nil || !reflect.DeepEqual(kept, got) {
				t.Errorf("%s: what is kept is another thing: %v", what, err)
			}
		}
		if _, err := w.Batches(ctx); err != nil {
			t.Fatal(err)
		}
		check("at first")
		keep(t, w, read(t, id, hours(1), batch.Pressure, 1e5))
		check("one more")
		late := read(t, id, hours(-50), batch.Pressure, -5)
		keep(t, w, late)
		check("late")
		back := entry(t, id, batch.KindTakenBack, hours(2), nil)
		back.Supersedes = late.ID
		keep(t, w, back)
		check("taken back")
	})
}

// byHand sorts readings into hours the slow way.
func byHand(readings []batch.Reading) (out []store.Hour) {
	for q := range batch.Quantities {
		for _, r := range readings {
			if r.Quantity != q {
				continue
			}
			hour := r.Time.Unix() / 3600
			i := slices.IndexFunc(out, func(h store.Hour) bool { return h.Quantity == q && h.Hour == hour })
			if i < 0 {
				i = len(out)
				out = append(out, store.Hour{Quantity: q, Hour: hour, Lowest: r.Value, Highest: r.Value})
			}
			h := &out[i]
			h.Count, h.Sum, h.Last = h.Count+1, h.Sum+r.Value, r.Value
			h.Lowest, h.Highest = min(h.Lowest, r.Value), max(h.Highest, r.Value)
		}
	}
	return out
}

// The states of many batches do not all stay in memory, and those that were let go are derived again.
func TestWhatIsNotLookedAtIsLetGo(t *testing.T) {
	c := &clock{now: hours(0)}
	w := inMemory(t, c)
	ids, err := seeded.Cellar{Seed: 4, Vessels: 1, Batches: 4, Readings: 200, Now: hours(0)}.Fill(ctx, w.store)
	if err != nil {
		t.Fatal(err)
	}
	for _, id := range ids {
		see(t, w, id)
	}
	w.logs.weigh(w.logs.of(ids[0]), mostHeld-400)
	if n := len(w.logs.each); n != 2 {
		t.Errorf("%d states are held, want the two used last", n)
	}
	if w.logs.each[ids[0]] == nil || w.logs.each[ids[3]] == nil {
		t.Error("one of the two used last was let go")
	}
	for _, id := range ids {
		if n := len(see(t, w, id).State.Log.Readings); n != 200 {
			t.Errorf("%d readings", n)
		}
	}
}

// Of the forecasts and of the beliefs brought to now, those used last stay in memory.
func TestWhatWasUsedLastIsHeld(t *testing.T) {
	w := inMemory(t, &clock{now: hours(0)})
	ids := make([]batch.ID, mostTold+1)
	for i := range ids {
		ids[i] = store.NewID()
	}
	for i, id := range ids {
		if i == mostTold {
			if told, err := w.told(ctx, ids[0]); err != nil || told == nil {
				t.Fatal("one of those that are held:", told, err)
			}
		}
		w.known.tell(id, &Told{}, mark{})
	}
	if w.known.told[ids[0]] == nil || w.known.told[ids[1]] != nil || len(w.known.told) != mostTold {
		t.Errorf("%d forecasts are held; want all but the second", len(w.known.told))
	}
	for i, id := range ids[:mostStands+1] {
		if i == mostStands {
			w.stands.of(ids[0])
		}
		w.stands.of(id)
	}
	if w.stands.each[ids[0]] == nil || w.stands.each[ids[1]] != nil || len(w.stands.each) != mostStands {
		t.Errorf("%d beliefs are held; want all but the second", len(w.stands.each))
	}
}

// million is a cellar of a million readings, filled once; SPILE_MILLION names a folder where it stays for the next time.
var million = sync.OnceValues(func() (dir string, err error) {
	if dir = os.Getenv("SPILE_MILLION"); dir == "" {
		if dir, err = os.MkdirTemp("", "spile-million-"); err != nil {
			return dir, err
		}
	}
	if _, err := os.Stat(filepath.Join(dir, store.DataFile)); err == nil {
		return dir, nil
	}
	s, err := store.Open(dir)
	if err != nil {
		return dir, err
	}
	defer s.Close()
	ids, err := seeded.Million(hours(0)).Fill(ctx, s)
	if err != nil {
		return dir, err
	}
	w := over(s, &clock{now: hours(0)})
	for _, id := range ids[:20] {
		if err := w.renewNamed(id); err != nil {
			return dir, err
		}
	}
	if _, err := w.Batches(ctx); err != nil {
		return dir, err
	}
	return dir, w.saveBriefs(ctx)
})

// renewNamed renews one batch, whatever else is stale.
func (w *Watch) renewNamed(id batch.ID) error {
	_, err := w.renewOne(ctx, func(b store.Brief) bool { return b.Batch == id })
	return err
}

// big is a watch over a million readings, its vessels looked at once.
func big(b *testing.B) (*Watch, []InVessel) {
	b.Helper()
	dir, err := million()
	if err != nil {
		b.Fatal(err)
	}
	w := inFile(b, dir, &clock{now: hours(0)})
	round, err := w.Round(ctx)
	if err != nil || len(round) != 20 {
		b.Fatal(len(round), err)
	}
	return w, round
}

// BenchmarkSee is one batch of a cellar of a million readings.
func BenchmarkSee(b *testing.B) {
	w, round := big(b)
	for i := 0; b.Loop(); i++ {
		if _, err := w.See(ctx, round[i%20].Seen.ID); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkRound is all twenty vessels of it.
func BenchmarkRound(b *testing.B) {
	w, _ := big(b)
	for b.Loop() {
		if _, err := w.Round(ctx); err != nil {
			b.Fatal(err)
		}
	}
	var m runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&m)
	runtime.KeepAlive(w)
	b.ReportMetric(float64(m.HeapAlloc)/1e6, "MB-held")
}

// BenchmarkKeepAndSee is one reading more, on the disk, and the batch with it.
func BenchmarkKeepAndSee(b *testing.B) {
	w, round := big(b)
	for i := 0; b.Loop(); i++ {
		id := round[i%20].Seen.ID
		keep(b, w, read(b, id, hours(0).Add(time.Duration(i)*time.Second), batch.Pressure, 7e4))
		if _, err := w.See(ctx, id); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkFirstRound is the first look after a start.
func BenchmarkFirstRound(b *testing.B) {
	dir, err := million()
	if err != nil {
		b.Fatal(err)
	}
	s, err := store.Open(dir)
	if err != nil {
		b.Fatal(err)
	}
	defer s.Close()
	for b.Loop() {
		if _, err := over(s, &clock{now: hours(0)}).Round(ctx); err != nil {
			b.Fatal(err)
		}
	}
}
