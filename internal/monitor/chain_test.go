package monitor

import (
	"bytes"
	"database/sql"
	"io"
	"os"
	"path/filepath"
	"reflect"
	"testing"
	"time"

	_ "github.com/ncruces/go-sqlite3/driver"

	"spile/batch"
	"spile/internal/store"
	"spile/unit"
)

// story is a batch as somebody might tell it, entry by entry in order of time (invented values).
func story(t testing.TB) []batch.Entry {
	t.Helper()
	made := making(t, pale("Borrowed Ladder Porter", batch.ID{}))
	id := made.ID
	return []batch.Entry{
		made,
		did(t, id, hours(0.2), batch.Event{Kind: batch.SetRelief, Pressure: 10 * unit.PSI}),
		read(t, id, hours(0.4), batch.Gravity, 1.046),
		read(t, id, hours(20.3), batch.Pressure, 20e3),
		read(t, id, hours(20.4), batch.Temperature, 293.4),
		read(t, id, hours(30.2), batch.Pressure, 68e3),
		read(t, id, hours(44.1), batch.Gravity, 1.031),
		did(t, id, hours(44.3), batch.Event{Kind: batch.Noticed, Words: "hiss"}),
		read(t, id, hours(44.5), batch.Pressure, 70e3),
		read(t, id, hours(44.7), batch.Pressure, 69e3),
		read(t, id, hours(44.9), batch.Pressure, 70e3),
	}
}

// told is what a watch tells that hears all of it at once.
func toldAtOnce(t testing.TB, entries []batch.Entry, now time.Time) *Told {
	t.Helper()
	w := inMemory(t, &clock{now: now})
	keep(t, w, entries...)
	renewAll(t, w)
	return see(t, w, entries[0].ID).Told
}

// Whether it was heard entry by entry with a look at each, or all at once: the same is believed, to the last bit.
func TestWhatIsBelievedDoesNotDependOnTheWay(t *testing.T) {
	c := &clock{now: pitched}
	w := inMemory(t, c)
	all := story(t)
	renewed := 0
	for i, e := range all {
		c.set(e.At.Add(10 * time.Second))
		keep(t, w, e)
		renewAll(t, w)
		s := see(t, w, all[0].ID)
		if !s.Fresh() {
			t.Fatalf("entry %d is not taken in: %q", i, s.Failed)
		}
		if stageIn(t, w, s.ID).Renewed {
			renewed++
		}
	}
	if renewed == 0 {
		t.Error("members were never weighed anew: the two ways were the same one")
	}
	same(t, "one by one", see(t, w, all[0].ID).Told, toldAtOnce(t, all, c.now))
	c.set(hours(46.5)) // an hour later all is taken together
	renewAll(t, w)
	same(t, "an hour later", see(t, w, all[0].ID).Told, toldAtOnce(t, all, c.now))
	if stageIn(t, w, all[0].ID).Renewed {
		t.Error("what was weighed in last hour is not conditioned on yet")
	}
}

// stageIn is what is put away of a batch.
func stageIn(t testing.TB, w *Watch, id batch.ID) *stage {
	t.Helper()
	row, err := w.store.Belief(ctx, id)
	if err != nil || row == nil {
		t.Fatal(row, err)
	}
	var st stage
	if err := unpack(row.Members, &st); err != nil {
		t.Fatal(err)
	}
	return &st
}

// What comes late, is taken back or corrected leads where it would have led in time.
func TestLateTakenBackAndCorrected(t *testing.T) {
	c := &clock{now: hours(45)}
	w := inMemory(t, c)
	all := story(t)
	id := all[0].ID
	late := read(t, id, hours(25), batch.Gravity, 1.041)
	keep(t, w, all...)
	renewAll(t, w)
	before := see(t, w, id).Told
	step := func(what string, e batch.Entry, want []batch.Entry) {
		t.Helper()
		keep(t, w, e)
		renewAll(t, w)
		got := see(t, w, id)
		if !got.Fresh() {
			t.Fatalf("%s: not taken in: %q", what, got.Failed)
		}
		same(t, what, got.Told, toldAtOnce(t, want, c.now))
	}
	step("late", late, append(all[:len(all):len(all)], late))
	if bytes.Equal(digits(t, before.Forecast), digits(t, see(t, w, id).Told.Forecast)) {
		t.Error("the late reading changed nothing")
	}
	back := entry(t, id, batch.KindTakenBack, hours(45), nil)
	back.Supersedes = late.ID
	step("taken back", back, all)
	same(t, "taken back", see(t, w, id).Told, before)
	forgotten := read(t, id, hours(44.95), batch.Gravity, 1.030) // later than all, and before the hour that has begun
	step("forgotten", forgotten, append(all[:len(all):len(all)], forgotten))
	back = entry(t, id, batch.KindTakenBack, hours(45), nil)
	back.Supersedes = forgotten.ID
	step("taken back as well", back, all)
	wrong := entry(t, id, batch.KindCorrection, all[6].At, map[string]any{"gravity_sg": 1.035})
	wrong.Supersedes = all[6].ID
	right := append([]batch.Entry{}, all...)
	right[6].Body = body(t, map[string]any{"gravity_sg": 1.035})
	step("corrected", wrong, right)
}

