package calc

import (
	"math"
	"strings"
	"testing"

	"spile/working"
)

// sweepOf is the plot of a row, drawn from its example.
func sweepOf(t *testing.T, row *Calculation) *Curve {
	t.Helper()
	values := example(row)
	name, _, _ := strings.Cut(row.Plot.Sweep, "=")
	delete(values, name)
	v, err := row.Sweep(values, row.Plot.Sweep)
	if err != nil {
		t.Fatalf("%s: its plot fails: %v", row.Name, err)
	}
	return v
}

// Every row draws something that moves, and no more than a fifth of it without an answer.
func TestEveryRowHasAPlot(t *testing.T) {
	for _, row := range Table() {
		if row.Plot.Sweep == "" {
			t.Errorf("%s has no plot; give its row one, Plot{\"flag=from:to:steps\", key}", row.Name)
			continue
		}
		v := sweepOf(t, row)
		k := v.Index(row.Plot.Of)
		if row.Plot.Of != "" && v.Keys[k].Key != row.Plot.Of {
			t.Errorf("%s: its plot is of %s, which is none of its results", row.Name, row.Plot.Of)
		}
		least, most, holes := math.Inf(1), math.Inf(-1), 0
		for _, y := range v.Y[k] {
			if math.IsNaN(y) {
				holes++
				continue
			}
			least, most = min(least, y), max(most, y)
		}
		if !(most > least) || holes*5 > len(v.X) {
			t.Errorf("%s: its plot of %s goes from %g to %g, %d of %d points without an answer (%v)", row.Name, v.Keys[k].Key, least, most, holes, len(v.X), v.Why)
		}
		if row.Card.Of != "" {
			values := example(row)
			for _, f := range row.Flags {
				side := f.Name + "="
				if strings.HasPrefix(row.Card.Down, side) || strings.HasPrefix(row.Card.Across, side) || f.JSONKey() == row.Card.Of {
					delete(values, f.Name)
				}
			}
			if g, err := row.Grid(values, nil); err != nil || g.Why != nil {
				t.Errorf("%s: its card fails: %v", row.Name, err)
			}
		}
	}
}

// A point of a sweep is the answer to the same question asked alone, limit and band included.
func TestSweepAgreesWithSingleAnswers(t *testing.T) {
	for _, row := range Table() {
		v := sweepOf(t, row)
		for _, i := range []int{0, len(v.X) / 2, len(v.X) - 1} {
			in, err := row.open(example(row))
			if err != nil {
				t.Fatal(err)
			}
			in.given[v.Flag.Name] = Given{Flag: v.Flag, Value: v.X[i]}
			a, err := row.answer(in, &working.Sheet{})
			if err != nil {
				if !math.IsNaN(v.Y[0][i]) {
					t.Errorf("%s at %g: %v, but the sweep has %g", row.Name, v.X[i], err, v.Y[0][i])
				}
				continue
			}
			for k, r := range v.Keys {
				if got, want := v.Y[k][i], a.Value(r.Key); got != want && !(math.IsNaN(got) && math.IsNaN(want)) {
					t.Errorf("%s at %g: %s is %g in the sweep and %g alone", row.Name, v.X[i], r.Key, got, want)
				}
			}
			if a.Passed != v.Passed[i] || a.Band != nil && a.Band.Key == v.Band && a.Band.High != v.High[i] {
				t.Errorf("%s at %g: limit or band differ between the sweep and a single answer", row.Name, v.X[i])
			}
		}
	}
}
