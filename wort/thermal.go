package wort

import "spile/unit"

// HeatOfFermentation in J per kg of extract used, and its standard deviation:
// calorimetry gives 506 (glucose) to 716 kJ/kg (maltotriose), handbooks 586. A
// figure of 1217 kJ/kg that is also quoted exceeds the enthalpy of the reaction.
// References: [GeeRamirez1988]
const (
	HeatOfFermentation   = 575e3
	HeatOfFermentationSD = 40e3
)

// HeatCapacity of wort or beer in J/(kg K), from its real extract; the alcohol
// of beer changes it by less than 1 %. Range 0 to 30 C, to 0.2; error 2 % for beer, 4 % for wort.
// References: [Llano2005]
func HeatCapacity(extract unit.Extract, t unit.Temperature) float64 {
	w := float64(extract)
	return 4184 - 2971*w + 460*w + 7.5*w*t.Celsius()
}

const (
	cryoscopic   = 1.86    // K kg/mol, water
	molarEthanol = 0.04607 // kg/mol
	// molarExtract is that of maltose, which stands for the sugars of wort and the short dextrins of beer.
	molarExtract = 0.3423 // kg/mol
)

// FreezingPoint at which the first ice forms, from real extract and ethanol as
// mass fractions. Range ethanol to 0.07, extract to 0.2; error 0.1 K for the ethanol, 0.3 K for beer.
// References: [Dean1999]
func FreezingPoint(extract unit.Extract, ethanol unit.Ratio) unit.Temperature {
	s, e := float64(extract), float64(ethanol)
	molality := (e/molarEthanol + s/molarExtract) / (1 - s - e) // mol/kg of water
	return unit.Celsius(-cryoscopic * molality)
}
