package unit

import (
	"strings"
	"testing"

	"spile/wording"
)

// A number stays with its unit, in English and in the language of the page; a word that only begins as a unit does not.
func TestUnbroken(t *testing.T) {
	in := wording.New("fr", "Français", map[wording.Text][]string{"points": {"degrés"}, "days": {"jours"}}, func(int) int { return 0 })
	for text, want := range map[string]string{
		"(0 °C, 1 atm) in 2 L.": "(0_°C, 1_atm) in 2_L.", "10 psi 9 psi": "10_psi 9_psi", "3 L/min, 5 %": "3_L/min, 5_%", "2 gallons of 4": "2 gallons of 4",
		"3 degrés, 2 jours, 4 days": "3_degrés, 2_jours, 4_days", "3 degrésé": "3 degrésé", "psi 7": "psi 7",
		"between -1 psi and 2 psi": "between −1_psi and 2_psi", "2026-11-28, (-3)": "2026-11-28, (−3)",
	} {
		if got := strings.ReplaceAll(Unbroken(in)(text), "\u00a0", "_"); got != want {
			t.Errorf("%q becomes %q, want %q", text, got, want)
		}
	}
}