// crash is a copy of the files of a cellar as they stand while it is open, as a killed process leaves them.
func crash(t testing.TB, dir string) string {
	t.Helper()
	to := t.TempDir()
	for _, name := range []string{store.DataFile, store.DataFile + "-wal"} {
		in, err := os.Open(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		out, err := os.Create(filepath.Join(to, name))
		if err != nil {
			t.Fatal(err)
		}
		if _, err := io.Copy(out, in); err != nil {
			t.Fatal(err)
		}
		in.Close()
		out.Close()
	}
	return to
}

// A killed process loses nothing of what it told: the same digits are there at once, and what is tried gives the same.
func TestRestartAfterAKill(t *testing.T) {
	dir, c := t.TempDir(), &clock{now: hours(45)}
	w := inFile(t, dir, c)
	all := story(t)
	keep(t, w, all...)
	renewAll(t, w)
	before := see(t, w, all[0].ID)
	tried, err := w.Try(ctx, before.ID, nil, 3*unit.Day)
	if err != nil {
		t.Fatal(err)
	}
	again := inFile(t, crash(t, dir), c)
	after := see(t, again, before.ID)
	if !after.Fresh() || !after.Told.Made.Equal(before.Told.Made) {
		t.Errorf("after the restart: fresh %v", after.Fresh())
	}
	same(t, "after the restart", after.Told, before.Told)
	if n := renewAll(t, again); n != 0 {
		t.Errorf("%d batches were renewed without need", n)
	}
	retried, err := again.Try(ctx, before.ID, nil, 3*unit.Day)
	if err != nil || !reflect.DeepEqual(retried.Series, tried.Series) {
		t.Errorf("tried again: another answer, %v", err)
	}
}

// derivedTables are those that can be lost; with what spoils a row of each.
var derivedTables = map[string]string{
	"brief": `UPDATE brief SET name = name || '!'`, "sample_hour": `UPDATE sample_hour SET lowest = lowest + 1`,
	"belief": `UPDATE belief SET told = x'00'`, "lesson": `UPDATE lesson SET taught = x'00'`, "lease": `UPDATE lease SET until = 0`,
}

// spoil changes the file of a cellar that nobody has open.
func spoil(t testing.TB, dir string, queries ...string) {
	t.Helper()
	db, err := sql.Open("sqlite3", "file:"+filepath.ToSlash(filepath.Join(dir, store.DataFile)))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	for _, q := range queries {
		if _, err := db.Exec(q); err != nil {
			t.Fatal(q, err)
		}
	}
}

// T8: derived tables, each and all, lost or damaged: Spile starts, and all is made again to the same bit.
func TestLostOrDamagedTablesAreMadeAgain(t *testing.T) {
	dir, c := t.TempDir(), &clock{now: hours(45)}
	w := inFile(t, dir, c)
	vessel := store.NewID()
	first, second := story(t)[:4], story(t)[:4]
	r := pale("Second", vessel)
	r.Pitched = hours(-300)
	done := making(t, r)
	keep(t, w, done, read(t, done.ID, hours(-250), batch.Gravity, 1.030), read(t, done.ID, hours(-150), batch.Gravity, 1.011), emptied(t, done.ID, hours(-100)))
	keep(t, w, first...)
	keep(t, w, second...)
	renewAll(t, w)
	want := map[batch.ID]*Told{}
	for _, id := range []batch.ID{done.ID, first[0].ID, second[0].ID} {
		if want[id] = see(t, w, id).Told; want[id] == nil {
			t.Fatal(see(t, w, id).Failed)
		}
	}
	passports, err := w.Passports(ctx)
	if err != nil || len(passports) == 0 {
		t.Fatal(passports, err)
	}
	wantHours, err := w.Hours(ctx, first[0].ID)
	if err != nil {
		t.Fatal(err)
	}
	cases := map[string][]string{}
	for table, q := range derivedTables {
		cases[table+" lost"] = []string{`DELETE FROM ` + table}
		cases["all lost"] = append(cases["all lost"], `DELETE FROM `+table)
		cases["all damaged"] = append(cases["all damaged"], q)
	}
	for what, queries := range cases {
		t.Run(what, func(t *testing.T) {
			copied := crash(t, dir)
			spoil(t, copied, queries...)
			again := inFile(t, copied, c)
			for id := range want {
				see(t, again, id) // somebody looks
			}
			renewAll(t, again)
			for id, told := range want {
				same(t, what, see(t, again, id).Told, told)
			}
			if got, err := again.Passports(ctx); err != nil || !reflect.DeepEqual(got, passports) {
				t.Errorf("passports: %v, %v", got, err)
			}
			if got, err := again.Hours(ctx, first[0].ID); err != nil || !reflect.DeepEqual(got, wantHours) {
				t.Errorf("hours: %v, %v", got, err)
			}
			if all, err := again.Batches(ctx); err != nil || len(all) != 3 || all[2].Name != "Second" {
				t.Errorf("batches: %v, %v", all, err)
			}
		})
	}
}

// A lesson that is hurt while everything runs is left out of the passports, made again, and is in them again.
func TestALessonIsHurtMeanwhile(t *testing.T) {
	dir, c := t.TempDir(), &clock{now: hours(45)}
	w := inFile(t, dir, c)
	finished(t, w, "First", batch.ID{}, -1000, 1.0065)
	renewAll(t, w)
	want, err := w.Passports(ctx)
	if err != nil || len(want) != 2 {
		t.Fatal(want, err)
	}
	spoil(t, dir, derivedTables["lesson"])
	if got, err := w.Passports(ctx); err != nil || len(got) != 0 {
		t.Errorf("hurt: %+v, %v", got, err)
	}
	renewAll(t, w)
	if got, err := w.Passports(ctx); err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("made again: %+v, %v", got, err)
	}
}

