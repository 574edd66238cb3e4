package yeast

import "spile/wording"

import "spile/unit"

// Kind is a kind of yeast as a label says it.
type Kind string

// The kinds Spile knows; strains within a kind scatter, which the priors carry.
const (
	Ale           Kind = "ale"
	CleanAle      Kind = "clean ale"
	Lager         Kind = "lager"
	WarmFarmhouse Kind = "warm farmhouse"
)

// Wording is the kind as it is read.
func (k Kind) Wording() wording.Text { return wording.Text(k) }

// Kinds lists them in the order in which a choice is offered.
var Kinds = []Kind{Ale, CleanAle, Lager, WarmFarmhouse}

// Spread is the mean and the standard deviation of what strains of a kind do.
type Spread struct{ Mean, SD float64 }

// traits is what one kind is taken to be. Cardinal temperatures are defaults of
// this engine within the ranges of [Salvado2011] and [Foster2022]; attenuations
// are handbook values from memory, carried with their spread.
type traits struct {
	tMin, tOpt, tMax float64 // C
	attenuation      Spread  // apparent, fraction
	coldSlope        float64 // J/mol
	cells            float64 // wanted at pitching, 1e6 per mL and degree Plato
	low, high        float64 // C, ordinary fermenting temperatures
}

var kinds = map[Kind]traits{
	Ale:           {3, 30, 40, Spread{0.77, 0.04}, 85e3, 0.75, 18, 22},
	CleanAle:      {3, 30, 40, Spread{0.77, 0.04}, 85e3, 0.75, 15, 20},
	Lager:         {1, 27, 34, Spread{0.76, 0.04}, 60e3, 1.5, 8, 15},
	WarmFarmhouse: {5, 36, 43, Spread{0.82, 0.05}, 85e3, 0.5, 25, 40},
}

func (k Kind) traits() traits {
	t, ok := kinds[k]
	if !ok {
		return kinds[Ale]
	}
	return t
}

// Attenuation is the apparent attenuation limit of the kind in an ordinary wort.
func (k Kind) Attenuation() Spread { return k.traits().attenuation }

// Range is the ordinary fermenting temperature of the kind (common practice; 18 to 22 C for ales).
func (k Kind) Range() (low, high unit.Temperature) {
	t := k.traits()
	return unit.Celsius(t.low), unit.Celsius(t.high)
}

// Kinetics of an ordinary ferment of the kind: the medians over measured ferments
// at 17 to 22 C of one laboratory (derived), with the cardinal temperatures of the
// kind. An unknown kind is taken as ale. Error: the pace is uncertain by a factor
// of 1.6, the lag by two; the warm and the pressure branches have no measured check.
// References: [Rosso1993], [Salvado2011]
func (k Kind) Kinetics() Kinetics {
	t := k.traits()
	return Kinetics{
		Growth: 0.14 / unit.Hour, Uptake: 0.027 / unit.Hour, Start: 0.0085, HalfLeft: 0.15,
		TMin: float64(unit.Celsius(t.tMin)), TOpt: float64(unit.Celsius(t.tOpt)), TMax: float64(unit.Celsius(t.tMax)),
		WarmSlope: 57e3, ColdSlope: t.coldSlope,
		PressGrowth: 4 * unit.Bar, PressUptake: 12 * unit.Bar,
	}
}
