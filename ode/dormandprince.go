package ode

import "math"

// Coefficients of DOPRI5: nodes (n), arguments (p), the last row of which is the
// solution of order 5, error (e) and dense output (q).
// References: [DormandPrince1980]; dense output [HairerNorsettWanner1993],
// section II.6
const (
	n2 = 1. / 5
	n3 = 3. / 10
	n4 = 4. / 5
	n5 = 8. / 9

	p21 = 1. / 5
	p31 = 3. / 40
	p32 = 9. / 40
	p41 = 44. / 45
	p42 = -56. / 15
	p43 = 32. / 9
	p51 = 19372. / 6561
	p52 = -25360. / 2187
	p53 = 64448. / 6561
	p54 = -212. / 729
	p61 = 9017. / 3168
	p62 = -355. / 33
	p63 = 46732. / 5247
	p64 = 49. / 176
	p65 = -5103. / 18656
	p71 = 35. / 384
	p73 = 500. / 1113
	p74 = 125. / 192
	p75 = -2187. / 6784
	p76 = 11. / 84

	e1 = 71. / 57600
	e3 = -71. / 16695
	e4 = 71. / 1920
	e5 = -17253. / 339200
	e6 = 22. / 525
	e7 = -1. / 40

	q1 = -12715105075. / 11282082432
	q3 = 87487479700. / 32700410799
	q4 = -10690763975. / 1880347072
	q5 = 701980252875. / 199316789632
	q6 = -1453857185. / 822651844
	q7 = 69997945. / 29380423
)

// tryDormandPrince makes one DOPRI5 step of size h into y1; the slope there is
// kept as the last stage.
func (s *Solver) tryDormandPrince(h float64) float64 {
	r := &s.run
	n := s.n
	r.stats.Slopes += 6
	t, slope, y, arg := r.t, r.sys.Slope, r.y[:n], s.arg[:n]
	k1, k2, k3, k4, k5, k6 := s.f0[:n], s.stages[1][:n], s.stages[2][:n], s.stages[3][:n], s.stages[4][:n], s.stages[5][:n]
	for i, a := range k1 {
		arg[i] = y[i] + h*(p21*a)
	}
	slope(t+n2*h, arg, k2)
	for i, a := range k1 {
		arg[i] = y[i] + h*(p31*a+p32*k2[i])
	}
	slope(t+n3*h, arg, k3)
	for i, a := range k1 {
		arg[i] = y[i] + h*(p41*a+p42*k2[i]+p43*k3[i])
	}
	slope(t+n4*h, arg, k4)
	for i, a := range k1 {
		arg[i] = y[i] + h*(p51*a+p52*k2[i]+p53*k3[i]+p54*k4[i])
	}
	slope(t+n5*h, arg, k5)
	for i, a := range k1 {
		arg[i] = y[i] + h*(p61*a+p62*k2[i]+p63*k3[i]+p64*k4[i]+p65*k5[i])
	}
	slope(t+h, arg, k6)
	y1 := s.y1[:n]
	for i, a := range k1 {
		y1[i] = y[i] + h*(p71*a+p73*k3[i]+p74*k4[i]+p75*k5[i]+p76*k6[i])
	}
	slope(t+h, y1, s.stages[6])
	r.denseKnown = false
	return s.errorDormandPrince(h)
}

func (s *Solver) errorDormandPrince(h float64) float64 {
	n := s.n
	s.run.lastTried = h
	k3, k4, k5, k6, k7 := s.stages[2][:n], s.stages[3][:n], s.stages[4][:n], s.stages[5][:n], s.stages[6][:n]
	y, y1, atol, fs := s.run.y[:n], s.y1[:n], s.atol[:n], s.fs[:n]
	sum := 0.0
	for i, a := range s.f0[:n] {
		e := h * (e1*a + e3*k3[i] + e4*k4[i] + e5*k5[i] + e6*k6[i] + e7*k7[i])
		fs[i] = e
		e /= atol[i] + s.rtol*max(math.Abs(y[i]), math.Abs(y1[i]))
		sum += e * e
	}
	return math.Sqrt(sum / float64(n))
}

// denseDormandPrince prepares the dense output of the step in hand.
func (s *Solver) denseDormandPrince() {
	h := s.run.lastTried
	y, y1 := s.run.y, s.y1
	k3, k4, k5, k6, k7 := s.stages[2], s.stages[3], s.stages[4], s.stages[5], s.stages[6]
	for i, k1 := range s.f0 {
		rise := y1[i] - y[i]
		s.c2[i] = h*k1 - rise
		s.c3[i] = rise - h*k7[i] - s.c2[i]
		s.c4[i] = h * (q1*k1 + q3*k3[i] + q4*k4[i] + q5*k5[i] + q6*k6[i] + q7*k7[i])
	}
}

// reuseLastSlope makes the last stage of the step just committed the first of
// the next.
func (s *Solver) reuseLastSlope() {
	s.f0, s.stages[6] = s.stages[6], s.f0
	s.run.slopeKnown = true
}
