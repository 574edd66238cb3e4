package advice

import (
	"time"

	"spile/estimate"
)

// Moved says what became of one thing that people wait for ("finished", "cold",
// "carbonated", "ready"): "Finish moved from Thursday evening to Friday evening." It looks from now, in
// the zone of now.
func Moved(key string, before, after estimate.Milestone, now time.Time) string {
	v := &view{clock: clock{now: now}}
	from, to := v.comes(before), v.comes(after)
	what := say(awaitedBy(key).begins)
	if from == to {
		return say("stays", "what", what, "time", to)
	}
	return say("moved", "what", what, "before", from, "after", to)
}

// When writes a moment whose band is so wide as people say it, seen from now: "Tuesday at 14:00".
func When(at time.Time, band time.Duration, now time.Time) string {
	return clock{now: now}.at(at, band)
}

// Day names the day of at, seen from now: "today", "Monday 2 January".
func Day(at, now time.Time) string { return clock{now: now}.day(at) }
