package batchfile

import (
	"spile/batch"
	"spile/co2"
	"spile/unit"
	"spile/wort"
)

// parseGravity reads a gravity, or degrees Plato.
func parseGravity(s string) (unit.Gravity, error) {
	return unit.ParseGravity(s, wort.GravityFromExtract)
}

// GasDensity is the density of CO2 (kg/m3) as a gas meter in the room shows it:
// at the temperature and the air pressure of the place, not at 0 C and 101.325 kPa.
func GasDensity(p batch.Place) float64 {
	return co2.GasDensity(p.Ambient, unit.StandardAtmosphere(p.Altitude))
}
