package vessel

import (
	"spile/co2"
	"spile/limit"
	"spile/unit"
	"spile/working"
)

// OwnGas is beer that still makes gas under a working valve that stays free: what its last points leave in it.
type OwnGas struct {
	Gas
	Warm unit.Temperature // of the beer now
	Wish unit.Temperature // at which the gas is wished for; Warm: as it stands, colder: chilled shut
	Now  float64          // mol of CO2 in the vessel now
	Made float64          // mol that it still makes
}

// Setting is the absolute pressure at which the valve keeps enough for the wish: that at which a vessel that is then
// chilled shut holds so much. Error as that of co2.EquilibriumPressure.
func (o OwnGas) Setting(target unit.Volumes, w *working.Sheet) (unit.Pressure, error) {
	p, err := co2.EquilibriumPressure(o.Wish, target, o.Factor, w)
	if err != nil || o.Wish == o.Warm {
		return p, err
	}
	return o.AtRest(o.Warm, o.Content(o.Wish, p)), nil
}

// Reaches is the absolute pressure once so many mol are made under a valve that opens at opens; what is there already
// goes out too.
func (o OwnGas) Reaches(made float64, opens unit.Pressure) unit.Pressure {
	return min(o.AtRest(o.Warm, o.Now+made), opens)
}

// Keeps is the gas in the beer, at the temperature of the wish, that stood under p, absolute, while warm.
func (o OwnGas) Keeps(p unit.Pressure) unit.Volumes {
	if o.Wish != o.Warm {
		p = o.AtRest(o.Wish, o.Content(o.Warm, p))
	}
	return co2.Equilibrium(o.Wish, p, o.Factor, nil)
}

// Lacks is how many mol are still missing under that setting when all is made; negative: so much goes out.
func (o OwnGas) Lacks(setting unit.Pressure) float64 {
	return o.Content(o.Warm, setting) - o.Now - o.Made
}

// HighestSetting is what a working valve may be set to at most: below the weakest of the plates by its own error.
func HighestSetting(weakest unit.Gauge) unit.Gauge { return max(weakest-nineInTen*ValveSD, 0) }

// HighestValve is the one number above which the working valve is never set, by rating and safety valve. rated is false
// where no rating is known.
func HighestValve(rating, safety *unit.Gauge) (highest unit.Gauge, rated bool) {
	weakest, rated := limit.Weakest(rating, safety)
	return HighestSetting(weakest), rated
}
