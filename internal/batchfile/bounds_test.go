package batchfile

import (
	"strings"
	"testing"

	"spile/batch"
	"spile/unit"
)

func TestBoundsAreThoseOfTheFile(t *testing.T) {
	low, high, words := Bounds("rating")
	if low != 0.05*unit.Bar || high != 20*unit.Bar || words.String() != "0.05 bar to 20 bar" {
		t.Errorf("got %v to %v, %q", low, high, words)
	}
	for fact := range factSpans {
		if low, high, words := Bounds(fact); !(low < high) || words.English == "" || strings.Contains(words.String(), "unit") {
			t.Errorf("%s: %v to %v, %q", fact, low, high, words)
		}
	}
}

func TestReadingBounds(t *testing.T) {
	for q, want := range map[batch.Quantity]string{batch.Gravity: "0.98 to 1.2", batch.Pressure: "-14.7 to 150 psi", batch.Temperature: "-30 to 60 °C",
		batch.VesselMass: "0 to 5000 kg", batch.CylinderMass: "0 to 500 kg", batch.VentedGas: "0 to 10000000 g", batch.AirTemperature: "-30 to 60 °C"} {
		if low, high, words := ReadingBounds(q); words.String() != want || !(low < high) {
			t.Errorf("%v: %g to %g, %q; want %q", q, low, high, words, want)
		}
	}
	if low, high, _ := ReadingBounds(batch.Temperature); low < 243.149 || low > 243.151 || high != 333.15 {
		t.Errorf("temperature in SI: %g to %g K", low, high)
	}
}
