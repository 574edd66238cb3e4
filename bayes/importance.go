package bayes

import (
	"math"
	"math/rand/v2"

	"spile/matrix"
	"spile/portable"
)

const (
	// priorShare of the first draws comes from the prior: no weight can then exceed the
	// likelihood's share by more than 1/priorShare, and far modes can show themselves.
	priorShare = 0.1
	// wideShare of them come from around the modes, but wideTimes as wide: a bent
	// posterior reaches out of its curvature at the mode, and the bridge must start there.
	wideShare, wideTimes = 0.3, 2.5
	// leastDraws around the modes; fewer do not show the tail of the weights.
	leastDraws = 800
	// goodShare of the members is the least effective size with which a sample stands.
	goodShare = 0.3
)

// draw is a place that was tried and what was found there.
type draw struct {
	z         []float64
	residuals []float64 // where the model gives them
	logLik    float64
	// logFrom is the log density that the draw is set against, odds the log of posterior
	// (prior x likelihood) over that density.
	logFrom, odds float64
}

// logPosterior is prior x likelihood, but for the prior's constant.
func (d *draw) logPosterior() float64 { return d.logLik - halfSquare(d.z) }

// bridged is the log density of the step of the bridge at beta.
func (d *draw) bridged(beta float64) float64 { return d.logFrom + float64(beta*d.odds) }

// weigh runs the model at each place and sets it against the density of m.
func (p *pool) weigh(zs [][]float64, m *mixture) ([]draw, error) {
	out := make([]draw, len(zs))
	err := p.each(len(zs), func(w, i int) { out[i] = p.try(w, zs[i]) })
	if err != nil {
		return nil, err
	}
	for i := range out {
		if err := out[i].against(m); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// against sets d against the density of m.
func (d *draw) against(m *mixture) error {
	if err := fit(d.logLik, d.z); err != nil {
		return err
	}
	d.logFrom = m.logDensity(d.z)
	d.odds = d.logPosterior() - float64(len(d.z))/2*math.Log(2*math.Pi) - d.logFrom
	return nil
}

// tilted are the logs of the odds to a power.
func tilted(ds []draw, power float64) []float64 {
	lw := make([]float64, len(ds))
	for i := range ds {
		lw[i] = power * ds[i].odds
	}
	return lw
}

// aroundModes finds the modes, and draws from them and the prior.
func aroundModes(p *pool, of Problem, o Options, seed uint64) ([]*mode, []draw, error) {
	dim := of.Dim
	p.stage(0, 0.1, scouts+12*(dim+2))
	modes, err := findModes(p, dim, of.Starts, rand.New(rand.NewPCG(seed, streamStarts)))
	if err != nil {
		return nil, nil, err
	}
	m, err := mixtureOf(p, dim, modes)
	if err != nil {
		return nil, nil, err
	}
	n := max(o.Members, leastDraws)
	p.stage(0.1, 0.4, n)
	ds, err := p.weigh(m.draw(n, rand.New(rand.NewPCG(seed, streamPropose))), m)
	return modes, ds, err
}

// mixtureOf proposes around each mode by its share of the evidence (Laplace), at
// least a tenth, and from the prior.
func mixtureOf(p *pool, dim int, modes []*mode) (*mixture, error) {
	parts, shares := []*component{priorComponent(dim)}, []float64{priorShare}
	s := newSurface(p, dim)
	total := 0.0
	mass := make([]float64, len(modes))
	for i, m := range modes {
		c := laplaceComponent(m)
		if err := c.widen(s, m.f); err != nil {
			return nil, err
		}
		parts = append(parts, c)
		logMass := modes[0].f - m.f
		for k := range c.plus {
			logMass += math.Log((c.plus[k] + c.minus[k]) / (parts[1].plus[k] + parts[1].minus[k]))
		}
		mass[i] = portable.Exp(logMass)
		total += mass[i]
	}
	rest := 0.0
	for i := range mass {
		mass[i] = math.Max(0.1, mass[i]/total)
		rest += mass[i]
	}
	for _, m := range mass {
		shares = append(shares, (1-priorShare-wideShare)*m/rest)
	}
	for i, m := range mass {
		parts = append(parts, parts[1+i].wider(wideTimes))
		shares = append(shares, wideShare*m/rest)
	}
	return newMixture(parts, shares), nil
}

// moments are the weighted mean and covariance of points.
func moments(zs [][]float64, w []float64) ([]float64, *matrix.Matrix) {
	dim := len(zs[0])
	mean := make([]float64, dim)
	for i, z := range zs {
		for a := range mean {
			mean[a] += w[i] * z[a]
		}
	}
	off := matrix.New(len(zs), dim)
	for i, z := range zs {
		share, row := math.Sqrt(w[i]), off.Row(i)
		for a := range row {
			row[a] = share * (z[a] - mean[a])
		}
	}
	return mean, off.Gram()
}

// weighted is the posterior that draws with smoothed weights stand for; it keeps as many
// members as were asked for.
func weighted(ds []draw, w smoothed, members int, rng *rand.Rand) *Posterior {
	keep, weight := thin(w.weight, members, rng)
	p := &Posterior{Method: Importance, Weight: weight, ParetoK: w.k, KLimit: ParetoLimit(len(ds)), LogEvidence: w.logMean}
	for _, i := range keep {
		p.Z, p.LogLik = append(p.Z, ds[i].z), append(p.LogLik, ds[i].logLik)
	}
	p.EffectiveSamples = math.Min(EffectiveSamples(w.weight), EffectiveSamples(weight))
	return p
}
