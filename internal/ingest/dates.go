package ingest

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"time"
)

// months are the names of the months, as they are written out and cut short, in English and German.
var months = func() map[string]int {
	out := map[string]int{}
	for i, names := range []string{"jan january januar jän jänner", "feb february februar feber", "mar march mär märz mrz", "apr april", "may mai", "jun june juni",
		"jul july juli", "aug august", "sep sept september", "oct october okt oktober", "nov november", "dec december dez dezember"} {
		for _, name := range strings.Fields(names) {
			out[name] = i + 1
		}
	}
	return out
}()

// namedForms are dates with the name of a month: the day first, the month first, the year first. A day of the week may
// stand before them, and a time of day behind.
var namedForms = []*regexp.Regexp{
	regexp.MustCompile(weekday + `(?P<d>\d{1,2})(?:st|nd|rd|th)?\.?[-/ ](?P<m>\pL{3,9})\.?,?[-/ ](?P<y>\d{4}|\d{2})` + timeBehind),
	regexp.MustCompile(weekday + `(?P<m>\pL{3,9})\.? +(?P<d>\d{1,2})(?:st|nd|rd|th)?,? +(?P<y>\d{4})` + timeBehind),
	regexp.MustCompile(weekday + `(?P<y>\d{4})[-/ ](?P<m>\pL{3,9})\.?[-/ ](?P<d>\d{1,2})` + timeBehind),
}

const (
	weekday    = `(?i)^(?:(?:mon|tue|wed|thu|fri|sat|sun|mo|di|mi|do|fr|sa|so)\pL*\.?,? +)?`
	timeBehind = `(?:(?:T|,? +)(?:at +)?(?P<rest>\S.*))?$`
)

// readNamed takes a date whose month is named, and gives what stands behind it.
func (s *stamp) readNamed(cell string) (rest string, ok bool) {
	for _, form := range namedForms {
		m := form.FindStringSubmatch(cell)
		if m == nil {
			continue
		}
		part := func(name string) string { return m[form.SubexpIndex(name)] }
		month := months[strings.ToLower(part("m"))]
		if month == 0 {
			continue
		}
		year, _ := strconv.Atoi(part("y")) // four digits at most
		day, _ := strconv.Atoi(part("d"))
		s.dated, s.yearFirst, s.date = true, true, [3]int{fullYear(year), month, day} // nothing of it is in doubt
		return part("rest"), true
	}
	return "", false
}

// fullYear is the year meant by two digits.
func fullYear(y int) int { return either(y < 100, 2000+y, y) }

// serialBegins is day 0 as spreadsheets count days (ISO/IEC 26300, OpenDocument, whose usual null date it is; from memory).
var serialBegins = time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC)

// The days that are taken for such: of the years 2000 to 2099.
const firstSerial, endSerial = 36526, 73051

// serialForm is how one is written.
var serialForm = regexp.MustCompile(`^\d{5}(?:[.,]\d+)?$`)

// readSerial reads a moment as a spreadsheet counts days, to the nearest second; a date alone has no fraction.
func readSerial(cell string, timed bool) (s stamp, ok bool) {
	if !serialForm.MatchString(cell) {
		return s, false
	}
	v, err := strconv.ParseFloat(strings.Replace(cell, ",", ".", 1), 64)
	if err != nil || !(v >= firstSerial && v < endSerial) || !timed && v != math.Trunc(v) {
		return s, false
	}
	at := serialBegins.Add(time.Duration(math.Round(v*24*3600)) * time.Second)
	s = stamp{date: [3]int{at.Year(), int(at.Month()), at.Day()}, yearFirst: true, dated: true, timed: timed}
	if timed {
		s.clock = [4]int{at.Hour(), at.Minute(), at.Second()}
	}
	return s, true
}

// serial is the code of a column whose every cell is a day as a spreadsheet counts them, and whose name speaks of nothing else.
func (t *table) serial(i int, h header) string {
	for _, other := range []string{"gravity", "pressure", "outside", "temperature", "weight", "vented"} {
		if h.says(other) {
			return ""
		}
	}
	code := "spreadsheet date"
	for _, row := range t.rows {
		if i >= len(row) || empty(row[i]) {
			continue
		}
		if _, ok := readSerial(row[i], true); !ok {
			return ""
		}
		if strings.ContainsAny(row[i], ".,") {
			code = "spreadsheet time"
		}
	}
	return code
}
