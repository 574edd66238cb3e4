package testode

import (
	"math"

	"spile/ode"
)

// State components of P2 after those of Beer.
const (
	dissolved = iota + beerStates // CO2 in the liquid c, mol/m3
	gasCO2                        // CO2 in the headspace nC, mol
	gasAir                        // air in the headspace nA, mol
	liquidT                       // temperature T, K
	vented                        // CO2 vented nV, mol
	heat                          // heater energy Qh, kJ
	kegStates
)

// Constants of P2: chosen for timing, no claim about any vessel.
const (
	liquid    = 0.021                   // V_L, m3
	headspace = 0.006                   // V_H, m3
	gasR      = 8.314462618             // J/(mol K)
	kLa       = 6.0                     // 1/h
	opens     = 1.7e5                   // Pa absolute
	blend     = 1e3                     // w, Pa: the valve opens smoothly over this
	valve     = 0.0125                  // Kv, mol/(h Pa)
	heater    = 30.0                    // W
	capacity  = 1010 * liquid * 4000    // C, J/K
	warmth    = 585 * liquid * 1000     // J per g/L of sugar used
	gasYield  = 0.5146 * 1000 / 44.0095 // mol/m3 of CO2 per g/L of sugar
	cooler    = 7.0                     // the kinetics see the liquid this much colder, K
	heaterOn  = 292.65                  // K, falling
	heaterOff = 293.65                  // K, rising
)

// keg is P2.
type keg struct {
	beer       Beer
	m          Member
	power      float64 // W, 0 or heater
	slopes     int
	henryT     float64                               // temperature that henry belongs to
	henry      float64                               // mol/(m3 Pa)
	solubility [nodesKept]struct{ t, henry float64 } // at the nodes used last
}

func newKeg(m Member) *keg {
	return &keg{m: m, beer: Beer{Sugar0: m.Sugar0, Growth: m.Growth, Uptake: m.Uptake}}
}

func (k *keg) start(y []float64) {
	k.power = 0
	clear(y)
	y[Active], y[Lagging], y[Dead], y[Sugar] = 0.08*k.m.Pitch, 1.92*k.m.Pitch, 2, k.m.Sugar0
	y[gasAir] = 101325 * headspace / (gasR * 293.15)
	y[liquidT] = 293.15
}

// events switch the heater on when the liquid has cooled and off when it has
// warmed; each looks only while it has something to switch.
func (k *keg) events() []ode.Event {
	to := func(power float64) func(float64, []float64) bool {
		return func(float64, []float64) bool { k.power = power; return false }
	}
	tooCold := func(_ float64, y []float64) float64 {
		if k.power > 0 {
			return 1
		}
		return y[liquidT] - heaterOn
	}
	tooWarm := func(_ float64, y []float64) float64 {
		if k.power == 0 {
			return -1
		}
		return y[liquidT] - heaterOff
	}
	return []ode.Event{{Value: tooCold, Direction: -1, Act: to(heater)}, {Value: tooWarm, Direction: 1, Act: to(0)}}
}

// henryAt is the solubility of CO2 at T, by way of the node nearest to T like the
// rate constants.
func (k *keg) henryAt(T float64) float64 {
	if T == k.henryT {
		return k.henry
	}
	const b = 2400
	i := int(T*perKelvin + 0.5)
	near := &k.solubility[i&(nodesKept-1)]
	at := float64(i) / perKelvin
	if near.t != at {
		near.t, near.henry = at, 3.3e-4*math.Exp(b*(1/at-1/298.15))
	}
	k.henryT, k.henry = T, near.henry*expNearZero(b*(at-T)/(at*T))
	return k.henry
}

// flow is the valve's flow in mol/h at the pressure P in pascals, with its
// derivative.
func flow(P float64) (q, dq float64) {
	d := P - opens
	switch {
	case d <= 0:
		return 0, 0
	case d < blend:
		return valve * d * d / (2 * blend), valve * d / blend
	}
	return valve * (d - 0.5*blend), valve
}

func (k *keg) slope(_ float64, y, d []float64) {
	k.slopes++
	_, _ = y[kegStates-1], d[kegStates-1]
	T, nC, n := y[liquidT], y[gasCO2], y[gasCO2]+y[gasAir]
	used := k.beer.slope(T-cooler, y, d)
	perMole := gasR * T / headspace // Pa/mol
	leaves := kLa * (y[dissolved] - k.henryAt(T)*nC*perMole)
	q, _ := flow(n * perMole)
	x := nC / n
	d[dissolved] = used*gasYield - leaves
	d[gasCO2] = leaves*liquid - q*x
	d[gasAir] = -q * (1 - x)
	d[liquidT] = 3600/capacity*(k.power-k.m.UA*(T-k.m.Air)) + warmth/capacity*used
	d[vented] = q * x
	d[heat] = 3.6 * k.power
}

func (k *keg) jacobian(_ float64, y, j []float64) {
	const n = kegStates
	T, nC, nA := y[liquidT], y[gasCO2], y[gasAir]
	b := k.beer.jacobian(T-cooler, y, j, n)
	for i, v := range b.column {
		j[i*n+liquidT] = v
	}
	henry, perMole := k.henryAt(T), gasR*T/headspace
	henryT := -henry * 2400 / (T * T)
	leavesC, leavesT := -kLa*henry*perMole, -kLa*nC*(henryT*perMole+henry*gasR/headspace)
	row := j[dissolved*n : dissolved*n+n]
	row[Active], row[Sugar] = gasYield*b.uptakeActive, gasYield*b.uptakeSugar
	row[dissolved], row[gasCO2], row[liquidT] = -kLa, -leavesC, gasYield*b.uptakeT-leavesT
	row = j[liquidT*n : liquidT*n+n]
	const warms = warmth / capacity
	row[Active], row[Sugar], row[liquidT] = warms*b.uptakeActive, warms*b.uptakeSugar, warms*b.uptakeT-3600/capacity*k.m.UA

	total := nC + nA
	q, dq := flow(total * perMole)
	per := 1 / total
	x, xC, xA := nC*per, nA*per*per, -nC*per*per
	qMole, qT := dq*perMole, dq*total*gasR/headspace
	outC, outA, outT := qMole*x+q*xC, qMole*x+q*xA, qT*x // derivatives of q x
	row = j[gasCO2*n : gasCO2*n+n]
	row[dissolved], row[gasCO2], row[gasAir], row[liquidT] = kLa*liquid, leavesC*liquid-outC, -outA, leavesT*liquid-outT
	row = j[gasAir*n : gasAir*n+n]
	row[gasCO2], row[gasAir], row[liquidT] = outC-qMole, outA-qMole, outT-qT
	row = j[vented*n : vented*n+n]
	row[gasCO2], row[gasAir], row[liquidT] = outC, outA, outT
}
