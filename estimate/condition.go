package estimate

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"spile/batch"
	"spile/bayes"
	"spile/vessel"
)

// Options say how an inference is run. The zero value is good.
type Options struct {
	Seed    uint64
	Members int // 1000 where zero
	Workers int // 2 where zero
	// Prior is what is expected beforehand; nil for the generic kind.
	Prior *Prior
	// Tools is what was learnt of the instruments; one that is not named is as usual.
	Tools map[Tool]Instrument
	// Progress is told the share done and may end the work.
	Progress func(done float64) (goOn bool)
}

// Belief is what is believed of one batch at one time: weighted sets of unknowns.
type Belief struct {
	batch     *batch.Batch
	tl        *timeline
	prior     Prior
	options   Options
	at        time.Time
	lastTime  time.Time
	posterior *bayes.Posterior
	chills    bool    // cold is wished for or planned
	kept      float64 // share of the members that still count since they were conditioned
}

// ErrBeforePitch is returned for a time before pitching.
var ErrBeforePitch = errors.New("the time asked for is before the yeast was pitched")

// Condition finds the belief about b at a time, given what log tells up to then.
// It returns an error where the records cannot be simulated or the work was ended.
func Condition(b *batch.Batch, log batch.Log, at time.Time, o Options) (*Belief, error) {
	bl, err := newBelief(b, log, at, o)
	if err != nil {
		return nil, err
	}
	o = bl.options
	p, active := bl.problem()
	if !finite(p.NewModel().LogLikelihood(make([]float64, len(active)))) {
		return nil, fmt.Errorf("%s: this vessel cannot be simulated with the figures given", b.Name)
	}
	bl.posterior, err = bayes.Condition(p, o.Seed, bayes.Options{Members: o.Members, Workers: o.Workers, Progress: o.Progress})
	if err != nil {
		return nil, fmt.Errorf("%s: %w", b.Name, err)
	}
	bl.fillIn(active)
	return bl, nil
}

// newBelief is a belief without its members.
func newBelief(b *batch.Batch, log batch.Log, at time.Time, o Options) (*Belief, error) {
	if at.Before(b.Pitched) {
		return nil, ErrBeforePitch
	}
	o = o.withDefaults()
	prior := GenericPrior(b.Yeast.Kind)
	if o.Prior != nil {
		prior = *o.Prior
	}
	prior = prior.forBatch(b)
	tl := newTimeline(b, log, at, o.Tools)
	bl := &Belief{batch: b, tl: tl, prior: prior, options: o, at: at, kept: 1}
	bl.chills = chills(b)
	if tl.last > 0 {
		bl.lastTime = b.Pitched.Add(time.Duration(tl.last * float64(time.Second)))
	}
	return bl, nil
}

// problem is what the sampler is handed, and the unknowns that the readings can speak of.
func (bl *Belief) problem() (bayes.Problem, []int) {
	active := bl.tl.active()
	return bayes.Problem{
		Dim: len(active), NewModel: func() bayes.Model { return newLikelihood(bl.batch, bl.tl, bl.prior, active) },
		Starts: bl.starts(active),
	}, active
}

// leakStart is a leak to search for, g/day at 1 bar. A gauge that falls once the yeast is done can be feigned by a working
// valve that opens far too low, and from a tight vessel the search for what explains it ends there.
const leakStart = 20.0

// starts are where the search sets out beside a usual batch: one that leaks, where readings can speak of it.
func (bl *Belief) starts(active []int) [][]float64 {
	i := slices.Index(active, int(Leak))
	if i < 0 {
		return nil
	}
	z, usual := make([]float64, len(active)), bl.prior[Leak]
	z[i] = (math.Log(leakStart) - usual.Mean) / usual.SD
	return [][]float64{z}
}

// on is the belief about another course of events.
func (bl *Belief) on(tl *timeline) *Belief {
	other := *bl
	other.tl = tl
	return &other
}

// fillIn gives the unknowns that no reading speaks of their prior.
func (bl *Belief) fillIn(active []int) {
	rng := rand.New(rand.NewPCG(bl.options.Seed, 0xf111))
	n := bl.tl.dim()
	for m, z := range bl.posterior.Z {
		full := make([]float64, n)
		for i := range full {
			full[i] = rng.NormFloat64()
		}
		for i, k := range active {
			full[k] = z[i]
		}
		bl.posterior.Z[m] = full
	}
}

// chills says whether b is meant to be cooled for serving.
func chills(b *batch.Batch) bool {
	if b.Target != nil && b.Target.Temperature > 0 {
		return true
	}
	for _, s := range b.Programme {
		if s.Set.Hold != nil && *s.Set.Hold <= ServedCold+coldEnough {
			return true
		}
	}
	return false
}

func (o Options) withDefaults() Options {
	if o.Members == 0 {
		o.Members = 1000
	}
	if o.Workers == 0 {
		o.Workers = 2
	}
	return o
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

// diagnostics of the inference, judged by the limits of [Vehtari2024], and of the vessel that it was made with: the usual one of its kind, as it was set at the last reading.
func (bl *Belief) diagnostics() Diagnostics {
	p, usual := bl.posterior, newWorld(bl.batch, bl.tl, bl.prior)
	usual.past(make([]float64, bl.tl.dim()))
	unfit := vessel.NeedsFull(&usual.params, usual.controls)
	return Diagnostics{
		ParetoK: p.ParetoK, EffectiveSamples: p.EffectiveSamples,
		Simulations: p.Simulations, Method: p.Method, Trusted: p.Trusted() && unfit == "", Unfit: unfit,
	}
}
