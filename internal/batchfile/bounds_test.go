package batchfile

import (
	"strings"
	"testing"

	"spile/unit"
)

func TestBoundsAreThoseOfTheFile(t *testing.T) {
	low, high, words := Bounds("rating")
	if low != 0.05*unit.Bar || high != 20*unit.Bar || words != "0.05 bar to 20 bar" {
		t.Errorf("got %v to %v, %q", low, high, words)
	}
	for fact := range factSpans {
		if low, high, words := Bounds(fact); !(low < high) || words == "" || strings.Contains(words, "unit") {
			t.Errorf("%s: %v to %v, %q", fact, low, high, words)
		}
	}
}
