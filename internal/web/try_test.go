package web

import (
	"strings"
	"testing"
)

// A cylinder is tried shut in one's own words; an empty field leaves it as it is.
func TestGasOff(t *testing.T) {
	tongue := unreal(t)
	for typed, off := range map[string]bool{"off": true, "Off": true, "none": true, accented("off"): true, strings.ToUpper(accented("none")): true, "": false, "0 psi": false, "of": false} {
		if isOff(typed, tongue) != off {
			t.Errorf("%q: expected off to be %v", typed, off)
		}
	}
}
