package store

import (
	"strings"
	"testing"

	"spile/batch"
)

// Imports are found by their index, not by reading every line, and none that only speaks of one.
func TestImportsAreFoundByIndex(t *testing.T) {
	s := opened(t, t.TempDir())
	id := NewID()
	body, err := batch.EncodeBody(batch.Import{})
	if err != nil {
		t.Fatal(err)
	}
	came := oneReading(id, 1)
	came.Kind, came.Body = batch.KindImport, body
	speaks, err := batch.EncodeBody(batch.Said{Words: `"kind":"import"`})
	if err != nil {
		t.Fatal(err)
	}
	note := oneReading(id, 2)
	note.Kind, note.Body = batch.KindNote, speaks
	within := oneReading(id, 4) // a body of keys that a later program writes
	within.Body = []byte(`{"kind":"import","pressure_pa":70000}`)
	keep(t, s, came, note, oneReading(id, 3), within)
	if all, err := s.Imports(ctx); err != nil || len(all) != 1 || all[0].ID != came.ID {
		t.Errorf("found %+v, %v", all, err)
	}
	looked(t, s, "entry_import", imports, s.cellar[:])
}

// looked holds a query to be answered by an index, none of the lines of a log read for it.
func looked(t *testing.T, s *Store, index, query string, args ...any) {
	t.Helper()
	var plan []string
	err := s.rows(ctx, `EXPLAIN QUERY PLAN `+query, args, func(scan func(...any) error) error {
		var n [3]int
		var says string
		err := scan(&n[0], &n[1], &n[2], &says)
		plan = append(plan, says)
		return err
	})
	if says := strings.Join(plan, "; "); err != nil || !strings.Contains(says, "INDEX "+index+" ") || strings.Contains(says, "SCAN") {
		t.Errorf("they are looked up so: %s, %v", says, err)
	}
}

// What corrects or takes back is found, and nothing that only speaks of it.
func TestSuperseding(t *testing.T) {
	s := opened(t, t.TempDir())
	id := NewID()
	speaks, err := batch.EncodeBody(batch.Said{Words: `"supersedes":"x"`})
	if err != nil {
		t.Fatal(err)
	}
	first, note, taken := oneReading(id, 1), oneReading(id, 2), oneReading(id, 3)
	note.Kind, note.Body = batch.KindNote, speaks
	taken.Kind, taken.Body, taken.Supersedes = batch.KindTakenBack, nil, first.ID
	corrected := oneReading(id, 4)
	corrected.Kind, corrected.Supersedes = batch.KindCorrection, first.ID
	other := oneReading(NewID(), 5)
	other.Kind, other.Body, other.Supersedes = batch.KindTakenBack, nil, first.ID
	within := oneReading(id, 6) // a body of keys that a later program writes
	within.Body = []byte(`{"pressure_pa":70000,"supersedes":"` + first.ID.String() + `"}`)
	keep(t, s, first, note, taken, corrected, other, within)
	if all, err := s.Superseding(ctx, id); err != nil || len(all) != 2 || all[0].ID != taken.ID || all[1].ID != corrected.ID {
		t.Errorf("found %+v, %v", all, err)
	}
	looked(t, s, "entry_superseding", superseding, s.cellar[:], id[:])
}
