package ode

import "math"

// crossed tells whether a value that goes from a to b passes zero in the
// direction asked for. Having arrived at zero counts, having left it does not,
// so an event just fired does not fire again.
func crossed(direction int, a, b float64) bool {
	rises, falls := a < 0 && b >= 0, a > 0 && b <= 0
	return rises && direction >= 0 || falls && direction <= 0
}

// firstEvent returns the part of the step h after which the first event fires,
// or 2 when none does.
func (s *Solver) firstEvent(h float64) float64 {
	r := &s.run
	theta := 2.0
	for k := range r.events {
		a, b, ok := s.bracket(k, h)
		if ok {
			theta = min(theta, s.locate(k, h, a, b))
		}
		r.near[k], r.nearAt[k] = a.g, a.theta
	}
	for k, at := range r.nearAt {
		if at >= theta {
			r.near[k] = r.g[k] // its crossing comes later, if at all
		}
	}
	return theta
}

// probe is a part of the step in hand and the value of an event there.
type probe struct{ theta, g float64 }

// probe evaluates event k at the part theta of the step h.
func (s *Solver) probe(k int, h, theta float64) probe {
	s.interpolate(theta, s.dense)
	return probe{theta, s.run.events[k].Value(s.run.t+theta*h, s.dense)}
}

// expectedEvent tells how long it takes to the first event if the values go on as
// parabolas, infinity when none is in sight. A step that ends just beyond its event
// need not be made again, and does not run into what the event prevents.
func (s *Solver) expectedEvent() float64 {
	r := &s.run
	first := math.Inf(1)
	if r.trendH == 0 {
		return first
	}
	for k, g := range r.g {
		if d := r.events[k].Direction; g == 0 || g > 0 && d > 0 || g < 0 && d < 0 {
			continue
		}
		slope := r.trend[k] + 0.5*r.curve[k]*r.trendH
		first = min(first, reachZero(math.Abs(g), math.Copysign(slope, g*slope), math.Copysign(r.curve[k], g*r.curve[k])))
	}
	return first
}

// reachZero is the least x > 0 where g + slope x + curve x^2/2 = 0, with g > 0;
// infinity where there is none.
func reachZero(g, slope, curve float64) float64 {
	square := slope*slope - 2*g*curve
	if square < 0 {
		return math.Inf(1)
	}
	if x := 2 * g / (math.Sqrt(square) - slope); x > 0 {
		return x
	}
	return math.Inf(1)
}

// leaving is the part of a step after which a value that starts at zero, as that
// of an event just fired does, shows its side.
const leaving = 0.01

// bracket looks for two points of the step h between which event k fires. When it
// finds none, a is where the value starts from.
func (s *Solver) bracket(k int, h float64) (a, b probe, ok bool) {
	r := &s.run
	direction := r.events[k].Direction
	a, b = probe{0, r.g[k]}, probe{1, r.gNew[k]}
	if a.g == 0 {
		a = s.probe(k, h, leaving)
	}
	if crossed(direction, a.g, b.g) {
		return a, b, true
	}
	theta := s.turn(k, h)
	for try := 0; try < 3 && theta > 0 && theta < 1; try++ {
		v := s.probe(k, h, theta)
		if crossed(direction, a.g, v.g) {
			return a, v, true
		}
		if crossed(direction, v.g, b.g) {
			return v, b, true
		}
		theta = vertex(probe{0, r.g[k]}, v, probe{1, r.gNew[k]})
	}
	return a, b, false
}

// vertex is where the parabola through three probes turns towards zero, 0 where
// it does not.
func vertex(a, v, b probe) float64 {
	left, right := (v.g-a.g)/v.theta, (b.g-v.g)/(1-v.theta)
	curve := right - left // half the second derivative
	if curve*a.g <= 0 {
		return 0
	}
	return 0.5 * (v.theta - left/curve)
}

