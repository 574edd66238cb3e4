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
		if r.g[k] == 0 {
			r.g[k] = s.valueAt(k, h, leaving)
		}
		if !crossed(r.events[k].Direction, r.g[k], r.gNew[k]) {
			continue
		}
		if theta > 1 {
			theta = s.locate(k, h, 1, r.gNew[k])
		} else if g := s.valueAt(k, h, theta); crossed(r.events[k].Direction, r.g[k], g) {
			theta = s.locate(k, h, theta, g)
		}
	}
	return theta
}

// leaving is the part of a step after which a value that starts at zero, as that
// of an event just fired does, shows its side.
const leaving = 0.01

// valueAt is the value of event k at the part theta of the step h.
func (s *Solver) valueAt(k int, h, theta float64) float64 {
	s.interpolate(theta, s.dense)
	return s.run.events[k].Value(s.run.t+theta*h, s.dense)
}

// locate narrows the crossing of event k within (0, b] to rounding and returns
// the far end, where the crossing has happened. It is the Illinois form of false
// position; no probe comes closer to an end than the width asked for, so both
// ends close in. References: [DowellJarratt1971]
func (s *Solver) locate(k int, h, b, gb float64) float64 {
	a, ga := 0.0, s.run.g[k]
	width := 4 * epsilon * max(1, math.Abs(s.run.t)/h)
	sign := math.Copysign(1, ga)
	for range 200 {
		if b-a <= 2*width || gb == 0 {
			break
		}
		x := a - ga*(b-a)/(gb-ga)
		x = min(max(x, a+width), b-width)
		g := s.valueAt(k, h, x)
		if g*sign <= 0 {
			b, gb, ga = x, g, ga/2
		} else {
			a, ga, gb = x, g, gb/2
		}
	}
	return b
}

// fire lets every event act whose crossing lies within the step just committed,
// and prepares the restart.
func (s *Solver) fire() (stop bool, err error) {
	r := &s.run
	if err := s.eventValues(r.t, r.y, r.gNew); err != nil {
		return false, err
	}
	for k := range r.events {
		if !crossed(r.events[k].Direction, r.g[k], r.gNew[k]) {
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
	r.lastH, r.retry = 0, false
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
