package web

import (
	"math"
	"strings"
	"testing"
	"time"

	"spile/unit"
)

// Wednesday evening; the zone has summer time, which began on 29 March 2026.
func TestMoments(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	now := time.Date(2026, 4, 1, 18, 30, 0, 0, zone)
	for _, c := range []struct {
		typed string
		at    string  // in the zone
		sure  float64 // standard deviation, minutes
	}{
		{"now", "2026-04-01 18:30", 0}, {"just now", "2026-04-01 18:30", 0}, {"20 minutes ago", "2026-04-01 18:10", 3}, {"20 min ago", "2026-04-01 18:10", 3}, {"20 min", "2026-04-01 18:10", 3},
		{"about 20 minutes ago", "2026-04-01 18:10", 3}, {"5 minutes ago", "2026-04-01 18:25", 2}, {"an hour ago", "2026-04-01 17:30", 9}, {"half an hour ago", "2026-04-01 18:00", 4.5},
		{"two hours ago", "2026-04-01 16:30", 18}, {"about two hours ago", "2026-04-01 16:30", 18}, {"2 h ago", "2026-04-01 16:30", 18}, {"2h", "2026-04-01 16:30", 18}, {"1.5 hours ago", "2026-04-01 17:00", 13.5},
		{"1,5 h ago", "2026-04-01 17:00", 13.5}, {"1½ hours ago", "2026-04-01 17:00", 13.5}, {"a couple of hours ago", "2026-04-01 16:30", 18}, {"three days ago", "2026-03-29 18:30", 648}, {"a week ago", "2026-03-25 17:30", 1512},
		{"14:30", "2026-04-01 14:30", 0}, {"at 14:30", "2026-04-01 14:30", 0}, {"14.30", "2026-04-01 14:30", 0}, {"14h30", "2026-04-01 14:30", 0}, {"2:30 pm", "2026-04-01 14:30", 0}, {"2:30pm", "2026-04-01 14:30", 0},
		{"2 p.m.", "2026-04-01 14:00", 15}, {"at 9", "2026-04-01 09:00", 15}, {"9 am", "2026-04-01 09:00", 15}, {"9 o'clock", "2026-04-01 09:00", 15}, {"about 14:30", "2026-04-01 14:30", 15}, {"around 9 am", "2026-04-01 09:00", 15},
		{"12 am", "2026-04-01 00:00", 15}, {"12 pm", "2026-04-01 12:00", 15}, {"half past 2 pm", "2026-04-01 14:30", 15}, {"quarter to 9", "2026-04-01 08:45", 15},
		{"22:15", "2026-03-31 22:15", 0}, // not yet today: yesterday's
		{"yesterday", "2026-03-31 14:30", 15 * 60 / math.Sqrt(12)}, {"yesterday evening", "2026-03-31 20:00", 240 / math.Sqrt(12)}, {"Yesterday Morning", "2026-03-31 09:00", 360 / math.Sqrt(12)},
		{"yesterday at 18:45", "2026-03-31 18:45", 0}, {"yesterday 9 am", "2026-03-31 09:00", 15}, {"yesterday, 18:45", "2026-03-31 18:45", 0}, {"last night", "2026-04-01 02:00", 480 / math.Sqrt(12)},
		{"this morning", "2026-04-01 09:00", 360 / math.Sqrt(12)}, {"in the morning", "2026-04-01 09:00", 360 / math.Sqrt(12)}, {"this afternoon", "2026-04-01 15:00", 360 / math.Sqrt(12)},
		{"this evening", "2026-04-01 18:15", 30 / math.Sqrt(12)}, // it has only begun
		{"today", "2026-04-01 12:45", 690 / math.Sqrt(12)}, {"early yesterday morning"[6:], "2026-03-31 09:00", 360 / math.Sqrt(12)}, {"yesterday early morning", "2026-03-31 07:30", 180 / math.Sqrt(12)},
		{"Tuesday", "2026-03-31 14:30", 900 / math.Sqrt(12)}, {"on Tuesday evening", "2026-03-31 20:00", 240 / math.Sqrt(12)}, {"Tuesday at 9", "2026-03-31 09:00", 15}, {"last Tuesday at 9", "2026-03-31 09:00", 15},
		{"Wednesday", "2026-03-25 14:30", 900 / math.Sqrt(12)}, {"Sun 08:05", "2026-03-29 08:05", 0}, {"noon", "2026-04-01 12:00", 60 / math.Sqrt(12)},
		{"2026-03-30 18:05", "2026-03-30 18:05", 0}, {"2026-03-30T18:05", "2026-03-30 18:05", 0}, {"30 March 18:05", "2026-03-30 18:05", 0}, {"30 March, 18:05", "2026-03-30 18:05", 0}, {"March 30 at 6 pm", "2026-03-30 18:00", 15},
		{"30. March", "2026-03-30 14:30", 900 / math.Sqrt(12)}, {"the 30th of March in the evening", "2026-03-30 20:00", 240 / math.Sqrt(12)}, {"26 Dec 9:00", "2025-12-26 09:00", 0}, {"2026-03-29", "2026-03-29 14:30", 900 / math.Sqrt(12)},
	} {
		m, problem := readMoment(nil, c.typed, now)
		if problem != "" {
			t.Errorf("%q: %s", c.typed, problem)
			continue
		}
		if got := m.At.In(zone).Format("2006-01-02 15:04"); got != c.at || math.Abs(float64(m.Uncertain)/unit.Minute-c.sure) > 0.01 {
			t.Errorf("%q: got %s give or take %.2f min; want %s, %.2f", c.typed, got, float64(m.Uncertain)/unit.Minute, c.at, c.sure)
		}
	}
	for typed, say := range map[string]string{"": "could not tell", "soon": "could not tell", "tomorrow": "could not tell", "12": "could not tell", "3/4": "could not tell", "04/05/2026": "could not tell",
		"31 June": "could not tell", "25:00": "could not tell", "14:75": "could not tell", "2025-01-01": "more than a year", "today at 22:00": "still to come", "2026-04-02 08:00": "still to come",
		"in two hours": "could not tell", "99999999999999999 days ago": "could not tell", "500 days ago": "more than a year"} {
		if m, problem := readMoment(nil, typed, now); !strings.Contains(problem, say) || !strings.Contains(problem, "yesterday evening") {
			t.Errorf("%q: got %v, %q; want %q and what is accepted", typed, m.At, problem, say)
		}
	}
}

// In the zone of the page an hour that summer time leaves out, or gives twice, is one of the clock all the same.
func TestMomentsAcrossSummerTime(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	now := time.Date(2026, 3, 29, 12, 0, 0, 0, zone)
	m, problem := readMoment(nil, "two hours ago", now)
	if problem != "" || now.Sub(m.At) != 2*time.Hour {
		t.Errorf("two hours ago: %v, %s", m.At, problem)
	}
	m, problem = readMoment(nil, "yesterday at 12:00", now) // 23 h, for one was left out
	if problem != "" || now.Sub(m.At) != 23*time.Hour {
		t.Errorf("yesterday at 12:00: %v before, %s", now.Sub(m.At), problem)
	}
}
