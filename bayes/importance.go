package bayes

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/mat"
)

const (
	// priorShare of the draws comes from the prior: no weight can then exceed the
	// likelihood's share by more than 1/priorShare, and far modes can show themselves.
	priorShare = 0.05
	// leastDraws in the first round; fewer do not show the tail of the weights.
	leastDraws = 400
	// goodShare of the first round's draws is the effective size at which no further
	// round is spent.
	goodShare = 0.3
	// moreRounds with laterShare of the first round's draws each.
	moreRounds = 2
	laterShare = 0.5
)

// sampler gathers draws from several components, each weighted against the mixture of
// all that were used (deterministic mixture, or balance heuristic).
//
// References: [Veach1995], [Cornuet2012].
type sampler struct {
	pool       *pool
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
		mix := math.Inf(-1)
		for k, c := range s.components {
			mix = logAdd(mix, math.Log(float64(s.counts[k]))+c.logDensity(z, s.eta))
		}
		s.logMix = append(s.logMix, mix)
	}
	s.z, s.logLik = append(s.z, zs...), append(s.logLik, ll...)
	return nil
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

// conditionByImportance spends up to about 2.5 model calls a member.
func conditionByImportance(p *pool, dim int, o Options, seed uint64) (*Posterior, error) {
	first := max(o.Members, leastDraws)
	p.stage(0, 0.1, scouts+12*(dim+2))
	modes, err := findModes(p, dim, rand.New(rand.NewPCG(seed, streamStarts)))
	if err != nil {
		return nil, err
	}
	parts, shares, err := mixtureOf(p, dim, modes)
	if err != nil {
		return nil, err
	}
	p.stage(0.1, 0.5, 2*first)
	s := &sampler{pool: p, dim: dim, eta: make([]float64, dim)}
	rng := rand.New(rand.NewPCG(seed, streamPropose))
	for i, c := range parts {
		if err := s.add(c, int(math.Round(shares[i]*float64(first))), rng); err != nil {
			return nil, err
		}
	}
	w, err := s.refine(first, modes[0], rng)
	if err != nil {
		return nil, err
	}
	post := s.posterior(w, o.Members, rand.New(rand.NewPCG(seed, streamThin)))
	post.Mode = append([]float64(nil), modes[0].z...)
	return post, nil
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

// refine adds rounds drawn from the moments of the weighted draws until enough of
// them count, and returns the smoothed weights.
func (s *sampler) refine(first int, m *mode, rng *rand.Rand) (smoothed, error) {
	for round := 0; ; round++ {
		w, err := smoothWeights(s.logWeights())
		if err != nil {
			return w, err
		}
		good := w.k < ParetoLimit(len(s.z)) && EffectiveSamples(w.weight) >= goodShare*float64(first)
		if good || round == moreRounds {
			return w, nil
		}
		c, err := s.fitted(w.weight, m)
		if err != nil {
			return w, err
		}
		if err := s.add(c, int(laterShare*float64(first)), rng); err != nil {
			return w, err
		}
	}
}

// fitted is the component with the moments of the weighted draws, drawn toward the
// mode's curvature as if that were worth dim+2 draws.
func (s *sampler) fitted(w []float64, m *mode) (*component, error) {
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
	p := &Posterior{Method: Importance, Weight: weight, ParetoK: w.k, KLimit: ParetoLimit(len(s.z)), LogEvidence: w.logMean}
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
