package ingest

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"time"

	"spile/wording"
)

// stamp is a date, a time of day, or both, as they are written.
type stamp struct {
	date         [3]int // as they stand
	mark         byte   // between them
	yearFirst    bool
	clock        [4]int // hours, minutes, seconds, nanoseconds
	zone         *time.Location
	dated, timed bool
}

var (
	dateForm  = regexp.MustCompile(`^(\d{1,4})([-./])(\d{1,2})([-./])(\d{2,4})(?:(?:[Tt]|,? +)(\S.*))?$`)
	clockForm = regexp.MustCompile(`^(\d{1,2})[:.](\d{2})(?:[:.](\d{2})(?:[.,](\d{1,9}))?)?(?: ?([AaPp])\.?[Mm]\.?)?(?: ?(?:(Z|z|UTC|GMT)|([+-]\d{2}):?(\d{2})?))?$`)
)

// readStamp reads how a moment is written, whatever the order of day and month.
func readStamp(cell string) (s stamp, ok bool) {
	if len(cell) > 64 {
		return s, false
	}
	rest := cell
	if m := dateForm.FindStringSubmatch(cell); m != nil && m[2] == m[4] {
		s.dated, s.mark, s.yearFirst = true, m[2][0], len(m[1]) == 4
		for i, text := range []string{m[1], m[3], m[5]} {
			s.date[i], _ = strconv.Atoi(text) // four digits at most
		}
		short, year := len(m[1]), len(m[5]) // of the ends; a year has four digits, or two where it stands last
		if s.yearFirst && year > 2 || !s.yearFirst && (short > 2 || year == 3) {
			return s, false
		}
		if rest = m[6]; rest == "" {
			return s, true
		}
	} else if behind, named := s.readNamed(cell); named {
		if rest = behind; rest == "" {
			return s, true
		}
	}
	m := clockForm.FindStringSubmatch(rest)
	return s, m != nil && s.setClock(m)
}

// setClock takes the parts of a time of day, and tells whether there is such a one.
func (s *stamp) setClock(m []string) bool {
	s.timed = true
	for i := range 3 {
		s.clock[i], _ = strconv.Atoi("0" + m[1+i]) // two digits at most
	}
	s.clock[3], _ = strconv.Atoi((m[4] + "000000000")[:9])
	if m[5] != "" {
		if s.clock[0] < 1 || s.clock[0] > 12 {
			return false
		}
		s.clock[0] %= 12
		if strings.EqualFold(m[5], "p") {
			s.clock[0] += 12
		}
	}
	if m[6] != "" {
		s.zone = time.UTC
	} else if m[7] != "" {
		h, _ := strconv.Atoi(m[7])
		min, _ := strconv.Atoi("0" + m[8])
		s.zone = time.FixedZone("", 3600*h+either(m[7][0] == '-', -60, 60)*min)
	}
	return s.clock[0] < 24 && s.clock[1] < 60 && s.clock[2] < 60
}

// dayFirst and monthFirst are the orders of a date that does not begin with its year.
const (
	dayFirst   = "day"
	monthFirst = "month"
)

// day is the year, month and day of a date.
func (s *stamp) day(order string) (y, m, d int) {
	switch y, m, d = s.date[0], s.date[1], s.date[2]; {
	case s.yearFirst:
		return y, m, d
	case order == monthFirst:
		y, m, d = s.date[2], s.date[0], s.date[1]
	default:
		y, m, d = s.date[2], s.date[1], s.date[0]
	}
	return fullYear(y), m, d
}

// ordered tells what the dates of a file say of their order: in which one some day beyond the
// twelfth stands, and whether any has to be told at all.
type ordered struct{ day, month, asked, points bool }

func (o *ordered) see(s *stamp) {
	if !s.dated || s.yearFirst {
		return
	}
	o.day, o.month = o.day || s.date[0] > 12, o.month || s.date[1] > 12
	o.asked, o.points = o.asked || s.mark != '.', o.points || s.mark == '.'
}

// settled is the order that follows, empty where it must be asked.
func (o *ordered) settled() string {
	switch {
	case o.day && !o.month:
		return dayFirst
	case o.month && !o.day:
		return monthFirst
	case !o.asked && !o.month: // dates with points are written with the day first
		return dayFirst
	}
	return ""
}

