package monitor

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"spile/batch"
	"spile/internal/store"
)

// A night's backup is taken while readings come in, is restored for proof, and can be restored by anybody.
func TestNightlyBackupIsProved(t *testing.T) {
	dir, c := t.TempDir(), &clock{now: time.Date(2026, 3, 2, 18, 0, 0, 0, time.UTC)}
	w := inFile(t, dir, c)
	id := begin(t, w, pale("Sluice Gate Pale", batch.ID{}))
	if p, err := w.Proven(ctx); err != nil || !p.At.IsZero() {
		t.Fatalf("proven before the first: %+v, %v", p, err)
	}
	stop, stopped := make(chan struct{}), make(chan int)
	go func() {
		n := 0
		for ; ; n++ {
			select {
			case <-stop:
				stopped <- n
				return
			default:
				keep(t, w, entry(t, id, batch.KindNote, hours(1), &batch.Said{Words: "hm"}))
			}
		}
	}()
	err := w.backupIfDue(ctx)
	close(stop)
	if n := <-stopped; err != nil || n == 0 {
		t.Fatalf("with %d notes meanwhile: %v", n, err)
	}
	p, err := w.Proven(ctx)
	if err != nil || !p.At.Equal(c.now) || p.Failed != "" {
		t.Errorf("proven: %+v, %v", p, err)
	}
	if left, err := os.ReadDir(filepath.Join(dir, store.BackupsDir)); err != nil || len(left) != 1 {
		t.Errorf("left behind: %v, %v", left, err)
	}
	if r, _, err := store.Restore(ctx, t.TempDir(), p.File); err != nil || r.Entries < 1 || len(r.Findings) > 0 {
		t.Errorf("restored: %+v, %v", r, err)
	}
	c.set(c.now.Add(8 * time.Hour)) // two in the morning
	if err := w.backupIfDue(ctx); err != nil {
		t.Fatal(err)
	}
	if again, err := w.Proven(ctx); err != nil || !again.At.Equal(p.At) {
		t.Errorf("a second one in one night: %+v, %v", again, err)
	}
	c.set(c.now.Add(2 * time.Hour))
	if err := w.backupIfDue(ctx); err != nil {
		t.Fatal(err)
	}
	if again, err := w.Proven(ctx); err != nil || !again.At.Equal(c.now) {
		t.Errorf("the next night: %+v, %v", again, err)
	}
}

// A backup of what is damaged is not called proven; that is told, and tried again an hour later.
func TestABackupThatIsNotProved(t *testing.T) {
	dir, c := t.TempDir(), &clock{now: pitched}
	w := inFile(t, dir, c)
	id := begin(t, w, pale("Sluice Gate Pale", batch.ID{}))
	keep(t, w, read(t, id, hours(1), batch.Gravity, 1.046))
	hurt := crash(t, dir)
	spoil(t, hurt, `UPDATE entry SET form = replace(form, '1.046', '1.064')`)
	w = inFile(t, hurt, c)
	err := w.backupIfDue(ctx)
	if err == nil || !strings.Contains(err.Error(), "not as it was kept") {
		t.Errorf("got %v", err)
	}
	if p, err := w.Proven(ctx); err != nil || !p.At.IsZero() || p.Failed == "" {
		t.Errorf("proven: %+v, %v", p, err)
	}
	if err := w.backupIfDue(ctx); err != nil {
		t.Errorf("tried again at once: %v", err)
	}
	c.set(c.now.Add(2 * time.Hour))
	if err := w.backupIfDue(ctx); err == nil {
		t.Error("not tried again")
	}
}

// A backup that lacks what was there before it began is not proved.
func TestProofSeesWhatIsMissing(t *testing.T) {
	c := &clock{now: pitched}
	w := inFile(t, t.TempDir(), c)
	id := begin(t, w, pale("Sluice Gate Pale", batch.ID{}))
	file := filepath.Join(t.TempDir(), "x.db")
	if _, err := w.store.Backup(ctx, file); err != nil {
		t.Fatal(err)
	}
	for position, want := range map[int64]bool{1: true, 2: false} {
		err := prove(ctx, file, filepath.Join(t.TempDir(), "scratch"), map[batch.ID]int64{id: position})
		if (err == nil) != want {
			t.Errorf("position %d: %v", position, err)
		}
	}
}

// Of a backup every night for two years, those of seven days, four weeks and twelve months stay.
func TestWhichBackupsAreKept(t *testing.T) {
	var all []time.Time
	last := time.Date(2026, 11, 28, 3, 0, 0, 0, time.UTC) // a Saturday
	for i := range 730 {
		all = append(all, last.AddDate(0, 0, -i))
	}
	keep := toKeep(all, time.UTC)
	for _, c := range []struct {
		day  string
		kept bool
	}{
		{"2026-11-28", true}, {"2026-11-22", true}, {"2026-11-21", false}, // seven days; the 22nd is also a Sunday, the newest of its week
		{"2026-11-15", true}, {"2026-11-08", true}, {"2026-11-01", false}, // four weeks
		{"2026-10-31", true}, {"2026-02-28", true}, {"2025-12-31", true}, {"2025-11-30", false}, // twelve months
	} {
		day, err := time.Parse(time.DateOnly, c.day)
		if err != nil {
			t.Fatal(err)
		}
		if got := keep[day.Add(3*time.Hour)]; got != c.kept {
			t.Errorf("%s: kept %v, want %v", c.day, got, c.kept)
		}
	}
	if most := keptDaily + keptWeekly + keptMonthly; len(keep) > most || len(keep) < keptMonthly+keptDaily {
		t.Errorf("%d are kept", len(keep))
	}
}

// The night begins at three by the clock on the wall, also where that is turned.
func TestLastNight(t *testing.T) {
	zone := time.FixedZone("east", 2*3600)
	for now, want := range map[string]string{"2026-03-02T02:59:00+02:00": "2026-03-01T03:00:00+02:00", "2026-03-02T03:00:00+02:00": "2026-03-02T03:00:00+02:00", "2026-03-01T01:00:00+02:00": "2026-02-28T03:00:00+02:00"} {
		at, err := time.Parse(time.RFC3339, now)
		if err != nil {
			t.Fatal(err)
		}
		if got := lastNight(at.In(zone)).Format(time.RFC3339); got != want {
			t.Errorf("%s: got %s, want %s", now, got, want)
		}
	}
}
