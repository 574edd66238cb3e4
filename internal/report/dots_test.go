package report

import (
	"regexp"
	"strconv"
	"testing"
	"time"

	"spile/estimate"
	"spile/unit"
)

var dotAt = regexp.MustCompile(`<circle class="bead" cx="([0-9.-]+)" cy="([0-9.-]+)"`)

// Each future has its dot within the picture, and none hides another: of 19 that come later seven were seen.
func TestEveryFutureIsSeen(t *testing.T) {
	now := time.Date(2026, 11, 28, 11, 0, 0, 0, time.UTC)
	for name, in := range map[string]time.Duration{"later": -1, "now": 0, "in a day": 24 * time.Hour, "in ten days": 240 * time.Hour} {
		m := &estimate.Milestone{Never: 0.95}
		m.Futures[0] = now.Add(300 * time.Hour)
		for i := 1; i < len(m.Futures) && in >= 0; i++ {
			m.Futures[i] = now.Add(in)
		}
		svg, _ := Dots(m, "Finished", time.Time{}, now, unit.Style{})
		seen := map[string]bool{}
		for _, dot := range dotAt.FindAllStringSubmatch(svg, -1) {
			x, _ := strconv.ParseFloat(dot[1], 64)
			y, _ := strconv.ParseFloat(dot[2], 64)
			if x < dotRadius || x > dotsWidth-dotRadius || y < dotRadius || y > dotsFloor {
				t.Errorf("%s: a dot at %g, %g is outside the picture", name, x, y)
			}
			seen[dot[0]] = true
		}
		if len(seen) != len(m.Futures) {
			t.Errorf("%s: %d places for %d futures", name, len(seen), len(m.Futures))
		}
	}
}
