package bayes

import (
	"errors"
	"math"
	"math/rand/v2"

	"spile/portable"
)

const (
	// chains run side by side at each step of the bridge.
	chains = 100
	// stepStates is the size by which the ensemble of each step before the last grows, lastStates that of the last.
	stepStates, lastStates = 500, 1000
	// stepWorth is how many draws the ensemble of a step before the last should be worth, mostStep bounds its states.
	stepWorth, mostStep = 30, 1000
	// keepShare of the ensemble stays effective in each step.
	keepShare = 0.4
	// wantAccept steers the boldness of the moves.
	wantAccept = 0.35
	// wantSlid steers the stride of glides: surer ones than pay on the whole, for where a bent posterior is narrow a stride that suits
	// the rest holds a chain fast. References: [Neal2011] section 5.4.4
	wantSlid = 0.92
	// maxBridge bounds the bridge; a step too small to reach the end in so many means
	// that the posterior is out of proportion to anything drawn at its start.
	maxBridge = 60
	// enoughShare of the members is the effective size at which the last step ends.
	enoughShare = 0.2
	// leastWorth is the least, in draws: the limits of a band of 90 % that are read off a hundred already miss one truth in a
	// hundred too many, and what draws are worth is itself told with some luck.
	leastWorth = 130
	// mostStates of the last step, in ensembles.
	mostStates = 32
	// freshBends is up to how many states of a step the bends are found afresh from block to block, which saves runs on a bent ridge
	// (5 to 8 % on those of the tests); beyond, they have settled.
	freshBends = 4000
)

// ensemble is the state of a run over the bridge start^(1-beta) posterior^beta, from the
// first draws to the posterior.
type ensemble struct {
	pool    *pool
	dim     int
	rng     *rand.Rand
	tried   []draw    // every place so far
	states  []draw    // sweep after sweep over the chains
	kernels []*kernel // one for each goroutine
	start   *mixture
	crowd   []draw // of equal weight: what jumps are made of
	beta    float64
	bold    float64
	stride  float64 // of a glide
	// excess is the variance of an average, in units of its variance over one draw; it
	// grows with uneven weights and shrinks as the moves forget.
	excess, worstK, logEvidence float64
	last                        []float64 // weights of the states, once the posterior is next
}

const (
	// afar is the power of the likelihood that shapes the bridge's start about a mode. A thin ridge that is bent is nowhere
	// near its tangent, so that the bridge must begin where it is still broad.
	afar = 1e-3
	// fromPrior is the share of the prior in the start.
	fromPrior = 0.2
)

// startAfar is where the bridge begins: the prior, and about each mode as far as a much weaker likelihood would let it.
func startAfar(dim int, modes []*mode) *mixture {
	parts, shares := []*component{priorComponent(dim)}, []float64{fromPrior}
	for _, m := range modes {
		weak := *m
		weak.precision = make([]float64, dim)
		for k, p := range m.precision {
			weak.precision[k] = 1 + afar*math.Max(p-1, 0)
		}
		parts, shares = append(parts, laplaceComponent(&weak)), append(shares, (1-fromPrior)/float64(len(modes)))
	}
	return newMixture(parts, shares)
}

// bridge carries draws from a start far off to where the posterior is next; its moves learn from the places tried before, too.
//
// References: [DelMoral2006] for the bridge, [Dau2022] for keeping every state of the chains, but the first of a long last step.
func bridge(p *pool, modes []*mode, before []draw, rng *rand.Rand) (*ensemble, error) {
	dim := len(modes[0].z)
	start := startAfar(dim, modes)
	ds, err := p.weigh(start.draw(stepStates, rng), start)
	if err != nil {
		return nil, err
	}
	for i := range before {
		if err := before[i].against(start); err != nil {
			return nil, err
		}
	}
	e := &ensemble{pool: p, dim: dim, rng: rng, states: ds, tried: append(before, ds...), start: start, bold: 0.7, stride: 0.5, worstK: math.Inf(-1)}
	e.kernels = make([]*kernel, len(p.models))
	e.excess = 1 / float64(len(ds))
	for step := 1; ; step++ {
		w, err := e.advance(step == maxBridge)
		if err != nil {
			return nil, err
		}
		if e.beta == 1 {
			e.last = w
			return e, nil
		}
		if err := e.move(w, stepWorth, stepStates, mostStep); err != nil {
			return nil, err
		}
	}
}

// finish draws from the posterior, until the draws are worth what is wanted.
func (e *ensemble) finish(wanted float64) error {
	return e.move(e.last, wanted, lastStates, mostStates*lastStates)
}

// advance the bridge by one step, and give the weights of the states there; the last step goes to the end whatever it costs, and
// its k then tells.
func (e *ensemble) advance(last bool) ([]float64, error) {
	next := 1.0
	if !last {
		next = nextBeta(e.states, e.beta)
	}
	w, err := smoothWeights(tilted(e.states, next-e.beta))
	if err != nil {
		return nil, err
	}
	e.worstK = math.Max(e.worstK, w.k)
	e.logEvidence += w.logMean
	e.beta = next
	e.excess *= float64(len(w.weight)) / EffectiveSamples(w.weight)
	return w.weight, nil
}

