package calibration

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"sync"

	"spile/batch"
	"spile/bayes"
	"spile/estimate"
	"spile/internal/ferment"
	"spile/unit"
	"spile/wort"
)

var errNotPositive = errors.New("the spread of the fitted curves is not positive definite")

func newRand(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 1)) }

// forecaster is a weighted ensemble of courses, ours or the peer's.
type forecaster struct {
	weight   []float64
	points   func(h float64) []float64 // gravity at hour h, points
	terminal []float64                 // points
	t90      []float64                 // h
}

// scored is how one forecaster did on one ferment. NaN never occurs: what cannot be scored is left out.
type scored struct {
	Days                 []day
	Terminal, Attenuated number // CRPS in points and in hours
}

// day is one later reading against the bands.
type day struct {
	Ahead int
	In    [len(levels)]bool
	Score float64 // interval score of the 90 % band, points
}

// levels of the bands scored.
var levels = [3]float64{0.5, 0.8, 0.9}

// trial is one ferment forecast from its first readings, by both.
type trial struct {
	Ours, Peer scored
	Timed      bool // the time to 90 % attenuation says something
}

const (
	lastDay     = 14    // up to which readings are scored
	longestWait = 400.0 // h, that "never" counts as
	fitEvery    = 8.0   // h between readings of a whole record
)

// measured scores forecasts of measured ferments, all of one condition left out of what was learnt.
func measured(r *run) error {
	if r.priors == nil {
		if err := r.learn(); err != nil {
			return err
		}
	}
	all := make([][]trial, len(r.Budget.Hours))
	for k, now := range r.Budget.Hours {
		part := fmt.Sprintf("measured from %g h, %d ferments", now, len(r.ferments))
		var err error
		all[k], err = gather(r, part, len(r.ferments), func(i int) (trial, error) { return r.try(i, now, without(r.ferments, r.curves, i)) })
		if err != nil {
			return err
		}
	}
	r.reportMeasured(all)
	return nil
}

// learn fits every ferment whole, for both forecasters.
func (r *run) learn() error {
	kept, err := gather(r, fmt.Sprintf("fit of %d ferments", len(r.ferments)), len(r.ferments), func(i int) (taught, error) { return r.fit(&r.ferments[i]) })
	if err != nil {
		return err
	}
	past := make([]estimate.Experience, len(kept))
	for i := range kept {
		past[i] = kept[i].experience()
	}
	r.curves = make([]curve, len(r.ferments))
	for i := range r.curves {
		if r.curves[i], err = wholeCurve(&r.ferments[i]); err != nil {
			return err
		}
	}
	for i := range r.ferments {
		r.priors = append(r.priors, sync.OnceValues(func() (estimate.Prior, error) {
			return estimate.Learn(estimate.GenericPrior(r.ferments[i].Kind), without(r.ferments, past, i), estimate.OfYeast), nil
		}))
	}
	return nil
}

// keptDraws is about the number of draws kept of what one ferment taught.
const keptDraws = 200

// taught is what one ferment taught of its yeast, as it is kept.
type taught struct {
	Draws [][]float64
	Under estimate.Prior
}

func (t *taught) experience() estimate.Experience {
	e := estimate.Experience{Under: t.Under}
	e.Draws = slices.Grow(e.Draws, len(t.Draws))[:len(t.Draws)]
	for i, d := range t.Draws {
		copy(e.Draws[i][:], d)
	}
	return e
}

// fit conditions on a ferment's whole record under a wide prior.
func (r *run) fit(f *ferment.Ferment) (taught, error) {
	until := math.Min(f.Last(), 700)
	if t90 := f.Attenuated90(); !math.IsInf(t90, 1) {
		until = math.Min(until, t90+72) // level from there on
	}
	var hours []float64
	for h := 0.0; h <= until; h += fitEvery {
		hours = append(hours, h)
	}
	b, log := f.Records(hours, until)
	wide := estimate.GenericPrior(b.Yeast.Kind).Widened(1.4)
	bl, err := estimate.Condition(b, log, ferment.At(until), estimate.Options{Seed: 7, Prior: &wide, Members: 2 * r.Budget.Members, Workers: 1})
	if err != nil {
		return taught{}, err
	}
	e := bl.Experience()
	out := taught{Under: e.Under}
	for i := 0; i < len(e.Draws); i += max(1, len(e.Draws)/keptDraws) {
		out.Draws = append(out.Draws, e.Draws[i][:])
	}
	return out, nil
}

// without is everything whose condition is not that of fs[i].
func without[T any](fs []ferment.Ferment, all []T, i int) []T {
	var out []T
	for k := range all {
		if fs[k].Condition != fs[i].Condition {
			out = append(out, all[k])
		}
	}
	return out
}

// try forecasts ferment i from one reading a day up to now, both ways.
func (r *run) try(i int, now float64, curves []curve) (trial, error) {
	f := &r.ferments[i]
	hours := []float64{}
	for h := 0.0; h < now; h += 24 {
		hours = append(hours, h)
	}
	hours = append(hours, now)
	ours, err := r.ours(i, hours)
	if err != nil {
		return trial{}, err
	}
	peer, err := peers(f, hours, curves)
	if err != nil {
		return trial{}, err
	}
	t := trial{Timed: !math.IsInf(f.Attenuated90(), 1) || warmUntil(f) > now}
	t.Ours = score(f, ours, now, r.rng(streamMeter, i))
	t.Peer = score(f, peer, now, r.rng(streamMeter, i))
	return t, nil
}

