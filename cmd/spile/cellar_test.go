package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	"spile/batch"
	"spile/internal/batchfile"
	"spile/internal/oracle"
	"spile/internal/store"
)

// aShed is a folder with a batch and its readings as files, and no cellar yet.
func aShed(t *testing.T) {
	t.Helper()
	t.Chdir(t.TempDir())
	put(t, "b.yaml", goodBatch)
	put(t, "r.csv", goodReadings)
}

func put(t *testing.T, name, text string) {
	t.Helper()
	if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
}

// line runs a command line, blanks between its words.
func line(words string, last ...string) (stdout, stderr string, code int) {
	var out, errs bytes.Buffer
	code = run(append(strings.Fields(words), last...), &out, &errs)
	return out.String(), errs.String(), code
}

// works runs a command that must end with 0 and give no message.
func works(t *testing.T, words string, last ...string) (stdout string) {
	t.Helper()
	stdout, stderr, code := line(words, last...)
	if code != exitOK || stderr != "" {
		t.Fatalf("spile %s: expected exit 0 and no message, got %d, %s", words, code, stderr)
	}
	return stdout
}

// furnished is a shed whose cellar c holds the batch and its readings; id is that of their import.
func furnished(t *testing.T) (id string) {
	t.Helper()
	aShed(t)
	works(t, "import --data c b.yaml")
	out := works(t, "import --data c r.csv --batch", "sluice gate pale, third")
	return out[strings.LastIndex(out, " ")+1 : len(out)-1]
}

