package store

import (
	"embed"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"spile/batch"
)

// Each released schema has a small cellar in testdata, written by the program of its
// time. -update adds one for the newest schema, and never touches those that are there.
var update = flag.Bool("update", false, "write the fixture of the newest schema")

//go:embed testdata/schema-*.db
var fixtures embed.FS

// fixtureLogs are the logs of a fixture with the number of their entries.
const fixtureEntries = 7

func TestWriteFixture(t *testing.T) {
	path := fmt.Sprintf("testdata/schema-%d.db", newestSchema(t))
	if _, err := os.Stat(path); err == nil || !*update {
		t.Skip("only with -update, where there is none")
	}
	s := opened(t, t.TempDir())
	b := NewID()
	for i := range fixtureEntries {
		keep(t, s, oneReading([]batch.ID{b, {}}[i%2], i))
	}
	putAway(t, s, b)
	letIn(t, s, b)
	if _, err := s.Backup(ctx, path); err != nil {
		t.Fatal(err)
	}
}

// letIn keeps one row of everything that opens a door, or is kept for somebody.
func letIn(t *testing.T, s *Store, b batch.ID) (p Person, keys [2]string) {
	t.Helper()
	p, err := s.AddPerson(ctx, "Ada Marsh", Owner, "ladder otter lamp")
	if err != nil {
		t.Fatal(err)
	}
	if _, keys[0], err = s.AddDevice(ctx, "strip on Dunlin", b); err != nil {
		t.Fatal(err)
	}
	c, key, err := s.AddCalendar(ctx, Calendar{Person: p.ID, Name: "Ada's phone", Words: "psi,f", Zone: "Europe/London", Language: "de"})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.Revise(ctx, c.ID, evening, map[string][]byte{"finished": {1}}); err != nil {
		t.Fatal(err)
	}
	if err := s.PutOffUntil(ctx, PutOff{p.ID, b, "best", evening.AddDate(0, 0, 1)}, evening); err != nil {
		t.Fatal(err)
	}
	keys[1] = key
	return p, keys
}

// newestSchema is the number of the last step that is released.
func newestSchema(t *testing.T) int64 {
	t.Helper()
	s := opened(t, t.TempDir())
	return s.schema
}

// planted is a folder with the fixture of a schema as its cellar.
func planted(t *testing.T, name string) string {
	t.Helper()
	data, err := fixtures.ReadFile("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, DataFile), data, 0o600); err != nil {
		t.Fatal(err)
	}
	return dir
}

// steps are the released steps of the schema and one to come.
func steps(t *testing.T, to string) migrations {
	t.Helper()
	all := upTo(t, newestSchema(t))
	all["0099_next.sql"] = &fstest.MapFile{Data: []byte("-- +goose Up\n" + to)}
	return migrations{all}
}

// upTo are the released steps of the schema up to one of them.
func upTo(t *testing.T, last int64) fstest.MapFS {
	t.Helper()
	files := fstest.MapFS{}
	names, err := embedded.ReadDir("migrations")
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range names {
		data, err := embedded.ReadFile("migrations/" + n.Name())
		if err != nil {
			t.Fatal(err)
		}
		if n.Name() <= fmt.Sprintf("%04d~", last) {
			files[n.Name()] = &fstest.MapFile{Data: data}
		}
	}
	return files
}

