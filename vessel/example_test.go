package vessel_test

import (
	"fmt"

	"spile/unit"
	"spile/vessel"
	"spile/yeast"
)

// The usual course: 20 L of wort of 1.046 ferment under a valve at 10 psi, and are chilled under 10 psi on day seven.
func ExampleAveraged() {
	p := vessel.Standard(26*unit.Litre, 0.3, 20*unit.Litre, unit.Plato(11.4), yeast.Ale, unit.Celsius(20), unit.Celsius(16), unit.Atmosphere)
	p.Belt, p.Fridge, p.Cylinder = 30, vessel.UsualFridge(unit.Celsius(1)), 1.9
	a := vessel.NewAveraged()
	a.Reset(&p)
	a.Set(vessel.Controls{Hold: unit.Celsius(20), Relief: 10 * unit.PSI, Gas: vessel.GasOff})
	for day := 1; day <= 12; day++ {
		if err := a.Advance(float64(day) * unit.Day); err != nil {
			fmt.Println(err)
			return
		}
		if day == 7 {
			a.Set(vessel.Controls{Hold: unit.Celsius(2), Relief: 20 * unit.PSI, Gas: 10 * unit.PSI})
		}
		if s := a.State(); day%3 == 0 {
			fmt.Printf("day %2d: %.3f, %4.1f psi, %.1f °C, %.1f volumes\n", day, float64(s.Gravity()), float64(s.Gauge())/unit.PSI, s.Beer().Celsius(), float64(s.Volumes()))
		}
	}
	// Output:
	// day  3: 1.022,  9.8 psi, 20.0 °C, 1.7 volumes
	// day  6: 1.010,  9.8 psi, 20.0 °C, 1.6 volumes
	// day  9: 1.010, 10.0 psi, 2.0 °C, 1.9 volumes
	// day 12: 1.010, 10.0 psi, 2.0 °C, 2.3 volumes
}

// A keg of 20 L with a twentieth of headspace and 2.5 volumes at 1 °C, left in a room of 30 °C: a worked example
// computed from the same relations with other programs gives 41.7 psi.
func ExampleSealed_Equilibrium() {
	r, err := vessel.Sealed{Volume: 19 * unit.Litre, Capacity: 20 * unit.Litre, From: unit.Celsius(1), To: unit.Celsius(30), Volumes: 2.5}.Equilibrium(nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.0f psi\n", float64(r.End.Gauge(unit.Atmosphere))/unit.PSI)
	// Output: 42 psi
}