// told is what the cellar says about its only batch.
func derived(t *testing.T, dir string) batch.State {
	t.Helper()
	s, err := store.OpenReader(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	b, err := named(context.Background(), s, "Sluice Gate Pale, third")
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// What is in the cellar is what stood in the files, to the last bit.
func TestImportGivesWhatTheFilesSay(t *testing.T) {
	furnished(t)
	got := derived(t, "c")
	b, err := batchfile.ReadBatch("b.yaml")
	if err != nil {
		t.Fatal(err)
	}
	log, err := batchfile.ReadLog("r.csv", b)
	if err != nil {
		t.Fatal(err)
	}
	var want, have bytes.Buffer
	for _, x := range []struct {
		to *bytes.Buffer
		b  *batch.Batch
	}{{&want, b}, {&have, &got.Record.Batch}} {
		if err := batchfile.EncodeBatch(x.to, x.b); err != nil {
			t.Fatal(err)
		}
	}
	if want.String() != have.String() {
		t.Errorf("batch: expected\n%s\ngot\n%s", want.String(), have.String())
	}
	for i := range got.Log.Readings {
		if r := &got.Log.Readings[i]; !r.Unattended {
			t.Errorf("%v came with a file, and can clear an alarm", *r)
		}
		got.Log.Readings[i].Unattended = false
	}
	for _, l := range []*batch.Log{&log, &got.Log} { // without where it stands
		for i := range l.Readings {
			r := &l.Readings[i]
			r.Time, r.Entry, r.Line = r.Time.UTC(), batch.ID{}, 0
		}
		for i := range l.Events {
			e := &l.Events[i]
			e.Time, e.Entry, e.Line = e.Time.UTC(), batch.ID{}, 0
		}
	}
	if !reflect.DeepEqual(log, got.Log) {
		t.Errorf("log: expected %v, got %v", log, got.Log)
	}
}

func TestExportRoundTripsToTheByte(t *testing.T) {
	id := furnished(t)
	works(t, "import --data c --take-back "+id)
	log := works(t, "export --data c")
	put(t, "log.jsonl", log)
	lines := strings.Count(log, "\n") - 2
	for _, file := range []string{"log.jsonl", "b.yaml"} {
		if out := works(t, "import --data d --dry-run "+file); !strings.Contains(out, "Nothing was kept") {
			t.Errorf("dry run: got %s", out)
		}
	}
	if _, err := os.Stat("d"); err == nil {
		t.Error("a dry run made a cellar")
	}
	for i, want := range []string{"kept 7 lines; 0 were there already", "kept 0 lines; 7 were there already"} {
		if out := works(t, "import --data d log.jsonl"); lines != 7 || !strings.Contains(out, want) {
			t.Errorf("time %d, %d lines: expected %q, got %s", i, lines, want, out)
		}
	}
	if again := works(t, "export --data d"); again != log {
		t.Errorf("expected\n%s\ngot\n%s", log, again)
	}
}

func TestReadingsPreviewAndTakeBack(t *testing.T) {
	id := furnished(t)
	put(t, "more.csv", goodReadings+"72,1.024,10,20.5,gas off\n")
	const preview = `more.csv: 12 readings and 2 acts; 10 of them are there already
  from 2026-11-20T18:30:00+01:00 to 2026-11-23T18:30:00+01:00
  gravity_sg: 4, 1.024 to 1.046
  pressure_kpa: 4, 0 to 68.9475729317
  temperature_c: 4, 20 to 20.5
  gas off: 1
  noticed: 1
Nothing was kept.
`
	name := "Sluice Gate Pale, third"
	if out := works(t, "import --data c --dry-run more.csv --batch", name); out != preview {
		t.Errorf("expected\n%s\ngot\n%s", preview, out)
	}
	if _, stderr, code := line("import --data c --dry-run b.yaml"); code != exitUsage || !strings.Contains(stderr, "which is there already") {
		t.Errorf("a batch that is there: expected exit 2, got %d, %s", code, stderr)
	}
	if n := len(derived(t, "c").Log.Readings); n != 9 {
		t.Errorf("after a dry run: expected 9 readings, got %d", n)
	}
	works(t, "import --data c more.csv --batch", name)
	if s := derived(t, "c"); len(s.Log.Readings) != 12 || len(s.Log.Events) != 2 {
		t.Errorf("expected 12 readings and 2 events, got %d and %d", len(s.Log.Readings), len(s.Log.Events))
	}
	works(t, "import --data c --take-back "+id)
	if s := derived(t, "c"); len(s.Log.Readings) != 3 || len(s.Log.Events) != 1 {
		t.Errorf("the first import taken back: expected 3 readings and 1 event, got %d and %d", len(s.Log.Readings), len(s.Log.Events))
	}
	if _, stderr, code := line("import --data c --take-back " + id); code != exitUsage || !strings.Contains(stderr, "taken back already") {
		t.Errorf("twice: got %d, %s", code, stderr)
	}
}

// spoil changes one digit in the file of the cellar.
func spoil(t *testing.T) {
	t.Helper()
	path := filepath.Join("c", store.DataFile)
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	at := bytes.Index(data, []byte("1.029"))
	if at < 0 {
		t.Fatal("the reading of 1.029 is not in the file")
	}
	data[at+4] = '8'
	if err := os.WriteFile(path, data, 0o600); err != nil {
		t.Fatal(err)
	}
}

func TestBrokenCellar(t *testing.T) {
	furnished(t)
	works(t, "backup --data c good.db")
	var damaged batch.ID
	for _, r := range derived(t, "c").Log.Readings {
		if r.Value == 1.029 {
			damaged = r.Entry
		}
	}
	spoil(t)
	out, stderr, code := line("verify --data c")
	if code != exitFailed || !strings.Contains(out, damaged.String()) || strings.Count(out, "\n") != 1 || strings.Count(stderr, "\n") != 1 {
		t.Errorf("verify: expected exit 1 and the line %s, got %d, %s, %s", damaged, code, out, stderr)
	}
	out, _, code = line("export --data c")
	if code != exitFailed || strings.Contains(out, "1.028") || strings.Contains(out, damaged.String()) || !strings.HasSuffix(out, "{\"entries\":5}\n") {
		t.Errorf("export: expected exit 1 and the five sound lines, got %d, %s", code, out)
	}
	put(t, "saved.jsonl", out)
	works(t, "import --data saved saved.jsonl")
	if _, _, code = line("backup --data c bad.db"); code != exitFailed {
		t.Errorf("backup: expected exit 1, got %d", code)
	}
	if _, stderr, code = line("restore --data saved bad.db"); code != exitFailed || !strings.Contains(stderr, "nothing was changed") {
		t.Errorf("a broken backup: expected exit 1, got %d, %s", code, stderr)
	}
	if _, _, code = line("check --data c"); code != exitFailed {
		t.Errorf("check: expected exit 1, got %d", code)
	}
	works(t, "restore --data c good.db")
	works(t, "verify --data c")
	works(t, "verify --data saved")
}

// Each ends with one line that says what was read and what is accepted, prints no result and leaves nothing behind.
func TestCellarRefuses(t *testing.T) {
	aShed(t)
	put(t, "torn.jsonl", `{"format":"spile log","version":1}`+"\n")
	put(t, "notes.txt", "")
	for _, c := range []struct{ line, says string }{
		{"import --data c", "accepted: one of them"},
		{"import --data c none.jsonl", "^none.jsonl: no such file; "},
		{"import --data c torn.jsonl", "^torn.jsonl:1: the end of the file .*; accepted: "},
		{"import --data c notes.txt", "^notes.txt: .*; accepted: .jsonl"},
		{"import --data c r.csv", "--batch is for readings"},
		{"import --data c --batch x b.yaml", "--batch is for readings"},
		{"import --data c --batch x R.CSV", "^c: no spile.db in it; accepted: "},
		{"import --data c --batch x r.csv", "^c: no spile.db in it; accepted: "},
		{"import --data c --take-back 7", "accepted: a UUID of version 7"},
		{"import --data c --take-back 017f22e2-79b0-7cc3-98c4-dc0c0c07398f", "^c: no spile.db in it; accepted: "},
		{"export --data c", "^c: no spile.db in it; accepted: "},
		{"verify --data c", "^c: no spile.db in it; accepted: "},
		{"verify --data c b.yaml", "^b.yaml: it cannot be read as a cellar"},
		{"check --data c", "^c: no spile.db in it; accepted: "},
		{"backup --data c x.db", "^c: no spile.db in it; accepted: "},
		{"restore --data c none.db", "^none.db: no such file; accepted: "},
		{"restore --data c b.yaml", "^b.yaml: it cannot be read as a cellar"},
	} {
		stdout, stderr, code := line(c.line)
		if code != exitUsage || stdout != "" || strings.Count(stderr, "\n") != 1 || !regexp.MustCompile(c.says).MatchString(stderr) {
			t.Errorf("spile %s: expected exit 2 and %q, got %d, %q, %q", c.line, c.says, code, stdout, stderr)
		}
	}
	left, err := os.ReadDir(".")
	if err != nil || len(left) != 4 {
		t.Errorf("expected the four files alone, got %v, %v", left, err)
	}
}

func TestSecondProcess(t *testing.T) {
	furnished(t)
	s, err := store.Open("c")
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	put(t, "other.yaml", strings.Replace(goodBatch, "third", "fourth", 1))
	if _, stderr, code := line("import --data c other.yaml"); code != exitFailed || stderr != "c: another Spile has this cellar open; end that one, or name another folder\n" {
		t.Errorf("got %d, %q", code, stderr)
	}
	works(t, "export --data c")
	works(t, "backup --data c b.db")
}

func TestCheckTellsNoSecrets(t *testing.T) {
	furnished(t)
	out := works(t, "check --data c")
	for _, secret := range []string{"Sluice", "1.046", "import"} {
		if strings.Contains(out, secret) {
			t.Errorf("%q stands in\n%s", secret, out)
		}
	}
	if !strings.Contains(out, "Lines         6\n") || !strings.Contains(out, "Broken        0\n") {
		t.Errorf("expected 6 lines, none broken, got\n%s", out)
	}
}

func TestWhereNamesWhatIsThere(t *testing.T) {
	furnished(t)
	works(t, "backup --data c b.db")
	works(t, "restore --data c b.db")
	out := works(t, "where --data c")
	left, err := os.ReadDir("c")
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range left {
		if !slices.ContainsFunc(strings.Split(out, "\n"), func(l string) bool { return strings.Contains(l, filepath.Join("c", f.Name())+" ") }) {
			t.Errorf("%s is not named in\n%s", f.Name(), out)
		}
	}
}

// The file is what docs/records.md says: another language follows its chain with its own JSON and SHA-256.
func TestExportIsReadByOthers(t *testing.T) {
	furnished(t)
	put(t, "log.jsonl", works(t, "export --data c"))
	const python, script = "/usr/bin/python3", `
import hashlib, json
sums, n = {}, 0
for line in open("log.jsonl", encoding="utf-8"):
    x = json.loads(line)
    if "entry" in x:
        form = line[len('{"entry":'):line.rindex(',"sum":"')]
        assert list(x["entry"]) == sorted(x["entry"]) and " " not in form.split('"name"')[0]
        log = x["entry"].get("batch")
        before = sums.get(log) or hashlib.sha256(b"spile log 1").digest()
        sums[log] = hashlib.sha256(before + form.encode()).digest()
        assert sums[log].hex() == x["sum"], form
        n += 1
    elif "entries" in x:
        print(n, x["entries"])
`
	if out := strings.TrimSpace(oracle.Run(t, []string{python, "--version"}, script, python, "-")); out != "6 6" {
		t.Errorf("expected 6 of 6 lines, got %s", out)
	}
}

// One batch is found without reading the logs of the others: by its id, or by its name where the others stand there in short.
func TestOneBatchIsFoundAlone(t *testing.T) {
	furnished(t)
	put(t, "other.yaml", strings.Replace(goodBatch, "Sluice Gate Pale, third", "Odd Glove Red", 1))
	out := works(t, "import --data c other.yaml")
	other := strings.TrimSpace(out[strings.LastIndex(out, " "):])
	hurt := derived(t, "c")
	spoil(t)
	s, err := store.Open("c")
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	ctx := context.Background()
	if b, err := named(ctx, s, strings.ToUpper(other)); err != nil || b.ID.String() != other || b.Record.Name != "Odd Glove Red" {
		t.Errorf("by its id: %v, %v", b.ID, err)
	}
	if _, err := named(ctx, s, "odd glove red"); err == nil || !strings.Contains(err.Error(), "spile verify") {
		t.Errorf("another batch might be called so, and cannot be read: got %v", err)
	}
	position, err := s.Head(ctx, hurt.ID)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		position int64
		finds    bool
	}{{position - 1, false}, {position, true}} {
		if err := s.KeepBrief(ctx, store.Brief{Batch: hurt.ID, Position: c.position, Name: hurt.Record.Name, Pitched: hurt.Record.Pitched, Hours: store.SumHours(nil)}, nil, 0); err != nil {
			t.Fatal(err)
		}
		if b, err := named(ctx, s, "odd glove red"); c.finds != (err == nil) || c.finds && b.ID.String() != other {
			t.Errorf("in short up to %d of %d: %v, %v", c.position, position, b.ID, err)
		}
	}
	if _, err := named(ctx, s, "sluice gate pale, third"); err == nil {
		t.Error("a log that cannot be read gives a batch")
	}
	if _, err := named(ctx, s, "no such"); err == nil || !strings.Contains(err.Error(), "Sluice Gate Pale, third") || !strings.Contains(err.Error(), "Odd Glove Red") {
		t.Errorf("a name that none has: %v", err)
	}
}
