package ode

import (
	"math"

	"spile/portable"
)

const (
	safety      = 0.9
	wary        = 0.8   // the same after a rejection, where the estimate has just been too hopeful
	errorOrder  = 5.0   // power of the step with which both methods' error estimates fall
	growMost    = 8.0   // a step grows at most by this
	shrinkMost  = 0.2   // and shrinks at most to this part
	growRestart = 2.0   // the first step after an event from one firing to the next
	mostRoot    = 2.5   // by which an error far below the tolerance counts in the trend
	pileUp      = 100   // events at an instant before it is called an error
	instant     = 1e-10 // part of the interval that counts as one instant
	beyond      = 5e-3  // part by which a step is made longer than to its event
	closeBy     = 2e-2  // part of a step before its end where the dense output is as good as the end
	stretch     = 1.1   // part by which a step may be longer than proposed to reach an event
	failNoSlope = 0.1   // shrinking when a stage is not finite
)

// run is the state of one Integrate.
type run struct {
	sys        System
	events     []Event
	t0, t, t1  float64
	y          []float64
	h          float64
	slopeKnown bool // f0 (and the Jacobian) belong to (t, y)
	denseKnown bool // c2, c3, c4 belong to the step in hand
	retry      bool // the last try was rejected
	lastH      float64
	lastRoot   float64   // what root made of its error, at most mostRoot
	triedH     float64   // the try that was rejected last
	triedErr   float64   // and its error
	lastTried  float64   // step size of the step in hand
	g, gNew    []float64 // event values at t and at the end of the step
	near       []float64 // event values on the near side of a crossing in the step
	nearAt     []float64 // parts of the step where they were taken
	trend      []float64 // mean slopes of the event values over the last step
	curve      []float64 // their second derivatives by the last two steps, 0 after a restart
	trendH     float64   // length of the last step, 0 after a restart
	restart    []float64 // step that suited after the last firing of each event, 0 if none yet
	fired      int       // event whose restart step is being learnt, -1 if none
	piled      int       // events fired since piledFrom without time passing to speak of
	piledFrom  float64
	at         []float64
	next       int
	out        func(i int, t float64, y []float64)
	stats      Stats
}

// Integrate advances y in place from t0 to t1 and fires events on the way.
//
// at holds increasing output times; out is called for each that lies within
// [t0, t1], with its index, from the dense output (y is valid during the call
// only). At an instant where an event fires, out sees the state before Act.
// An error is a *Failure; y then holds the last accepted state, at Stats.End.
func (s *Solver) Integrate(sys System, events []Event, t0, t1 float64, y []float64, at []float64, out func(i int, t float64, y []float64)) (Stats, error) {
	if len(y) != s.n {
		panic("ode: length of y differs from the solver's")
	}
	err := s.begin(sys, events, t0, t1, y, at, out)
	for stop := false; err == nil && !stop && s.run.t < t1; {
		stop, err = s.advance()
	}
	stats := s.run.stats
	stats.End = s.run.t
	s.run.sys, s.run.events, s.run.y, s.run.at, s.run.out = System{}, nil, nil, nil, nil
	return stats, err
}

func (s *Solver) begin(sys System, events []Event, t0, t1 float64, y, at []float64, out func(int, float64, []float64)) error {
	r := &s.run
	*r = run{sys: sys, events: events, t0: t0, t: t0, t1: t1, piledFrom: t0, y: y, fired: -1, at: at, out: out,
		g: r.g, gNew: r.gNew, near: r.near, nearAt: r.nearAt, trend: r.trend, curve: r.curve, restart: r.restart}
	for _, v := range []*[]float64{&r.g, &r.gNew, &r.near, &r.nearAt, &r.trend, &r.curve, &r.restart} {
		*v = resized(*v, len(events))
		clear(*v)
	}
	if math.IsNaN(t1-t0) || math.IsInf(t1-t0, 0) || t1 < t0 {
		return s.fail(ErrInterval, 0, -1)
	}
	if s.method == RODAS5P {
		s.blocks.forget()
	}
	for r.next < len(at) && at[r.next] < t0 {
		r.next++
	}
	for ; r.next < len(at) && at[r.next] == t0; r.next++ {
		out(r.next, t0, y)
	}
	if err := s.eventValues(t0, y, r.g); err != nil || t0 == t1 {
		return err
	}
	if err := s.startSlope(); err != nil {
		return err
	}
	r.h = s.firstStep
	if r.h == 0 {
		r.h = s.startingStep()
	}
	return nil
}