// What another engine told is told anew.
func TestAnotherEngine(t *testing.T) {
	dir, c := t.TempDir(), &clock{now: hours(45)}
	w := inFile(t, dir, c)
	all := story(t)
	keep(t, w, all...)
	renewAll(t, w)
	want := see(t, w, all[0].ID).Told
	newer := inFile(t, crash(t, dir), c)
	newer.engine = "another"
	if n := renewAll(t, newer); n != 1 {
		t.Errorf("%d batches were told anew, want 1", n)
	}
	same(t, "told anew", see(t, newer, all[0].ID).Told, want)
	if row, err := newer.store.Belief(ctx, all[0].ID); err != nil || row.Engine != "another" {
		t.Errorf("the row is of engine %v, %v", row, err)
	}
}

// Two who watch one store do not both make a forecast: who has the lease does, and the other takes it over.
func TestTwoWatchesOneStore(t *testing.T) {
	everyStore(t, func(t *testing.T, w *Watch, c *clock) {
		other := over(w.store, c)
		id := begin(t, w, pale("Sluice Gate Pale", batch.ID{}))
		c.set(hours(2))
		if got, err := w.store.Lease(ctx, id, w.holder, c.now, c.now.Add(leaseFor)); err != nil || !got {
			t.Fatal(got, err)
		}
		renewAll(t, other)
		if s := see(t, other, id); s.Told != nil {
			t.Error("the other made a forecast without the lease")
		}
		renewAll(t, w)
		made := see(t, w, id).Told
		c.set(c.now.Add(2 * sweepEvery))
		if made == nil {
			t.Fatal(see(t, w, id).Failed)
		}
		if n := renewAll(t, other); n != 1 {
			t.Errorf("the other looked %d times, want once", n)
		}
		taken := see(t, other, id)
		if !taken.Fresh() || !taken.Told.Made.Equal(made.Made) {
			t.Errorf("the other did not take over what was made: %+v", taken.Told)
		}
		same(t, "taken over", taken.Told, made)
		// a lease whose holder was killed passes on
		keep(t, w, read(t, id, hours(2), batch.Gravity, 1.045))
		if got, err := w.store.Lease(ctx, id, store.NewID(), c.now, c.now.Add(leaseFor)); err != nil || !got {
			t.Fatal(got, err)
		}
		renewAll(t, other)
		if see(t, other, id).Fresh() {
			t.Error("the lease of a killed one did not hold")
		}
		c.set(c.now.Add(leaseFor + sweepEvery))
		renewAll(t, other)
		if !see(t, other, id).Fresh() {
			t.Errorf("the lease of a killed one did not pass on: %+v", see(t, other, id))
		}
	})
}

