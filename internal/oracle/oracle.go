// Package oracle holds what tests need to ask the outside: published tables
// under testdata, programs of the system, the worst deviation of a check, and
// where a text departs from what was expected.
// Only tests import it.
package oracle

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// Row is one row of a table by the names of its header.
type Row map[string]string

// Table reads testdata/NAME.csv of the package under test: comment lines, one header, rows.
func Table(t testing.TB, name string) []Row {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", name+".csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	cells, err := r.ReadAll()
	if err != nil || len(cells) < 2 {
		t.Fatalf("%s: %d rows, %v", name, len(cells), err)
	}
	rows := make([]Row, len(cells)-1)
	for i, line := range cells[1:] {
		rows[i] = Row{}
		for j, cell := range line {
			rows[i][cells[0][j]] = cell
		}
	}
	return rows
}

// Number reads a number that may carry a percent sign.
func Number(t testing.TB, cell string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(strings.TrimSuffix(strings.TrimSpace(cell), " %"), 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// Check compares results of ours with one source, fails beyond the tolerance
// and logs the worst deviation at the end of the test.
type Check struct {
	t         testing.TB
	source    string
	tolerance float64
	worst     float64
	count     int
}

// NewCheck begins a check against a source. A check without points fails.
func NewCheck(t testing.TB, source string, tolerance float64) *Check {
	c := &Check{t: t, source: source, tolerance: tolerance}
	t.Cleanup(func() {
		t.Logf("%s: %d points, worst deviation %.3g, tolerance %.3g", source, c.count, c.worst, tolerance)
		if c.count == 0 {
			t.Errorf("%s: no points", source)
		}
	})
	return c
}

// Relative compares by got/expected - 1.
func (c *Check) Relative(at string, got, expected float64) {
	c.t.Helper()
	c.add(at, got, expected, got/expected-1)
}

// Absolute compares by got - expected.
func (c *Check) Absolute(at string, got, expected float64) {
	c.t.Helper()
	c.add(at, got, expected, got-expected)
}

func (c *Check) add(at string, got, expected, deviation float64) {
	c.t.Helper()
	c.count++
	c.worst = max(c.worst, math.Abs(deviation))
	if !(math.Abs(deviation) <= c.tolerance) {
		c.t.Errorf("%s, %s: expected %.6g, got %.6g, deviation %.3g, tolerance %.3g", c.source, at, expected, got, deviation, c.tolerance)
	}
}

// Run gives a program its input and returns what it prints. Where the program is
// missing or cannot serve (probe fails), the test is skipped with a message, or fails when CI=true.
func Run(t testing.TB, probe []string, input string, command ...string) string {
	t.Helper()
	if err := exec.Command(probe[0], probe[1:]...).Run(); err != nil {
		miss := t.Skipf
		if os.Getenv("CI") == "true" {
			miss = t.Fatalf
		}
		miss("not checked against %s: %v", strings.Join(probe, " "), err)
	}
	cmd := exec.Command(command[0], command[1:]...)
	cmd.Stdin = strings.NewReader(input)
	out, err := cmd.CombinedOutput()
	if err != nil {
		t.Fatalf("%s: %v\n%s", command[0], err, out)
	}
	return string(out)
}

// Change is the first line of a text that differs from what was expected; empty where none does.
func Change(want, got string) string {
	w, g := strings.Split(want, "\n"), strings.Split(got, "\n")
	for i := range max(len(w), len(g)) {
		a, b := "(nothing)", "(nothing)"
		if i < len(w) {
			a = w[i]
		}
		if i < len(g) {
			b = g[i]
		}
		if a != b {
			return fmt.Sprintf("line %d: expected %s\n         got      %s", i+1, a, b)
		}
	}
	return ""
}
