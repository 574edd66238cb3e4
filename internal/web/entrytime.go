package web

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"time"

	"spile/unit"
	"spile/wording"
)

// "It was earlier": people say when as they remember it, and how well they remember goes
// into the records with it, as a standard deviation.

// moment is a time as somebody told it.
type moment struct {
	At        time.Time
	Uncertain unit.Duration
}

// How far off a remembered time is (assumptions: from how people round what they tell).
const (
	ofSpan       = 0.15             // of "three hours ago", as a share
	leastRounded = 2 * unit.Minute  // of a span told in minutes
	aboutClock   = 15 * unit.Minute // of "about 14:30", and of "at 9"
)

// part is a stretch of the day, by its first and last hour.
type part struct{ from, to float64 }

// parts of a day as Spile itself says them; a night begins on the day it is named after.
var parts = map[string]part{"morning": {6, 12}, "afternoon": {12, 18}, "evening": {18, 22}, "night": {22, 30}, "noon": {11.5, 12.5}, "midday": {11.5, 12.5}, "lunchtime": {11.5, 14},
	"midnight": {23.5, 24.5}}

// wakeful is a day of which no part is told.
var wakeful = part{7, 22}

// middle is the middle of a stretch, and its standard deviation where every moment of it is as likely.
func (p part) middle(day time.Time) moment {
	at := hourOf(day, (p.from+p.to)/2)
	return moment{at, unit.Duration((p.to - p.from) * unit.Hour / math.Sqrt(12))}
}

// hourOf is an hour of a day of the calendar; beyond 24 it is of the next.
func hourOf(day time.Time, hour float64) time.Time {
	minutes := int(math.Round(hour * 60))
	return time.Date(day.Year(), day.Month(), day.Day(), minutes/60, minutes%60, 0, 0, day.Location())
}

// momentAccepted says how a moment is written. The examples are read as they are, in English.
func momentAccepted(t *wording.Tongue) string {
	return t.Say("Write it as “%s”, “%s”, %s, “%s” or “%s”.", "20 minutes ago", "two hours ago", "14:30", "yesterday evening", "Tuesday at 9")
}

var (
	aboutRE = regexp.MustCompile(`^(about|around|roughly|approximately|approx\.?|circa|ca\.?|maybe|perhaps|~)\s*`)
	agoRE   = regexp.MustCompile(`^(?:(a few|a couple of|a|an|half an|half a|[\d.,]+(?:\s?[½¼¾]|\s1/2)?|½)\s?)(s|secs?|seconds?|m|mins?|minutes?|h|hrs?|hours?|days?|d|weeks?)(?:\s+and a half)?(?:\s+ago|\s+before|\s+earlier|\s+back)?$`)
	clockRE = regexp.MustCompile(`^(?:at\s+)?(\d{1,2})(?:[:.h](\d{2}))?\s*(a\.?m\.?|p\.?m\.?|o'?clock|uhr|h)?$`)
	halfRE  = regexp.MustCompile(`^(?:at\s+)?(half past|quarter past|quarter to)\s+(\d{1,2})\s*(a\.?m\.?|p\.?m\.?)?$`)
	isoRE   = regexp.MustCompile(`^(\d{4})-(\d{1,2})-(\d{1,2})(?:[t\s]+(.*))?$`)
	dateRE  = regexp.MustCompile(`^(?:on\s+)?(?:the\s+)?(\d{1,2})(?:st|nd|rd|th|\.)?\s+(?:of\s+)?([a-z]{3,9})\.?(?:\s+(\d{4}))?(?:,?\s+(.*))?$`)
	date2RE = regexp.MustCompile(`^(?:on\s+)?([a-z]{3,9})\.?\s+(\d{1,2})(?:st|nd|rd|th)?(?:,?\s+(\d{4}))?(?:,?\s+(.*))?$`)
)

