package vessel

import (
	"math"

	"spile/co2"
	"spile/dispense"
	"spile/portable"
	"spile/unit"
	"spile/yeast"
)

// Params is one vessel, what was put in, and the truth about its fittings. Standard fills in what is usual.
type Params struct {
	Capacity    unit.Volume  // total inside
	Diameter    unit.Length  // of the free surface
	Liquid      unit.Volume  // wort at pitching, at Start
	Original    unit.Extract // extract of the wort, mass fraction
	Attenuation float64      // apparent attenuation at the limit, 0..1
	Yeast       yeast.Kinetics
	Start       unit.Temperature // of the wort at pitching
	Atmosphere  unit.Pressure
	Air         float64 // share of the dry headspace gas that is air at pitching; the rest is CO2
	Beer        co2.BeerFactor

	// KLaStill is the transfer of still beer, 1/s at 1 C and a gap of one volume from equilibrium; see StillKLa.
	KLaStill float64
	// KLaBubbling is what bubbles add, 1/s per mol/(m3 s) of gas made (m3/mol). At full
	// ferment the beer then holds 1/KLaBubbling mol/m3 more than its equilibrium.
	KLaBubbling float64

	UA               unit.Conductance           // beer to the air around it
	Ambient          unit.Temperature           // room, the mean of the day
	Swing            unit.TemperatureDifference // of the room, either way of its mean over a day; 0: none
	Fridge           *Fridge                    // nil: none
	Belt             unit.Power                 // heat belt; 0: none
	HoldBand         unit.TemperatureDifference // of the thermostat, to either side
	Leak             float64                    // to the outside, mol/(s Pa)
	ReliefFlow       float64                    // of the open valve, mol/(s Pa) above its closing pressure
	ReliefReseat     unit.Gauge                 // how far below its opening pressure the valve closes
	ReliefOffset     unit.Gauge                 // true opening pressure less set point
	SafetyRelief     unit.Gauge                 // 0: none
	Cylinder         unit.Mass                  // CO2 in the cylinder at pitching; 0: none
	RegulatorConduct float64                    // mol/(s Pa) below its set pressure
	Tap              *dispense.Line             // the full closure pours through it; nil: a pour is done at once
}

// Fridge is a cold place around the vessel: its own air, a compressor that cycles, a wall to the room.
type Fridge struct {
	Coldest  unit.Temperature // lowest air temperature
	Capacity unit.Power       // of heat lifted while the compressor runs
	UA       unit.Conductance // air to the room
	Heat     float64          // J/K of air, shelves and lining
	Rest     unit.Duration    // shortest stop of the compressor
	Aside    bool             // the vessel is put into it only while a temperature is wanted, and else stands in the room
}

// around is the fridge that the vessel stands in under c, nil for none.
func (p *Params) around(c *Controls) *Fridge {
	if f := p.Fridge; f != nil && f.Aside && c.Hold == 0 {
		return nil
	}
	return p.Fridge
}

// Controls is what a brewer sets.
type Controls struct {
	Hold unit.Temperature // wanted beer temperature; 0: left to the room
	// Track, where given, is the beer temperature in K at a time in s since pitching, followed exactly instead of the heat balance.
	Track  func(t float64) float64
	Relief unit.Gauge // set point of the working valve; 0: open both ways; +Inf: shut, stuck or foamed shut
	Gas    unit.Gauge // regulator; GasOff or any negative pressure: off
}

// GasOff is the setting of a regulator that is shut.
const GasOff unit.Gauge = -1

// Usual values of fittings, from the trade where no source is named (common practice, no source).
const (
	usualReseat     = 0.4 * unit.PSI
	usualReliefFlow = 2e-6 // mol/(s Pa): 16 L/min of gas at 1 psi above closing
	usualRegulator  = 1e-6 // mol/(s Pa)
	usualHoldBand   = 0.1  // K to either side
	// BubblingKLa leaves 12 mol/m3, a fifth of the equilibrium at 20 C and 10 psi: the 10 to 30 % by which fermenting
	// beer is usually supersaturated. No curve was found; carry it as uncertain by half.
	BubblingKLa = 0.08 // m3/mol
)

// UsualUA is the heat conductance of a bare vessel of v litres in still air: 3.4 to 4.3 W/K at 20 to 23 L, scaled
// by surface. Error 25 %; a jacket of foam divides it by five.
// References: [ChurchillChu1975]
func UsualUA(v unit.Volume) unit.Conductance {
	return unit.Conductance(3.9 * portable.Pow(float64(v)/(25*unit.Litre), 2.0/3))
}

// Standard is a vessel with usual fittings: everything not named here may be changed afterwards.
func Standard(capacity unit.Volume, diameter unit.Length, liquid unit.Volume, original unit.Extract, kind yeast.Kind, start, ambient unit.Temperature, atmosphere unit.Pressure) Params {
	p := Params{
		Capacity: capacity, Diameter: diameter, Liquid: liquid, Original: original,
		Attenuation: kind.Attenuation().Mean, Yeast: kind.Kinetics(),
		Start: start, Atmosphere: atmosphere, Air: 1,
		KLaBubbling: BubblingKLa, UA: UsualUA(capacity), Ambient: ambient, HoldBand: usualHoldBand,
		ReliefFlow: usualReliefFlow, ReliefReseat: usualReseat, RegulatorConduct: usualRegulator,
	}
	p.KLaStill = StillKLa(liquid, diameter)
	return p
}

// UsualFridge is a household fridge that holds one or two vessels.
func UsualFridge(coldest unit.Temperature) *Fridge {
	return &Fridge{Coldest: coldest, Capacity: 90, UA: 1.2, Heat: 4e3, Rest: 3 * unit.Minute}
}

// opens is the absolute pressure at which the working valve opens under setting s.
func (p *Params) opens(s unit.Gauge) float64 {
	return float64(s + p.ReliefOffset + unit.Gauge(p.Atmosphere))
}

// room is the air of the room in K: a daily wave around Ambient, warmest at 15 h of a day that starts at pitching.
func (p *Params) room(t float64) float64 {
	if p.Swing == 0 {
		return float64(p.Ambient)
	}
	return float64(p.Ambient) + float64(p.Swing)*math.Sin(2*math.Pi*(t/unit.Day-0.375))
}