func backups(t *testing.T, dir string) []string {
	t.Helper()
	out, err := filepath.Glob(filepath.Join(dir, BackupsDir, "*"))
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func TestEveryReleasedSchemaOpens(t *testing.T) {
	names, err := fixtures.ReadDir("testdata")
	if err != nil || len(names) == 0 {
		t.Fatal(names, err)
	}
	for _, n := range names {
		s := opened(t, planted(t, n.Name()))
		sound(t, s, fixtureEntries)
		keep(t, s, oneReading(NewID(), 1))
		sound(t, s, fixtureEntries+1)
	}
}

// A new step of the schema: a proven backup first, then everything is there still; the
// older program refuses the newer cellar in one sentence.
func TestMigrate(t *testing.T) {
	dir := planted(t, "schema-1.db")
	s, err := open(dir, "os", steps(t, `ALTER TABLE cellar ADD COLUMN word TEXT;`))
	if err != nil {
		t.Fatal(err)
	}
	sound(t, s, fixtureEntries)
	s.Close()
	saved := backups(t, dir)
	if len(saved) != 1 {
		t.Fatalf("expected one backup, got %v", saved)
	}
	if r, err := VerifyFile(ctx, saved[0]); err != nil || r.Entries != fixtureEntries || len(r.Findings) > 0 {
		t.Errorf("the backup before: got %+v, %v", r, err)
	}
	for _, do := range []func() (*Store, error){func() (*Store, error) { return Open(dir) }, func() (*Store, error) { return OpenReader(dir) }} {
		if _, err := do(); err == nil || !strings.Contains(err.Error(), fmt.Sprintf("a newer Spile wrote this cellar (schema 99; this one knows %d)", newestSchema(t))) {
			t.Errorf("the older program: got %v", err)
		}
	}
}

// A step that fails leaves the cellar as it was, half of its own work included.
func TestMigrateFails(t *testing.T) {
	dir := planted(t, "schema-1.db")
	_, err := open(dir, "os", steps(t, "DROP TABLE batch;\nINSERT INTO nowhere VALUES (1);"))
	if err == nil || !strings.Contains(err.Error(), "everything is as it was before") {
		t.Fatalf("expected a refusal, got %v", err)
	}
	sound(t, opened(t, dir), fixtureEntries)
	if len(backups(t, dir)) != 1 {
		t.Errorf("expected the backup that was taken before, got %v", backups(t, dir))
	}
}

// A cellar of the schema before calendars keeps its log, and what is derived of it; then it knows calendars.
func TestCalendarsCome(t *testing.T) {
	dir := planted(t, "schema-3.db")
	old, err := OpenReader(dir)
	if err != nil {
		t.Fatal(err)
	}
	briefs, err := old.Briefs(ctx)
	if all, none := old.Calendars(ctx); err != nil || len(briefs) != 1 || len(all) > 0 || none != nil {
		t.Fatal(briefs, all, err, none)
	}
	old.Close()
	s := opened(t, dir)
	sound(t, s, fixtureEntries)
	if after, err := s.Briefs(ctx); err != nil || len(after) != 1 || after[0].Name != briefs[0].Name {
		t.Errorf("in short: %+v, %v", after, err)
	}
	if _, told, err := s.Days(ctx, briefs[0].Batch); err != nil || len(told) != 1 {
		t.Errorf("forecasts of days: %q, %v", told, err)
	}
	p, keys := letIn(t, s, briefs[0].Batch)
	if c, found, err := s.CalendarOf(ctx, keys[1]); err != nil || !found || c.Person != p.ID {
		t.Error(c, found, err)
	}
	if saved := backups(t, dir); len(saved) != 1 || !strings.Contains(saved[0], "before-schema-") {
		t.Errorf("the backup before: %v", saved)
	}
}

// A cellar of the schema before calendars had a language tells those that it has in English, read as it is or brought up to date.
func TestCalendarsGetALanguage(t *testing.T) {
	dir := planted(t, "schema-7.db")
	old, err := OpenReader(dir)
	if err != nil {
		t.Fatal(err)
	}
	before, err := old.Calendars(ctx)
	if err != nil || len(before) != 1 || before[0].Words != "psi,f" || before[0].Language != "" {
		t.Fatal(before, err)
	}
	old.Close()
	if after, err := opened(t, dir).Calendars(ctx); err != nil || !slices.Equal(after, before) {
		t.Errorf("brought up to date: %+v, %v; before %+v", after, err, before)
	}
}

// A cellar of the schema before corrections were looked up finds those that it had, by the index made of them.
func TestCorrectionsOfAnOlderCellarAreFound(t *testing.T) {
	dir := planted(t, "schema-6.db")
	old, err := open(dir, "os", migrations{upTo(t, 6)})
	if err != nil {
		t.Fatal(err)
	}
	heads, err := old.Heads(ctx)
	if err != nil || len(heads) == 0 {
		t.Fatal(heads, err)
	}
	id := heads[0].Batch
	first := oneReading(id, 90)
	taken := oneReading(id, 91)
	taken.Kind, taken.Body, taken.Supersedes = batch.KindTakenBack, nil, first.ID
	keep(t, old, first, taken)
	old.Close()
	s := opened(t, dir)
	sound(t, s, fixtureEntries+2)
	if all, err := s.Superseding(ctx, id); err != nil || len(all) != 1 || all[0].ID != taken.ID {
		t.Errorf("found %+v, %v", all, err)
	}
	looked(t, s, "entry_superseding", superseding, s.cellar[:], id[:])
	if saved := backups(t, dir); len(saved) != 1 || !strings.Contains(saved[0], fmt.Sprintf("before-schema-%d", newestSchema(t))) {
		t.Errorf("the backup before: %v", saved)
	}
}
