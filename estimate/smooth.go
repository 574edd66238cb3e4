package estimate

import (
	"math"
	"slices"

	"spile/matrix"
)

// knowledge is a process conditioned on the looks of a track, and how well it explains them.
type knowledge struct {
	*process
	tl       *timeline
	odds     float64         // log, of the process beforehand
	evidence float64         // log, odds included
	spread   matrix.Cholesky // covariance of the looks at known offsets, K²
	off      []float64       // of the looks from what was expected of them, K
	whose    *matrix.Matrix  // which look is of which thermometer
	offsets  matrix.Cholesky // precision of the offsets given the looks, 1/K²
	shift    []float64       // K, of the offsets by the looks
	leaps    []int           // looks after which somebody set another temperature, it seems
}

// leastScatter is the sd of any reading of a temperature, K: no thermometer is exact.
const leastScatter = 0.01

// known conditions p on the looks. The offsets of the thermometers are found along with the course.
//
// References: [Rasmussen2006] equations 2.23 to 2.30 and, for the offsets, 2.41 to 2.43
func (tl *timeline) known(p *process, odds float64) *knowledge {
	t := &tl.track
	n, m := len(t.looks), len(t.thermometers)
	k := &knowledge{process: p, tl: tl, odds: odds, off: make([]float64, n), whose: matrix.New(n, m)}
	cov := matrix.New(n, n) // its lower triangle
	for i, l := range t.looks {
		for j := range i + 1 {
			cov.Set(i, j, p.covariance(l.at, t.looks[j].at))
		}
		s := math.Max(l.scatter, leastScatter)
		cov.Set(i, i, cov.At(i, i)+s*s)
		k.off[i] = l.kelvin - p.mean(l.at) - tl.channels[l.channel].Mean
		for j, c := range t.thermometers {
			if c == l.channel {
				k.whose.Set(i, j, 1)
			}
		}
	}
	k.spread = decomposed(cov)
	k.findOffsets()
	return k
}

// findOffsets finds the offsets by the looks, and the evidence.
func (k *knowledge) findOffsets() {
	of := k.whose.Transposed()
	alone := k.spread.SolveVec(k.off)
	precision := of.Times(k.spread.Solve(k.whose))
	log := k.spread.LogDet()
	for i, c := range k.tl.track.thermometers {
		sd := math.Max(k.tl.channels[c].Offset, leastScatter)
		precision.Set(i, i, precision.At(i, i)+1/(sd*sd))
		log += 2 * math.Log(sd)
	}
	k.offsets = decomposed(precision)
	pull := of.TimesVec(alone)
	k.shift = k.offsets.SolveVec(pull)
	k.evidence = k.odds - 0.5*(matrix.Dot(k.off, alone)-matrix.Dot(pull, k.shift)+log+k.offsets.LogDet())
}

// decomposed is a covariance or a precision with scatter on the diagonal, so that it is positive definite.
func decomposed(a *matrix.Matrix) matrix.Cholesky {
	c, ok := matrix.NewCholesky(a)
	if !ok {
		panic("estimate: a covariance of readings that scatter is not positive definite")
	}
	return c
}

// astray is how far look i is off what was expected, K.
func (k *knowledge) astray(i int) float64 { return k.off[i] }

// between is the covariance of the course at the times s with the looks, a row a time.
func (k *knowledge) between(s []float64) *matrix.Matrix {
	looks := k.tl.track.looks
	out := matrix.New(len(s), len(looks))
	for i := range s {
		for j := range looks {
			out.Set(i, j, k.covariance(s[i], looks[j].at))
		}
	}
	return out
}

// tell lays down on the track what is known; the unknowns of the modes stand from next in z on.
func (k *knowledge) tell(next int) {
	t := &k.tl.track
	points := span(len(t.mean), t.step*float64(len(t.mean)-1))
	with := k.between(points)
	k.tellOffsets(points, with)
	k.tellModes(points, with, next)
}

// tellOffsets lays down the mean and what the offsets of the thermometers do to it.
func (k *knowledge) tellOffsets(points []float64, with *matrix.Matrix) {
	t, m := &k.tl.track, len(k.tl.track.thermometers)
	t.offsets = make([]float64, m)
	for i, c := range t.thermometers {
		t.offsets[i] = k.tl.channels[c].Mean + k.shift[i]
	}
	t.spread = decomposed(k.offsets.Inverse())
	left := slices.Clone(k.off) // the looks without the offsets
	matrix.AddScaled(left, -1, k.whose.TimesVec(k.shift))
	mean := with.TimesVec(k.spread.SolveVec(left))
	for i, s := range points {
		t.mean[i] = k.mean(s) + mean[i]
	}
	ways := with.Times(k.spread.Solve(k.whose.Times(t.spread.L)))
	for j := range m {
		way := make([]float64, len(points))
		matrix.AddScaled(way, -1, ways.Column(j))
		t.ways = append(t.ways, way)
	}
}

// tellModes lays down the leading modes of the course at known offsets: the eigenfunctions of its covariance, found at
// nodes and carried to all points by the covariance itself.
//
// References: [Ghanem1991] for the expansion, [Rasmussen2006] equation 4.43 for the extension
func (k *knowledge) tellModes(points []float64, with *matrix.Matrix, next int) {
	t := &k.tl.track
	n := min(modeNodes, len(points))
	nodes := span(n, points[len(points)-1])
	atNodes := k.between(nodes)
	weighed := k.spread.Solve(atNodes.Transposed())
	told, toldNodes := with.Times(weighed), atNodes.Times(weighed)
	own := matrix.New(n, n)
	for i := range n {
		for j := range i + 1 {
			v := (k.covariance(nodes[i], nodes[j]) - toldNodes.At(i, j)) / float64(n)
			own.Set(i, j, v)
			own.Set(j, i, v)
		}
	}
	variance, vectors, err := matrix.Eigen(own)
	if err != nil {
		panic("estimate: " + err.Error())
	}
	for i := 0; i < n && t.modes < mostModes && variance[i] > leastMode*leastMode; i++ {
		way := make([]float64, len(points))
		for a, s := range points {
			for b, u := range nodes {
				way[a] += (k.covariance(s, u) - told.At(a, b)) * vectors.At(i, b)
			}
			way[a] /= math.Sqrt(variance[i] * float64(n))
		}
		t.ways, t.places = append(t.ways, way), append(t.places, next+t.modes)
		t.modes++
	}
}

// span is n times evenly from 0 to end, s.
func span(n int, end float64) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = end * float64(i) / float64(n-1)
	}
	return out
}
