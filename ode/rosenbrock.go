package ode

import "math"

// Coefficients of RODAS4 in the transformed form that needs no product with the
// Jacobian: gamma, time offsets of the stages (alpha), weights of the time
// derivative (delta), arguments (a), right-hand sides (c), dense output (d).
// References: [HairerWanner1996], section IV.10, and the authors' code RODAS
const (
	gamma  = 0.25
	alpha2 = 0.386
	alpha3 = 0.21
	alpha4 = 0.63
	delta1 = 0.25
	delta2 = -0.1043
	delta3 = 0.1035
	delta4 = -0.03620000000000023

	a21 = 1.544
	a31 = 0.9466785280815826
	a32 = 0.2557011698983284
	a41 = 3.314825187068521
	a42 = 2.896124015972201
	a43 = 0.9986419139977817
	a51 = 1.221224509226641
	a52 = 6.019134481288629
	a53 = 12.53708332932087
	a54 = -0.6878860361058950

	c21 = -5.6688
	c31 = -2.430093356833875
	c32 = -0.2063599157091915
	c41 = -0.1073529058151375
	c42 = -9.594562251023355
	c43 = -20.47028614809616
	c51 = 7.496443313967647
	c52 = -10.24680431464352
	c53 = -33.99990352819905
	c54 = 11.70890893206160
	c61 = 8.083246795921522
	c62 = -7.981132988064893
	c63 = -31.52159432874371
	c64 = 16.31930543123136
	c65 = -6.058818238834054

	d21 = 10.12623508344586
	d22 = -7.487995877610167
	d23 = -34.80091861555747
	d24 = -7.992771707568823
	d25 = 1.025137723295662
	d31 = -0.6762803392801253
	d32 = 6.087714651680015
	d33 = 16.43084320892478
	d34 = 24.76722511418386
	d35 = -6.594389125716872
)

// tryRosenbrock makes one RODAS4 step of size h into y1.
func (s *Solver) tryRosenbrock(h float64) float64 {
	r := &s.run
	n := s.n
	s.blocks.factorize(s.jac, 1/(h*gamma))
	r.stats.Factorizations++
	r.stats.Slopes += 5
	t, g := r.t, 1/h
	y, arg, rhs := r.y[:n], s.arg[:n], s.rhs[:n]
	u1, u2, u3, u4, u5 := s.stages[0][:n], s.stages[1][:n], s.stages[2][:n], s.stages[3][:n], s.stages[4][:n]

	clear(rhs)
	s.stage(s.f0, h*delta1, u1)
	for i, a := range u1 {
		arg[i] = y[i] + a21*a
		rhs[i] = g * (c21 * a)
	}
	r.sys.Slope(t+alpha2*h, arg, s.fs)
	s.stage(s.fs, h*delta2, u2)
	for i, a := range u1 {
		b := u2[i]
		arg[i] = y[i] + a31*a + a32*b
		rhs[i] = g * (c31*a + c32*b)
	}
	r.sys.Slope(t+alpha3*h, arg, s.fs)
	s.stage(s.fs, h*delta3, u3)
	for i, a := range u1 {
		b, c := u2[i], u3[i]
		arg[i] = y[i] + a41*a + a42*b + a43*c
		rhs[i] = g * (c41*a + c42*b + c43*c)
	}
	r.sys.Slope(t+alpha4*h, arg, s.fs)
	s.stage(s.fs, h*delta4, u4)
	for i, a := range u1 {
		b, c, d := u2[i], u3[i], u4[i]
		arg[i] = y[i] + a51*a + a52*b + a53*c + a54*d
		rhs[i] = g * (c51*a + c52*b + c53*c + c54*d)
	}
	r.sys.Slope(t+h, arg, s.fs)
	s.stage(s.fs, 0, u5)
	for i, a := range u1 {
		e := u5[i]
		arg[i] += e
		rhs[i] = g * (c61*a + c62*u2[i] + c63*u3[i] + c64*u4[i] + c65*e)
	}
	r.sys.Slope(t+h, arg, s.fs)
	return s.lastStage()
}

// stage solves (1/(h gamma) - J) u = f + rhs + hd df/dt.
func (s *Solver) stage(f []float64, hd float64, u []float64) {
	if hd != 0 && !s.run.sys.Autonomous {
		rhs := s.rhs[:len(s.ft)]
		for i, d := range s.ft {
			rhs[i] += hd * d
		}
	}
	s.blocks.solve(f, s.rhs, u)
}

