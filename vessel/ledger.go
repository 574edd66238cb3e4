package vessel

import (
	"fmt"

	"spile/unit"
)

// ledger counts what crossed the walls since pitching: mol of gas, kg of beer.
type ledger struct {
	startCO2, startAir                    float64
	made, supplied, vented, leaked, drawn float64 // mol of CO2
	airIn, airOut                         float64 // mol
	vapour                                float64 // kg of water
	wort, water, extract, ethanol, yeast  float64 // kg drawn off with beer
}

// Ledger is the balance of carbon dioxide since pitching:
// Start + Made + Supplied = Dissolved + Headspace + Vented + Leaked + Drawn.
type Ledger struct {
	Start, Made, Supplied, Dissolved, Headspace, Vented, Leaked, Drawn unit.Mass
}

func (l *ledger) balance(s *State) Ledger {
	kg := func(mol float64) unit.Mass { return unit.Mass(mol * molarCO2) }
	return Ledger{
		Start: kg(l.startCO2), Made: kg(l.made), Supplied: kg(l.supplied),
		Dissolved: kg(s.Dissolved), Headspace: kg(s.HeadCO2),
		Vented: kg(l.vented), Leaked: kg(l.leaked), Drawn: kg(l.drawn),
	}
}

// StateError says that a run left what a vessel can be.
type StateError struct {
	Time   float64 // s since pitching
	Kelvin float64
	CO2    float64 // mol in the headspace
}

// Error is one line.
func (e *StateError) Error() string {
	return fmt.Sprintf("after %.1f h the vessel cannot be followed: %.4g K, %.4g mol of CO2 above the beer", e.Time/unit.Hour, e.Kelvin, e.CO2)
}
