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
	// stuck is the share of its memory that an ensemble keeps in one sweep when more
	// sweeps are of no use: what is left is which mode a member sits in.
	stuck = 0.99
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
		next = nextBeta(e.logLik, e.beta)
	}
	w, err := smoothWeights(tilt(e.logLik, next-e.beta))
	if err != nil {
		return err
	}
	e.worstK = math.Max(e.worstK, w.k)
	e.logEvidence += w.logMean
	e.beta = next
	e.excess += 1/EffectiveSamples(w.weight) - 1/float64(len(e.z))
	mean, cov := moments(e.z, w.weight)
	e.resample(w.weight)
	return e.move(mean, cov)
}

// tilt is the log of the weights that a rise of the power gives.
func tilt(logLik []float64, rise float64) []float64 {
	lw := make([]float64, len(logLik))
	for i, l := range logLik {
		lw[i] = rise * l
	}
	return lw
}

// nextBeta is the power at which keepShare of the ensemble is effective, or 1. Members
// under which the data are impossible count for nothing at any power; the share is of
// the rest.
func nextBeta(logLik []float64, beta float64) float64 {
	alive := 0
	for _, l := range logLik {
		if !math.IsInf(l, -1) {
			alive++
		}
	}
	want := keepShare * float64(alive)
	if effectiveAfter(logLik, 1-beta) >= want {
		return 1
	}
	lo, hi := beta, 1.0
	for range 60 {
		if mid := (lo + hi) / 2; effectiveAfter(logLik, mid-beta) >= want {
			lo = mid
		} else {
			hi = mid
		}
	}
	return hi
}

// effectiveAfter is the effective size that a rise of the power leaves.
func effectiveAfter(logLik []float64, rise float64) float64 {
	w, top := tilt(logLik, rise), math.Inf(-1)
	for _, v := range w {
		top = math.Max(top, v)
	}
	for i := range w {
		w[i] = math.Exp(w[i] - top)
	}
	return EffectiveSamples(w)
}

func (e *ensemble) resample(w []float64) {
	z, ll := make([][]float64, len(w)), make([]float64, len(w))
	for j, i := range Systematic(w, len(w), e.rng) {
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
	memory, before := 1.0, 2.0
	for sweep := 0; sweep < most && (sweep < 3 || memory > enough && memory < stuck*before); sweep++ {
		if err := e.sweep(ref, start); err != nil {
			return err
		}
		before, memory = memory, likeness(ref, start, e.z)
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
		ok := e.rng.Float64() < math.Exp(e.logTarget(to[i], ll[i])-e.logTarget(e.z[i], e.logLik[i])+logRatio[i])
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

// logTarget is the log density that the present power stands for.
func (e *ensemble) logTarget(z []float64, logLik float64) float64 {
	return e.beta*logLik - halfSquare(z)
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

// likeness is the largest correlation of the members with where they stood before,
// over the axes of the reference and over the squares along them: the squares see a
// member that stays far out, on whichever side.
func likeness(ref *component, before, after [][]float64) float64 {
	dim := len(ref.centre)
	sums := make([]correlation, 2*dim)
	a, b := make([]float64, dim), make([]float64, dim)
	for i := range before {
		ref.standard(before[i], a)
		ref.standard(after[i], b)
		for k := range a {
			sums[2*k].add(a[k], b[k])
			sums[2*k+1].add(a[k]*a[k], b[k]*b[k])
		}
	}
	most := 0.0
	for _, s := range sums {
		most = math.Max(most, s.value())
	}
	return most
}

// correlation gathers the sums for one.
type correlation struct{ n, a, b, aa, bb, ab float64 }

func (c *correlation) add(a, b float64) {
	c.n, c.a, c.b = c.n+1, c.a+a, c.b+b
	c.aa, c.bb, c.ab = c.aa+a*a, c.bb+b*b, c.ab+a*b
}

// value is 0 where one side does not vary.
func (c *correlation) value() float64 {
	va, vb := c.aa-c.a*c.a/c.n, c.bb-c.b*c.b/c.n
	if va <= 0 || vb <= 0 {
		return 0
	}
	return (c.ab - c.a*c.b/c.n) / math.Sqrt(va*vb)
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
