package vessel

import "math"

// twoFilms is the gas of a vessel in one regime of its fittings, linear in the CO2 in the beer n_d (mol) and the pressure P (Pa):
//
//	dn_d/dt = r - k n_d + k alpha (P - p0)
//	dP/dt   = (k n_d - k alpha (P - p0) - L P + S)/beta
//
// r is the CO2 made, p0 what of the pressure is not CO2, L the conductance of the fittings that flow and S their
// conductances times the pressures at which each begins. Solved exactly, so no step is too long.
type twoFilms struct {
	made, k, alpha, beta, p0 float64    // r mol/s, k 1/s, mol/Pa, mol/Pa, Pa
	conduct, source          float64    // L mol/(s Pa), S mol/s
	last                     propagator // that after asked for last
}

// slope is the rate of change of n_d and P.
func (f *twoFilms) slope(nd, p float64) (dnd, dp float64) {
	flux := f.k * (nd - f.alpha*(p-f.p0))
	return f.made - flux, (flux - f.conduct*p + f.source) / f.beta
}

// after gives n_d and P after h seconds.
func (f *twoFilms) after(nd, p, h float64) (nd1, p1 float64) {
	m := pair{-f.k, f.k * f.alpha, f.k / f.beta, -(f.k*f.alpha + f.conduct) / f.beta}
	if f.last.m != m || f.last.h != h {
		half := 0.5 * (m.a + m.d)
		fast := half - math.Sqrt(0.25*(m.a-m.d)*(m.a-m.d)+m.b*m.c)
		slow := f.k * f.conduct / f.beta / fast // a d - b c without its cancellation
		f.last = between(m, h, fast, slow)
	}
	dnd, dp := f.slope(nd, p)
	return f.last.advance(nd, p, dnd, dp)
}

// regime is which fittings flow about pressure p, and the pressures between which that stays so.
func (f *settings) regime(p float64) (conduct, source, low, high float64) {
	conduct, source = f.leak, f.leak*f.air
	low, high = math.Inf(-1), math.Inf(1)
	edge := func(level float64) bool {
		up := p > level
		if up && level > low {
			low = level
		}
		if !up && level < high {
			high = level
		}
		return up
	}
	if f.relief > 0 && (f.bothWays || edge(f.opens)) {
		conduct, source = conduct+f.relief, source+f.relief*f.opens
	}
	if f.safety > 0 && edge(f.safe) {
		conduct, source = conduct+f.safety, source+f.safety*f.safe
	}
	if f.regulator > 0 && !edge(f.set) {
		conduct, source = conduct+f.regulator, source+f.regulator*f.set
	}
	return conduct, source, low, high
}

// flows is what passed each fitting in a span of h seconds, mol of dry gas, outward positive but for the supply.
type flows struct{ leak, relief, safety, supply float64 }

// split shares the net outflow of a span among the fittings that flowed, exactly: each its conductance times the
// integral of the pressure over its threshold. p is a pressure of the regime.
func (f *settings) split(net, conduct, source, h, p float64) flows {
	if conduct == 0 {
		return flows{}
	}
	integral := (net + source*h) / conduct // of P
	part := func(c, level float64) float64 { return c * (integral - level*h) }
	above := func(level float64) bool { return p > level }
	var q flows
	if f.leak > 0 {
		q.leak = part(f.leak, f.air)
	}
	if f.relief > 0 && (f.bothWays || above(f.opens)) {
		q.relief = part(f.relief, f.opens)
	}
	if f.safety > 0 && above(f.safe) {
		q.safety = part(f.safety, f.safe)
	}
	if f.regulator > 0 && !above(f.set) {
		q.supply = -part(f.regulator, f.set)
	}
	q.close(net)
	return q
}

// close puts what rounding left over on the greatest flow, so that the flows add up to net.
func (q *flows) close(net float64) {
	rest := net - (q.leak + q.relief + q.safety - q.supply)
	switch m := max(max(math.Abs(q.leak), math.Abs(q.relief)), max(math.Abs(q.safety), math.Abs(q.supply))); m {
	case math.Abs(q.relief):
		q.relief += rest
	case math.Abs(q.supply):
		q.supply -= rest
	case math.Abs(q.safety):
		q.safety += rest
	default:
		q.leak += rest
	}
}
