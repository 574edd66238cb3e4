package vessel

import (
	"math"

	"spile/unit"
)

var inf = math.Inf(1)

// core is what both closures share: one vessel, its contents, its settings, its ledger and the hand actions on it.
type core struct {
	p    Params
	brew brew
	s    State
	c    Controls
	l    ledger
	b    broken
	beta float64 // headspace gas per pressure at the end of the last step, mol/Pa

	heats propagator // of beer and the air around it, over the last step
}

// reset fills the vessel at pitching.
func (a *core) reset(p *Params) {
	a.p = *p
	a.brew = newBrew(float64(p.Original), p.Attenuation)
	a.s = start(&a.p, &a.brew)
	a.b = broken{}
	a.beta = a.s.headAt().beta
	a.c = Controls{Relief: 0, Gas: GasOff}
	a.l = ledger{startCO2: a.s.HeadCO2 + a.s.Dissolved, startAir: a.s.HeadAir}
}

// start is the state at pitching: wort without gas under air.
func start(p *Params, b *brew) State {
	s := State{X: p.Yeast.Start, Suspended: p.Yeast.Start, Left: 1, Temperature: float64(p.Start), Around: float64(p.Ambient),
		Usable: b.usable, Cylinder: float64(p.Cylinder), p: p, brew: b}
	s.Wort = float64(p.Liquid) / b.flat(0, s.Temperature)
	g := s.headAt()
	n := g.beta * (float64(p.Atmosphere) - g.vapour)
	s.HeadAir, s.HeadCO2 = n*p.Air, n*(1-p.Air)
	s.derive()
	return s
}

// State is the state now, valid until the next call.
func (a *core) State() *State {
	a.s.derive()
	return &a.s
}

// Ledger is the balance now.
func (a *core) Ledger() Ledger { return a.l.balance(&a.s) }

// sane says where the figures left the physical.
func (a *core) sane() error {
	s := &a.s
	if !(s.Temperature > 0 && s.HeadCO2 >= 0 && s.Left >= 0 && s.Dissolved >= 0) || math.IsInf(s.HeadCO2, 0) {
		return &StateError{Time: s.Time, Kelvin: s.Temperature, CO2: s.HeadCO2}
	}
	return nil
}

// Clearing of yeast from still beer (assumption, carried as uncertain): an e-fold in two and a half days; gas made at
// stirring, kg of extract used per kg of wort and second, halves it.
const (
	clearing = 1 / (2.5 * unit.Day)
	stirring = 2e-7
)

// settling is the rate in 1/s at which yeast leaves the suspension while used kg of extract a second ferments.
func (s *State) settling(used float64) float64 {
	stir := used / s.Wort / stirring
	return clearing / (1 + stir*stir)
}

// settings of the fittings as conductances, mol/(s Pa), and the absolute pressures at which they begin to flow.
type settings struct {
	leak, relief, safety, regulator float64
	air, opens, safe, set           float64
	bothWays                        bool // the working valve is open, and air comes in as well
}

// fitted reads the fittings as set now; a valve's pressure is where it first opens.
func (a *core) fitted() settings {
	p := &a.p
	f := settings{leak: p.Leak, air: float64(p.Atmosphere)}
	switch relief := a.relief(); {
	case relief == 0:
		f.relief, f.opens, f.bothWays = p.ReliefFlow, f.air, true
	case float64(relief) < inf:
		f.relief, f.opens = p.ReliefFlow, max(p.opens(relief), f.air)
	}
	if p.SafetyRelief > 0 {
		f.safety, f.safe = 10*p.ReliefFlow, float64(p.SafetyRelief.Absolute(p.Atmosphere))
	}
	if gas := a.feeds(); gas >= 0 && a.s.Cylinder > 0 {
		f.regulator, f.set = p.RegulatorConduct, float64(gas.Absolute(p.Atmosphere))
	}
	return f
}

// reseats is how far below its opening pressure a valve closes, Pa. A valve set nearer to the air than that simmers:
// it opens and closes at the same pressure.
func (a *core) reseats(opens float64) float64 {
	if band := float64(a.p.ReliefReseat); opens-float64(a.p.Atmosphere) > band {
		return band
	}
	return 0
}

// vapour is the water, kg, that goes with mol of dry gas let out of a headspace of so much dry gas and water vapour, Pa.
func vapour(mol, dry, wet float64) float64 { return mol * wet / max(dry, 1) * molarH2O }

// supply takes up to mol from the cylinder and gives what it gave.
func (a *core) supply(mol float64) float64 {
	given := min(mol, a.s.Cylinder/molarCO2)
	a.s.Cylinder = max(a.s.Cylinder-given*molarCO2, 0)
	a.l.supplied += given
	return given
}

// release lets mol of head gas go at its composition; a negative amount comes in as air.
func (a *core) release(mol float64) {
	s := &a.s
	if mol < 0 {
		s.HeadAir -= mol
		a.l.airIn -= mol
		return
	}
	n, g := s.HeadCO2+s.HeadAir, s.headAt()
	share := min(mol/n, 1)
	co2Out, airOut := s.HeadCO2*share, s.HeadAir*share
	s.HeadCO2 -= co2Out
	s.HeadAir -= airOut
	a.l.vented += co2Out
	a.l.airOut += airOut
	a.dry(vapour(mol, n/g.beta, g.vapour))
}

// dry books water that left as vapour.
func (a *core) dry(kg float64) {
	a.s.WaterLost += kg
	a.l.vapour += kg
}

// over is the pressure of CO2 above one atmosphere, Pa, by which the yeast is slowed.
func (a *core) over() float64 { return a.s.HeadCO2/a.beta - unit.Atmosphere }