// resized returns v with length n, allocating only when it must grow.
func resized(v []float64, n int) []float64 {
	if cap(v) < n {
		return make([]float64, n)
	}
	return v[:n]
}

func (s *Solver) fail(reason error, h float64, component int) error {
	return &Failure{Err: reason, T: s.run.t, Step: h, Component: component}
}

func (s *Solver) eventValues(t float64, y, g []float64) error {
	for k := range s.run.events {
		g[k] = s.run.events[k].Value(t, y)
		if math.IsNaN(g[k]) {
			return s.fail(ErrEventValue, 0, k)
		}
	}
	return nil
}

// startSlope makes f0, and for RODAS5P the Jacobian, belong to (t, y).
func (s *Solver) startSlope() error {
	r := &s.run
	if r.slopeKnown {
		return nil
	}
	r.sys.Slope(r.t, r.y, s.f0)
	r.stats.Slopes++
	if k := notFinite(s.f0); k >= 0 {
		return s.fail(ErrNotFinite, 0, k)
	}
	if s.method == RODAS5P {
		s.formJacobian()
	}
	r.slopeKnown = true
	return nil
}

// notFinite returns the index of the first NaN or infinity in v, or -1.
func notFinite(v []float64) int {
	sum := 0.0
	for _, x := range v {
		sum += x - x // 0, or NaN for what is not finite
	}
	if sum == 0 {
		return -1
	}
	for i, x := range v {
		if x-x != 0 {
			return i
		}
	}
	return -1
}

// advance makes one accepted step, shortened to the first event in it.
func (s *Solver) advance() (stop bool, err error) {
	r := &s.run
	if err := s.startSlope(); err != nil {
		return false, err
	}
	h, theta, err := s.stepToEvent()
	if err != nil {
		return false, err
	}
	tNew := s.timeAt(h, theta)
	s.emit(h, tNew)
	if theta < 1 {
		s.interpolate(theta, s.y1)
	}
	r.t = tNew
	copy(r.y, s.y1)
	r.slopeKnown = false
	if theta <= 1 {
		return s.fire()
	}
	s.followTrend(h)
	if s.method == DormandPrince {
		s.reuseLastSlope()
	}
	return false, nil
}

// followTrend moves the event values on by the step h.
func (s *Solver) followTrend(h float64) {
	r := &s.run
	for k, g := range r.gNew {
		mean := (g - r.g[k]) / h
		r.curve[k] = 0
		if r.trendH > 0 {
			r.curve[k] = 2 * (mean - r.trend[k]) / (h + r.trendH)
		}
		r.trend[k] = mean
	}
	r.trendH = h
	r.g, r.gNew = r.gNew, r.g
}

// timeAt is the time at the part theta of the step h; 1 and more mean its end.
func (s *Solver) timeAt(h, theta float64) float64 {
	r := &s.run
	if theta < 1 {
		return r.t + theta*h
	}
	if h == r.t1-r.t {
		return r.t1
	}
	return r.t + h
}

