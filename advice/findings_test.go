package advice

import (
	"slices"
	"strings"
	"testing"

	"spile/batch"
	"spile/estimate"
	"spile/unit"
)

// A dial in doubt is said with its size and what settles it, and leaves the state of the beer as it is.
func TestDialInDoubt(t *testing.T) {
	sure := says(someForecast(60, 20, 12), nil)
	f := someForecast(60, 20, 12)
	f.Findings = []estimate.Finding{{Kind: estimate.FindingCannotTell, Of: estimate.FindingDialOffset, Probability: 0.4, Size: around(-1.8*unit.PSI, 0.4*unit.PSI)}}
	s := says(f, nil)
	if len(s.Findings) != 1 || !strings.HasPrefix(s.Findings[0].Sentence, "The dial may read about") || !strings.HasSuffix(s.Findings[0].Sentence, "too low. It cannot be told yet.") {
		t.Fatalf("expected that the dial may read too low, got %+v", s.Findings)
	}
	if want := sayIn(written, "settle dial"); s.Findings[0].Settles != want {
		t.Errorf("settled by %q, expected %q", s.Findings[0].Settles, want)
	}
	checkWords(t, "dial in doubt", s.Findings[0].Sentence, 18)
	if s.State != sure.State || !slices.Equal(s.Also, sure.Also) {
		t.Errorf("a dial in doubt makes %s, %q of %s, %q", s.State.Spoken(), s.Also, sure.State.Spoken(), sure.Also)
	}
}

// A reading of the air that does not fit is said to be of the air: its unit is that of the beer too.
func TestOddAirIsSaidToBeOfTheAir(t *testing.T) {
	f := someForecast(60, 20, 12)
	f.Flags = []estimate.Flag{{Kind: estimate.FlagFar, Reading: batch.Reading{Quantity: batch.AirTemperature, Value: float64(unit.Celsius(4))}, Expected: around(291, 1)}}
	if s := says(f, nil); len(s.Flags) != 1 || !strings.Contains(s.Flags[0], "4 °C of the air was read.") {
		t.Errorf("got %q", s.Flags)
	}
}