// The first forecast of each day is kept.
func TestDaysAreKept(t *testing.T) {
	c := &clock{now: hours(1)}
	w := inMemory(t, c)
	id := begin(t, w, pale("Sluice Gate Pale", batch.ID{}))
	for _, h := range []float64{1, 3, 25, 49} {
		c.set(hours(h))
		renewAll(t, w)
	}
	made, told, err := w.store.Days(ctx, id)
	if err != nil || len(told) != 3 {
		t.Errorf("%d days, want 3: %v, %v", len(told), made, err)
	}
}

// A batch that ended and was never read is told once, teaches nothing, and leaves nobody busy.
func TestEndedUnread(t *testing.T) {
	c := &clock{now: hours(45)}
	w := inMemory(t, c)
	id := begin(t, w, pale("Never Read", batch.ID{}))
	keep(t, w, did(t, id, hours(1), batch.Event{Kind: batch.SetRelief, Pressure: 10 * unit.PSI}), emptied(t, id, hours(40)))
	if n := renewAll(t, w); n != 1 {
		t.Errorf("renewed %d times", n)
	}
	if n, err := w.Unlearnt(ctx); err != nil || n != 0 {
		t.Errorf("%d are not learnt from, %v", n, err)
	}
	all, err := w.Passports(ctx)
	if err != nil || len(all) != 0 {
		t.Errorf("passports: %+v, %v", all, err)
	}
}

// A batch that a sensor reads is renewed every few minutes, and at once where somebody waits for it.
func TestASensorIsNotWaitedFor(t *testing.T) {
	c := &clock{now: hours(2)}
	w := inMemory(t, c)
	id := begin(t, w, pale("Sluice Gate Pale", batch.ID{}))
	for i := range 2 * manyAnHour {
		keep(t, w, read(t, id, hours(1+float64(i)/120), batch.Pressure, float64(100*(i%3))))
	}
	renewAll(t, w)
	next := func() int {
		c.set(c.now.Add(time.Minute))
		keep(t, w, read(t, id, c.now, batch.Pressure, 100))
		return renewAll(t, w)
	}
	if n := next(); n != 0 {
		t.Errorf("renewed %d times after a minute", n)
	}
	if s, err := w.Settle(ctx, id, 0); err != nil || s.Fresh() { // somebody waits
		t.Fatal(s, err)
	}
	if n := renewAll(t, w); n != 1 {
		t.Errorf("somebody waited, and it was renewed %d times", n)
	}
	c.set(c.now.Add(denseEvery))
	if n := next(); n != 1 {
		t.Errorf("renewed %d times after %v", n, denseEvery)
	}
}

// A batch that nobody reads rests; one that has ended is looked at from its end.
func TestWhatRests(t *testing.T) {
	c := &clock{now: hours(2)}
	w := inMemory(t, c)
	all := story(t)
	id := all[0].ID
	c.set(hours(45))
	keep(t, w, all...)
	renewAll(t, w)
	c.set(hours(45 + 24*15))
	if n := renewAll(t, w); n != 0 {
		t.Errorf("renewed %d times after two weeks without a reading", n)
	}
	keep(t, w, emptied(t, id, hours(400)))
	renewAll(t, w)
	if s := see(t, w, id); !s.Fresh() || !s.Told.Forecast.At.Equal(hours(400)) {
		t.Errorf("the last forecast looks from %v, want the end", s.Told.Forecast.At)
	}
	c.set(hours(2000))
	if n := renewAll(t, w); n != 0 {
		t.Errorf("renewed %d times after the end", n)
	}
}
