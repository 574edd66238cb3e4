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

// The one reading worth taking is said once: as the first action, or else beside the actions.
func TestTheOneReadingIsSaidOnce(t *testing.T) {
	count := func(s Said) (n int) {
		for _, a := range s.Next {
			n += strings.Count(a.Do, "One reading would settle it")
		}
		return n + strings.Count(s.Reading, "One reading would settle it")
	}
	first := says(someForecast(90, 4, 3), nil)
	f := someForecast(90, 4, 3)
	f.Flags = []estimate.Flag{{Kind: estimate.FlagFar, Reading: batch.Reading{Quantity: batch.Gravity, Value: 1.040}, Expected: around(1.02, 0.002)}}
	behind := says(f, nil)
	if first.Next[0].Key != "best" || behind.Next[0].Key != "odd" || behind.Reading == "" || count(first) != 1 || count(behind) != 1 {
		t.Errorf("expected it once, got it %d times in %+v and %d times in %+v, %q", count(first), first.Next, count(behind), behind.Next, behind.Reading)
	}
}
