package vessel

import "math"

const (
	mostPieces = 12   // regimes of the fittings within one step
	airCounts  = 1e-3 // share of air in the headspace from which its sweeping out is followed within a step
	compressed = 1e-3 // change of the headspace's gas per pressure from which a step is done again
	byTangent  = 100  // Pa to a threshold that a tangent may span
	atOnce     = 1e-2 // part of a step in which a threshold is passed at once
	onEdge     = 1e-3 // Pa within which a pressure counts as on a threshold
)

// exchange advances the gas of the vessel by h seconds while made mol/s of CO2 are made, with the extra transfer of
// shaking, 1/s. The fittings flow in regimes, each solved exactly up to where the pressure leaves it.
func (a *core) exchange(f *settings, made, shaking, h float64) {
	g := a.s.gasAt()
	s, l := a.s, a.l
	a.pieces(*f, &g, made, shaking, h)
	a.beta = a.s.headAt().beta
	if math.Abs(a.beta-g.beta) > compressed*g.beta { // once more with the compressibility it came to
		g = a.s.gasAt()
		a.s, a.l = s, l
		a.pieces(*f, &g, made, shaking, h)
		a.beta = a.s.headAt().beta
	}
}

func (a *core) pieces(f settings, g *gas, made, shaking, h float64) {
	for range mostPieces {
		h -= a.piece(&f, g, made, shaking, h)
		if h <= 0 {
			return
		}
	}
	// what is left is far below any instrument; a cylinder that gives its last runs no time, so once more without it
	films := a.s.films(g, made, shaking)
	if a.carry(&f, g, &films, h, false) == 0 {
		films = a.s.films(g, made, shaking)
		a.carry(&f, g, &films, h, false)
	}
}

// films lays out the linear problem at the state as it stands; the fittings are left to the caller.
func (s *State) films(g *gas, made, shaking float64) twoFilms {
	air, dry := s.HeadAir/g.beta, (s.HeadCO2+s.HeadAir)/g.beta
	surface := s.film(s.Dissolved-g.alpha*(dry-air), g.volume) + shaking
	bubbling := s.bubbles(s.Dissolved-g.alpha*dry, made, g.volume)
	k := surface + bubbling
	return twoFilms{made: made, k: k, alpha: g.alpha, beta: g.beta, p0: g.vapour + surface/k*air}
}

// piece runs up to h seconds in one regime and gives how many it ran.
func (a *core) piece(f *settings, g *gas, made, shaking, h float64) float64 {
	s := &a.s
	films := a.s.films(g, made, shaking)
	if n := s.HeadCO2 + s.HeadAir; s.HeadAir > airCounts*n {
		a.midAir(f, g, &films, h)
	}
	return a.carry(f, g, &films, h, true)
}

// midAir takes the air above the beer at mid-step instead of at its start.
func (a *core) midAir(f *settings, g *gas, films *twoFilms, h float64) {
	s := &a.s
	q, n1, _ := a.span(f, g, films, h, false)
	if q.supply > s.Cylinder/molarCO2 {
		return
	}
	in, swept := q.air(s.HeadAir, s.HeadCO2+s.HeadAir, n1)
	air := s.HeadAir + (in - swept)
	films.p0 += (films.p0 - g.vapour) * 0.5 * (air/s.HeadAir - 1)
}

// span is what flows in up to h seconds in the regime of the pressure as it stands, the dry gas that the headspace then
// holds, mol, and how many seconds it ran: fewer where stop says to stay within the regime.
func (a *core) span(f *settings, g *gas, films *twoFilms, h float64, stop bool) (q flows, n1, ran float64) {
	s := &a.s
	n0 := s.HeadCO2 + s.HeadAir
	nd, p, h, within := films.run(f, s.Dissolved, g.vapour+n0/g.beta, h, stop)
	n1 = g.beta * (p - g.vapour)
	net := films.made*h + s.Dissolved - nd + n0 - n1
	return f.split(net, films.conduct, films.source, h, within), n1, h
}

// carry runs such a span, books all flows and gives how many seconds it ran.
func (a *core) carry(f *settings, g *gas, films *twoFilms, h float64, stop bool) float64 {
	s := &a.s
	q, n1, h := a.span(f, g, films, h, stop)
	if left := s.Cylinder / molarCO2; q.supply > left {
		f.regulator = 0 // the cylinder gives its last
		s.HeadCO2 += a.supply(left)
		return 0
	}
	a.book(q, g, n1, films.made*h)
	return h
}

