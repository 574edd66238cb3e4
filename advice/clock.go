package advice

import (
	"fmt"
	"math"
	"time"
)

// clock writes times as people say them, seen from now in the zone of the batch.
type clock struct {
	now      time.Time
	dated    bool // every day has its date: paper outlives "tomorrow"
	absolute bool // no day is told from now: it is read at any time
}

// at writes t no finer than its band supports: the hour under 6 h, the part of
// the day to 2 days, else about the day.
func (c clock) at(t time.Time, band time.Duration) string {
	t = t.In(c.now.Location())
	switch {
	case band < 6*time.Hour:
		t = t.Round(time.Hour) // which may be on the next day
		return c.day(t) + " at " + t.Format("15:00")
	case band <= 48*time.Hour:
		return c.part(t)
	}
	return "about " + c.day(t)
}

// edge is one end of a band: as at, without the "about" that the band says already.
func (c clock) edge(t time.Time, band time.Duration) string {
	if band > 48*time.Hour {
		return c.day(t.In(c.now.Location()))
	}
	return c.at(t, band)
}

// part is the part of a day: "this evening", "tomorrow morning", "Thursday night".
// The hours after midnight belong to the night before.
func (c clock) part(t time.Time) string {
	t = t.In(c.now.Location())
	h := t.Hour()
	part := "night"
	switch {
	case h >= 6 && h < 12:
		part = "morning"
	case h >= 12 && h < 18:
		part = "afternoon"
	case h >= 18 && h < 22:
		part = "evening"
	}
	if h < 6 {
		t = t.Add(-6 * time.Hour)
	}
	day := c.name(t)
	if day == "today" && part == "night" {
		return "tonight" + c.date(t)
	}
	if day == "yesterday" && part == "night" {
		return "last night" + c.date(t)
	}
	if day == "today" {
		return "this " + part + c.date(t)
	}
	if _, dated := c.far(t); dated {
		return day + ", " + part
	}
	return day + " " + part + c.date(t)
}

// day names the day of t, with its date where all have one.
func (c clock) day(t time.Time) string { return c.name(t) + c.date(t) }

// date is what stands behind a day that has no date by itself.
func (c clock) date(t time.Time) string {
	if _, dated := c.far(t); !c.dated || dated {
		return ""
	}
	return ", " + t.Format("Monday 2 January")
}

// name is today, tomorrow, yesterday, a weekday, or a weekday with its date.
func (c clock) name(t time.Time) string {
	days, dated := c.far(t)
	switch {
	case c.absolute:
		return t.Format("Monday 2 January")
	case days == 0:
		return "today"
	case days == 1:
		return "tomorrow"
	case days == -1:
		return "yesterday"
	case dated:
		return t.Format("Monday 2 January")
	}
	return t.Format("Monday")
}

// far counts days of the calendar, and says whether a weekday alone would mislead.
func (c clock) far(t time.Time) (days int, dated bool) {
	midnight := func(t time.Time) time.Time {
		return time.Date(t.Year(), t.Month(), t.Day(), 0, 0, 0, 0, time.UTC)
	}
	days = int(math.Round(midnight(t).Sub(midnight(c.now.In(t.Location()))).Hours() / 24))
	return days, c.absolute || days > 6 || days < -1 || c.dated && days > 1
}

// ago is how long before now t was.
func (c clock) ago(t time.Time) string {
	switch h := c.now.Sub(t).Hours(); {
	case h < 1:
		return "just now"
	case h < 1.5:
		return "an hour ago"
	case h < 36:
		return fmt.Sprintf("%.0f hours ago", h)
	default:
		return fmt.Sprintf("%.0f days ago", h/24)
	}
}