// lastStage adds the sixth increment, which is also the error estimate, and
// returns its norm.
func (s *Solver) lastStage() float64 {
	n := s.n
	u6 := s.stages[5][:n]
	s.blocks.solve(s.fs, s.rhs, u6)
	y, arg, y1, atol, fs := s.run.y[:n], s.arg[:n], s.y1[:n], s.atol[:n], s.fs[:n]
	rtol, sum := s.rtol, 0.0
	for i, e := range u6 {
		z := arg[i] + e
		y1[i], fs[i] = z, e
		e /= atol[i] + rtol*max(math.Abs(y[i]), math.Abs(z))
		sum += e * e
	}
	s.run.denseKnown = false
	return math.Sqrt(sum / float64(n))
}

// denseError estimates the error of the dense output inside the step in hand, in units of what is allowed there: the residual of the differential
// equation, filtered by the step's matrix so that stiff components do not blow it
// up. A stiff component may follow a forcing term that the error of the step
// itself does not see.
func (s *Solver) denseError(h float64) float64 {
	if s.method != RODAS4 {
		return 0
	}
	const (
		theta   = 0.3 // not the middle, where the error may cancel
		allowed = 4   // tolerances, for an output an order below the method
	)
	r := &s.run
	s.interpolate(theta, s.dense)
	r.sys.Slope(r.t+theta*h, s.dense, s.arg)
	r.stats.Slopes++
	for i, f := range s.arg {
		rise := s.y1[i] - r.y[i] + (1-2*theta)*s.c2[i] + theta*(2-3*theta)*s.c3[i]
		s.arg[i] = f - rise/h
	}
	clear(s.rhs)
	u6 := s.stages[5]
	s.blocks.solve(s.arg, s.rhs, u6)
	return s.norm(u6) / allowed
}

// formDense prepares the dense output of the step in hand.
func (s *Solver) formDense() {
	if s.run.denseKnown {
		return
	}
	s.run.denseKnown = true
	if s.method == DormandPrince {
		s.denseDormandPrince()
		return
	}
	n := s.n
	u2, u3, u4, u5 := s.stages[1][:n], s.stages[2][:n], s.stages[3][:n], s.stages[4][:n]
	c2, c3 := s.c2[:n], s.c3[:n]
	for i, a := range s.stages[0][:n] {
		b, c, d, e := u2[i], u3[i], u4[i], u5[i]
		c2[i] = d21*a + d22*b + d23*c + d24*d + d25*e
		c3[i] = d31*a + d32*b + d33*c + d34*d + d35*e
	}
}

// formJacobian writes the Jacobian and the slope's derivative with respect to
// time at (t, y), where f0 is known.
func (s *Solver) formJacobian() {
	r := &s.run
	r.stats.Jacobians++
	if r.sys.Jacobian != nil {
		clear(s.jac)
		r.sys.Jacobian(r.t, r.y, s.jac)
	} else {
		s.differenceJacobian()
	}
	s.blocks.watch(s.jac)
	if !r.sys.Autonomous {
		s.differenceTime()
	}
}

const rootEpsilon = 0x1p-26

// differenceJacobian probes each component in the direction it moves, so that a
// concentration is not pushed below zero, by a part of its size or of what the
// step in hand would add.
func (s *Solver) differenceJacobian() {
	r := &s.run
	n := s.n
	copy(s.arg, r.y)
	for k, y := range r.y {
		d := rootEpsilon * max(math.Abs(y), r.h*math.Abs(s.f0[k]))
		if d == 0 {
			d = rootEpsilon * s.atol[k] / s.rtol
		}
		s.arg[k] = y + math.Copysign(d, s.f0[k])
		d = s.arg[k] - y
		r.sys.Slope(r.t, s.arg, s.fs)
		s.arg[k] = y
		for i, f := range s.fs {
			s.jac[i*n+k] = (f - s.f0[i]) / d
		}
	}
	r.stats.Slopes += n
}

// differenceTime probes the slope a little later, or earlier where later lies
// beyond the end of the interval.
func (s *Solver) differenceTime() {
	r := &s.run
	d := rootEpsilon * max(math.Abs(r.t), 1e-3*(r.t1-r.t))
	if r.t+d > r.t1 {
		d = -d
	}
	d = r.t + d - r.t
	r.sys.Slope(r.t+d, r.y, s.ft)
	r.stats.Slopes++
	for i, f := range s.f0 {
		s.ft[i] = (s.ft[i] - f) / d
	}
}
