package store

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"reflect"
	"sync"
	"testing"
	"time"

	"spile/batch"
)

var evening = time.Date(2026, 3, 2, 18, 5, 0, 0, time.UTC)

func someHours() []Hour {
	return []Hour{{batch.Gravity, 492000, 2, 1.01, 1.02, 2.03, 1.01}, {batch.Pressure, 492000, 1, 5e4, 5e4, 5e4, 5e4}, {batch.Pressure, 492001, 3, 4e4, 6e4, 15e4, 4e4}}
}

func briefOf(id batch.ID) Brief {
	return Brief{Batch: id, Position: 3, Name: "Odd Glove Red", Vessel: NewID(), Yeast: "ale", Pitched: evening, Last: evening.Add(time.Hour), Hours: SumHours(someHours())}
}

func beliefOf(id batch.ID) Belief {
	return Belief{Batch: id, Position: 3, Things: 7, Made: evening, Engine: "e1", Prior: []byte{1}, Evidence: []byte{2}, Seed: 1 << 63, Upto: evening, Base: evening.Truncate(time.Hour), Members: []byte("members"), Told: []byte("told")}
}

func scoreOf(id batch.ID) Score {
	return Score{Batch: id, What: "finished", Days: 9, Judged: 7, Held: 6, Scored: 5, Sum: 3600.5}
}

// putAway keeps one row of everything that is derived.
func putAway(t testing.TB, s *Store, id batch.ID) {
	t.Helper()
	holder := NewID()
	got, err := s.Lease(ctx, id, holder, evening, evening.Add(time.Minute))
	if err != nil || !got {
		t.Fatal(got, err)
	}
	for _, err := range []error{
		s.KeepBrief(ctx, briefOf(id), someHours(), 0),
		s.KeepBelief(ctx, holder, beliefOf(id), []byte("in short")),
		s.KeepLesson(ctx, Lesson{Batch: id, Evidence: []byte{3}, Engine: "e1", Taught: []byte("taught")}),
		s.KeepScores(ctx, id, []Score{scoreOf(id)}),
	} {
		if err != nil {
			t.Fatal(err)
		}
	}
}

func TestDerivedIsKept(t *testing.T) {
	everyBackend(t, func(t *testing.T, s *Store) {
		id := NewID()
		putAway(t, s, id)
		briefs, err := s.Briefs(ctx)
		if want := briefOf(id); err != nil || len(briefs) != 1 || briefs[0].Name != want.Name || !briefs[0].Last.Equal(want.Last) || !briefs[0].Ended.IsZero() || !bytes.Equal(briefs[0].Hours, want.Hours) {
			t.Errorf("brief: %+v, %v", briefs, err)
		}
		hours, err := s.Hours(ctx, id)
		if err != nil || !reflect.DeepEqual(hours, someHours()) {
			t.Errorf("hours: %+v, %v", hours, err)
		}
		if b, err := s.Belief(ctx, id); err != nil || b == nil || !reflect.DeepEqual(*b, beliefOf(id)) {
			t.Errorf("belief: %+v, %v", b, err)
		}
		if l, err := s.Lesson(ctx, id); err != nil || l == nil || string(l.Taught) != "taught" {
			t.Errorf("lesson: %+v, %v", l, err)
		}
		if made, told, err := s.Days(ctx, id); err != nil || len(told) != 1 || string(told[0]) != "in short" || !made[0].Equal(evening) {
			t.Errorf("days: %v %q, %v", made, told, err)
		}
		if x, err := s.Scores(ctx); err != nil || len(x) != 1 || x[0] != scoreOf(id) {
			t.Errorf("scores: %+v, %v", x, err)
		}
		if b, err := s.Belief(ctx, NewID()); b != nil || err != nil {
			t.Errorf("a belief that was never kept: %+v, %v", b, err)
		}
	})
}

// Only hours from one on are written anew.
func TestHoursFromOneOn(t *testing.T) {
	everyBackend(t, func(t *testing.T, s *Store) {
		id := NewID()
		putAway(t, s, id)
		changed := someHours()
		for i := range changed {
			changed[i].Sum++
		}
		if err := s.KeepBrief(ctx, briefOf(id), changed, 492001); err != nil {
			t.Fatal(err)
		}
		want := someHours()
		want[2].Sum++
		if hours, err := s.Hours(ctx, id); err != nil || !reflect.DeepEqual(hours, want) {
			t.Errorf("got %+v, %v; want %+v", hours, err, want)
		}
	})
}

