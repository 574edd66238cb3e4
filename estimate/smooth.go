package estimate

import (
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// knowledge is a process conditioned on the looks of a track, and how well it explains them.
type knowledge struct {
	*process
	tl       *timeline
	odds     float64       // log, of the process beforehand
	evidence float64       // log, odds included
	spread   mat.Cholesky  // covariance of the looks at known offsets, K²
	off      *mat.VecDense // of the looks from what was expected of them, K
	whose    *mat.Dense    // which look is of which thermometer
	offsets  mat.Cholesky  // precision of the offsets given the looks, 1/K²
	shift    *mat.VecDense // K, of the offsets by the looks
}

// leastScatter is the sd of any reading of a temperature, K: no thermometer is exact.
const leastScatter = 0.01

// known conditions p on the looks. The offsets of the thermometers are found along with the course.
//
// References: [Rasmussen2006] equations 2.23 to 2.30 and, for the offsets, 2.41 to 2.43
func (tl *timeline) known(p *process, odds float64) *knowledge {
	t := &tl.track
	n, m := len(t.looks), len(t.thermometers)
	k := &knowledge{process: p, tl: tl, odds: odds, off: mat.NewVecDense(n, nil), whose: mat.NewDense(n, m, nil), shift: mat.NewVecDense(m, nil)}
	cov := mat.NewSymDense(n, nil)
	for i, l := range t.looks {
		for j := range i + 1 {
			cov.SetSym(i, j, p.covariance(l.at, t.looks[j].at))
		}
		s := math.Max(l.scatter, leastScatter)
		cov.SetSym(i, i, cov.At(i, i)+s*s)
		k.off.SetVec(i, l.kelvin-p.mean(l.at)-tl.channels[l.channel].Mean)
		for j, c := range t.thermometers {
			if c == l.channel {
				k.whose.Set(i, j, 1)
			}
		}
	}
	if !k.spread.Factorize(cov) {
		panic("estimate: the covariance of readings that scatter is not positive definite")
	}
	k.findOffsets(m)
	return k
}

// findOffsets finds the offsets by the looks, and the evidence.
func (k *knowledge) findOffsets(m int) {
	var weighed mat.Dense // K⁻¹ by thermometer
	var alone mat.VecDense
	must(k.spread.SolveTo(&weighed, k.whose))
	must(k.spread.SolveVecTo(&alone, k.off))
	precision := mat.NewSymDense(m, nil)
	var seen mat.Dense
	seen.Mul(k.whose.T(), &weighed)
	log := k.spread.LogDet()
	for i := range m {
		for j := range i + 1 {
			precision.SetSym(i, j, seen.At(i, j))
		}
		sd := math.Max(k.tl.channels[k.tl.track.thermometers[i]].Offset, leastScatter)
		precision.SetSym(i, i, precision.At(i, i)+1/(sd*sd))
		log += 2 * math.Log(sd)
	}
	if !k.offsets.Factorize(precision) {
		panic("estimate: the precision of offsets is not positive definite")
	}
	var pull mat.VecDense
	pull.MulVec(k.whose.T(), &alone)
	must(k.offsets.SolveVecTo(k.shift, &pull))
	k.evidence = k.odds - 0.5*(mat.Dot(k.off, &alone)-mat.Dot(&pull, k.shift)+log+k.offsets.LogDet())
}

// must stops on an error that only a matrix that cannot be solved for gives: these are covariances with scatter on the diagonal.
func must(err error) {
	if err != nil {
		panic("estimate: " + err.Error())
	}
}

// astray is how far look i is off what was expected, K.
func (k *knowledge) astray(i int) float64 { return k.off.AtVec(i) }

// between is the covariance of the course at the times s with the looks, a row a time.
func (k *knowledge) between(s []float64) *mat.Dense {
	looks := k.tl.track.looks
	out := mat.NewDense(len(s), len(looks), nil)
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
	points := make([]float64, len(t.mean))
	floats.Span(points, 0, t.step*float64(len(points)-1))
	with := k.between(points)
	k.tellOffsets(points, with)
	k.tellModes(points, with, next)
}

// tellOffsets lays down the mean and what the offsets of the thermometers do to it.
func (k *knowledge) tellOffsets(points []float64, with *mat.Dense) {
	t, m := &k.tl.track, len(k.tl.track.thermometers)
	t.offsets = make([]float64, m)
	for i, c := range t.thermometers {
		t.offsets[i] = k.tl.channels[c].Mean + k.shift.AtVec(i)
	}
	var cov mat.SymDense
	must(k.offsets.InverseTo(&cov))
	var c mat.Cholesky
	if !c.Factorize(&cov) {
		panic("estimate: the covariance of offsets is not positive definite")
	}
	t.spread = new(mat.TriDense)
	c.LTo(t.spread)
	var left, mean mat.VecDense // the looks without the offsets, weighed
	left.MulVec(k.whose, k.shift)
	left.SubVec(k.off, &left)
	must(k.spread.SolveVecTo(&left, &left))
	mean.MulVec(with, &left)
	var each, weighed, ways mat.Dense
	each.Mul(k.whose, t.spread)
	must(k.spread.SolveTo(&weighed, &each))
	ways.Mul(with, &weighed)
	ways.Scale(-1, &ways)
	for i, s := range points {
		t.mean[i] = k.mean(s) + mean.AtVec(i)
	}
	for j := range m {
		t.ways = append(t.ways, mat.Col(nil, j, &ways))
	}
}

// tellModes lays down the leading modes of the course at known offsets: the eigenfunctions of its covariance, found at
// nodes and carried to all points by the covariance itself.
//
// References: [Ghanem1991] for the expansion, [Rasmussen2006] equation 4.43 for the extension
func (k *knowledge) tellModes(points []float64, with *mat.Dense, next int) {
	t := &k.tl.track
	n := min(modeNodes, len(points))
	nodes := make([]float64, n)
	floats.Span(nodes, 0, points[len(points)-1])
	atNodes := k.between(nodes)
	var weighed, told mat.Dense
	must(k.spread.SolveTo(&weighed, atNodes.T()))
	told.Mul(with, &weighed)
	own := mat.NewSymDense(n, nil)
	var toldNodes mat.Dense
	toldNodes.Mul(atNodes, &weighed)
	for i := range n {
		for j := range i + 1 {
			own.SetSym(i, j, (k.covariance(nodes[i], nodes[j])-toldNodes.At(i, j))/float64(n))
		}
	}
	var eigen mat.EigenSym
	if !eigen.Factorize(own, true) {
		panic("estimate: a covariance has no eigenvalues")
	}
	variance := eigen.Values(nil) // ascending
	var vectors mat.Dense
	eigen.VectorsTo(&vectors)
	for i := n - 1; i >= 0 && t.modes < mostModes && variance[i] > leastMode*leastMode; i-- {
		way := make([]float64, len(points))
		for a, s := range points {
			for b, u := range nodes {
				way[a] += (k.covariance(s, u) - told.At(a, b)) * vectors.At(b, i)
			}
			way[a] /= math.Sqrt(variance[i] * float64(n))
		}
		t.ways, t.places = append(t.ways, way), append(t.places, next+t.modes)
		t.modes++
	}
}
