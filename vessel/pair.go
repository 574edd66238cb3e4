package vessel

import (
	"math"

	"spile/portable"
)

// pair is two linear equations y1' = a y1 + b y2 + ..., y2' = c y1 + d y2 + ... whose b and c are not negative, so that
// the eigenvalues are real. The closures solve gas and heat with it, so no step is too long.
type pair struct{ a, b, c, d float64 }

// propagator carries the slopes of a pair over h seconds: y + h phi(hA) dy with phi(hA) = c0 + c1 A. Exact.
type propagator struct {
	m         pair
	h, c0, c1 float64
}

// over is the propagator of m over h seconds, kept while both stay as they are.
func (p *propagator) over(m pair, h float64) *propagator {
	if p.m == m && p.h == h {
		return p
	}
	half, det := 0.5*(m.a+m.d), m.a*m.d-m.b*m.c
	root := math.Sqrt(0.25*(m.a-m.d)*(m.a-m.d) + m.b*m.c)
	*p = between(m, h, half-root, det/(half-root))
	return p
}

// between is the propagator with the eigenvalues given.
func between(m pair, h, fast, slow float64) propagator {
	phiSlow, phiFast := phi(slow*h), phi(fast*h)
	c1 := (phiSlow - phiFast) / (slow - fast)
	return propagator{m, h, phiSlow - c1*slow, c1}
}

// advance gives y after the span from the slopes dy at its start.
func (p *propagator) advance(y1, y2, dy1, dy2 float64) (float64, float64) {
	m := &p.m
	return y1 + p.h*(p.c0*dy1+p.c1*(m.a*dy1+m.b*dy2)), y2 + p.h*(p.c0*dy2+p.c1*(m.c*dy1+m.d*dy2))
}

// phi is (e^x - 1)/x, to 1e-11.
func phi(x float64) float64 {
	switch {
	case math.Abs(x) < 0.2:
		y := x * x // in pairs, so that fewer wait for each other
		return 1 + x*(1./2) + y*(1./6+x*(1./24)) + y*y*(1./120+x*(1./720)+y*(1./5040+x*(1./40320)))
	case x < lost:
		return -1 / x
	}
	return (portable.Exp(x) - 1) / x
}

// lost is the power of e from which nothing is left of 1 but rounding.
const lost = -38