// stepToEvent makes a step that meets the tolerance and returns the part of it
// before the first event, 2 when there is none. Dense output is an order below
// the method, so a step with an event well before its end is made again up to just
// beyond it: what is left to the dense output is then a crumb.
func (s *Solver) stepToEvent() (h, theta float64, err error) {
	r := &s.run
	h, err = s.acceptedStep()
	for err == nil {
		if theta, err = s.eventWithin(h); err != nil || theta > 1-closeBy {
			return h, theta, err
		}
		shorter := theta * h * (1 + beyond)
		if r.t+shorter == r.t {
			return h, theta, nil
		}
		if e := s.try(shorter); e <= 1 {
			h = shorter
			continue
		} else { // shorter steps can be worse across a kink
			r.stats.Steps--
			s.reject(shorter, e)
		}
		h, err = s.acceptedStep()
	}
	return h, 0, err
}

// eventWithin returns the part of the step h before the first event in it, 2 when
// there is none.
func (s *Solver) eventWithin(h float64) (float64, error) {
	if len(s.run.events) == 0 {
		return 2, nil
	}
	if err := s.eventValues(s.timeAt(h, 1), s.y1, s.run.gNew); err != nil {
		return 0, err
	}
	return s.firstEvent(h), nil
}

// emit hands out the output times up to tNew.
func (s *Solver) emit(h, tNew float64) {
	r := &s.run
	for ; r.next < len(r.at) && r.at[r.next] <= tNew; r.next++ {
		theta := (r.at[r.next] - r.t) / h
		if r.at[r.next] == r.t1 {
			theta = 1
		}
		s.interpolate(theta, s.dense)
		r.out(r.next, r.at[r.next], s.dense)
	}
}

// acceptedStep tries steps until one meets the tolerance and proposes the next.
func (s *Solver) acceptedStep() (h float64, err error) {
	r := &s.run
	for {
		h = s.stepToTry()
		if r.stats.Steps+r.stats.Rejected >= s.maxSteps {
			return 0, s.fail(ErrTooManySteps, h, s.worst())
		}
		e := s.try(h)
		if e <= 1 && r.next < len(r.at) && r.at[r.next] < r.t+h {
			e = max(e, s.denseError(h))
		}
		if e <= 1 {
			r.stats.Steps++
			s.propose(h, e)
			return h, nil
		}
		s.reject(h, e)
		if r.t+r.h*0.1 == r.t {
			return 0, s.stuck(h, e)
		}
	}
}

// reject takes note of a step h whose error e is too large and proposes a shorter one.
// Where the last try failed too, the two errors tell the order by which they fall,
// which is far below that of the method across a kink. References: [Gustafsson1994]
func (s *Solver) reject(h, e float64) {
	r := &s.run
	r.stats.Rejected++
	order := errorOrder
	if r.retry && h < r.triedH && r.triedErr-r.triedErr == 0 { // finite
		order = min(max(math.Log(e/r.triedErr)/math.Log(h/r.triedH), 1), errorOrder)
	}
	r.retry, r.triedH, r.triedErr = true, h, e
	if math.IsNaN(e) || math.IsInf(e, 0) {
		r.h = h * failNoSlope
		return
	}
	r.h = h * max(shrinkMost, wary*portable.Pow(e, -1/order))
}

// stepToTry is the proposed step within its bounds; a step that would leave a
// crumb before t1 is stretched to it.
func (s *Solver) stepToTry() float64 {
	r := &s.run
	h, rest := r.h, r.t1-r.t
	if next := s.expectedEvent() * (1 + beyond); next < h || next < h*stretch && !r.retry {
		h = next
	}
	h = min(h, s.maxStep)
	if h*1.01 >= rest {
		return rest
	}
	return max(h, 4*epsilon*math.Abs(r.t))
}

func (s *Solver) stuck(h, e float64) error {
	if math.IsNaN(e) || math.IsInf(e, 0) {
		return s.fail(ErrNotFinite, h, notFinite(s.y1))
	}
	return s.fail(ErrStepTooSmall, h, s.worst())
}