// ours is our belief from readings at hours. What becomes of it left warm is asked
// without the chilling that the programme plans.
func (r *run) ours(i int, hours []float64) (forecaster, error) {
	prior, err := r.priors[i]()
	if err != nil {
		return forecaster{}, err
	}
	now := hours[len(hours)-1]
	b, log := r.ferments[i].Records(hours, now)
	planned, err := r.samples(b, log, now, &prior)
	if err != nil {
		return forecaster{}, err
	}
	warm := planned
	if len(b.Programme) > 0 {
		held := *b
		held.Programme = nil
		if warm, err = r.samples(&held, log, now, &prior); err != nil {
			return forecaster{}, err
		}
	}
	return forecaster{
		weight: weights(planned),
		points: func(h float64) []float64 {
			return each(planned, func(s *estimate.Sample) float64 { return points(between(s.Hours, s.Gravity, h)) })
		},
		terminal: each(warm, func(s *estimate.Sample) float64 { return points(s.Terminal) }),
		t90:      each(warm, attenuated90),
	}, nil
}

func (r *run) samples(b *batch.Batch, log batch.Log, now float64, prior *estimate.Prior) ([]estimate.Sample, error) {
	bl, err := estimate.Condition(b, log, ferment.At(now), estimate.Options{Seed: 11, Prior: prior, Members: 2 * r.Budget.Members, Workers: 1})
	if err != nil {
		return nil, err
	}
	return bl.Samples()
}

// points above water.
func points(sg float64) float64 { return unit.Gravity(sg).Points() }

// between reads y at h, straight between hours two apart.
func between(hours, y []float64, h float64) float64 {
	i := min(int(h/step), len(y)-2)
	return y[i] + (h-hours[i])/step*(y[i+1]-y[i])
}

// attenuated90 is the hour of nine tenths of the fall, straight between times of the series.
func attenuated90(s *estimate.Sample) float64 {
	goal := s.Gravity[0] - pointsToLimit*(s.Gravity[0]-s.Terminal)
	for i := 1; i < len(s.Gravity); i++ {
		if g := s.Gravity[i]; g <= goal {
			before := s.Gravity[i-1]
			return s.Hours[i-1] + step*(before-goal)/(before-g)
		}
	}
	return math.Inf(1)
}

// peers is the logistic curve's belief.
func peers(f *ferment.Ferment, hours []float64, curves []curve) (forecaster, error) {
	prior, err := pooled(curves)
	if err != nil {
		return forecaster{}, err
	}
	l := logistic{start: f.Start(), hours: hours, prior: prior}
	for _, h := range hours {
		l.plato = append(l.plato, f.Extract(h))
	}
	draws, err := l.draws(3)
	if err != nil {
		return forecaster{}, err
	}
	return forecaster{
		points: func(h float64) []float64 {
			return each(draws, func(th *curve) float64 { return platoPoints(l.value(*th, h)) })
		},
		terminal: each(draws, func(th *curve) float64 { return platoPoints(l.start * (1 - th[2])) }),
		t90:      each(draws, func(th *curve) float64 { return l.hourOf(*th, pointsToLimit) }),
	}, nil
}

func platoPoints(plato float64) float64 {
	return points(float64(wort.GravityFromExtract(unit.Plato(plato))))
}

// warmUntil is the last hour before the cold.
func warmUntil(f *ferment.Ferment) float64 { return math.Min(f.Last(), f.ChilledAt()-24) }

// score holds a forecaster against what was measured afterwards. Where the record
// ends before the end of the ferment, only what it rules out counts.
func score(f *ferment.Ferment, fc forecaster, now float64, rng *rand.Rand) scored {
	var out scored
	for h := math.Ceil(now/24)*24 + 24; h <= math.Min(f.Last(), lastDay*24); h += 24 {
		x := fc.points(h)
		for i := range x { // the meter's scatter
			x[i] += ferment.MeterScatter * rng.NormFloat64()
		}
		y, s := points(f.Gravity(h)), bayes.NewSorted(x, fc.weight)
		d := day{Ahead: int(math.Round((h - now) / 24))}
		for k, level := range levels {
			lo, hi := s.Quantile((1-level)/2), s.Quantile((1+level)/2)
			d.In[k] = y >= lo && y <= hi
			if k == len(levels)-1 {
				d.Score = bayes.IntervalScore(lo, hi, 1-level, y)
			}
		}
		out.Days = append(out.Days, d)
	}
	terminal, falls := f.Terminal()
	end := points(terminal)
	out.Terminal = number(bayes.CRPSEnsemble(each(fc.terminal, func(x *float64) float64 {
		if falls {
			return math.Max(*x, end)
		}
		return *x
	}), fc.weight, end))
	latest := longestWait
	t90 := f.Attenuated90()
	if math.IsInf(t90, 1) {
		latest = warmUntil(f)
		t90 = latest
	}
	out.Attenuated = number(bayes.CRPSEnsemble(each(fc.t90, func(x *float64) float64 { return math.Min(*x, latest) }), fc.weight, t90))
	return out
}
