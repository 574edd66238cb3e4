package advice

import (
	"time"

	"spile/estimate"
	"spile/unit"
)

// Moved says what became of one thing that people wait for ("finished", "cold",
// "carbonated", "ready"): "Finish moved from Thursday evening to Friday evening." It looks from now, in
// the zone of now.
func Moved(key string, before, after estimate.Milestone, now time.Time, style unit.Style) string {
	v := &view{style: style, clock: clock{tongue: style.Tongue, now: now}}
	from, to := v.comes(before), v.comes(after)
	what := v.say(awaitedBy(key).begins)
	if from == to {
		return v.say("stays", "what", what, "time", to)
	}
	return v.say("moved", "what", what, "before", from, "after", to)
}

// When writes a moment whose band is so wide as people say it, seen from now: "Tuesday at 14:00".
func When(at time.Time, band time.Duration, now time.Time, style unit.Style) string {
	return clock{tongue: style.Tongue, now: now, dated: style.Dated}.at(at, band)
}

// Edge writes one end of a band as people say it, seen from now: "tomorrow".
func Edge(at time.Time, band time.Duration, now time.Time, style unit.Style) string {
	return clock{tongue: style.Tongue, now: now, dated: style.Dated}.edge(at, band)
}

// Day names the day of at, seen from now: "today", "Monday 2 January".
func Day(at, now time.Time, style unit.Style) string {
	return clock{tongue: style.Tongue, now: now}.day(at)
}
