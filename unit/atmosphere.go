package unit

import "spile/portable"

// StandardAtmosphere is the usual air pressure at an altitude above the sea.
// Range -500 to 11000 m; weather moves it by up to 4 %, which a barometer would tell.
// References: [USSA1976] equation 33a, layer 0
func StandardAtmosphere(altitude Length) Pressure {
	const (
		seaLevel = 288.15   // K
		lapse    = 0.0065   // K/m
		exponent = 5.255876 // g0 M/(R L) with the constants of the source
	)
	return Pressure(Atmosphere * portable.Pow(1-lapse*float64(altitude)/seaLevel, exponent))
}
