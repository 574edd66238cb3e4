package store

import (
	"embed"
	"flag"
	"fmt"
	"os"
	"path/filepath"
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
	if _, err := s.Backup(ctx, path); err != nil {
		t.Fatal(err)
	}
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
	files := fstest.MapFS{"0099_next.sql": {Data: []byte("-- +goose Up\n" + to)}}
	names, err := embedded.ReadDir("migrations")
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range names {
		data, err := embedded.ReadFile("migrations/" + n.Name())
		if err != nil {
			t.Fatal(err)
		}
		files[n.Name()] = &fstest.MapFile{Data: data}
	}
	return migrations{files}
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
