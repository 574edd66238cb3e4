package batchfile

import (
	"strings"
	"testing"

	"spile/batch"
)

// Settings are read as a plan writes them back.
func TestParseSettings(t *testing.T) {
	for text, want := range map[string]string{
		" Hold 12 C,relief  15 psi, gas 10 psi": "hold: 12 C, relief: 15 psi, gas: 10 psi",
		"gas on 10 psi":                         "gas: 10 psi",
		"gas OFF, hold 12.5 C":                  "hold: 12.5 C, gas: off",
		"relief 0 psi":                          "relief: 0 bar",
	} {
		set, err := ParseSettings(text)
		if got := ProgrammeText([]batch.Step{{AtSet: true, Set: set}}); err != nil || got != "programme:\n  - {at: pitch, "+want+"}\n" {
			t.Errorf("%q: got %s, %v", text, got, err)
		}
	}
	for _, bad := range []string{"", " ", "hold", "hold 12", "hold 12 C,", "warm", "hold 400 C", "relief 99 bar", "vent 10 psi to 8 psi", "poured 2 L", "noticed hiss", "gas", "gas on",
		"hold 12 C, hold 14 C", "gas off, gas 10 psi", "gas 10 psi, gas off", "gas off, gas off", "relief 5 psi, relief 5 psi", "hold NaN C"} {
		if set, err := ParseSettings(bad); err == nil || !strings.Contains(err.Error(), "; accepted: hold 12 C, ") || strings.Contains(err.Error(), "\n") {
			t.Errorf("%q: expected a refusal in one line, got %+v, %v", bad, set, err)
		}
	}
}
