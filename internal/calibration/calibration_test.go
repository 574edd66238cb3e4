package calibration

import (
	"bytes"
	"errors"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"spile/bayes"
	"spile/estimate"
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
	tear(t, path)
	if second := page(1); second != first {
		t.Errorf("a run that went on writes another page:\n%s\nwas:\n%s", second, first)
	}
	if s := open(t, path); s.Torn != 1 {
		t.Errorf("%d torn lines, expected the one that was cut", s.Torn)
	}
	roundsOf(t, path, first)
}

// tear cuts the work kept at path after seven lines and a half, but for seven in eight of the later ones.
func tear(t *testing.T, path string) {
	t.Helper()
	kept, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	lines := bytes.SplitAfter(kept, []byte("\n"))
	cut := bytes.Join(lines[:7], nil)
	for i := 7; i < len(lines); i++ {
		if i%8 != 0 {
			cut = append(cut, lines[i]...)
		}
	}
	if err := os.WriteFile(path, append(cut, lines[7][:len(lines[7])/2]...), 0o600); err != nil {
		t.Fatal(err)
	}
}

// roundsOf holds a run with a limit of time against the whole page: where nothing is left to
// do it is the same; where batches are missing and no time is left it is that of the rounds before them.
func roundsOf(t *testing.T, path, whole string) {
	t.Helper()
	page := func(path string) (string, error) {
		o := options(1)
		o.TimeUp = func() bool { return true }
		var w strings.Builder
		err := Write(&w, open(t, path), o)
		return w.String(), err
	}
	if got, err := page(path); err != nil || got != whole {
		t.Errorf("ten rounds of ten, error %v, write another page than one run:\n%s", err, got)
	}
	kept, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	var some []byte
	for _, l := range bytes.SplitAfter(kept, []byte("\n")) { // of the six with a hydrometer the first three
		if !bytes.Contains(l, []byte(`"drawn hydrometer"`)) || bytes.Contains(l, []byte(`"index":0`)) || bytes.Contains(l, []byte(`"index":1`)) || bytes.Contains(l, []byte(`"index":2`)) {
			some = append(some, l...)
		}
	}
	part := filepath.Join(t.TempDir(), "part.jsonl")
	if err := os.WriteFile(part, some, 0o600); err != nil {
		t.Fatal(err)
	}
	if got, err := page(part); err != nil || !strings.Contains(got, "5 of 10 rounds") || !strings.Contains(got, "**hydrometer**: 3 batches") {
		t.Errorf("three of six batches: expected 5 of 10 rounds, error %v, got\n%s", err, got)
	}
	if got, err := page(filepath.Join(t.TempDir(), "none.jsonl")); !errors.Is(err, ErrTimeUp) || got != "" {
		t.Errorf("no round: expected ErrTimeUp and no page, got %v and %q", err, got)
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

// Equal samples in a row: not in the beginning, not while it falls, and as many as asked for.
func TestRule(t *testing.T) {
	hours := []float64{0, 24, 48, 72, 96, 120}
	for _, c := range []struct {
		shown []float64
		equal int
		want  float64
	}{
		{[]float64{46, 46, 30, 10, 10, 10}, 2, 96},
		{[]float64{46, 46, 30, 10, 10, 10}, 3, 120},
		{[]float64{46, 40, 40, 10, 9, 7}, 2, 48},
		{[]float64{46, 40, 40, 10, 9, 7}, 3, math.Inf(1)},
		{[]float64{46, 40, 30, 20, 10, 5}, 2, math.Inf(1)},
	} {
		if got := rule(hours, c.shown, c.equal); got != c.want {
			t.Errorf("%v: called at %g h, expected %g", c.shown, got, c.want)
		}
	}
}

// Samples that allow a call follow the end, and 48 h without cooling; this record ended at 20 C and was cooled from 88 h to 108 h.
func TestLooks(t *testing.T) {
	f := ferment.Ferment{}
	for h := 0.0; h <= 216; h += 2 {
		f.Hours = append(f.Hours, h)
		f.Plato = append(f.Plato, math.Max(12-h/2, 2))
		f.Celsius = append(f.Celsius, 20-math.Max(0, math.Min(h-88, 20))/2)
	}
	// cooled by more than 2 K within a day from 94 h to 126 h, so that after 174 h it is allowed again
	if got := looks(&f); !slices.Equal(got, []float64{24, 48, 72, 192, 216}) {
		t.Errorf("looks at %v; expected 24, 48, 72, 192, 216 h", got)
	}
}

// How long the rule must take, worked by hand: sd of the slope of 5 daily samples 0.7 sqrt(12/120) = 0.221, times 1.645 is
// 0.364; of 4 it is 0.515. Two a day: 7 of them 1.4 sqrt(12/336) = 0.265, times 1.645 is 0.435; of 6 it is 0.551.
func TestSamplesToBound(t *testing.T) {
	if n, h := samplesToBound(1); n != 5 || h != 96 {
		t.Errorf("daily: %d samples over %g h, expected 5 over 96", n, h)
	}
	if n, h := samplesToBound(2); n != 7 || h != 72 {
		t.Errorf("two a day: %d samples over %g h, expected 7 over 72", n, h)
	}
	// a detection limit of 0.35 point a day is (1.645 + 0.842) sd, so that 1.645 sd is 0.23; that vessel has 7 L of headspace, this one 6
	if q, err := quietBound(); err != nil || math.Abs(q-0.23) > 0.04 {
		t.Errorf("quiet gauge: %.3f point a day (%v), expected 0.23 within 0.04", q, err)
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

// What cannot be told is an answer only to what it is said of.
func TestAnswered(t *testing.T) {
	leak, hydrometer, tired := says(estimate.FindingCannotTell, estimate.FindingLeak), says(estimate.FindingCannotTell, estimate.FindingHydrometerOffset), says(estimate.FindingCannotTell, estimate.FindingTiredYeast)
	for _, c := range []struct {
		answers []estimate.FindingKind
		said    diagnosis
		right   bool
	}{
		{leak, diagnosis{First: estimate.FindingLeak}, true},
		{leak, diagnosis{Leak: estimate.CannotTell}, true},
		{leak, diagnosis{First: estimate.FindingCannotTell, Leak: estimate.CannotTell}, true},
		{leak, diagnosis{First: estimate.FindingCannotTell, Leak: estimate.No}, false},
		{leak, diagnosis{First: estimate.FindingColdStall, Leak: estimate.CannotTell}, false},
		{hydrometer, diagnosis{First: estimate.FindingCannotTell, Of: estimate.FindingHydrometerOffset}, true},
		{hydrometer, diagnosis{First: estimate.FindingCannotTell, Of: estimate.FindingDialOffset}, false},
		{hydrometer, diagnosis{First: estimate.FindingCannotTell}, false},
		{hydrometer, diagnosis{Leak: estimate.CannotTell}, false},
		{tired, diagnosis{First: estimate.FindingCannotTell}, true},
		{says(estimate.FindingTiredYeast), diagnosis{First: estimate.FindingCannotTell}, false},
	} {
		if p := (&planted{answers: c.answers}); p.answered(&c.said) != c.right {
			t.Errorf("wanted %v, said %+v: expected right %v", c.answers, c.said, c.right)
		}
	}
}
