package limit_test

import (
	"fmt"

	"spile/limit"
	"spile/unit"
)

// A vessel of 2.5 bar warmed until its dial shows 2.6 bar: the reading rules, whatever is believed.
func ExampleCheck() {
	rating, safety, reading, believed, worst := unit.Gauge(2.5*unit.Bar), unit.Gauge(2.2*unit.Bar), unit.Gauge(2.6*unit.Bar), unit.Gauge(1.9*unit.Bar), unit.Gauge(2*unit.Bar)
	room := unit.Ratio(0.2)
	found := limit.Check(limit.Vessel{Rating: &rating, SafetyRelief: &safety, Measured: &reading, High: &believed, WorstCase: &worst, Headspace: &room})
	metric, err := unit.ParseStyle("bar", nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, s := range limit.Sentences(found, limit.In(metric)) {
		fmt.Println(s)
	}
	// Output:
	// Pressure 2.60 bar is at or above the rating 2.50 bar. Keep faces away. Do not undo anything. See Something is wrong.
	// Pressure 2.60 bar is at or above the safety valve's setting 2.20 bar. Keep faces away. See Something is wrong.
}
