package vessel

import (
	"spile/co2"
	"spile/unit"
	"spile/wort"
)

// State is what is in the vessel at one moment, SI. The fields after Diacetyl are worked out from those before when the state is asked for.
type State struct {
	Time         float64 // s since pitching
	X            float64 // yeast activity, relative to a full crop
	Left         float64 // fermentable extract left, share of all that can ferment
	Suspended    float64 // yeast in suspension, relative to a full crop
	Temperature  float64 // K, of the beer
	Around       float64 // K, of the air around the vessel
	Dissolved    float64 // mol of CO2 in the beer
	HeadCO2      float64 // mol
	HeadAir      float64 // mol, dry
	Wort         float64 // kg of wort that the beer in the vessel was made from
	Usable       float64 // kg of extract per kg of wort that can ferment
	WaterLost    float64 // kg that left as vapour, of the beer still there
	Hops         float64 // kg put in dry
	Cylinder     float64 // kg of CO2 left in the cylinder
	Made         float64 // mol of CO2 made so far
	Rate         float64 // mol/s of CO2 made now
	Acetolactate float64 // kg/m3 of the diketones' forerunner
	Diacetyl     float64 // kg/m3, vicinal diketones

	Oxygen     float64 // mol in the headspace
	Liquid     float64 // m3, of beer with its gas
	LiquidMass float64 // kg, of beer with its gas, yeast included
	Ethanol    float64 // kg
	Extract    float64 // kg, real, left in the beer
	Full       bool    // hydraulically full: no headspace left, pressure is a lower bound

	p    *Params
	brew *brew
	at   warmth
}

// derive fills in the derived fields.
func (s *State) derive() {
	u := s.used()
	s.Oxygen = oxygenAir * s.HeadAir
	s.Liquid = s.volume()
	s.LiquidMass = s.Wort*(1-wort.CO2PerExtract*u) - s.WaterLost + s.Dissolved*molarCO2
	s.Ethanol = s.Wort * wort.EthanolPerExtract * u
	s.Extract = s.Wort * (s.brew.p0 - u)
	s.Full = s.Liquid > (1-leastHead)*float64(s.p.Capacity)
}

// Pressure is the absolute pressure of the headspace, water vapour included. Up to 6 bar; error 0.5 %.
// References: [Weiss1974], [WagnerPruss2002]
func (s *State) Pressure() unit.Pressure {
	g := s.headAt()
	return unit.Pressure(g.vapour + (s.HeadCO2+s.HeadAir)/g.beta)
}

// Gauge is Pressure above the local air.
func (s *State) Gauge() unit.Gauge { return s.Pressure().Gauge(s.p.Atmosphere) }

// Gravity is the specific gravity 20/20 of the beer without its gas.
// References: [Balling1865], [Bates1942]
func (s *State) Gravity() unit.Gravity {
	return unit.Gravity(wort.GravityKernel(s.brew.p0, s.used()))
}

// Limit is the gravity once all that can ferment has fermented.
func (s *State) Limit() unit.Gravity {
	return unit.Gravity(wort.GravityKernel(s.brew.p0, s.Usable))
}

// Volumes is the carbonation of the beer.
func (s *State) Volumes() unit.Volumes {
	return unit.Volumes(s.Dissolved / s.volume() * co2.IdealMolarVolume)
}

// Settled is the carbonation that the beer would come to under the CO2 above it now.
func (s *State) Settled() unit.Volumes {
	g := s.gasAt()
	return unit.Volumes(s.HeadCO2 / g.beta * g.alpha / s.volume() * co2.IdealMolarVolume)
}

// ABV is alcohol by volume. Error as wort.FromUsed.
// References: [Balling1865]
func (s *State) ABV() unit.ABV {
	f := wort.FromUsed(unit.Extract(s.brew.p0), s.used())
	return byVolume(f)
}

// byVolume is the alcohol by volume of f at 20 C.
func byVolume(f wort.Fermented) unit.ABV {
	at20 := unit.Celsius(20)
	fg := wort.GravityFromExtract(f.Apparent)
	return unit.ABV(float64(f.Ethanol) * float64(fg) * wort.WaterDensity(at20) / wort.EthanolWaterDensity(1, at20))
}

// TerminalGravity is the gravity that p ends at, left warm.
func TerminalGravity(p *Params) unit.Gravity {
	return unit.Gravity(wort.GravityKernel(float64(p.Original), usable(float64(p.Original), p.Attenuation)))
}

// TerminalABV is the alcohol that p ends at, left warm.
func TerminalABV(p *Params) unit.ABV {
	return byVolume(wort.FromUsed(p.Original, usable(float64(p.Original), p.Attenuation)))
}

// Beer is the temperature of the beer.
func (s *State) Beer() unit.Temperature { return unit.Temperature(s.Temperature) }

// MassTotal is the contents: beer with its gas and yeast, headspace gas and hops. The vessel itself is not counted.
func (s *State) MassTotal() unit.Mass {
	beer := s.Wort*(1-wort.CO2PerExtract*s.used()) - s.WaterLost + s.Dissolved*molarCO2
	return unit.Mass(beer + s.HeadCO2*molarCO2 + s.HeadAir*molarAir + s.Hops)
}

// OxygenShare is the mole fraction of oxygen in the dry headspace gas.
func (s *State) OxygenShare() float64 {
	return oxygenAir * s.HeadAir / (s.HeadCO2 + s.HeadAir)
}