// move the states, of the weights given, about the present step.
func (e *ensemble) move(w []float64, wanted float64, size, most int) error {
	if err := e.prepare(w, nil); err != nil {
		return err
	}
	e.states = e.states[:0:0]
	for j := range chains { // the crowd is in order, so that the chains start all over it
		e.states = append(e.states, e.crowd[(2*j+1)*len(e.crowd)/(2*chains)])
	}
	return e.run(wanted, size, most)
}

// prepare the moves for the present step from the weighted states and every place tried; where the residuals bend is what it was
// for the surrogate before, if there is one.
func (e *ensemble) prepare(w []float64, before *surrogate) error {
	frame, err := frameOf(e.states, w)
	if err != nil {
		return err
	}
	e.crowd = make([]draw, len(w))
	for j, i := range Systematic(w, len(w), e.rng) {
		e.crowd[j] = e.states[i]
	}
	var stand *surrogate
	if m, ok := e.pool.models[0].(ResidualModel); ok {
		stand = learn(e.tried, e.beta, frame, m.Nu(), before, len(e.kernels))
	}
	crowd, d := make([][]float64, len(w)), frame.density()
	for j := range crowd {
		crowd[j] = make([]float64, e.dim)
		d.standard(e.crowd[j].z, crowd[j])
	}
	for i := range e.kernels {
		e.kernels[i] = newKernel(frame, e.start, stand, crowd, e.beta)
	}
	return nil
}

// frameOf is the component with the moments of weighted draws.
func frameOf(ds []draw, w []float64) (*component, error) {
	zs := make([][]float64, len(ds))
	for i := range ds {
		zs[i] = ds[i].z
	}
	mean, cov := moments(zs, w)
	for i := range mean { // a ridge, so that a collapsed direction stays searchable
		cov.Set(i, i, cov.At(i, i)*(1+1e-6)+1e-10)
	}
	return momentComponent(mean, cov)
}

// run the chains by so many states and on until they are worth what is wanted or are the most; what they go through betters their
// moves.
func (e *ensemble) run(wanted float64, size, most int) error {
	before := e.excess
	e.pool.stage(0.4+0.4*e.beta, 0.4+0.6*e.beta, size)
	for n := size; ; n += size {
		for len(e.states) < n {
			if err := e.sweep(); err != nil {
				return err
			}
		}
		if err := e.settle(before, wanted, n >= most); err != nil {
			return err
		}
		if 1/e.excess >= wanted || n >= most {
			return nil
		}
		var stand *surrogate
		if n > freshBends {
			stand = e.kernels[0].stand
		}
		if err := e.prepare(equalWeights(len(e.states)), stand); err != nil {
			return err
		}
	}
}

// forgettable are the shares of a long run's sweeps, from the first, that may be left out.
var forgettable = [...]float64{0, 0.25, 0.5}

// settle works out what the chains are worth. Of a run of two ensembles at least that is not worth enough as a whole, the least share of
// the first sweeps is left out with which the rest is; where it may not go on, the share with which the rest is worth most. What the
// rest keeps of the step before is less, and so is the doubt about it.
func (e *ensemble) settle(before, wanted float64, last bool) error {
	all, from := e.states, 0
	e.excess = math.Inf(1)
	for _, share := range forgettable {
		at := int(share*float64(len(all)/chains)) * chains
		if at > 0 && len(all) < 2*lastStates {
			break
		}
		x, err := e.variance(all[at:], before)
		if err != nil {
			return err
		}
		if x < e.excess {
			e.excess, from = x, at
		}
		if 1/e.excess >= wanted {
			last = true
			break
		}
	}
	if last {
		e.states = all[from:]
	}
	return nil
}

func equalWeights(n int) []float64 {
	w := make([]float64, n)
	for i := range w {
		w[i] = 1 / float64(n)
	}
	return w
}

// sweep moves each chain once.
func (e *ensemble) sweep() error {
	at := e.states[len(e.states)-chains:]
	to, steps := make([]draw, chains), make([]step, chains)
	rngs := make([]*rand.Rand, chains)
	for i := range rngs {
		rngs[i] = rand.New(rand.NewPCG(e.rng.Uint64(), e.rng.Uint64()))
	}
	errs := make([]error, chains)
	err := e.pool.each(chains, func(w, i int) {
		steps[i] = e.kernels[w].propose(&at[i], e.bold, e.stride, rngs[i])
		to[i] = e.pool.try(w, steps[i].to)
		errs[i] = to[i].against(e.kernels[w].start)
	})
	if err = errors.Join(append(errs, err)...); err != nil {
		return err
	}
	e.tried = append(e.tried, to...)
	var local, taken, glides, slid float64
	for i := range to {
		rise := to[i].bridged(e.beta) - at[i].bridged(e.beta)
		if rngs[i].Float64() >= portable.Exp(rise+steps[i].logRatio) {
			to[i] = at[i]
		} else {
			taken += steps[i].local
		}
		local, glides, slid = local+steps[i].local, glides+steps[i].glides, slid+steps[i].slid
	}
	e.states = append(e.states, to...)
	steer(&e.bold, taken, local, wantAccept, 1)
	steer(&e.stride, slid, glides, wantSlid, glideLength)
	return nil
}

