package calc

import (
	"math"
	"strings"
	"testing"

	"spile/unit"
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

// Few points or many, which are shared out, every one is answered: beer holds less gas the warmer it is.
func TestSweepLeavesNoPointOut(t *testing.T) {
	row, _ := Find("carbonation")
	for _, steps := range []string{"40", "2000"} {
		v, err := row.Sweep(values("pressure=10psi"), "temperature=0 C:20 C:"+steps)
		if err != nil {
			t.Fatal(err)
		}
		y := v.Y[v.Index("co2_volumes")]
		for i := 1; i < len(y); i++ {
			if !(v.X[i] > v.X[i-1] && y[i] < y[i-1]) {
				t.Fatalf("%s steps, point %d: %g volumes at %g K after %g at %g", steps, i, y[i], v.X[i], y[i-1], v.X[i-1])
			}
		}
	}
}

// Units of people and of keys, by their definitions; °P by table 114 of NBS Circular 440, 12 °P is 1.04837.
func TestUnitsAreShown(t *testing.T) {
	for _, c := range []struct {
		unit, key         string
		inKey, shown, tol float64
	}{
		{"psi", "end_pressure_kpa", 68.94757293, 10, 1e-8}, {"bar", "pressure_kpa", 100, 1, 0}, {"F", "steady_c", 0, 32, 1e-9}, {"°f", "steady_c", 100, 212, 1e-9},
		{"plato", "gravity_sg", 1.04837, 12, 0.005}, {"gal (US)", "volume_l", 3.785411784, 1, 1e-12}, {"days", "time_h", 36, 1.5, 1e-12}, {"g/L", "co2_volumes", 1, 1.9635, 0.0001},
		{"in", "length_m", 0.0254, 1, 1e-12}, {"lb", "force_kg", 0.45359237, 1, 1e-12}, {"psi", "gas_g_per_day", 3, 3, 0},
	} {
		units, err := ParseUnits(c.unit)
		if err != nil {
			t.Fatal(err)
		}
		m := units.Of(c.key)
		if got := m.Shown(c.inKey); !(math.Abs(got-c.shown) <= c.tol) {
			t.Errorf("%s in %s: expected %g, got %g, tolerance %g", c.key, c.unit, c.shown, got, c.tol)
		}
		if back := m.inKey(m.Shown(c.inKey)); math.Abs(back-c.inKey) > 1e-9*c.inKey+1e-12 {
			t.Errorf("%s in %s: %g comes back as %g", c.key, c.unit, c.inKey, back)
		}
	}
}

// A place on the card is the answer to the same question asked alone; other units bring round steps of their own.
func TestCardAgreesWithSingleAnswers(t *testing.T) {
	row, _ := Find("carbonation")
	imperial, err := ParseUnits("psi,F")
	if err != nil {
		t.Fatal(err)
	}
	for _, chosen := range []Units{nil, imperial} {
		g, err := row.Grid(map[string]string{"altitude": "1600 m"}, chosen)
		if err != nil {
			t.Fatal(err)
		}
		i, j := len(g.DownAt)/2, len(g.AcrossAt)-1
		a := evaluate(t, "carbonation", "altitude=1600m temperature="+strings.ReplaceAll(unit.Temperature(g.DownAt[i]).String(), " ", "")+
			" volumes="+strings.ReplaceAll(unit.Volumes(g.AcrossAt[j]).String(), " ", ""))
		if got, want := g.Values[i][j], a.Value("pressure_kpa"); math.Abs(got-want) > 1e-9*want {
			t.Errorf("on the card %g kPa, alone %g", got, want)
		}
		for _, v := range g.DownAt {
			if shown := chosen.Of("c").Shown(v - 273.15); math.Abs(shown-math.Round(shown)) > 1e-6 {
				t.Errorf("the card has a row at %g %s, which is no round step", shown, chosen.Of("c").Unit)
			}
		}
	}
}