// turn tells where within the step h the value of event k may touch zero and turn
// back, 0 if nowhere: at the vertex of the parabola that this and the last step
// suggest, when it comes at least half way to zero. After a restart there is no
// last step, and the middle is looked at.
func (s *Solver) turn(k int, h float64) float64 {
	r := &s.run
	if r.trendH == 0 {
		return 0.5
	}
	g, mean := r.g[k], (r.gNew[k]-r.g[k])/h
	curve := 2 * (mean - r.trend[k]) / (h + r.trendH)
	if curve*g <= 0 {
		return 0
	}
	slope := mean - 0.5*curve*h // at the start of the step
	theta := -slope / (curve * h)
	least := math.Abs(g) - 0.5*slope*slope/math.Abs(curve) // beyond zero where negative
	if theta < -margin || theta > 1+margin || least > 0.5*max(math.Abs(g), math.Abs(r.gNew[k])) {
		return 0
	}
	return min(max(theta, 0.1), 0.9)
}

// margin is how far outside the step a vertex may be suggested and still be inside.
const margin = 0.25

// locate narrows the crossing of event k between a and b to a crumb of the step, or
// to rounding where that is more, and returns the far end, where the crossing has
// happened. It is the Illinois form of false position: an end that stays twice counts
// half. No probe comes closer to an end than the width asked for, so both ends close
// in. References: [DowellJarratt1971]
func (s *Solver) locate(k int, h float64, a, b probe) float64 {
	width := max(crumb, 4*epsilon*math.Abs(s.run.t)/h)
	sign, kept := math.Copysign(1, a.g), 0 // 1 when a, -1 when b stayed the last time
	for range 200 {
		if b.theta-a.theta <= 2*width || b.g == 0 {
			break
		}
		x := a.theta - a.g*(b.theta-a.theta)/(b.g-a.g)
		p := s.probe(k, h, min(max(x, a.theta+width), b.theta-width))
		if p.g*sign <= 0 {
			if b = p; kept > 0 {
				a.g /= 2
			}
			kept = 1
		} else {
			if a = p; kept < 0 {
				b.g /= 2
			}
			kept = -1
		}
	}
	return b.theta
}

// crumb is the part of a step to which events are located: so little that neither
// its error nor that of the dense output shows, yet above the rounding of the values,
// in which false position would lose its way.
const crumb = 1e-11

// fire lets every event act whose crossing lies within the step just committed,
// and prepares the restart.
func (s *Solver) fire() (stop bool, err error) {
	r := &s.run
	if err := s.eventValues(r.t, r.y, r.gNew); err != nil {
		return false, err
	}
	for k := range r.events {
		if !crossed(r.events[k].Direction, r.near[k], r.gNew[k]) {
			r.g[k] = math.Inf(1)
			continue
		}
		r.g[k] = r.gNew[k] // marks it as fired
		if s.pilesUp() {
			return false, s.fail(ErrEventsPileUp, r.lastH, k)
		}
		r.fired = k
		if r.events[k].Act(r.t, r.y) {
			return true, nil
		}
	}
	if err := s.eventValues(r.t, r.y, r.gNew); err != nil {
		return false, err
	}
	for k, g := range r.gNew {
		if r.g[k] == g {
			g = 0 // rounding past zero is no side
		}
		r.g[k] = g
	}
	return false, s.restart()
}

// pilesUp counts an event and tells whether too many came at one instant.
func (s *Solver) pilesUp() bool {
	r := &s.run
	r.stats.Events++
	if r.t-r.piledFrom > instant*(r.t1-r.t0) {
		r.piled, r.piledFrom = 0, r.t
	}
	r.piled++
	return r.piled > pileUp
}

// restart chooses the step after an event: the one that suited after the last
// firing of the same event, or a fresh start when there was none.
func (s *Solver) restart() error {
	r := &s.run
	r.lastH, r.trendH, r.retry = 0, 0, false
	if r.t >= r.t1 {
		return nil
	}
	if err := s.startSlope(); err != nil {
		return err
	}
	if r.fired >= 0 && r.restart[r.fired] > 0 {
		r.h = r.restart[r.fired]
		return nil
	}
	r.h = s.startingStep()
	return nil
}
