package bayes

import (
	"math"
	"math/rand/v2"
	"sort"

	"gonum.org/v1/gonum/mat"
)

const (
	// priorShare of the draws comes from the prior: no weight can then exceed the
	// likelihood's share by more than 1/priorShare, and far modes can show themselves.
	priorShare = 0.1
	// leastDraws in the first round; fewer do not show the tail of the weights.
	leastDraws = 800
	// wantShare of the first round's draws is the effective size at which no further
	// round is spent, goodShare of the members the least with which a sample stands.
	wantShare = 0.6
	goodShare = 0.3
	// moreRounds with laterShare of the first round's draws each, of which fittedShare
	// come from the moments so far and the others from locals new components. Six rounds
	// would spare many a fall-back, but on thin ridges they raise the effective size to
	// where the sample stands while its spread is still a tenth too small.
	moreRounds  = 2
	laterShare  = 0.4
	fittedShare = 0.4
	locals      = 3
)

// sampler gathers draws from several components, each weighted against the mixture of
// all that were used (deterministic mixture, or balance heuristic).
//
// References: [Veach1995], [Cornuet2012], [Raftery2010] for components at surprising draws.
type sampler struct {
	pool       *pool
	modes      []*mode
	dim        int
	components []*component
	counts     []int
	z          [][]float64
	logLik     []float64
	logMix     []float64 // log of the sum of counts x densities
	eta        []float64
}

// add n draws from c, and c to the mixture for the draws before.
func (s *sampler) add(c *component, n int, rng *rand.Rand) error {
	if n < 1 {
		return nil
	}
	s.components, s.counts = append(s.components, c), append(s.counts, n)
	for i := range s.z {
		s.logMix[i] = logAdd(s.logMix[i], math.Log(float64(n))+c.logDensity(s.z[i], s.eta))
	}
	zs := c.draw(n, rng)
	ll := make([]float64, n)
	if err := s.pool.logLik(zs, ll); err != nil {
		return err
	}
	for _, z := range zs {
		s.logMix = append(s.logMix, s.mixAt(z))
	}
	s.z, s.logLik = append(s.z, zs...), append(s.logLik, ll...)
	return nil
}

// mixAt is the log of the sum of counts x densities at z.
func (s *sampler) mixAt(z []float64) float64 {
	mix := math.Inf(-1)
	for k, c := range s.components {
		mix = logAdd(mix, math.Log(float64(s.counts[k]))+c.logDensity(z, s.eta))
	}
	return mix
}

// logWeights are the logs of prior x likelihood / mixture density; their mean,
// unlogged, is the evidence.
func (s *sampler) logWeights() []float64 {
	lw := make([]float64, len(s.z))
	norm := math.Log(float64(len(s.z))) - float64(s.dim)/2*math.Log(2*math.Pi)
	for i, z := range s.z {
		lw[i] = s.logLik[i] - halfSquare(z) - s.logMix[i] + norm
	}
	return lw
}

// sample finds the modes, draws around them and weights, in up to about 2.5 model
// calls a member.
func sample(p *pool, dim int, o Options, seed uint64) (*sampler, smoothed, error) {
	first := max(o.Members, leastDraws)
	s := &sampler{pool: p, dim: dim, eta: make([]float64, dim)}
	p.stage(0, 0.1, scouts+12*(dim+2))
	var err error
	if s.modes, err = findModes(p, dim, rand.New(rand.NewPCG(seed, streamStarts))); err != nil {
		return nil, smoothed{}, err
	}
	parts, shares, err := mixtureOf(p, dim, s.modes)
	if err != nil {
		return nil, smoothed{}, err
	}
	p.stage(0.1, 0.5, 2*first)
	rng := rand.New(rand.NewPCG(seed, streamPropose))
	for i, c := range parts {
		if err := s.add(c, int(math.Round(shares[i]*float64(first))), rng); err != nil {
			return nil, smoothed{}, err
		}
	}
	w, err := s.refine(first, rng)
	return s, w, err
}

// mixtureOf proposes around each mode by its share of the evidence (Laplace), at
// least a tenth, and from the prior.
func mixtureOf(p *pool, dim int, modes []*mode) ([]*component, []float64, error) {
	parts, shares := []*component{priorComponent(dim)}, []float64{priorShare}
	s := newSurface(p, dim)
	total := 0.0
	mass := make([]float64, len(modes))
	for i, m := range modes {
		c := laplaceComponent(m)
		if err := c.widen(s, m.f); err != nil {
			return nil, nil, err
		}
		parts = append(parts, c)
		logMass := modes[0].f - m.f
		for k := range c.plus {
			logMass += math.Log((c.plus[k] + c.minus[k]) / (parts[1].plus[k] + parts[1].minus[k]))
		}
		mass[i] = math.Exp(logMass)
		total += mass[i]
	}
	rest := 0.0
	for i := range mass {
		mass[i] = math.Max(0.1, mass[i]/total)
		rest += mass[i]
	}
	for _, m := range mass {
		shares = append(shares, (1-priorShare)*m/rest)
	}
	return parts, shares, nil
}

