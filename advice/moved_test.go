package advice

import (
	"testing"
	"time"

	"spile/estimate"
	"spile/unit"
)

func TestMoved(t *testing.T) {
	now := time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC) // a Monday
	at := func(days, hour, wide int) estimate.Milestone {
		m := now.AddDate(0, 0, days).Add(time.Duration(hour-12) * time.Hour)
		half := time.Duration(wide) * time.Hour / 2
		return estimate.Milestone{P05: m.Add(-half), P50: m, P95: m.Add(half)}
	}
	for _, c := range []struct {
		key           string
		before, after estimate.Milestone
		want          string
	}{
		{"finished", at(3, 19, 100), at(4, 19, 60), "Finish moved from about Thursday to about Friday."},
		{"finished", at(3, 19, 20), at(4, 8, 20), "Finish moved from Thursday evening to Friday morning."},
		{"carbonated", at(3, 19, 20), at(3, 20, 20), "Carbonation stays Thursday evening."},
		{"ready", at(3, 19, 20), estimate.Milestone{Never: 1}, "Ready to pour moved from Thursday evening to not within the days looked at."},
	} {
		if got := Moved(c.key, c.before, c.after, now, unit.Style{}); got != c.want {
			t.Errorf("got %q, want %q", got, c.want)
		}
	}
}