// steer a size of moves by the share of them that were taken.
func steer(size *float64, taken, tried, want, most float64) {
	if tried > 0 {
		*size = math.Min(most, math.Max(0.02, *size*portable.Exp(0.5*(taken/tried-want))))
	}
}

// variance of an average over the chains' states, in units of the variance of one draw: the
// greatest over the axes of the ensemble's covariance and the squares along them. It is
// what the means of the chains say, and what they still keep of the variance before.
func (e *ensemble) variance(states []draw, before float64) (float64, error) {
	frame, err := frameOf(states, equalWeights(len(states)))
	if err != nil {
		return 0, err
	}
	ref := frame.density()
	sweeps := len(states) / chains
	within := make([]chainSums, 2*e.dim)
	eta := make([]float64, e.dim)
	for i := range chains {
		for s := range sweeps {
			ref.standard(states[s*chains+i].z, eta)
			for k, v := range eta {
				within[2*k].add(v, s == 0)
				within[2*k+1].add(v*v, s == 0)
			}
		}
		for f := range within {
			within[f].next(float64(sweeps))
		}
	}
	worst := 0.0
	for f := range within {
		own, kept := within[f].between()
		worst = math.Max(worst, own+kept*kept*before)
	}
	return worst, nil
}

// chainSums gathers one standardised quantity over the chains.
type chainSums struct {
	first, sum                      float64 // of the chain at hand
	n, all, squares                 float64 // over states
	m, means, meanSquares           float64 // over chains
	firsts, firstSquares, firstMean float64
}

func (c *chainSums) add(x float64, first bool) {
	if first {
		c.first, c.sum = x, 0
	}
	c.sum += x
	c.n, c.all, c.squares = c.n+1, c.all+x, c.squares+x*x
}

// next closes a chain of so many states.
func (c *chainSums) next(length float64) {
	mean := c.sum / length
	c.m, c.means, c.meanSquares = c.m+1, c.means+mean, c.meanSquares+mean*mean
	c.firsts, c.firstSquares, c.firstMean = c.firsts+c.first, c.firstSquares+c.first*c.first, c.firstMean+c.first*mean
}

// between gives the variance of the mean of all chains in units of the variance of one
// state, and the slope of a chain's mean against its start.
func (c *chainSums) between() (variance, kept float64) {
	total := c.squares/c.n - c.all*c.all/(c.n*c.n)
	between := (c.meanSquares - c.means*c.means/c.m) / (c.m - 1)
	start := c.firstSquares - c.firsts*c.firsts/c.m
	if total <= 0 || start <= 0 {
		return 1 / c.m, 1
	}
	kept = (c.firstMean - c.firsts*c.means/c.m) / start
	return between / c.m / total, math.Min(1, math.Max(0, kept))
}

// nextBeta is the power at which keepShare of the ensemble is effective, or 1. Members
// under which the data are impossible count for nothing at any power; the share is of
// the rest.
//
// References: [Jasra2011].
func nextBeta(ds []draw, beta float64) float64 {
	alive := 0
	for i := range ds {
		if !math.IsInf(ds[i].odds, -1) {
			alive++
		}
	}
	want := keepShare * float64(alive)
	if effectiveAfter(ds, 1-beta) >= want {
		return 1
	}
	lo, hi := beta, 1.0
	for range 60 {
		if mid := (lo + hi) / 2; effectiveAfter(ds, mid-beta) >= want {
			lo = mid
		} else {
			hi = mid
		}
	}
	return hi
}

// effectiveAfter is the effective size that a rise of the power leaves.
func effectiveAfter(ds []draw, rise float64) float64 {
	w, _ := unlogged(tilted(ds, rise))
	return EffectiveSamples(w)
}

// posterior of equal weights, its members spread evenly over each chain.
func (e *ensemble) posterior(members int) *Posterior {
	p := &Posterior{Method: Tempered, LogEvidence: e.logEvidence, ParetoK: e.worstK, KLimit: ParetoLimit(stepStates)}
	total := len(e.states)
	n := min(members, total)
	for j := range n {
		i := int((float64(j) + 0.5) * float64(total) / float64(n))
		s := e.states[i%(total/chains)*chains+i/(total/chains)]
		p.Z, p.LogLik, p.Weight = append(p.Z, append([]float64(nil), s.z...)), append(p.LogLik, s.logLik), append(p.Weight, 1/float64(n))
	}
	p.EffectiveSamples = math.Min(1/e.excess, float64(n))
	return p
}
