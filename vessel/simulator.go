package vessel

import "spile/unit"

// Simulator is what both closures offer: set, advance, look, and the brewer's hand actions, each of which conserves mass.
type Simulator interface {
	Set(Controls)
	Advance(t float64) error // to t seconds since pitching
	State() *State           // valid until the next call
	Vent(from, to unit.Gauge)
	Sample(unit.Volume)
	Pour(unit.Volume)
	Open()
	Shake(seconds float64)
	Dose(unit.Mass)
	DryHop(m unit.Mass, extra float64)
	PointsPerDay() float64
	Break(Fault)
	Ledger() Ledger
}
