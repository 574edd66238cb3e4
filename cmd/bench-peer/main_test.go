package main

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// TestRows: every row has the form that the peers' rows have.
func TestRows(t *testing.T) {
	var b strings.Builder
	if err := run(&b, "", size{samples: 3, seconds: 1e-4, members: 8, repeats: 1}); err != nil {
		t.Fatal(err)
	}
	problem := ` +rtol \de-\d\d  wall_ms +[\d.]+  cpu_ms +[\d.]+  \(iqr +[\d.]+%\)  rhs +\d+ jac +\d+ steps +\d+ ev +\d+  err \d\.\d\de-0\d  `
	number := `-?\d+\.\d+`
	want := []string{
		`^P1 spile ode` + problem + `S ` + number + ` E ` + number + ` EA ` + number + `$`,
		`^P1 spile ode \(RODAS5P\)` + problem + `S ` + number + ` E ` + number + ` EA ` + number + `$`,
		`^P2 spile ode` + problem + `E 56\.4253\d+ c ` + number + ` T ` + number + ` nV ` + number + ` Qh ` + number + `$`,
		`^ENS spile ode +members 2 threads 1  wall_s .* cpu_s .*  members/s \d+ .* mean E 5\d\.\d+ events \d+$`,
		`^ENS spile ode +members 8 threads 2  wall_s .* cpu_s .*  members/s \d+ .* mean E 5\d\.\d+ events \d+$`,
	}
	rows := strings.Split(strings.TrimSpace(b.String()), "\n")
	if len(rows) != len(want) {
		t.Fatalf("%d rows, want %d:\n%s", len(rows), len(want), b.String())
	}
	for i, row := range rows {
		if !regexp.MustCompile(want[i]).MatchString(row) {
			t.Errorf("row %d: got %q, want it to match %s", i, row, want[i])
		}
	}
}

// TestFolder: references in a folder are read, and a broken one is refused by name.
func TestFolder(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "ref_p1.csv"), []byte("t_h,XA\n0,1\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	err := run(&strings.Builder{}, dir, full)
	if err == nil || !strings.Contains(err.Error(), "ref_p1.csv") || !strings.Contains(err.Error(), "line 2") {
		t.Errorf("got %v, want an error that names ref_p1.csv and line 2", err)
	}
	if err := run(&strings.Builder{}, filepath.Join(dir, "none"), full); !os.IsNotExist(err) {
		t.Errorf("got %v, want that the file does not exist", err)
	}
}

// TestEnsembleThreads: the sum over members does not depend on the threads.
func TestEnsembleThreads(t *testing.T) {
	one, err1 := ensemble(12, 1)
	two, err2 := ensemble(12, 2)
	if err1 != nil || err2 != nil || one != two || one.events < 12 {
		t.Errorf("one thread %+v (%v), two threads %+v (%v)", one, err1, two, err2)
	}
}
