package web

import (
	"strings"
	"testing"
	"time"

	"golang.org/x/net/html/atom"

	"spile/unit"
	"spile/wording"
)

// Every forecast shows its band and when it was made, in the zone and the language of whoever looks; so does a message
// that could not be read.
func TestForecastsSayTheirBandAndWhenTheyWereMade(t *testing.T) {
	s := newFilled(t, "Dunlin").foretold()
	tokyo, err := time.LoadLocation("Asia/Tokyo")
	if err != nil {
		t.Fatal(err)
	}
	all, err := s.allStandingIn(t.Context(), unit.Style{Zone: tokyo})
	if err != nil || all[0].Awaited() == nil || all[0].Awaited().Band == "" {
		t.Fatal("nothing is awaited with a band", err)
	}
	const made = "Forecast made Thursday 5 March, 03:00." // 18:00 UTC on the day before
	for path, wants := range map[string][]string{
		"/": {made, strings.TrimSuffix(sentence(all[0].Awaited().Band), ".")}, "/coming-up": {made}, s.at("Dunlin", ""): {made, "Made 5 March 2026, 03:00 from readings"},
	} {
		w := get(s.Site, path, zoneCookie+"=Asia%2FTokyo")
		d := parse(t, w)
		checkPage(t, path, w.Body.String(), d)
		said := strings.ReplaceAll(text(d.all(atom.Main)[0]), "\u00a0", " ")
		for _, want := range wants {
			if !strings.Contains(said, want) {
				t.Errorf("%s does not say %q:\n%s", path, want, said)
			}
		}
	}
	key := s.keyed("strip", "Dunlin")
	if w := s.sends(key, "18.4 C"); w.Code != 422 {
		t.Fatal(w.Code)
	}
	s.learn(wording.New("nds", "Platt", map[wording.Text][]string{"Thursday": {"Dünnersdag"}, "March": {"Märzmaand"}}, func(int) int { return 0 }))
	tray := get(s.Site, "/what-i-have", zoneCookie+"=Asia%2FTokyo", tongueCookie+"=nds").Body.String()
	if want := "Dünnersdag 5 Märzmaand at 03:00<"; !strings.Contains(tray, want) {
		t.Errorf("the tray does not say %q", want)
	}
}
