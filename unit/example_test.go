package unit_test

import (
	"fmt"

	"spile/unit"
)

// A dial shows pressure above the air outside; at 40 m the air presses with about 100.8 kPa.
func ExampleParseGauge() {
	dial, err := unit.ParseGauge("10 psi")
	if err != nil {
		fmt.Println(err)
		return
	}
	absolute := dial.Absolute(100.8 * unit.Kilopascal)
	fmt.Printf("%s, %.1f kPa absolute\n", unit.FormatDials(dial, 0), float64(absolute)/unit.Kilopascal)
	_, err = unit.ParseGauge("10")
	fmt.Println(err)
	// Output:
	// 10 psi (0.70 bar), 169.7 kPa absolute
	// read "10" as pressure: it needs a unit; accepted: 10 psi, 0.7 bar or 70 kPa
}