// The first forecast of a day stays, and the next day has its own.
func TestOneForecastADay(t *testing.T) {
	everyBackend(t, func(t *testing.T, s *Store) {
		id, holder := NewID(), NewID()
		for i, after := range []time.Duration{0, time.Hour, 24 * time.Hour} {
			b := beliefOf(id)
			b.Made = b.Made.Add(after)
			if got, err := s.Lease(ctx, id, holder, b.Made, b.Made.Add(time.Minute)); err != nil || !got {
				t.Fatal(got, err)
			}
			if err := s.KeepBelief(ctx, holder, b, []byte{byte(i)}); err != nil {
				t.Fatal(err)
			}
		}
		if _, told, err := s.Days(ctx, id); err != nil || len(told) != 2 || told[0][0] != 0 || told[1][0] != 2 {
			t.Errorf("got %v, %v; want the first of each day", told, err)
		}
	})
}

// Of many who ask for a lease one gets it, until it gives it up or its time has passed; and only who has it may keep.
func TestLease(t *testing.T) {
	everyBackend(t, func(t *testing.T, s *Store) {
		id := NewID()
		var mu sync.Mutex
		var holders []batch.ID
		var all sync.WaitGroup
		for range 20 {
			all.Go(func() {
				holder := NewID()
				got, err := s.Lease(ctx, id, holder, evening, evening.Add(time.Minute))
				if err != nil {
					t.Error(err)
				}
				if got {
					mu.Lock()
					holders = append(holders, holder)
					mu.Unlock()
				}
			})
		}
		all.Wait()
		if len(holders) != 1 {
			t.Fatalf("%d have the lease", len(holders))
		}
		other := NewID()
		later := evening.Add(2 * time.Minute)
		if got, err := s.Lease(ctx, id, other, later, later.Add(time.Minute)); err != nil || !got {
			t.Errorf("after its time: %v, %v", got, err)
		}
		if err := s.KeepBelief(ctx, holders[0], beliefOf(id), nil); !errors.Is(err, ErrLease) {
			t.Errorf("who has lost the lease kept a belief: %v", err)
		}
		if b, err := s.Belief(ctx, id); b != nil || err != nil {
			t.Errorf("and it is there: %+v, %v", b, err)
		}
		if err := s.Release(ctx, id, other); err != nil {
			t.Fatal(err)
		}
		if got, err := s.Lease(ctx, id, holders[0], later, later.Add(time.Minute)); err != nil || !got {
			t.Errorf("after it was given up: %v, %v", got, err)
		}
	})
}

// A row that was changed is not there.
func TestDamagedDerivedRows(t *testing.T) {
	everyBackend(t, func(t *testing.T, s *Store) {
		id := NewID()
		putAway(t, s, id)
		for _, q := range []string{
			`UPDATE brief SET name = 'Odd Glove Rad'`, `UPDATE belief SET told = x'00'`, `UPDATE lesson SET taught = x'00'`, `UPDATE forecast_day SET made = made + 1`,
		} {
			damage(t, s, q)
		}
		briefs, err := s.Briefs(ctx)
		if err != nil || len(briefs) != 0 {
			t.Errorf("brief: %+v, %v", briefs, err)
		}
		if b, err := s.Belief(ctx, id); b != nil || err != nil {
			t.Errorf("belief: %+v, %v", b, err)
		}
		if l, err := s.Lesson(ctx, id); l != nil || err != nil {
			t.Errorf("lesson: %+v, %v", l, err)
		}
		if _, told, err := s.Days(ctx, id); len(told) != 0 || err != nil {
			t.Errorf("days: %q, %v", told, err)
		}
		damage(t, s, `UPDATE sample_hour SET lowest = 1.0 WHERE hour = 492001`)
		if hours, err := s.Hours(ctx, id); err != nil || bytes.Equal(SumHours(hours), briefOf(id).Hours) {
			t.Errorf("hours: %+v, %v have the checksum of those that were kept", hours, err)
		}
	})
}

// damage changes a row behind the back of everybody.
func damage(t testing.TB, s *Store, query string) {
	t.Helper()
	err := s.derive(ctx, func(ctx context.Context, c *sql.Conn) error {
		_, err := c.ExecContext(ctx, query)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}

// A cellar of the first schema, opened for reading, keeps nothing that is derived and says so without an error.
func TestOlderSchemaHasNothingDerived(t *testing.T) {
	s, err := OpenReader(planted(t, "schema-1.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	briefs, err := s.Briefs(ctx)
	if len(briefs) != 0 || err != nil {
		t.Errorf("briefs: %v, %v", briefs, err)
	}
	if b, err := s.Belief(ctx, NewID()); b != nil || err != nil {
		t.Errorf("belief: %v, %v", b, err)
	}
	if err := s.KeepLesson(ctx, Lesson{}); err == nil {
		t.Error("a reader kept something")
	}
}
