package yeast_test

import (
	"fmt"

	"spile/unit"
	"spile/yeast"
)

// The cardinal temperature model at 22 C for growth between 5 and 30 C with its best at 20 C, as the documentation of
// the R package macrogrow prints it (T_lim: 0.9633333).
func ExampleCTMI() {
	fmt.Printf("%.7f\n", yeast.CTMI(22, 5, 20, 30))
	// Output: 0.9633333
}

// 20 L of wort of 12 degrees Plato for an ale, by the rule of the trade.
func ExampleKind_Needed() {
	fmt.Printf("%.0f billion cells\n", yeast.Ale.Needed(20*unit.Litre, unit.Plato(12), nil)/1e9)
	// Output: 180 billion cells
}
