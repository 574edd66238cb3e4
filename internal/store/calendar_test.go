package store

import (
	"fmt"
	"reflect"
	"strings"
	"testing"
	"time"

	"spile/batch"
)

// A key opens one calendar until it is withdrawn, or whose it is is taken out.
func TestCalendars(t *testing.T) {
	everyBackend(t, func(t *testing.T, s *Store) {
		p, _ := letIn(t, s, NewID())
		mine, key, err := s.AddCalendar(ctx, Calendar{Person: p.ID, Name: " kitchen  wall "})
		if err != nil || len(key) != 32 || mine.Name != "kitchen wall" {
			t.Fatal(mine, key, err)
		}
		_, other, err := s.AddCalendar(ctx, Calendar{Name: "kitchen wall"})
		if err != nil {
			t.Fatal(err)
		}
		if c, found, err := s.CalendarOf(ctx, key); err != nil || !found || c != mine {
			t.Error(c, found, err)
		}
		if all, err := s.Calendars(ctx); err != nil || len(all) != 3 || all[0].Words != "psi,f" || all[0].Zone != "Europe/London" {
			t.Error(all, err)
		}
		for _, bad := range []string{"", key[1:], strings.ToUpper(key), key + "a"} {
			if _, found, err := s.CalendarOf(ctx, bad); found || err != nil {
				t.Errorf("%q opens: %v", bad, err)
			}
		}
		var sums string
		if err := s.read.QueryRow(`SELECT group_concat(hex(sum)) FROM calendar`).Scan(&sums); err != nil || strings.Contains(sums, fmt.Sprintf("%X", key)) {
			t.Error("a key stands in the file:", err)
		}
		if err := s.WithdrawCalendar(ctx, mine.ID); err != nil {
			t.Fatal(err)
		}
		if _, found, err := s.CalendarOf(ctx, key); found || err != nil {
			t.Error("a withdrawn key opens", err)
		}
		if err := s.WithdrawCalendar(ctx, mine.ID); err == nil || !strings.Contains(err.Error(), "withdrawn already") {
			t.Errorf("withdrawn twice: %v", err)
		}
		if _, err := s.AddPerson(ctx, "Bo", Owner, "ladder otter lamp"); err != nil {
			t.Fatal(err)
		}
		if err := s.RemovePerson(ctx, p.Name); err != nil {
			t.Fatal(err)
		}
		all, err := s.Calendars(ctx)
		if _, found, _ := s.CalendarOf(ctx, other); err != nil || len(all) != 1 || !found {
			t.Error("of somebody who was taken out:", all, err)
		}
		rows := 0
		if err := s.read.QueryRow(`SELECT (SELECT count(*) FROM calendar_event) + (SELECT count(*) FROM put_off)`).Scan(&rows); err != nil || rows != 0 {
			t.Errorf("%d rows of somebody who was taken out are left (%v)", rows, err)
		}
		for range mostCalendars {
			if _, _, err = s.AddCalendar(ctx, Calendar{Name: "again"}); err != nil {
				break
			}
		}
		if err == nil || !strings.Contains(err.Error(), "withdraw one") {
			t.Errorf("one more than may be: %v", err)
		}
	})
}

// What changed gets the next number and the time; what did not keeps both, also when it vanished meanwhile.
func TestRevise(t *testing.T) {
	everyBackend(t, func(t *testing.T, s *Store) {
		c, _, err := s.AddCalendar(ctx, Calendar{Name: "wall"})
		if err != nil {
			t.Fatal(err)
		}
		at := func(h int) time.Time { return evening.Add(time.Duration(h) * time.Hour) }
		for i, step := range []struct {
			tells map[string][]byte
			want  map[string]Revision
		}{
			{map[string][]byte{"a": {1}, "b": {1}}, map[string]Revision{"a": {0, at(0)}, "b": {0, at(0)}}},
			{map[string][]byte{"a": {1}, "b": {2}}, map[string]Revision{"a": {0, at(0)}, "b": {1, at(1)}}},
			{map[string][]byte{"a": {1}}, map[string]Revision{"a": {0, at(0)}}},
			{map[string][]byte{"a": {3}, "b": {2}}, map[string]Revision{"a": {1, at(3)}, "b": {1, at(1)}}},
			{map[string][]byte{}, map[string]Revision{}},
			{map[string][]byte{"b": {1}}, map[string]Revision{"b": {2, at(5)}}},
		} {
			if got, err := s.Revise(ctx, c.ID, at(i), step.tells); err != nil || !reflect.DeepEqual(got, step.want) {
				t.Errorf("step %d: got %v, %v; want %v", i, got, err, step.want)
			}
		}
		if got, err := s.Revise(ctx, batch.ID{1}, at(9), map[string][]byte{"b": {1}}); err != nil || got["b"] != (Revision{0, at(9)}) {
			t.Errorf("another calendar: %v, %v", got, err)
		}
	})
}

// What was put off comes again when its time has come, or is called back, and is nobody else's.
func TestPutOff(t *testing.T) {
	everyBackend(t, func(t *testing.T, s *Store) {
		ada, beer := NewID(), NewID()
		until := evening.AddDate(0, 0, 1)
		for _, p := range []PutOff{{ada, beer, "best", evening}, {ada, beer, "best", until}, {ada, beer, "old", evening.Add(time.Hour)}} {
			if err := s.PutOffUntil(ctx, p, evening.Add(-time.Hour)); err != nil {
				t.Fatal(err)
			}
		}
		if got, err := s.PutOffs(ctx, ada, evening.Add(2*time.Hour)); err != nil || !reflect.DeepEqual(got, []PutOff{{ada, beer, "best", until}}) {
			t.Error(got, err)
		}
		if got, err := s.PutOffs(ctx, batch.ID{}, evening); err != nil || len(got) != 0 {
			t.Error("of somebody else:", got, err)
		}
		if err := s.Remind(ctx, PutOff{Person: ada, Batch: beer, What: "best"}); err != nil {
			t.Fatal(err)
		}
		if got, err := s.PutOffs(ctx, ada, evening.Add(2*time.Hour)); err != nil || len(got) != 0 {
			t.Error("called back:", got, err)
		}
	})
}
