package wort

import (
	"math"

	"spile/portable"
	"spile/unit"
)

// WaterViscosity in Pa s. Range 0 to 40 C; error 0.1 % against [IAPWS2008]
// (the coefficients are from memory and stand by that check).
// References: [Kestin1978]
func WaterViscosity(t unit.Temperature) float64 {
	const at20 = 1.002e-3 // Pa s
	d := 20 - (float64(t) - zeroCelsius)
	return at20 * portable.Exp(math.Ln10*d/(116-d)*(1.2364+d*(-1.37e-3+d*5.7e-6)))
}

// WortViscosity is that of a sucrose solution of the same extract in Pa s.
// Range 0 to 30 C, to 0.2; error 4 % for sucrose, 20 % for wort with its dextrins.
// References: [Mathlouthi1995]
func WortViscosity(extract unit.Extract, t unit.Temperature) float64 {
	s, c := extract.Plato(), t.Celsius()
	x := s / (1900 - 18*s)
	f := (30 - c) / (91 + c)
	return 1e-3 * portable.Pow(10, 22.46*x-0.114+f*(1.1+43.1*portable.Pow(x, 1.25)))
}

// beerOverWater is the viscosity of a lager of 5 % vol over that of water, both at 6 C: 2.42 and 1.471 mPa s.
const beerOverWater = 1.645

// BeerViscosity of a beer of about 5 % vol in Pa s: water's times one ratio
// measured at 6 C. Range 0 to 25 C; error 15 %, more for strong or dry beer.
// References: [LigerBelair2021], [Kestin1978]
func BeerViscosity(t unit.Temperature) float64 { return beerOverWater * WaterViscosity(t) }