// at is the moment of a stamp. before is that of the row before it, by which an hour that the
// clock shows twice is told; twice says that this was needed. A problem says what is wrong.
func (s *stamp) at(order string, zone *time.Location, before time.Time) (at time.Time, twice bool, problem error) {
	y, m, d := s.day(order)
	if s.zone != nil {
		zone = s.zone
	}
	c := s.clock
	at = time.Date(y, time.Month(m), d, c[0], c[1], c[2], c[3], zone)
	if at.Year() != y || int(at.Month()) != m || at.Day() != d {
		if !s.yearFirst {
			return at, false, wording.Unsaid(either[wording.Text](order == monthFirst, "there is no such day, with the month first", "there is no such day, with the day first"))
		}
		return at, false, wording.Unsaid("there is no such day; accepted: a day such as 2026-11-25")
	}
	if at.Hour() != c[0] || at.Minute() != c[1] {
		return at, false, wording.Unsaid("the clocks went forward then, and there was no such time in %s; accepted: the zone in which it was written", zone.String())
	}
	for _, apart := range []time.Duration{-time.Hour, time.Hour} {
		other := at.Add(apart)
		if other.Hour() != c[0] || other.Minute() != c[1] {
			continue
		}
		early, late := at, other
		if apart < 0 {
			early, late = other, at
		}
		if early.Before(before) && !late.Before(before) {
			return late, true, nil
		}
		return early, true, nil
	}
	return at, false, nil
}

// whole is the day of a stamp without a time of day, from its first moment to its last.
func (s *stamp) whole(order string, zone *time.Location) (from, to time.Time, problem error) {
	y, m, d := s.day(order)
	from = time.Date(y, time.Month(m), d, 0, 0, 0, 0, zone)
	if _, _, problem = (&stamp{date: s.date, yearFirst: s.yearFirst, clock: [4]int{12}}).at(order, zone, time.Time{}); problem != nil {
		return from, to, problem
	}
	return from, time.Date(y, time.Month(m), d+1, 0, 0, 0, 0, zone), nil
}

// counted reads seconds (or, where they are so many, milliseconds) since 1970.
func counted(cell string) (at time.Time, ok bool) {
	v, err := strconv.ParseFloat(strings.Replace(cell, ",", ".", 1), 64)
	switch {
	case err != nil:
		return at, false
	case v >= 1e8 && v < 1e10:
		return time.UnixMicro(int64(math.Round(v * 1e6))).UTC(), true
	case v >= 1e11 && v < 1e13:
		return time.UnixMicro(int64(math.Round(v * 1e3))).UTC(), true
	}
	return at, false
}

// since reads a number of hours or days since pitching.
func since(cell string, unit time.Duration) (d time.Duration, ok bool) {
	v, err := strconv.ParseFloat(strings.Replace(cell, ",", ".", 1), 64)
	if err != nil || !(math.Abs(v)*unit.Hours() <= 10*366*24) {
		return 0, false
	}
	return time.Duration(math.Round(v * float64(unit))), true
}

func either[T any](first bool, a, b T) T {
	if first {
		return a
	}
	return b
}

// ParseZone reads the zone of times that are written without one: Europe/London, UTC or +01:00.
func ParseZone(text string) (*time.Location, error) {
	text = strings.TrimSpace(text)
	if at, err := time.Parse("-07:00", text); err == nil {
		_, offset := at.Zone()
		return time.FixedZone("", offset), nil
	}
	if zone := NamedZone(text); zone != nil {
		return zone, nil
	}
	return nil, wording.Unsaid("read zone %q; accepted: a continent and city, as Europe/London, or UTC, or +01:00", text)
}

// NamedZone is the zone of a continent and city, as Europe/London, or UTC; nil where there is none of that name.
func NamedZone(name string) *time.Location {
	if zone, err := time.LoadLocation(name); err == nil && (strings.Contains(name, "/") || name == "UTC") {
		return zone
	}
	return nil
}

// ZoneName is how a zone is written so that ParseZone reads it.
func ZoneName(zone *time.Location) string {
	if name := zone.String(); strings.Contains(name, "/") || name == "UTC" {
		return name
	}
	return time.Date(2026, 1, 1, 0, 0, 0, 0, zone).Format("-07:00")
}
