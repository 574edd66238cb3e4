package bayes

import (
	"math"
	"math/rand/v2"
)

// kernel proposes moves on one goroutine. It thinks in the standard coordinates of the frame.
type kernel struct {
	frame       *density   // of the step before; as wide on either side of its axes
	start       *mixture   // the bridge's start
	stand       *surrogate // nil for none
	work        *scratch
	crowd       [][]float64 // the step before, of equal weight
	beta        float64
	here, there place
}

// place is a point as the kernel sees it.
type place struct {
	eta, z []float64
	target float64 // log density over the surrogate
}

func newKernel(frame *component, start *mixture, stand *surrogate, crowd [][]float64, beta float64) *kernel {
	k := &kernel{frame: frame.density(), start: start.another(), stand: stand, crowd: crowd, beta: beta}
	n := len(frame.centre)
	k.here, k.there = place{eta: make([]float64, n), z: make([]float64, n)}, place{eta: make([]float64, n), z: make([]float64, n)}
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
	plainShare = 0.15
	// leastWalk moves over the surrogate lie between two runs of the model where moves are as bold as can be; shorter moves
	// must be more to come as far, by the square, up to mostWalk.
	leastWalk, mostWalk = 20, 1000
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
	k.frame.standard(at.z, k.here.eta)
	if k.stand == nil || rng.Float64() < plainShare {
		ratio, local := k.move(bold, rng)
		return step{to: append([]float64(nil), k.there.z...), logRatio: ratio, tried: local, plain: local}
	}
	copy(k.here.z, at.z)
	k.aim(&k.here)
	var s step
	first := k.here.target
	for range int(math.Min(leastWalk/(bold*bold), mostWalk)) {
		ratio, local := k.move(bold, rng)
		k.aim(&k.there)
		s.tried += local
		if rise := k.there.target - k.here.target + ratio; rise >= 0 || rng.Float64() < math.Exp(rise) {
			k.here, k.there = k.there, k.here
			s.taken += local
		}
	}
	s.to, s.logRatio = append([]float64(nil), k.here.z...), first-k.here.target
	return s
}

// aim works out the surrogate's form of the density that the present step stands for.
func (k *kernel) aim(p *place) {
	p.target = k.beta * (k.stand.logLik(p.eta, k.work) - halfSquare(p.z))
	if k.beta < 1 {
		p.target += float64((1 - k.beta) * k.start.logDensity(p.z))
	}
}

// move goes from here to there: some of the way toward a fresh draw of the frame, by the boldness or a
// random part of it, or by a jump. It returns the log ratio of the density
// that the move leaves invariant, and 1 where boldness had a say.
//
// References: [terBraak2006] for the jumps.
func (k *kernel) move(bold float64, rng *rand.Rand) (logRatio, local float64) {
	u := rng.Float64()
	if u < jumpShare {
		k.jump(rng)
		return 0, 0
	}
	b := 1.0
	if u >= jumpShare+freshShare {
		local = 1
		if b = bold; rng.Float64() < 0.5 {
			b *= rng.Float64()
		}
	}
	k.frame.turn(k.here.eta, k.there.eta, b, rng)
	k.frame.place(k.there.eta, k.there.z)
	return k.frame.logStandard(k.here.eta) - k.frame.logStandard(k.there.eta), local
}

// jump goes along the difference of two members drawn at random.
func (k *kernel) jump(rng *rand.Rand) {
	a, b := k.crowd[rng.IntN(len(k.crowd))], k.crowd[rng.IntN(len(k.crowd))]
	gain := 2.38 / math.Sqrt(2*float64(len(a)))
	if rng.Float64() < 0.3 {
		gain = 1
	}
	for i, v := range k.here.eta {
		k.there.eta[i] = v + float64(gain*(a[i]-b[i])) + float64(1e-4*rng.NormFloat64())
	}
	k.frame.place(k.there.eta, k.there.z)
}
