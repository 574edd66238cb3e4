package advice

import (
	"math"
	"time"

	"spile/wording"
)

// clock writes times as people say them, seen from now in the zone of the batch.
type clock struct {
	tongue   *wording.Tongue
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
		t = NearestHour(t) // which may be on the next day
		return c.tongue.Say("%s at %s", c.day(t), c.tongue.Time(t, "15:00"))
	case band <= 48*time.Hour:
		return c.part(t)
	}
	return c.tongue.Say("about %s", c.day(t))
}

// HourOf is when the hour began that the clocks of t's zone show at t: zones half an hour apart have their own.
func HourOf(t time.Time) time.Time {
	return t.Add(-time.Duration(t.Minute())*time.Minute - time.Duration(t.Second())*time.Second - time.Duration(t.Nanosecond()))
}

// NearestHour is the full hour nearest to t on the clocks of its zone, the later of two.
func NearestHour(t time.Time) time.Time { return HourOf(t.Add(30 * time.Minute)) }

// edge is one end of a band: as at, without the "about" that the band says already.
func (c clock) edge(t time.Time, band time.Duration) string {
	if band > 48*time.Hour {
		return c.day(t.In(c.now.Location()))
	}
	return c.at(t, band)
}

// dayPart is a part of a day, behind a day that is named in each of the ways there are.
type dayPart struct{ today, yesterday, named, dated wording.Text }

var (
	morning   = dayPart{"this morning", "yesterday morning", "%s morning", "%s, morning"}
	afternoon = dayPart{"this afternoon", "yesterday afternoon", "%s afternoon", "%s, afternoon"}
	evening   = dayPart{"this evening", "yesterday evening", "%s evening", "%s, evening"}
	night     = dayPart{"tonight", "last night", "%s night", "%s, night"}
)

// partOf is the part of the day that an hour belongs to.
func partOf(h int) dayPart {
	switch {
	case h >= 6 && h < 12:
		return morning
	case h >= 12 && h < 18:
		return afternoon
	case h >= 18 && h < 22:
		return evening
	}
	return night
}

// part is the part of a day: "this evening", "tomorrow morning", "Thursday night".
// The hours after midnight belong to the night before.
func (c clock) part(t time.Time) string {
	t = t.In(c.now.Location())
	part := partOf(t.Hour())
	if t.Hour() < 6 {
		t = t.Add(-6 * time.Hour)
	}
	days, dated := c.far(t)
	switch {
	case days == 0 && !c.absolute:
		return c.tongue.Word(part.today) + c.date(t)
	case days == -1 && !c.absolute:
		return c.tongue.Word(part.yesterday) + c.date(t)
	case dated:
		return c.tongue.Say(part.dated, c.name(t))
	}
	return c.tongue.Say(part.named, c.name(t)) + c.date(t)
}

// day names the day of t, with its date where all have one.
func (c clock) day(t time.Time) string { return c.name(t) + c.date(t) }

// date is what stands behind a day that has no date by itself.
func (c clock) date(t time.Time) string {
	if _, dated := c.far(t); !c.dated || dated {
		return ""
	}
	return ", " + c.tongue.Time(t, "Monday 2 January")
}

// name is today, tomorrow, yesterday, a weekday, or a weekday with its date.
func (c clock) name(t time.Time) string {
	days, dated := c.far(t)
	switch {
	case c.absolute:
		return c.tongue.Time(t, "Monday 2 January")
	case days == 0:
		return c.tongue.Word("today")
	case days == 1:
		return c.tongue.Word("tomorrow")
	case days == -1:
		return c.tongue.Word("yesterday")
	case dated:
		return c.tongue.Time(t, "Monday 2 January")
	}
	return c.tongue.Time(t, "Monday")
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
		return c.tongue.Word("just now")
	case h < 1.5:
		return c.tongue.Word("an hour ago")
	case h < 36:
		return c.tongue.Many(whole(h), "%d hour ago", "%d hours ago", whole(h))
	default:
		return c.tongue.Many(whole(h/24), "%d day ago", "%d days ago", whole(h/24))
	}
}

// whole rounds as numbers are written.
func whole(x float64) int { return int(math.RoundToEven(x)) }
