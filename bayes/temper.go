package bayes

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/mat"
)

const (
	// leastParticles in the tempered ensemble; fewer do not show a covariance.
	leastParticles = 500
	// keepShare of the ensemble stays effective in each step of temperature.
	keepShare = 0.5
	// movesNu is the degrees of freedom of the reference that the moves leave invariant.
	movesNu = 10
	// wantAccept steers the boldness of the moves.
	wantAccept = 0.35
	// maxTemperatures bounds the run; a step too small to reach 1 in so many means
	// that the likelihood is out of proportion to anything drawn from the prior.
	maxTemperatures = 60
)

// ensemble is the state of the tempered run.
type ensemble struct {
	pool   *pool
	dim    int
	rng    *rand.Rand
	z      [][]float64
	logLik []float64
	beta   float64 // power of the likelihood so far
	bold   float64 // share of a proposal that is new, 0 to 1
	// excess variance of an average, in units of its variance over one draw; it grows
	// with uneven weights and shrinks as the moves forget.
	excess, worstK, logEvidence float64
}

// temper carries an ensemble from the prior to the posterior. Each step of the power
// keeps half of the ensemble effective; then come resampling and moves.
//
// References: [DelMoral2006], [Jasra2011] for the choice of steps.
func temper(p *pool, dim int, o Options, rng *rand.Rand) (*Posterior, error) {
	n := max(o.Members, leastParticles)
	e := &ensemble{pool: p, dim: dim, rng: rng, bold: 0.7, worstK: math.Inf(-1)}
	e.z, e.logLik = normals(n, dim, rng), make([]float64, n)
	p.stage(0.5, 0.55, n)
	if err := p.logLik(e.z, e.logLik); err != nil {
		return nil, err
	}
	for step := 0; e.beta < 1 && step < maxTemperatures; step++ {
		if err := e.warm(step == maxTemperatures-1); err != nil {
			return nil, err
		}
	}
	return e.posterior(o.Members), nil
}

// warm raises the power by one step; the last step goes to 1 whatever it costs, and
// its k then tells.
func (e *ensemble) warm(last bool) error {
	next := 1.0
	if !last {
		next = e.nextBeta()
	}
	lw := e.tilt(next)
	w, err := smoothWeights(lw)
	if err != nil {
		return err
	}
	e.worstK = math.Max(e.worstK, w.k)
	e.logEvidence += w.logMean
	e.beta = next
	n := float64(len(e.z))
	e.excess += 1/EffectiveSamples(w.weight) - 1/n
	mean, cov := moments(e.z, w.weight)
	e.resample(w.weight)
	return e.move(mean, cov)
}

// tilt is the log of the weights that a new power gives.
func (e *ensemble) tilt(beta float64) []float64 {
	lw := make([]float64, len(e.z))
	for i, l := range e.logLik {
		lw[i] = (beta - e.beta) * l
	}
	return lw
}

// nextBeta is the power at which keepShare of the ensemble is effective, or 1. Members
// under which the data are impossible count for nothing at any power; the share is of
// the rest.
func (e *ensemble) nextBeta() float64 {
	alive := 0
	for _, l := range e.logLik {
		if !math.IsInf(l, -1) {
			alive++
		}
	}
	want := keepShare * float64(alive)
	effective := func(beta float64) float64 {
		w, top := e.tilt(beta), math.Inf(-1)
		for _, v := range w {
			top = math.Max(top, v)
		}
		for i := range w {
			w[i] = math.Exp(w[i] - top)
		}
		return EffectiveSamples(w)
	}
	if effective(1) >= want {
		return 1
	}
	lo, hi := e.beta, 1.0
	for range 60 {
		if mid := (lo + hi) / 2; effective(mid) >= want {
			lo = mid
		} else {
			hi = mid
		}
	}
	return hi
}

func (e *ensemble) resample(w []float64) {
	z, ll := make([][]float64, len(e.z)), make([]float64, len(e.z))
	for j, i := range Systematic(w, len(e.z), e.rng) {
		z[j], ll[j] = append([]float64(nil), e.z[i]...), e.logLik[i]
	}
	e.z, e.logLik = z, ll
}

// move sweeps over the ensemble until it has forgotten where it stood; longer at the
// end, where what is left of kinship would stay in the answer.
func (e *ensemble) move(mean []float64, cov *mat.SymDense) error {
	for i := range mean { // a ridge, so that a collapsed direction stays searchable
		cov.SetSym(i, i, cov.At(i, i)*(1+1e-6)+1e-10)
	}
	ref, err := momentComponent(mean, cov)
	if err != nil {
		return err
	}
	start := make([][]float64, len(e.z))
	for i, z := range e.z {
		start[i] = append([]float64(nil), z...)
	}
	enough, most := 0.5, 6
	if e.beta == 1 {
		enough, most = 0.2, 20
	}
	e.pool.stage(0.55+0.3*math.Sqrt(e.beta), 0.55+0.45*math.Sqrt(e.beta), most*len(e.z))
	memory := 1.0
	for sweep := 0; sweep < most && (sweep < 2 || memory > enough); sweep++ {
		if err := e.sweep(ref, start); err != nil {
			return err
		}
		memory = likeness(start, e.z)
	}
	e.excess *= memory * memory
	return nil
}