// run gives the CO2 in the beer and the pressure up to h seconds on, how many seconds it ran, and a pressure within the
// regime in which it ran. A threshold near by that the pressure passes at once counts as passed: where the ferment or the warmth
// of a step moved a pressure that a fitting holds, the fitting takes it back.
func (f *twoFilms) run(fit *settings, nd0, p0, h float64, stop bool) (nd, p, ran, within float64) {
	var low, high float64
	within = p0 + onEdge // a pressure on a threshold belongs to the side it moves to
	f.conduct, f.source, low, high = fit.regime(within)
	if _, dp := f.slope(nd0, p0); dp < 0 {
		within = p0 - onEdge
		f.conduct, f.source, low, high = fit.regime(within)
	}
	for passed := false; ; passed = true {
		nd, p = f.after(nd0, p0, h)
		edge := p
		if p < low {
			edge = low
		} else if p > high {
			edge = high
		}
		if !stop || math.Abs(p0-edge) <= onEdge || (p0-edge)*(p-edge) >= 0 {
			return nd, p, h, within
		}
		ran = f.reach(nd0, p0, edge, h, p)
		if passed || ran > atOnce*h || math.Abs(p0-edge) > byTangent {
			nd, _ = f.after(nd0, p0, ran)
			return nd, edge, ran, within
		}
		within = edge + math.Copysign(onEdge, edge-p0)
		f.conduct, f.source, low, high = fit.regime(within)
	}
}

// reach is when the pressure, on its way from p0 to p1 in h seconds, passes edge: along the tangent where that is
// near, else by the Illinois form of false position.
func (f *twoFilms) reach(nd, p0, edge, h, p1 float64) float64 {
	if math.Abs(p0-edge) < byTangent {
		if _, dp := f.slope(nd, p0); (edge-p0)*dp > 0 {
			return min((edge-p0)/dp, h)
		}
	}
	a, fa, b, fb := 0.0, p0-edge, h, p1-edge
	kept := 0 // 1 when a, -1 when b stayed the last time
	for range 60 {
		t := b - fb*(b-a)/(fb-fa)
		_, p := f.after(nd, p0, t)
		d := p - edge
		if math.Abs(d) < onEdge || b-a < 1e-9*h {
			return t
		}
		if (d > 0) == (fb > 0) {
			if b, fb = t, d; kept > 0 {
				fa *= 0.5
			}
			kept = 1
		} else {
			if a, fa = t, d; kept < 0 {
				fb *= 0.5
			}
			kept = -1
		}
	}
	return b
}

// out is what leaves by the leak and by valves.
func (q *flows) out() (leak, valve float64) {
	return max(q.leak, 0), max(q.relief, 0) + max(q.safety, 0)
}

// air is what comes in, and what of so much in the headspace is swept out with what leaves, as in a mixed vessel, while its dry
// gas goes from n0 to n1 mol.
func (q *flows) air(held, n0, n1 float64) (in, swept float64) {
	leak, valve := q.out()
	out := leak + valve
	x := 2 * out / (n0 + n1)
	return max(-q.leak, 0) + max(-q.relief, 0), min(held*min(x*phi(-x), 1), out) // no more air goes than goes in all
}

// book moves the gas of one span: the headspace then holds n1 mol of dry gas and the beer the rest of the CO2.
func (a *core) book(q flows, g *gas, n1, made float64) {
	s, l := &a.s, &a.l
	a.supply(max(q.supply, 0))
	n0 := s.HeadCO2 + s.HeadAir
	in, swept := q.air(s.HeadAir, n0, n1)
	leak, valve := q.out()
	out := leak + valve
	co2Before := s.HeadCO2 + s.Dissolved + made + max(q.supply, 0)
	co2Out := min(out-swept, co2Before)
	s.HeadAir += in - swept
	l.airIn += in
	l.airOut += swept
	if out > 0 {
		l.vented += co2Out * valve / out
		l.leaked += co2Out * leak / out
		lost := vapour(out, 0.5*(n0+n1)/g.beta, g.vapour)
		a.dry(lost)
	}
	s.HeadCO2 = max(n1-s.HeadAir, 0)
	s.Dissolved = max(co2Before-co2Out-s.HeadCO2, 0)
	s.HeadCO2 = co2Before - co2Out - s.Dissolved
	s.Made += made
	l.made += made
}
