package bayes

import (
	"math"
	"math/rand/v2"
)

// kernel proposes moves on one goroutine.
type kernel struct {
	frame *component // of the step before
	start *mixture   // the bridge's start
	stand *surrogate // nil for none
	work  *scratch
	crowd []draw // the step before, of equal weight
	beta  float64
	eta   []float64
}

func newKernel(frame *component, start *mixture, stand *surrogate, crowd []draw, beta float64) *kernel {
	k := &kernel{frame: frame, start: newMixture(start.parts, start.share), stand: stand, crowd: crowd, beta: beta, eta: make([]float64, len(frame.centre))}
	if stand != nil {
		k.work = stand.scratch()
	}
	return k
}

// step is a proposal.
type step struct {
	to []float64
	// logRatio, from here to there, of the density that the proposal leaves invariant.
	logRatio float64
	// moves that boldness had a say in: how many were tried and taken, and whether the
	// whole is one.
	tried, taken, plain float64
}

const (
	// plainShare of the proposals go without the surrogate, so that no place where it is wrong keeps a chain.
	plainShare = 0.25
	// walk is the number of moves over the surrogate between two runs of the model.
	walk = 40
	// jumpShare of the moves are jumps along the difference of two members of the
	// step before, which cross between modes; freshShare are fresh draws of the frame.
	jumpShare  = 0.2
	freshShare = 0.1
)

// propose a place to go to: where a walk over the surrogate ends, or a single move. A
// walk is reversible over its own target, so that the acceptance only has to mend what
// the surrogate gets wrong.
//
// References: [Liu2001] section 9.4.3, the surrogate transition.
func (k *kernel) propose(at *draw, bold float64, rng *rand.Rand) step {
	if k.stand == nil || rng.Float64() < plainShare {
		to, ratio, local := k.move(at.z, bold, rng)
		return step{to: to, logRatio: ratio, tried: local, plain: local}
	}
	s := step{to: at.z}
	first := k.target(at.z)
	here := first
	for range walk {
		to, ratio, local := k.move(s.to, bold, rng)
		there := k.target(to)
		s.tried += local
		if rng.Float64() < math.Exp(there-here+ratio) {
			s.to, here = to, there
			s.taken += local
		}
	}
	s.logRatio = first - here
	return s
}

// target is the surrogate's form of the density that the present step stands for.
func (k *kernel) target(z []float64) float64 {
	t := k.beta * (k.stand.logLik(z, k.work) - halfSquare(z))
	if k.beta < 1 {
		t += (1 - k.beta) * k.start.logDensity(z)
	}
	return t
}

// move turns z some of the way toward a fresh draw of the frame, by the boldness or a
// random part of it, or jumps. It returns with the place the log ratio of the density
// that the move leaves invariant, and 1 where boldness had a say.
//
// References: [terBraak2006] for the jumps.
func (k *kernel) move(z []float64, bold float64, rng *rand.Rand) (to []float64, logRatio, local float64) {
	u := rng.Float64()
	if u < jumpShare {
		return k.jump(z, rng), 0, 0
	}
	b := 1.0
	if u >= jumpShare+freshShare {
		local = 1
		if b = bold; rng.Float64() < 0.5 {
			b *= rng.Float64()
		}
	}
	to, logRatio = k.frame.turn(z, k.eta, b, rng)
	return to, logRatio, local
}

// jump proposes a step along the difference of two members drawn at random.
func (k *kernel) jump(z []float64, rng *rand.Rand) []float64 {
	a, b := k.crowd[rng.IntN(len(k.crowd))].z, k.crowd[rng.IntN(len(k.crowd))].z
	gain := 2.38 / math.Sqrt(2*float64(len(z)))
	if rng.Float64() < 0.3 {
		gain = 1
	}
	to := make([]float64, len(z))
	for i := range to {
		to[i] = z[i] + gain*(a[i]-b[i]) + 1e-4*rng.NormFloat64()
	}
	return to
}
