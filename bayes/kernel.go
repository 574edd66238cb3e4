package bayes

import (
	"math"
	"math/rand/v2"

	"spile/portable"
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
	pace        []float64 // of a glide
	along       []float64 // workspace
}

// place is a point as the kernel sees it.
type place struct {
	eta, z []float64
	target float64   // log density over the surrogate
	rise   []float64 // its slope along eta
}

func newPlace(dim int) place {
	return place{eta: make([]float64, dim), z: make([]float64, dim), rise: make([]float64, dim)}
}

func newKernel(frame *component, start *mixture, stand *surrogate, crowd [][]float64, beta float64) *kernel {
	k := &kernel{frame: frame.density(), start: start.another(), stand: stand, crowd: crowd, beta: beta}
	n := len(frame.centre)
	k.here, k.there, k.pace, k.along = newPlace(n), newPlace(n), make([]float64, n), make([]float64, n)
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
	// local is 1 for a single move in which boldness had a say; glides are how many were tried, slid how many were taken.
	local, glides, slid float64
}

const (
	// plainShare of the proposals go without the surrogate, so that no place where it is wrong keeps a chain.
	plainShare = 0.15
	// rounds of a move and a glide over the surrogate lie between two runs of the model.
	rounds = 2
	// glideLength is how far a glide goes at most, in standard deviations of the ensemble: about a quarter of a swing.
	glideLength = 1.6
	// mostGlide bounds the steps of a glide.
	mostGlide = 60
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
func (k *kernel) propose(at *draw, bold, stride float64, rng *rand.Rand) step {
	k.frame.standard(at.z, k.here.eta)
	if k.stand == nil || rng.Float64() < plainShare {
		ratio, local := k.move(bold, rng)
		return step{to: append([]float64(nil), k.there.z...), logRatio: ratio, local: local}
	}
	copy(k.here.z, at.z)
	k.aim(&k.here)
	k.climb(&k.here)
	first := k.here.target
	s := step{glides: rounds}
	for range rounds {
		ratio, _ := k.move(bold, rng)
		k.aim(&k.there)
		if k.goOrStay(ratio, rng) {
			k.climb(&k.here)
		}
		if k.glide(stride, rng) {
			s.slid++
		}
	}
	s.to, s.logRatio = append([]float64(nil), k.here.z...), first-k.here.target
	return s
}

// goOrStay accepts what was proposed over the surrogate or refuses it; logRatio is that of the density that the proposal leaves
// invariant.
func (k *kernel) goOrStay(logRatio float64, rng *rand.Rand) bool {
	rise := k.there.target - k.here.target + logRatio
	if !(rise >= 0 || rng.Float64() < portable.Exp(rise)) { // NaN is refused too
		return false
	}
	k.here, k.there = k.there, k.here
	return true
}

// glide goes along the slopes of the surrogate like a body without friction, given a random push; climb has been to where it
// sets out.
//
// References: [Neal2011] section 5.2.3, Hamiltonian dynamics by leapfrog.
func (k *kernel) glide(stride float64, rng *rand.Rand) bool {
	stride *= 0.8 + 0.4*rng.Float64() // so that no swing comes back to where it began each time
	steps := 1 + rng.IntN(int(math.Min(2*glideLength/stride, mostGlide)))
	for i := range k.pace {
		k.pace[i] = rng.NormFloat64()
	}
	before := halfSquare(k.pace)
	copy(k.there.eta, k.here.eta)
	copy(k.there.rise, k.here.rise)
	for n := range steps {
		for i, g := range k.there.rise {
			k.pace[i] += float64(stride / 2 * g)
			k.there.eta[i] += float64(stride * k.pace[i])
		}
		k.frame.place(k.there.eta, k.there.z)
		if n < steps-1 { // on the way the slope is all that counts
			k.look(&k.there)
		} else {
			k.aim(&k.there)
		}
		k.climb(&k.there)
		for i, g := range k.there.rise {
			k.pace[i] += float64(stride / 2 * g)
		}
	}
	return k.goOrStay(before-halfSquare(k.pace), rng)
}

// aim works out the surrogate's form of the density that the present step stands for.
func (k *kernel) aim(p *place) {
	fromStart := k.look(p)
	p.target = float64(k.beta*(k.stand.logLik(k.work)-halfSquare(p.z))) + float64((1-k.beta)*fromStart)
}

// look works out what the density and its slope are made of, and gives the log density of the bridge's start while that has a say.
func (k *kernel) look(p *place) (fromStart float64) {
	k.stand.residuals(p.eta, k.work)
	if k.beta < 1 {
		fromStart = k.start.logDensity(p.z)
	}
	return fromStart
}

// climb works out the slope where look or aim has just been.
func (k *kernel) climb(p *place) {
	if k.beta < 1 {
		k.start.slope(k.along)
	} else {
		clear(k.along)
	}
	for i, z := range p.z {
		k.along[i] = float64((1-k.beta)*k.along[i]) - float64(k.beta*z)
	}
	k.frame.inward(k.along, p.rise)
	for i, v := range k.stand.slope(p.eta, k.work) {
		p.rise[i] += float64(k.beta * v)
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
