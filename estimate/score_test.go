package estimate

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"sort"
	"testing"

	"gonum.org/v1/gonum/mat"

	"spile/batch"
	"spile/bayes"
)

var scoreAll = flag.Bool("score", false, "score the forecasts of all measured ferments and print the report")

func newRand(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 1)) }

// meterScatter is the sd of the density meter of the measured ferments, points.
const meterScatter = 0.3

// trial is one forecast of one measured ferment beside what was measured afterwards.
type trial struct {
	f         *ferment
	t90       float64 // measured h, +Inf censored
	ours      float64 // forecast h
	peer      float64
	covered   []bool // later daily readings within our 90 % band
	peerIn    []bool
	score     []float64 // interval score, points
	peerScore []float64
	k         float64
	method    string
}

// experiences fits every ferment on its whole record under a wide prior, once.
func experiences(t testing.TB, fs []ferment) []Experience {
	t.Helper()
	out := make([]Experience, len(fs))
	for i := range fs {
		f := &fs[i]
		var hours []float64
		until := math.Min(f.last(), 700)
		if t90 := f.t90(); !math.IsInf(t90, 1) {
			until = math.Min(until, t90+72) // level from there on
		}
		for h := 0.0; h <= until; h += 8 {
			hours = append(hours, h)
		}
		b, log := f.records(hours, until)
		wide := widened(GenericPrior(b.Yeast.Kind), 1.4)
		bl, err := Condition(b, log, hour(until), Options{Seed: 7, Prior: &wide, Members: 600})
		if err != nil {
			t.Fatal(err)
		}
		out[i] = bl.Experience()
		t.Logf("fit %-28s k %.2f ess %.0f %s", f.name, bl.posterior.ParetoK, bl.posterior.EffectiveSamples, bl.posterior.Method)
	}
	return out
}

func widened(p Prior, by float64) Prior {
	for u := range numUnknowns {
		if table[u].pooled {
			p[u].SD *= by
		}
	}
	return p
}

// without is everything whose condition is not that of fs[i].
func without[T any](fs []ferment, all []T, i int) []T {
	var out []T
	for k := range all {
		if fs[k].condition != fs[i].condition {
			out = append(out, all[k])
		}
	}
	return out
}

// tryOne forecasts f from readings at hours, with a prior learnt elsewhere.
func tryOne(t testing.TB, f *ferment, prior Prior, mean [3]float64, cov *mat.SymDense, hours []float64) trial {
	t.Helper()
	now := hours[len(hours)-1]
	b, log := f.records(hours, now)
	fc := forecastOf(t, b, log, hour(now), Options{Seed: 11, Prior: &prior})
	tr := trial{f: f, t90: f.t90(), k: fc.Diagnostics.ParetoK, method: fc.Diagnostics.Method}
	tr.ours = unchilledT90(t, b, log, now, prior)
	var plato []float64
	for _, h := range hours {
		plato = append(plato, f.at(f.plato, h))
	}
	l := newLogistic(f.start(), hours, plato, mean, cov)
	draws := l.posterior(t, 3)
	tr.peer = logisticT90(l, draws)
	for h := math.Ceil(now/24)*24 + 24; h <= math.Min(f.last(), 14*24); h += 24 {
		tr.scoreAt(fc, l, draws, h)
	}
	return tr
}

// unchilledT90 is the forecast hour of nine tenths of the fall with the temperature held, as the
// scored ferments were until then.
func unchilledT90(t testing.TB, b *batch.Batch, log batch.Log, now float64, prior Prior) float64 {
	t.Helper()
	held := *b
	held.Programme = nil
	fc := forecastOf(t, &held, log, hour(now), Options{Seed: 11, Prior: &prior})
	return hoursTo(fc.Milestones.Attenuated90)
}

func hoursTo(m Milestone) float64 {
	if m.P50.IsZero() {
		return math.Inf(1)
	}
	return m.P50.Sub(pitchedAt).Hours()
}

func logisticT90(l *logistic, draws [][3]float64) float64 {
	x := make([]float64, len(draws))
	for i, th := range draws {
		goal := l.start - 0.9*l.start*th[2]
		lo, hi := 0.0, 2000.0
		for range 50 {
			mid := (lo + hi) / 2
			if l.value(th, mid) > goal {
				lo = mid
			} else {
				hi = mid
			}
		}
		x[i] = hi
	}
	return bandOf(x).P50
}

// scoreAt scores both forecasts on the reading of hour h; a band of a state is widened by the meter's scatter.
func (tr *trial) scoreAt(fc *Forecast, l *logistic, draws [][3]float64, h float64) {
	y := (tr.f.gravity(h) - 1) / gravityPoint
	i := sort.SearchFloat64s(fc.Series.Hours, h)
	g := fc.Series.Gravity[i]
	lo, hi := reading((g.P05-1)/gravityPoint, (g.P50-1)/gravityPoint, (g.P95-1)/gravityPoint)
	tr.covered = append(tr.covered, y >= lo && y <= hi)
	tr.score = append(tr.score, bayes.IntervalScore(lo, hi, 0.1, y))
	x := make([]float64, len(draws))
	for k, th := range draws {
		x[k] = 4.04 * l.value(th, h) // points per Plato, near enough for a band
	}
	yp := 4.04 * tr.f.at(tr.f.plato, h)
	b := bandOf(x)
	lo, hi = reading(b.P05, b.P50, b.P95)
	tr.peerIn = append(tr.peerIn, yp >= lo && yp <= hi)
	tr.peerScore = append(tr.peerScore, bayes.IntervalScore(lo, hi, 0.1, yp))
}

