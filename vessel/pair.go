package vessel

import "math"

// pair is two linear equations y1' = a y1 + b y2 + ..., y2' = c y1 + d y2 + ... whose b and c are not negative, so that
// the eigenvalues are real. The closures solve gas and heat with it, so no step is too long.
type pair struct{ a, b, c, d float64 }

// after gives y h seconds on from the slopes dy now: y + h phi(hA) dy, phi(x) = (e^x - 1)/x. Exact.
func (m pair) after(y1, y2, dy1, dy2, h float64) (float64, float64) {
	half, det := 0.5*(m.a+m.d), m.a*m.d-m.b*m.c
	root := math.Sqrt(0.25*(m.a-m.d)*(m.a-m.d) + m.b*m.c)
	return m.advance(y1, y2, dy1, dy2, h, half-root, det/(half-root))
}

// advance is after with the eigenvalues given.
func (m pair) advance(y1, y2, dy1, dy2, h, fast, slow float64) (float64, float64) {
	phiSlow, phiFast := phi(slow*h), phi(fast*h)
	c1 := (phiSlow - phiFast) / (slow - fast)
	c0 := phiSlow - c1*slow
	return y1 + h*(c0*dy1+c1*(m.a*dy1+m.b*dy2)), y2 + h*(c0*dy2+c1*(m.c*dy1+m.d*dy2))
}

// phi is (e^x - 1)/x, to 1e-12.
func phi(x float64) float64 {
	if math.Abs(x) < 0.05 {
		return 1 + x/2*(1+x/3*(1+x/4*(1+x/5*(1+x/6*(1+x/7)))))
	}
	return (math.Exp(x) - 1) / x
}
