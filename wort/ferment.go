package wort

import "spile/unit"

// Balling's balance: kilograms that come with each kilogram of ethanol. References: [Balling1865], [Rischbieter1977]
const (
	CO2PerEthanol     = 0.9565
	YeastPerEthanol   = 0.11
	ExtractPerEthanol = 1 + CO2PerEthanol + YeastPerEthanol // 2.0665

	lostPerEthanol = CO2PerEthanol + YeastPerEthanol // leaves the beer: 1.0665
)

// Kilograms made from each kilogram of extract used. References: [Balling1865]
const (
	EthanolPerExtract = 1 / ExtractPerEthanol               // 0.4839
	CO2PerExtract     = CO2PerEthanol / ExtractPerEthanol   // 0.4629
	YeastPerExtract   = YeastPerEthanol / ExtractPerEthanol // 0.0532
)

// Fermented is one kilogram of wort and what has become of it. CO2 is all that
// was made, yeast its dry mass grown; the beer is what is left without either.
// Used + what is left, and Beer + CO2 + Yeast = 1, hold exactly.
type Fermented struct {
	Original unit.Extract // of the wort
	Apparent unit.Extract // that a hydrometer shows, of the beer
	Real     unit.Extract // truly left, of the beer
	Ethanol  unit.Ratio   // by mass, of the beer

	Used, EthanolMade, CO2, Yeast, Beer float64 // kg per kg of wort
}

// FromUsed is the wort of original extract after used kg of it per kg of wort
// have fermented. Range 0 to 0.3, used from 0 to all; error see FromApparent.
// References: [Balling1865], [Rischbieter1977]
func FromUsed(original unit.Extract, used float64) Fermented {
	ethanol := used * EthanolPerExtract
	beer := 1 - lostPerEthanol*ethanol
	left := (float64(original) - used) / beer
	return Fermented{
		Original: original,
		Real:     unit.Extract(left),
		Apparent: unit.Extract(apparent(float64(original), left)),
		Ethanol:  unit.Ratio(ethanol / beer),

		Used: used, EthanolMade: ethanol, CO2: CO2PerEthanol * ethanol, Yeast: YeastPerEthanol * ethanol, Beer: beer,
	}
}

// FromApparent is the wort of original extract once its beer shows the apparent
// extract: the inverse of FromUsed. Range 0 to 0.3; error of the real extract
// 0.2 P, of the alcohol 0.1 % by mass (means of 532 brews).
// References: [Balling1865], [Rischbieter1977], [Cutaia2009]
func FromApparent(original, apparent unit.Extract) Fermented {
	p0, re := float64(original), float64(realExtract(original, apparent))
	a := (p0 - re) / (ExtractPerEthanol - lostPerEthanol*p0) // of the beer
	return FromUsed(original, ExtractPerEthanol*a/(1+lostPerEthanol*a))
}

// GravityKernel is the specific gravity 20/20 of beer from wort of extract p0
// after used kg of extract per kg of wort, for right-hand sides and readings. Both are mass fractions.
// References: [Balling1865], [Rischbieter1977], [Bates1942]
func GravityKernel(p0, used float64) float64 {
	left := (p0 - used) / (1 - lostPerEthanol*EthanolPerExtract*used)
	return gravityFromExtractKernel(apparent(p0, left))
}

// UsedKernel is the inverse of GravityKernel: kg of extract used per kg of wort of extract p0 whose beer shows the gravity.
func UsedKernel(p0, gravity float64) float64 {
	re := (split(p0)*p0 + extractKernel(gravity)) / (1 + split(p0))
	a := (p0 - re) / (ExtractPerEthanol - lostPerEthanol*p0)
	return ExtractPerEthanol * a / (1 + lostPerEthanol*a)
}

// split is q, the share by which the alcohol makes the apparent extract less than the real one. References: [Rischbieter1977]
func split(p0 float64) float64 { return 0.22 + 0.1*p0 }

// apparent is the apparent extract of a beer from its original and real extract.
func apparent(p0, left float64) float64 {
	q := split(p0)
	return left*(1+q) - q*p0
}

func realExtract(original, apparent unit.Extract) unit.Extract {
	q := unit.Extract(split(float64(original)))
	return (q*original + apparent) / (1 + q)
}