// try makes a step of size h into y1 and returns its error in units of the tolerance.
func (s *Solver) try(h float64) float64 {
	if s.method == RODAS5P {
		return s.tryRosenbrock(h)
	}
	return s.tryDormandPrince(h)
}

// root turns an error into the factor by which an ideal step differs: its fifth
// root, inverted, as both methods' estimates fall with the fifth power of the step.
// Two steps of Newton's method on x^-5 = e from a guess by the bits leave 2e-4, far
// closer than an estimate is worth.
func root(e float64) float64 {
	const guess = 0x4cb9 << 48 // 6/5 of the bits of 1
	x := math.Float64frombits(guess - math.Float64bits(e)/5)
	for range 2 {
		square := x * x
		x *= 1.2 - 0.2*e*square*square*x
	}
	return x
}

// propose sets the next step from the error e of the step h just accepted,
// following Gustafsson's predictive control: the trend of the last two errors
// counts too. References: [HairerWanner1996], section IV.8
func (s *Solver) propose(h, e float64) {
	r := &s.run
	ideal := root(max(e, 1e-10))
	factor := safety * ideal
	if r.fired >= 0 {
		r.restart[r.fired] = h * min(max(factor, shrinkMost), growRestart)
		if r.retry {
			r.restart[r.fired] = min(r.restart[r.fired], h)
		}
		r.fired = -1
	} else if r.lastH > 0 {
		factor = min(factor, factor*h/r.lastH*ideal/r.lastRoot)
	}
	factor = min(max(factor, shrinkMost), growMost)
	if r.retry {
		factor = min(factor, 1)
	}
	r.lastH, r.lastRoot, r.retry = h, min(ideal, mostRoot), false
	r.h = h * factor
}

// worst is the component with the largest share in the error of the last try.
func (s *Solver) worst() int {
	at, most := -1, 0.0
	for i, e := range s.fs {
		if e = math.Abs(e) / (s.atol[i] + s.rtol*math.Abs(s.run.y[i])); e > most {
			at, most = i, e
		}
	}
	return at
}

// startingStep chooses a first step from slope and curvature.
// References: [HairerNorsettWanner1993], section II.4
func (s *Solver) startingStep() float64 {
	r := &s.run
	span := min(s.maxStep, r.t1-r.t)
	size, slope := s.norm(r.y), s.norm(s.f0)
	h := 1e-6 * span
	if size > 1e-5 && slope > 1e-5 {
		h = min(0.01*size/slope, span)
	}
	for i, y := range r.y {
		s.arg[i] = y + h*s.f0[i]
	}
	r.sys.Slope(r.t+h, s.arg, s.fs)
	r.stats.Slopes++
	for i := range s.fs {
		s.fs[i] -= s.f0[i]
	}
	curve := s.norm(s.fs) / h
	if math.IsNaN(curve) || math.IsInf(curve, 0) {
		return h * 1e-3
	}
	next := max(1e-6*span, 1e-3*h)
	if steep := max(slope, curve); steep > 1e-15 {
		next = root(steep / 0.01)
	}
	return min(100*h, next, span)
}

// norm is the root mean square of v in units of the tolerance at y.
func (s *Solver) norm(v []float64) float64 {
	sum := 0.0
	for i, x := range v {
		x /= s.atol[i] + s.rtol*math.Abs(s.run.y[i])
		sum += x * x
	}
	return math.Sqrt(sum / float64(s.n))
}

// interpolate writes the state at the part theta of the step in hand to dst,
// which may be y1.
func (s *Solver) interpolate(theta float64, dst []float64) {
	s.formDense()
	y, y1, c2, c3, c4 := s.run.y[:s.n], s.y1[:s.n], s.c2[:s.n], s.c3[:s.n], s.c4[:s.n]
	rest := 1 - theta
	for i := range dst[:s.n] {
		dst[i] = y[i] + theta*(y1[i]-y[i]+rest*(c2[i]+theta*(c3[i]+rest*c4[i])))
	}
}