// jumpShare of the proposals in a sweep are jumps along the difference of two others.
const jumpShare = 0.25

// sweep proposes once for each member. Most proposals turn a member part of the way
// toward a fresh draw of the reference t, which they leave invariant, so that the
// acceptance only has to mend what the reference gets wrong; the others jump by a
// difference of two members as they stood at the start, which crosses between modes.
//
// References: [Rudolf2018] for the turn under a normal reference; here the t is a
// normal given its scale, which is drawn first. [terBraak2006] for the jumps.
func (e *ensemble) sweep(ref *component, start [][]float64) error {
	n := len(e.z)
	to, ll := make([][]float64, n), make([]float64, n)
	logRatio := make([]float64, n) // of reference densities
	turned := make([]bool, n)
	eta := make([]float64, e.dim)
	for i, z := range e.z {
		if turned[i] = e.rng.Float64() >= jumpShare; turned[i] {
			to[i], logRatio[i] = e.turn(ref, z, eta)
		} else {
			to[i] = e.jump(start, z)
		}
	}
	if err := e.pool.logLik(to, ll); err != nil {
		return err
	}
	tried, taken := 0, 0
	for i := range to {
		a := e.beta*(ll[i]-e.logLik[i]) - halfSquare(to[i]) + halfSquare(e.z[i]) + logRatio[i]
		ok := e.rng.Float64() < math.Exp(a)
		if ok {
			e.z[i], e.logLik[i] = to[i], ll[i]
		}
		if turned[i] {
			tried++
			if ok {
				taken++
			}
		}
	}
	rate := float64(taken) / math.Max(1, float64(tried))
	e.bold = math.Min(1, math.Max(0.02, e.bold*math.Exp(rate-wantAccept)))
	return nil
}

// turn proposes sqrt(1-b^2) of the place and b of a fresh draw, about the reference's
// centre, and returns with it log t(from) - log t(to). Half the members turn by the
// boldness in force, half by a random part of it.
func (e *ensemble) turn(ref *component, z, eta []float64) ([]float64, float64) {
	b := e.bold
	if e.rng.Float64() < 0.5 {
		b *= e.rng.Float64()
	}
	ref.standard(z, eta)
	from := 2 * halfSquare(eta)
	nu, d := float64(movesNu), float64(e.dim)
	// scale given place: (nu + |eta|^2) / chi-square with nu + d degrees of freedom
	scale := math.Sqrt((nu + from) / chiSquare(movesNu+e.dim, e.rng))
	keep := math.Sqrt(1 - b*b)
	for k := range eta {
		eta[k] = keep*eta[k] + b*scale*e.rng.NormFloat64()
	}
	after := 2 * halfSquare(eta)
	for k := range eta {
		eta[k] *= ref.plus[k]
	}
	to := make([]float64, e.dim)
	ref.place(eta, to)
	return to, (nu + d) / 2 * (math.Log1p(after/nu) - math.Log1p(from/nu))
}

// jump proposes a step along the difference of two members drawn at random.
func (e *ensemble) jump(start [][]float64, z []float64) []float64 {
	a, b := start[e.rng.IntN(len(start))], start[e.rng.IntN(len(start))]
	gain := 2.38 / math.Sqrt(2*float64(e.dim))
	if e.rng.Float64() < 0.3 {
		gain = 1
	}
	to := make([]float64, e.dim)
	for k := range to {
		to[k] = z[k] + gain*(a[k]-b[k]) + 1e-4*e.rng.NormFloat64()
	}
	return to
}

// likeness is the largest correlation, over the unknowns, of the members with where
// they stood before.
func likeness(before, after [][]float64) float64 {
	most := 0.0
	for k := range before[0] {
		var ma, mb, aa, bb, ab float64
		n := float64(len(before))
		for i := range before {
			ma += before[i][k] / n
			mb += after[i][k] / n
		}
		for i := range before {
			a, b := before[i][k]-ma, after[i][k]-mb
			aa, bb, ab = aa+a*a, bb+b*b, ab+a*b
		}
		if aa > 0 && bb > 0 {
			most = math.Max(most, ab/math.Sqrt(aa*bb))
		}
	}
	return most
}

// posterior of equal weights; when fewer members than particles were asked for, every
// so-manieth is kept.
func (e *ensemble) posterior(members int) *Posterior {
	n := len(e.z)
	equal := make([]float64, n)
	for i := range equal {
		equal[i] = 1 / float64(n)
	}
	p := &Posterior{Method: Tempered, Z: e.z, LogLik: e.logLik, Weight: equal, LogEvidence: e.logEvidence}
	p.ParetoK, p.KLimit = e.worstK, ParetoLimit(n)
	p.EffectiveSamples = 1 / (1/float64(n) + e.excess)
	if members < n {
		return Resample(p, members, e.rng)
	}
	return p
}