func reading(lo, mid, hi float64) (float64, float64) {
	s := 1.645 * meterScatter
	return mid - math.Hypot(mid-lo, s), mid + math.Hypot(hi-mid, s)
}

func mean(x []float64) float64 {
	var s float64
	for _, v := range x {
		s += v
	}
	return s / float64(len(x))
}

func fraction(x []bool) float64 {
	n := 0
	for _, v := range x {
		if v {
			n++
		}
	}
	return float64(n) / float64(len(x))
}

// byCondition is the bootstrap interval of the mean over batches of get, resampling whole conditions.
func byCondition(trials []trial, get func(*trial) float64) (lo, mid, hi float64) {
	groups := map[string][]float64{}
	var all []float64
	for i := range trials {
		v := get(&trials[i])
		groups[trials[i].f.condition] = append(groups[trials[i].f.condition], v)
		all = append(all, v)
	}
	var names []string
	for n := range groups {
		names = append(names, n)
	}
	sort.Strings(names)
	rng := newRand(5)
	var x []float64
	for range 4000 {
		var s, n float64
		for range names {
			for _, v := range groups[names[rng.IntN(len(names))]] {
				s, n = s+v, n+1
			}
		}
		x = append(x, s/n)
	}
	sort.Float64s(x)
	return quantile(x, 0.025), mean(all), quantile(x, 0.975)
}

// TestMeasuredFerments scores forecasts from readings at 0, 24 and 48 h, whole
// conditions left out of what was learnt. With -score it takes every ferment and
// prints the report; else a few, to see that nothing broke.
func TestMeasuredFerments(t *testing.T) {
	if testing.Short() {
		t.Skip("fits all measured ferments")
	}
	if !*scoreAll {
		t.Skip("the whole score takes a while: go test ./estimate -run MeasuredFerments -score -v")
	}
	fs := loadFerments(t)
	past := experiences(t, fs)
	var fits [][3]float64
	for i := range fs {
		fits = append(fits, wholeFit(t, &fs[i]))
	}
	for _, hours := range [][]float64{{0, 24, 48}, {0, 24, 48, 72}} {
		var trials []trial
		for i := range fs {
			prior := Learn(GenericPrior(fs[i].kind), without(fs, past, i))
			m, c := logisticPrior(without(fs, fits, i))
			trials = append(trials, tryOne(t, &fs[i], prior, m, c, hours))
		}
		report(t, hours, trials)
	}
	all := Learn(GenericPrior("ale"), past)
	for u := range numUnknowns {
		if table[u].pooled {
			t.Logf("learnt from all: %-32s mean %.4g (exp %.4g) sd %.3g", u.Name(), all[u].Mean, math.Exp(all[u].Mean), all[u].SD)
		}
	}
}

func report(t *testing.T, hours []float64, trials []trial) {
	t.Helper()
	var ours, peer, bias, pbias []float64
	for i := range trials {
		tr := &trials[i]
		t.Logf("%-28s t90 %6.1f ours %6.1f logistic %6.1f cover %.2f (%.2f) score %6.2f (%6.2f) k %.2f %s", tr.f.name, tr.t90, tr.ours, tr.peer,
			fraction(tr.covered), fraction(tr.peerIn), mean(tr.score), mean(tr.peerScore), tr.k, tr.method)
		if tr.f.number != 3 && !math.IsInf(tr.t90, 1) {
			ours, peer = append(ours, math.Abs(tr.ours-tr.t90)), append(peer, math.Abs(tr.peer-tr.t90))
			bias, pbias = append(bias, tr.ours-tr.t90), append(pbias, tr.peer-tr.t90)
		}
	}
	fmt.Printf("readings at %v h: t90 over %d batches: mean abs error ours %.1f h (bias %+.1f), logistic %.1f h (bias %+.1f)\n",
		hours, len(ours), mean(ours), mean(bias), mean(peer), mean(pbias))
	lo, mid, hi := byCondition(trials, func(tr *trial) float64 { return fraction(tr.covered) })
	fmt.Printf("  coverage of later readings by the 90 %% band: ours %.3f [%.3f, %.3f]", mid, lo, hi)
	lo, mid, hi = byCondition(trials, func(tr *trial) float64 { return fraction(tr.peerIn) })
	fmt.Printf(", logistic %.3f [%.3f, %.3f]\n", mid, lo, hi)
	lo, mid, hi = byCondition(trials, func(tr *trial) float64 { return mean(tr.score) })
	fmt.Printf("  interval score (points): ours %.2f [%.2f, %.2f]", mid, lo, hi)
	lo, mid, hi = byCondition(trials, func(tr *trial) float64 { return mean(tr.peerScore) })
	fmt.Printf(", logistic %.2f [%.2f, %.2f]\n", mid, lo, hi)
	lo, mid, hi = byCondition(trials, func(tr *trial) float64 { return mean(tr.peerScore) - mean(tr.score) })
	fmt.Printf("  logistic minus ours %.2f [%.2f, %.2f]\n", mid, lo, hi)
}
