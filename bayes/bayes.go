// Package bayes conditions any model on data and says how far the answer can be trusted.
//
// The unknowns z have the standard normal prior N(0, I); a caller whitens its own
// priors into that form. What a model supplies is its log likelihood, and, where it
// can, standardised residuals, which make the mode cheap to find.
//
// [Condition] works in two ways, the second only when the first cannot be trusted:
//
//  1. importance: find the mode or modes, draw around them with heavy tails, plus a
//     share from the prior; weight; smooth the largest weights and judge them by their Pareto k.
//  2. tempered: carry draws from far around the modes and the prior over a bridge to the posterior, chains
//     running at each step. Where the model gives residuals, a polynomial fitted to the runs near the step proposes
//     where to go, by its slopes, and the model's own answer decides.
//
// Beside it stand what a forecast needs from a weighted ensemble (quantiles,
// resampling, reweighting after one more datum) and what shows whether such
// forecasts are honest (scores, simulation-based calibration).
//
// All is reproducible bit for bit from the seed, whatever the number of goroutines,
// as long as a model's answer depends on z alone.
package bayes

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
)

// Problem is what there is to infer: Dim unknowns with a standard normal prior, and
// the likelihood of the data.
type Problem struct {
	Dim int
	// NewModel makes one evaluator with its own workspace. Each is used by one
	// goroutine at a time; all must give the same answer for the same z.
	NewModel func() Model
	// Starts are places, beside the prior mean, from which the search for modes sets out:
	// where the data may be explained otherwise, and no walk from the mean arrives.
	Starts [][]float64
}

// Model gives the likelihood of the data for values of the unknowns.
type Model interface {
	// LogLikelihood of z, up to a constant that does not depend on z.
	// It may be -Inf, where the data are impossible, but never NaN.
	LogLikelihood(z []float64) float64
}

// ResidualModel is a model whose errors are independent and Student-t (or normal)
// once standardised: its likelihood is that of its residuals, and LogLikelihood must say
// the same, up to a constant. The mode is then found by Gauss-Newton steps, and a
// surrogate speeds the chains.
type ResidualModel interface {
	Model
	// Residuals writes (prediction - reading)/sigma into dst, grown as needed, and
	// returns it; always the same number. A value that is not finite means that the
	// model cannot run at z.
	Residuals(z, dst []float64) []float64
	// Nu is the degrees of freedom of the errors; +Inf for normal errors.
	Nu() float64
}

// Options of [Condition].
type Options struct {
	// Members wanted in the posterior; 0 means 1,000.
	Members int
	// Workers is the number of goroutines; 0 means one for each processor.
	Workers int
	// Progress, if given, is called from the calling goroutine now and then with the
	// share done, 0 to 1, never falling; returning false stops with [ErrStopped].
	Progress func(done float64) (goOn bool)
	// Tempered goes over the bridge, whatever the weights say.
	Tempered bool
}

// The two values of [Posterior].Method.
const (
	Importance = "importance"
	Tempered   = "tempered"
)

// Posterior is a weighted ensemble that stands for the unknowns given the data.
type Posterior struct {
	Z      [][]float64 // Members x Dim
	Weight []float64   // sums to 1
	LogLik []float64   // log likelihood of each member, as the model or its residuals gave it
	Mode   []float64   // highest posterior density found

	// ParetoK is the shape of the tail of the weights: below KLimit they can
	// be trusted. For the tempered method it is the worst of its steps.
	ParetoK float64
	// KLimit is the limit for the number of weights that ParetoK was taken from.
	KLimit float64
	// EffectiveSamples is how many independent equal draws the ensemble is worth: the
	// Kish size of importance weights; for the tempered method, of the average known
	// worst, among the axes of the ensemble and the squares along them, by how far its
	// chains agree and what they keep of the steps before.
	EffectiveSamples float64
	// LogEvidence is the log of the prior mean of the likelihood, with the same
	// constant left out as in LogLik.
	LogEvidence float64
	Method      string
	Simulations int // model calls spent
}

// ErrStopped is returned when Options.Progress asked to stop.
var ErrStopped = errors.New("bayes: stopped as asked")

// ErrImpossible is returned when no value of the unknowns was found under which the
// data have any likelihood.
var ErrImpossible = errors.New("bayes: the data are impossible under every value tried")

const defaultMembers = 1000

