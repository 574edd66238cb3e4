package ode

import "math"

// Coefficients of RODAS5P in the transformed form that needs no product with the
// Jacobian: gamma, time offsets of the stages (alpha), weights of the time
// derivative (delta), arguments (a), right-hand sides (c), dense output (d). From
// memory: TestCoefficients holds them to the conditions that the method was built to,
// TestOrder and TestStability to what it does. References: [Steinebach2023]
const (
	gamma  = 0.21193756319429014
	alpha2 = 0.6358126895828704
	alpha3 = 0.4095798393397535
	alpha4 = 0.9769306725060716
	alpha5 = 0.4288403609558664
	delta1 = 0.21193756319429014
	delta2 = -0.42387512638858027
	delta3 = -0.3384627126235924
	delta4 = 1.8046452872882734
	delta5 = 2.325825639765069

	a21 = 3.0
	a31 = 2.849394379747939
	a32 = 0.45842242204463923
	a41 = -6.954028509809101
	a42 = 2.489845061869568
	a43 = -10.358996098473584
	a51 = 2.8029986275628964
	a52 = 0.5072464736228206
	a53 = -0.3988312541770524
	a54 = -0.04721187230404641
	a61 = -7.502846399306121
	a62 = 2.561846144803919
	a63 = -11.627539656261098
	a64 = -0.18268767659942256
	a65 = 0.030198172008377946

	c21 = -14.155112264123755
	c31 = -17.97296035885952
	c32 = -2.859693295451294
	c41 = 147.12150275711716
	c42 = -1.41221402718213
	c43 = 71.68940251302358
	c51 = 165.43517024871676
	c52 = -0.4592823456491126
	c53 = 42.90938336958603
	c54 = -5.961986721573306
	c61 = 24.854864614690072
	c62 = -3.0009227002832186
	c63 = 47.4931110020768
	c64 = 5.5814197821558125
	c65 = -0.6610691825249471
	c71 = 30.91273214028599
	c72 = -3.1208243349937974
	c73 = 77.79954646070892
	c74 = 34.28646028294783
	c75 = -19.097331116725623
	c76 = -28.087943162872662
	c81 = 37.80277123390563
	c82 = -3.2571969029072276
	c83 = 112.26918849496327
	c84 = 66.9347231244047
	c85 = -40.06618937091002
	c86 = -54.66780262877968
	c87 = -9.48861652309627

	d21 = 25.948786856663858
	d22 = -2.5579724845846235
	d23 = 10.433815404888879
	d24 = -2.3679251022685204
	d25 = 0.524948541321073
	d26 = 1.1241088310450404
	d27 = 0.4272876194431874
	d28 = -0.17202221070155493
	d31 = -9.91568850695171
	d32 = -0.9689944594115154
	d33 = 3.0438037242978453
	d34 = -24.495224566215796
	d35 = 20.176138334709044
	d36 = 15.98066361424651
	d37 = -6.789040303419874
	d38 = -6.710236069923372
	d41 = 11.419903575922262
	d42 = 2.8879645146136994
	d43 = 72.92137995996029
	d44 = 80.12511834622643
	d45 = -52.072871366152654
	d46 = -59.78993625266729
	d47 = -0.15582684282751913
	d48 = 4.883087185713722
)

// tryRosenbrock makes one RODAS5P step of size h into y1.
func (s *Solver) tryRosenbrock(h float64) float64 {
	r := &s.run
	n := s.n
	s.blocks.factorize(s.jac, 1/(h*gamma))
	r.stats.Factorizations++
	r.stats.Slopes += 7
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
	r.sys.Slope(t+alpha5*h, arg, s.fs)
	s.stage(s.fs, h*delta5, u5)
	return s.lastStages(h)
}

// lastStages adds the increments at the end of the step, the last of which is also
// the error estimate, and returns its norm.
func (s *Solver) lastStages(h float64) float64 {
	n := s.n
	r := &s.run
	t, g := r.t+h, 1/h
	y, arg, rhs, fs, y1, atol := r.y[:n], s.arg[:n], s.rhs[:n], s.fs[:n], s.y1[:n], s.atol[:n]
	u1, u2, u3, u4, u5 := s.stages[0][:n], s.stages[1][:n], s.stages[2][:n], s.stages[3][:n], s.stages[4][:n]
	u6, u7, u8 := s.stages[5][:n], s.stages[6][:n], s.stages[7][:n]
	for i, a := range u1 {
		b, c, d, e := u2[i], u3[i], u4[i], u5[i]
		arg[i] = y[i] + a61*a + a62*b + a63*c + a64*d + a65*e
		rhs[i] = g * (c61*a + c62*b + c63*c + c64*d + c65*e)
	}
	r.sys.Slope(t, arg, fs)
	s.blocks.solve(fs, rhs, u6)
	for i, f := range u6 {
		arg[i] += f
		rhs[i] = g * (c71*u1[i] + c72*u2[i] + c73*u3[i] + c74*u4[i] + c75*u5[i] + c76*f)
	}
	r.sys.Slope(t, arg, fs)
	s.blocks.solve(fs, rhs, u7)
	for i, k := range u7 {
		arg[i] += k
		rhs[i] = g * (c81*u1[i] + c82*u2[i] + c83*u3[i] + c84*u4[i] + c85*u5[i] + c86*u6[i] + c87*k)
	}
	r.sys.Slope(t, arg, fs)
	s.blocks.solve(fs, rhs, u8)
	rtol, sum := s.rtol, 0.0
	for i, e := range u8 {
		z := arg[i] + e
		y1[i], fs[i] = z, e
		e /= atol[i] + rtol*max(math.Abs(y[i]), math.Abs(z))
		sum += e * e
	}
	r.denseKnown = false
	return math.Sqrt(sum / float64(n))
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

// denseError estimates the error of the dense output inside the step in hand, in
// units of what is allowed there: the residual of the differential equation, filtered
// by the step's matrix so that stiff components do not blow it up. A stiff component
// may follow a forcing term that the error of the step itself does not see. Of the
// explicit method's dense output it is asked only that it does not overflow.
func (s *Solver) denseError(h float64) float64 {
	if s.method != RODAS5P {
		s.formDense()
		if notFinite(s.c4) >= 0 {
			return math.Inf(1)
		}
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
		rise := s.y1[i] - r.y[i] + (1-2*theta)*s.c2[i] + theta*(2-3*theta)*s.c3[i] + 2*theta*(1-theta)*(1-2*theta)*s.c4[i]
		s.arg[i] = f - rise/h
	}
	clear(s.rhs)
	s.blocks.solve(s.arg, s.rhs, s.fs)
	return s.norm(s.fs) / allowed
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
	u2, u3, u4, u5, u6, u7, u8 := s.stages[1][:n], s.stages[2][:n], s.stages[3][:n], s.stages[4][:n], s.stages[5][:n], s.stages[6][:n], s.stages[7][:n]
	c2, c3, c4 := s.c2[:n], s.c3[:n], s.c4[:n]
	for i, a := range s.stages[0][:n] {
		b, c, d, e, f, g, k := u2[i], u3[i], u4[i], u5[i], u6[i], u7[i], u8[i]
		c2[i] = d21*a + d22*b + d23*c + d24*d + d25*e + d26*f + d27*g + d28*k
		c4[i] = -(d41*a + d42*b + d43*c + d44*d + d45*e + d46*f + d47*g + d48*k)
		c3[i] = d31*a + d32*b + d33*c + d34*d + d35*e + d36*f + d37*g + d38*k - c4[i]
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
