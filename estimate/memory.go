package estimate

import (
	"fmt"
	"math"
	"time"

	"spile/batch"
	"spile/bayes"
)

// Memory is a belief as it is put away: equally likely sets of its unknowns, standard normal beforehand, and how they were
// found. With the same records, prior and seed it brings the belief back.
type Memory struct {
	Members          [][]float32
	Kept             float64 // share of the members that still count since the belief was conditioned, see [Standing.Renew]
	LogEvidence      float64
	ParetoK, KLimit  float64
	EffectiveSamples float64
	Simulations      int
	Method           string
}

// Remember is the belief to be put away. What is made of it after [Recall] is the same, to the digit, whenever it is recalled;
// it differs from what the belief itself gives as far as single precision goes.
func (bl *Belief) Remember() Memory {
	p := bl.posterior
	m := Memory{Kept: bl.kept, LogEvidence: p.LogEvidence, ParetoK: p.ParetoK, KLimit: p.KLimit,
		EffectiveSamples: p.EffectiveSamples, Simulations: p.Simulations, Method: p.Method}
	for _, z := range bl.members() {
		single := make([]float32, len(z))
		for i, x := range z {
			single[i] = float32(x)
		}
		m.Members = append(m.Members, single)
	}
	return m
}

// Recall brings back a belief about the records it was conditioned on, under the same options, at a time that may be later as
// long as nothing was read or done in between. It returns [ErrRefit] where the members do not have the unknowns of the records.
func Recall(b *batch.Batch, log batch.Log, at time.Time, o Options, m Memory) (*Belief, error) {
	bl, err := newBelief(b, log, at, o)
	if err != nil {
		return nil, err
	}
	n := len(m.Members)
	if n == 0 {
		return nil, ErrRefit
	}
	bl.kept = m.Kept
	bl.posterior = &bayes.Posterior{ParetoK: m.ParetoK, KLimit: m.KLimit, EffectiveSamples: m.EffectiveSamples,
		LogEvidence: m.LogEvidence, Method: m.Method, Simulations: m.Simulations, LogLik: make([]float64, n)}
	for i, single := range m.Members {
		if len(single) != bl.tl.dim() {
			return nil, ErrRefit
		}
		z := make([]float64, len(single))
		for k, x := range single {
			if z[k] = float64(x); !finite(z[k]) {
				return nil, fmt.Errorf("%s: member %d of a belief that was put away is no number", b.Name, i)
			}
		}
		bl.posterior.Z = append(bl.posterior.Z, z)
		bl.posterior.Weight = append(bl.posterior.Weight, 1/float64(n))
		bl.posterior.LogLik[i] = math.NaN() // not put away
	}
	return bl, nil
}