// Condition returns the posterior of the problem's unknowns. Importance sampling
// stands when its k is good and the effective size is at least 0.3 of the members.
//
// References: [Vehtari2024] for the limit on k that decides between the methods,
// [DelMoral2006] for the bridge.
func Condition(p Problem, seed uint64, o Options) (*Posterior, error) {
	a, err := Approach(p, seed, o)
	if err != nil {
		return nil, err
	}
	return a.Posterior()
}

// Approached is an inference that has come to the posterior and knows its evidence, but has drawn no member from it yet.
type Approached struct {
	sampled
	ensemble *ensemble // nil where the first draws stand as they are
	seed     uint64
	members  int
	post     *Posterior // once it was asked for
}

// Approach does of [Condition] what its evidence asks for; the members, which often cost more, are drawn when they are asked for.
// Its errors are those of Condition.
func Approach(p Problem, seed uint64, o Options) (*Approached, error) {
	s, err := sample(p, seed, &o)
	if err != nil {
		return nil, err
	}
	a := &Approached{sampled: s, seed: seed, members: o.Members}
	if s.stands {
		return a, nil
	}
	if a.ensemble, err = bridge(s.pool, s.modes, s.draws, rand.New(rand.NewPCG(seed, streamTemper))); err != nil {
		return nil, err
	}
	return a, nil
}

// LogEvidence is that of the posterior, natural, with the same constant left out.
func (a *Approached) LogEvidence() float64 {
	if a.stands {
		return a.weights.logMean
	}
	return a.ensemble.logEvidence
}

// Posterior draws the members when it is first asked for. It fails with [ErrStopped] where Options.Progress asked to stop.
func (a *Approached) Posterior() (*Posterior, error) {
	if a.post != nil {
		return a.post, nil
	}
	var post *Posterior
	if a.stands {
		post = weighted(a.draws, a.weights, a.members, rand.New(rand.NewPCG(a.seed, streamThin)))
	} else {
		if err := a.ensemble.finish(math.Max(leastWorth, enoughShare*float64(a.members))); err != nil {
			return nil, err
		}
		post = a.ensemble.posterior(a.members)
	}
	post.Mode = bestOf(post, a.modes[0].z, a.pool)
	post.Simulations = a.pool.calls
	if !a.pool.report(1) {
		return nil, ErrStopped
	}
	a.post = post
	return post, nil
}

// sampled are the first draws, around the modes.
type sampled struct {
	pool    *pool
	modes   []*mode
	draws   []draw
	weights smoothed
	stands  bool // for the posterior, as they are
}

// sample draws around the modes; what o leaves open is filled in.
func sample(p Problem, seed uint64, o *Options) (s sampled, err error) {
	if p.Dim < 1 || p.NewModel == nil {
		return s, fmt.Errorf("bayes: a problem needs at least one unknown and a model, got %d unknowns", p.Dim)
	}
	if o.Members <= 0 {
		o.Members = defaultMembers
	}
	s.pool = newPool(p, *o)
	if s.modes, s.draws, err = aroundModes(s.pool, p, *o, seed); err != nil {
		return s, err
	}
	s.weights, err = smoothWeights(tilted(s.draws, 1))
	s.stands = !o.Tempered && s.weights.good(goodShare*float64(o.Members))
	return s, err
}

// Streams of the seed, one for each use, so that a change in one does not shift another.
const (
	streamStarts = iota + 1
	streamPropose
	streamThin
	streamTemper
)

// Trusted tells whether the ensemble may be relied on: at least 100 effective samples, or
// a tenth of the members, and for importance weights k below its limit. The weights of a
// step of the bridge only start its chains, whose agreement is in the effective samples.
func (p *Posterior) Trusted() bool {
	enough := math.Min(100, float64(len(p.Z))/10)
	return p.EffectiveSamples >= enough && (p.Method == Tempered || p.ParetoK < p.KLimit)
}

// bestOf returns the member or the mode found first with the higher posterior density.
func bestOf(post *Posterior, mode []float64, pool *pool) []float64 {
	top := pool.try(0, mode)
	pool.calls++
	at, least := mode, -top.logPosterior()
	for i, z := range post.Z {
		if f := halfSquare(z) - post.LogLik[i]; f < least {
			least, at = f, z
		}
	}
	return append([]float64(nil), at...)
}

// halfSquare is minus the log of the prior density, without its constant.
func halfSquare(z []float64) float64 {
	s := 0.0
	for _, v := range z {
		s += float64(v * v)
	}
	return s / 2
}
