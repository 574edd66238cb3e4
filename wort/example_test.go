package wort_test

import (
	"fmt"

	"spile/wort"
)

// 12 P, the wort of gravity 1.04837 in NBS Circular 440 Table 114, fermented to
// 2.5 P (1.00977). Balling's balance worked by hand: q = 0.232,
// RE = (0.232*12 + 2.5)/1.232 = 4.289, A = (12 - 4.289)/(2.0665 - 0.12798) = 3.978 % by mass,
// ABV = 3.978 * 1.00977 * 998.207/789.24 = 5.08 % vol.
func ExampleAlcohol() {
	abv, mass := wort.Alcohol(1.04837, 1.00977, nil)
	fmt.Printf("%.2f %% vol, %.2f %% by mass\n", abv.Percent(), mass*100)
	// Output: 5.08 % vol, 3.98 % by mass
}