// readMoment understands when something was, told at now in its zone.
func readMoment(t *wording.Tongue, typed string, now time.Time) (m moment, problem string) {
	text := strings.ToLower(strings.TrimSpace(tidyLine.Replace(digits(typed))))
	text = strings.TrimSuffix(strings.Join(strings.Fields(strings.ReplaceAll(text, ", ", " ")), " "), ".")
	rest := aboutRE.ReplaceAllString(text, "")
	about := rest != text
	m, ok := tellMoment(rest, now, about)
	switch {
	case !ok:
		return m, t.Say("I read “%s” and could not tell when that was. %s", clipped(typed), momentAccepted(t))
	case m.At.After(now.Add(5 * time.Minute)):
		return m, t.Say("I read “%s” as %s, which is still to come. %s", clipped(typed), t.Time(m.At, "Monday 2 January 15:04"), momentAccepted(t))
	case m.At.Before(now.AddDate(-1, 0, 0)):
		return m, t.Say("I read “%s” as %s, more than a year ago. %s", clipped(typed), t.Time(m.At, "2 January 2006"), momentAccepted(t))
	}
	if m.At.After(now) {
		m.At = now
	}
	return m, ""
}

func tellMoment(text string, now time.Time, about bool) (moment, bool) {
	if text == "now" || text == "just now" {
		return moment{At: now}, true
	}
	for _, read := range []func(string, time.Time, bool) (moment, bool){readAgo, readClock, readDay, readDate} {
		if m, ok := read(text, now, about); ok {
			return m, true
		}
	}
	return moment{}, false
}

// spans are the lengths of time in which people look back.
var spans = map[byte]float64{'s': unit.Second, 'm': unit.Minute, 'h': unit.Hour, 'd': unit.Day, 'w': unit.Week}

func readAgo(text string, now time.Time, _ bool) (m moment, ok bool) {
	found := agoRE.FindStringSubmatch(text)
	if found == nil {
		return m, false
	}
	count := map[string]float64{"a": 1, "an": 1, "half an": 0.5, "half a": 0.5, "½": 0.5, "a couple of": 2, "a few": 3}[found[1]]
	if count == 0 {
		number := strings.Replace(strings.TrimSpace(strings.NewReplacer("½", ".5", " 1/2", ".5", "¼", ".25", "¾", ".75", " ", "").Replace(found[1])), ",", ".", 1)
		v, err := strconv.ParseFloat(number, 64)
		if err != nil {
			return m, false
		}
		count = v
	}
	if strings.Contains(text, "and a half") {
		count += 0.5
	}
	span := unit.Duration(count * spans[found[2][0]])
	share := ofSpan
	if found[1] == "a few" {
		share = 0.4
	}
	if float64(span) > 2*365*unit.Day {
		return m, false
	}
	return moment{now.Add(-time.Duration(float64(span) * float64(time.Second))), max(unit.Duration(share)*span, leastRounded)}, true
}

// readClock is a time of the clock: the last one that was.
func readClock(text string, now time.Time, about bool) (m moment, ok bool) {
	m, ok = onDay(text, now, about)
	if ok && m.At.After(now.Add(5*time.Minute)) {
		m, ok = onDay(text, now.AddDate(0, 0, -1), about)
	}
	return m, ok
}

// onDay is a time of the clock on a day.
func onDay(text string, day time.Time, about bool) (m moment, ok bool) {
	hour, minute, half := 0, 0, ""
	rounded := about
	if f := halfRE.FindStringSubmatch(text); f != nil {
		hour, _ = strconv.Atoi(f[2]) // digits only, by the pattern
		minute, half, rounded = map[string]int{"half past": 30, "quarter past": 15, "quarter to": -15}[f[1]], f[3], true
	} else if f := clockRE.FindStringSubmatch(text); f != nil && (f[2] != "" || f[3] != "" || strings.HasPrefix(text, "at ")) {
		hour, _ = strconv.Atoi(f[1])
		minute, _ = strconv.Atoi(f[2] + "") // empty: on the hour
		half, rounded = f[3], about || f[2] == ""
	} else {
		return m, false
	}
	switch {
	case strings.HasPrefix(half, "p") && hour < 12:
		hour += 12
	case strings.HasPrefix(half, "a") && hour == 12:
		hour = 0
	}
	if hour > 24 || minute > 59 {
		return m, false
	}
	m.At = time.Date(day.Year(), day.Month(), day.Day(), hour, minute, 0, 0, day.Location())
	if rounded {
		m.Uncertain = aboutClock
	}
	return m, true
}

