package co2

import (
	"bufio"
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// table reads a CSV of testdata: comment lines, one header, rows as maps.
func table(t *testing.T, name string) []map[string]string {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", name+".csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(bufio.NewReader(f))
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil || len(rows) < 2 {
		t.Fatalf("%s: %d rows, %v", name, len(rows), err)
	}
	var out []map[string]string
	for _, row := range rows[1:] {
		m := map[string]string{}
		for i, cell := range row {
			m[rows[0][i]] = cell
		}
		out = append(out, m)
	}
	return out
}

// num parses a cell, which may end in a unit of tolerance.
func num(t *testing.T, cell string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(strings.TrimSuffix(strings.TrimSpace(cell), " %"), 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// worst keeps the largest relative deviation of a check and fails beyond its tolerance.
type worst struct {
	t         *testing.T
	name      string
	tolerance float64
	most      float64
	count     int
}

func check(t *testing.T, name string, tolerance float64) *worst {
	w := &worst{t: t, name: name, tolerance: tolerance}
	t.Cleanup(func() {
		t.Logf("%s: %d points, worst deviation %.3g of tolerance %.3g", name, w.count, w.most, tolerance)
		if w.count == 0 {
			t.Errorf("%s: no points", name)
		}
	})
	return w
}

func (w *worst) relative(at string, got, expected float64) {
	w.t.Helper()
	w.add(at, got, expected, got/expected-1)
}

func (w *worst) absolute(at string, got, expected float64) {
	w.t.Helper()
	w.add(at, got, expected, got-expected)
}

func (w *worst) add(at string, got, expected, deviation float64) {
	w.t.Helper()
	w.count++
	w.most = max(w.most, math.Abs(deviation))
	if !(math.Abs(deviation) <= w.tolerance) {
		w.t.Errorf("%s, %s: expected %.6g, got %.6g, deviation %.3g, tolerance %.3g", w.name, at, expected, got, deviation, w.tolerance)
	}
}