// refine adds rounds of draws until enough of them count, and returns the smoothed weights.
func (s *sampler) refine(first int, rng *rand.Rand) (smoothed, error) {
	for round := 0; ; round++ {
		lw := s.logWeights()
		w, err := smoothWeights(lw)
		if err != nil || round == moreRounds || w.good(wantShare*float64(first)) {
			return w, err
		}
		parts, err := s.surprises(lw)
		if err != nil {
			return w, err
		}
		fitted, err := s.fitted(w.weight)
		if err != nil {
			return w, err
		}
		n := laterShare * float64(first)
		if len(parts) > 0 {
			share := (1 - fittedShare) * n / float64(len(parts))
			n *= fittedShare
			for _, c := range parts {
				if err := s.add(c, int(share), rng); err != nil {
					return w, err
				}
			}
		}
		if err := s.add(fitted, int(n), rng); err != nil {
			return w, err
		}
	}
}

// surprises are components at the draws with the greatest weights, where there is
// more posterior than the proposals led one to expect, shaped by the curvature there.
func (s *sampler) surprises(logWeight []float64) ([]*component, error) {
	surface := newSurface(s.pool, s.dim)
	order := make([]int, len(logWeight))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool { return logWeight[order[a]] > logWeight[order[b]] })
	var found []*mode
	var parts []*component
	for _, i := range order {
		if len(found) == locals || math.IsInf(logWeight[i], -1) {
			break
		}
		if anyNear(found, s.z[i]) {
			continue
		}
		m, err := surface.local(s.z[i])
		if err != nil || m == nil {
			return nil, err
		}
		found, parts = append(found, m), append(parts, laplaceComponent(m))
	}
	return parts, nil
}

// fitted is the component with the moments of the weighted draws, drawn toward the
// mode's curvature as if that were worth dim+2 draws.
func (s *sampler) fitted(w []float64) (*component, error) {
	m := s.modes[0]
	mean, cov := moments(s.z, w)
	n, prior := EffectiveSamples(w), float64(s.dim+2)
	for a := 0; a < s.dim; a++ {
		for b := a; b < s.dim; b++ {
			laplace := 0.0
			for k, p := range m.precision {
				laplace += m.axes.At(a, k) * m.axes.At(b, k) / p
			}
			cov.SetSym(a, b, (n*cov.At(a, b)+prior*laplace)/(n+prior))
		}
	}
	return momentComponent(mean, cov)
}

// moments are the weighted mean and covariance of points.
func moments(zs [][]float64, w []float64) ([]float64, *mat.SymDense) {
	dim := len(zs[0])
	mean, cov := make([]float64, dim), mat.NewSymDense(dim, nil)
	for i, z := range zs {
		for a := range mean {
			mean[a] += w[i] * z[a]
		}
	}
	d := make([]float64, dim)
	raw := cov.RawSymmetric()
	for i, z := range zs {
		if w[i] == 0 {
			continue
		}
		for a := range d {
			d[a] = z[a] - mean[a]
		}
		for a := range d {
			row := raw.Data[a*raw.Stride : a*raw.Stride+dim]
			for b := a; b < dim; b++ {
				row[b] += w[i] * d[a] * d[b]
			}
		}
	}
	return mean, cov
}

// posterior keeps as many members as were asked for.
func (s *sampler) posterior(w smoothed, members int, rng *rand.Rand) *Posterior {
	keep, weight := thin(w.weight, members, rng)
	mode := append([]float64(nil), s.modes[0].z...)
	p := &Posterior{Method: Importance, Mode: mode, Weight: weight, ParetoK: w.k, KLimit: ParetoLimit(len(s.z)), LogEvidence: w.logMean}
	for _, i := range keep {
		p.Z, p.LogLik = append(p.Z, s.z[i]), append(p.LogLik, s.logLik[i])
	}
	p.EffectiveSamples = math.Min(EffectiveSamples(w.weight), EffectiveSamples(weight))
	return p
}

// logAdd is log(exp a + exp b).
func logAdd(a, b float64) float64 {
	if a < b {
		a, b = b, a
	}
	if math.IsInf(b, -1) {
		return a
	}
	return a + math.Log1p(math.Exp(b-a))
}
