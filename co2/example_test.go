package co2_test

import (
	"fmt"

	"spile/co2"
	"spile/unit"
)

// Beer at 1 C (33.8 F) under 10 psi at sea level. The chart for beer, Table I in
// BrewingTechniques 2(1), 1994, prints 2.63 at 33 F and 2.58 at 34 F: 2.59 between them.
func ExampleEquilibrium() {
	p := unit.Gauge(10 * unit.PSI).Absolute(unit.Atmosphere)
	v := co2.Equilibrium(unit.Celsius(1), p, co2.BeerFactor{}, nil)
	fmt.Printf("%.2f volumes, %.2f g/L\n", v, float64(v)*co2.GramsPerVolume)
	// Output: 2.60 volumes, 5.11 g/L
}