var weekdays = map[string]time.Weekday{"sunday": 0, "monday": 1, "tuesday": 2, "wednesday": 3, "thursday": 4, "friday": 5, "saturday": 6,
	"sun": 0, "mon": 1, "tue": 2, "tues": 2, "wed": 3, "thu": 4, "thur": 4, "thurs": 4, "fri": 5, "sat": 6}

// readDay is a day by its name, with a part of it or a time of the clock.
func readDay(text string, now time.Time, about bool) (moment, bool) {
	text = strings.TrimPrefix(strings.TrimPrefix(text, "on "), "in the ")
	first, rest, _ := strings.Cut(text, " ")
	day, named := now, true
	switch first {
	case "today", "this":
	case "tonight":
		rest = "night"
	case "yesterday":
		day = now.AddDate(0, 0, -1)
	case "last":
		if rest == "night" {
			return part{parts["night"].from, 30}.middle(now.AddDate(0, 0, -1)), true
		}
		first, rest, _ = strings.Cut(rest, " ")
		fallthrough
	default:
		wanted, known := weekdays[first]
		if _, ofToday := parts[first]; ofToday {
			return within(text, now, now, about)
		}
		if named = known; known {
			back := (int(now.Weekday()) - int(wanted) + 7) % 7
			if back == 0 && first != "today" {
				back = 7
			}
			day = now.AddDate(0, 0, -back)
		}
	}
	if !named {
		return moment{}, false
	}
	return within(rest, day, now, about)
}

// within is a part of a day, a time of it, or all of it where nothing more is told.
func within(rest string, day, now time.Time, about bool) (moment, bool) {
	rest = strings.TrimPrefix(strings.TrimPrefix(strings.TrimPrefix(rest, "at "), "in the "), "around ")
	if rest == "" {
		m := wakeful.middle(day)
		return latest(m, wakeful, day, now), true
	}
	early := strings.TrimPrefix(strings.TrimPrefix(rest, "early "), "late ")
	if p, known := parts[early]; known {
		switch half := (p.from + p.to) / 2; {
		case strings.HasPrefix(rest, "early "):
			p.to = half
		case strings.HasPrefix(rest, "late "):
			p.from = half
		}
		return latest(p.middle(day), p, day, now), true
	}
	if m, ok := onDay("at "+rest, day, about); ok {
		return m, true
	}
	return moment{}, false
}

// latest keeps a stretch that is not over yet to what of it has been.
func latest(m moment, p part, day, now time.Time) moment {
	if from := hourOf(day, p.from); now.After(from) && now.Before(hourOf(day, p.to)) {
		return part{p.from, p.from + now.Sub(from).Hours()}.middle(day)
	}
	return m
}

// readDate is a day of the calendar. The order of two numbers would be a guess: the month
// is written in letters, or the year first.
func readDate(text string, now time.Time, about bool) (moment, bool) {
	year, month, day, rest := 0, 0, 0, ""
	if f := isoRE.FindStringSubmatch(text); f != nil {
		year, month, day, rest = number(f[1]), number(f[2]), number(f[3]), f[4]
	} else if f := dateRE.FindStringSubmatch(text); f != nil {
		year, month, day, rest = number(f[3]), monthOf(f[2]), number(f[1]), f[4]
	} else if f := date2RE.FindStringSubmatch(text); f != nil {
		year, month, day, rest = number(f[3]), monthOf(f[1]), number(f[2]), f[4]
	}
	if month < 1 || month > 12 || day < 1 {
		return moment{}, false
	}
	if year == 0 {
		year = now.Year()
		if time.Date(year, time.Month(month), day, 0, 0, 0, 0, now.Location()).After(now) {
			year--
		}
	}
	on := time.Date(year, time.Month(month), day, 12, 0, 0, 0, now.Location())
	if on.Day() != day {
		return moment{}, false // the 31st of June
	}
	return within(rest, on, now, about)
}

func number(digits string) int {
	n, err := strconv.Atoi(digits)
	if err != nil {
		return 0 // none was written
	}
	return n
}

// monthOf is a month by its name or its first three letters, 0 for none.
func monthOf(name string) int {
	for m := time.January; m <= time.December; m++ {
		if full := strings.ToLower(m.String()); len(name) >= 3 && strings.HasPrefix(full, name) {
			return int(m)
		}
	}
	return 0
}
