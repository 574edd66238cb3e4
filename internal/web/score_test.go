package web

import (
	"strings"
	"testing"

	"golang.org/x/net/html/atom"

	"spile/internal/store"
)

// The pages say of how many forecasts how many held, and of how many nothing can be said.
func TestScoresAreTold(t *testing.T) {
	s := newFilled(t, "Dunlin", "Godwit")
	see := func(path string) string {
		t.Helper()
		w := get(s.Site, path)
		d := parse(t, w)
		checkPage(t, path, w.Body.String(), d)
		return strings.ReplaceAll(text(d.all(atom.Main)[0]), "\u00a0", " ")
	}
	if said := see("/settings/records"); !strings.Contains(said, "None has ended yet.") {
		t.Errorf("before an end: %s", said)
	}
	var scores []store.Score
	for _, x := range []store.Score{{What: "finished", Days: 19, Judged: 14, Held: 12, Scored: 13, Sum: 13 * 36 * 3600}, {What: "gravity", Days: 19, Judged: 14, Held: 14, Scored: 14, Sum: 14 * 0.0042}, {What: "ready", Days: 19}} {
		x.Batch = s.batches["Dunlin"]
		scores = append(scores, x)
	}
	if err := s.watch.Store().KeepScores(t.Context(), s.batches["Dunlin"], scores); err != nil {
		t.Fatal(err)
	}
	if said := see("/settings/records"); !strings.Contains(said, "None has ended yet.") {
		t.Errorf("of a batch that is still in its vessel: %s", said)
	}
	s.end("Dunlin")
	for _, path := range []string{"/settings/records", "/vessels/" + s.batches["Dunlin"].String()} {
		said := see(path)
		for _, want := range []string{"Of 14 daily forecasts, 12 held the finish.", "5 more cannot be judged", "Of 14 daily forecasts, 14 held the final gravity.", "Of 19 daily forecasts, none can be judged",
			"36 hours on average, over 13 daily forecasts; 1 more had no late end", "4.2 points on average"} {
			if !strings.Contains(said, want) {
				t.Errorf("%s does not say %q:\n%s", path, want, said)
			}
		}
	}
	w := get(s.Site, "/settings/records")
	for _, line := range parse(t, w).all(atom.Li) { // how good those of one batch were leads to it
		if said := text(line); strings.Contains(said, "March 2026") && (!strings.Contains(said, "12 held the finish") || !strings.Contains(w.Body.String(), `"/vessels/`+s.batches["Dunlin"].String()+`"`)) {
			t.Errorf("the batch that has ended: %s", said)
		}
	}
	if said := see(s.at("Godwit", "")); strings.Contains(said, "How good the forecasts were") {
		t.Errorf("of a batch that has not ended: %s", said)
	}
}
