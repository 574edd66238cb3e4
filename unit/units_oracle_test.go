package unit

import (
	"fmt"
	"strings"
	"testing"

	"spile/internal/oracle"
)

// oracleCases pair what a person writes with the same in the words of GNU units and the SI unit it asks back.
// Pressures are gauge or absolute alike: a unit has no zero point.
var oracleCases = []struct{ parser, text, gnu, si string }{
	{"gauge", "10 psi", "10 psi", "Pa"},
	{"gauge", "0.7 bar", "0.7 bar", "Pa"},
	{"gauge", "70 kPa", "70 kPa", "Pa"},
	{"gauge", "700 mbar", "700 mbar", "Pa"},
	{"absolute", "1 atm", "1 atm", "Pa"},
	{"absolute", "14.696 psia", "14.696 psi", "Pa"},
	{"absolute", "1013.25 hPa", "1013.25 hPa", "Pa"},
	{"volume", "6 gal (US)", "6 gallon", "m^3"},
	{"volume", "5 gal (UK)", "5 brgallon", "m^3"},
	{"volume", "23 L", "23 L", "m^3"},
	{"volume", "330 mL", "330 mL", "m^3"},
	{"temperature", "18 °C", "tempC(18)", "K"},
	{"temperature", "64 °F", "tempF(64)", "K"},
	{"temperature", "-5 °C", "tempC(-5)", "K"},
	{"temperature", "0 °F", "tempF(0)", "K"},
	{"difference", "9 °F", "9 degF", "K"},
	{"mass", "11.5 g", "11.5 g", "kg"},
	{"mass", "5 lb", "5 lb", "kg"},
	{"mass", "3 oz", "3 oz", "kg"},
	{"length", "3 ft", "3 ft", "m"},
	{"length", "3/16 in", "3|16 in", "m"},
	{"volumerate", "2.5 L/min", "2.5 L/min", "m^3/s"},
	{"volumerate", "1 US gal/min", "1 gallon/min", "m^3/s"},
	{"volumerate", "60 mL/s", "60 mL/s", "m^3/s"},
	{"duration", "6 h", "6 hour", "s"},
	{"duration", "10 days", "10 day", "s"},
}

// Source: GNU units and its data file (exact definitions), run now.
func TestAgainstGNUUnits(t *testing.T) {
	var input strings.Builder
	for _, c := range oracleCases {
		fmt.Fprintf(&input, "%s\n%s\n", c.gnu, c.si)
	}
	out := strings.Fields(oracle.Run(t, []string{"units", "--version"}, input.String(), "units", "-q", "-t", "-o", "%.15g"))
	if len(out) != len(oracleCases) {
		t.Fatalf("units: expected %d numbers, got %q", len(oracleCases), out)
	}
	check := oracle.NewCheck(t, "GNU units", 1e-12)
	for i, c := range oracleCases {
		got, _, err := parsers[c.parser](c.text)
		if err != nil {
			t.Errorf("%s: %v", c.text, err)
			continue
		}
		check.Relative(c.text, got, oracle.Number(t, out[i]))
	}
}
