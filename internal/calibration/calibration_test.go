package calibration

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"spile/bayes"
	"spile/internal/ferment"
)

const ferments = "../../testdata/ferments"

func options(workers int) Options {
	b, err := ParseBudget("quick")
	if err != nil {
		panic(err)
	}
	return Options{Budget: b, Seed: 1, Workers: workers, Folder: ferments, Engine: "test", Date: "today", Command: "make calibration", Machine: "this one"}
}

func open(t *testing.T, path string) *Store {
	t.Helper()
	s, err := OpenStore(path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

// The one-minute form runs through, every part speaks, and a second run that finds some of
// its work done and a torn last line, on another number of workers, writes the same page.
func TestQuickForm(t *testing.T) {
	if testing.Short() {
		t.Skip("infers some sixty batches")
	}
	path := filepath.Join(t.TempDir(), "kept.jsonl")
	page := func(workers int) string {
		var w strings.Builder
		s := open(t, path)
		if err := Write(&w, s, options(workers)); err != nil {
			t.Fatal(err)
		}
		return w.String()
	}
	first := page(2)
	for _, part := range []string{"| drawn |", "| measured |", "| finish |", "| faults |", "| controls |", "## Exact answers"} {
		if !strings.Contains(first, part) {
			t.Errorf("the page has no %q:\n%s", part, first)
		}
	}
	for _, wrong := range []string{"not inferred (", "simulating:", "running on:"} {
		if strings.Contains(first, wrong) {
			t.Errorf("a batch failed:\n%s", first)
		}
	}
	kept, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	lines := bytes.SplitAfter(kept, []byte("\n"))
	cut := bytes.Join(lines[:7], nil) // and half a line more; of later lines every eighth is lost
	for i := 7; i < len(lines); i++ {
		if i%8 != 0 {
			cut = append(cut, lines[i]...)
		}
	}
	if err := os.WriteFile(path, append(cut, lines[7][:len(lines[7])/2]...), 0o600); err != nil {
		t.Fatal(err)
	}
	if second := page(1); second != first {
		t.Errorf("a run that went on writes another page:\n%s\nwas:\n%s", second, first)
	}
	if s := open(t, path); s.Torn != 1 {
		t.Errorf("%d torn lines, expected the one that was cut", s.Torn)
	}
}

// The tests find a belief that is a fifth too narrow among a thousand, and pass an exact one.
func TestControls(t *testing.T) {
	r := run{Options: options(1)}
	r.Budget.Members = 250
	exactly, tight := r.normalControl(1000)
	if count(exactly.holm()) != 0 || count(tight.holm()) != 1 {
		t.Errorf("expected the exact belief to pass and the narrow one to fail; p = %.3g and %.3g", exactly[0].p, tight[0].p)
	}
	if c := share(within(exactly[0].pit), 1000); c < 0.88 || c > 0.92 {
		t.Errorf("90 %% band of an exact belief covers %.3f; expected 0.88 to 0.92", c)
	}
}

// A forecaster that says the truth with the meter's spread scores well, one that is off is found out.
func TestScore(t *testing.T) {
	f, err := ferment.Read(ferments + "/39-pilot-lager-22C-r02.csv")
	if err != nil {
		t.Fatal(err)
	}
	terminal, falls := f.Terminal()
	if falls {
		t.Fatal("this ferment ended")
	}
	const n = 200
	off := func(by float64) forecaster {
		same := func(v float64) []float64 {
			x := make([]float64, n)
			for i := range x {
				x[i] = v
			}
			return x
		}
		return forecaster{
			points:   func(h float64) []float64 { return same(points(f.Gravity(h)) + by) },
			terminal: same(points(terminal) + by), t90: same(f.Attenuated90() + by),
		}
	}
	good, bad := score(&f, off(0), 48, newRand(1)), score(&f, off(3), 48, newRand(1))
	if good.Terminal != 0 || math.Abs(float64(bad.Terminal)-3) > 1e-9 || math.Abs(float64(bad.Attenuated)-3) > 1e-9 {
		t.Errorf("CRPS of a point forecast is its distance: expected 0, 3, 3; got %g, %g, %g", good.Terminal, bad.Terminal, bad.Attenuated)
	}
	for i := range good.Days {
		if !good.Days[i].In[2] || bad.Days[i].In[2] || good.Days[i].Score > bad.Days[i].Score {
			t.Errorf("day %d: truth within %v, three points off within %v", good.Days[i].Ahead, good.Days[i].In[2], bad.Days[i].In[2])
		}
	}
}

// Two equal readings: not in the beginning, and not while it falls.
func TestRule(t *testing.T) {
	hours := []float64{0, 24, 48, 72, 96}
	for _, c := range []struct {
		shown []float64
		want  float64
	}{
		{[]float64{46, 46, 30, 10, 10}, 96},
		{[]float64{46, 40, 40, 10, 9}, 48},
		{[]float64{46, 40, 30, 20, 10}, math.Inf(1)},
	} {
		if got := rule(hours, c.shown, 0.5); got != c.want {
			t.Errorf("%v: called at %g h, expected %g", c.shown, got, c.want)
		}
	}
}

// The bootstrap draws whole conditions: two conditions that disagree give an interval from one to the other.
func TestByCondition(t *testing.T) {
	r := run{Options: options(1)}
	v := r.byCondition([]item{{"a", 0}, {"a", 0}, {"b", 1}, {"b", 1}})
	if v.lo != 0 || v.mid != 0.5 || v.hi != 1 {
		t.Errorf("expected 0.5 [0, 1], got %v", v)
	}
}

// Wilson's own form, worked by hand: 8 of 10 gives 0.490 to 0.943.
func TestWilson(t *testing.T) {
	if lo, hi := wilson(8, 10); math.Abs(lo-0.490) > 0.001 || math.Abs(hi-0.943) > 0.001 {
		t.Errorf("8 of 10: expected 0.490 to 0.943, got %.3f to %.3f", lo, hi)
	}
}

// Logistic curves: the hour of a share is where the value has fallen by it.
func TestHourOf(t *testing.T) {
	l := logistic{start: 12}
	th := curve{math.Log(0.08), math.Log(50), 0.75}
	for _, s := range []float64{0.1, 0.5, 0.9} {
		h := l.hourOf(th, s)
		if got, want := l.value(th, h), 12-12*0.75*s; math.Abs(got-want) > 1e-9 {
			t.Errorf("a share of %g at %g h: expected %.6f Plato, got %.6f", s, h, want, got)
		}
	}
}

// A planted batch without a fault conserves what it should: its gravity falls to its limit, its valve holds.
func TestHealthyPlant(t *testing.T) {
	p := newPlant(newRand(3))
	samplesDialStrip(p, 240)
	if err := p.grow(240); err != nil {
		t.Fatal(err)
	}
	s := p.sim.State()
	if left := points(float64(s.Gravity())) - points(float64(s.Limit())); left < 0 || left > 3 {
		t.Errorf("%.1f points left after ten days at 20 C; expected 0 to 3", left)
	}
	if g := float64(s.Gauge()) / 6894.757; g < 7 || g > 12 {
		t.Errorf("the gauge stands at %.1f psi under a valve of 10; expected 7 to 12", g)
	}
	if n := len(p.log.Readings); n != 33 {
		t.Errorf("%d readings, expected 11 of each of three instruments", n)
	}
}

// Exact answers as the table uses them: the two in closed form agree with quadrature.
func TestMoments(t *testing.T) {
	for _, s := range shapes[:2] {
		mean, sd := s.moments()
		s.mean = nil
		m, d := s.moments()
		for j := range mean {
			if math.Abs(m[j]-mean[j]) > 1e-4 || math.Abs(d[j]-sd[j]) > 1e-4 {
				t.Errorf("%s: closed form %.5f, %.5f; quadrature %.5f, %.5f", s.name, mean[j], sd[j], m[j], d[j])
			}
		}
	}
	var _ bayes.ResidualModel = shapes[0]
}
