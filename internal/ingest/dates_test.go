package ingest

import (
	"fmt"
	"strconv"
	"strings"
	"testing"
	"time"

	"spile/batch"
	"spile/internal/oracle"
	"spile/unit"
)

// Dates with the name of a month are what the date program of the GNU core utilities reads in them.
func TestNamedMonths(t *testing.T) {
	cells := []string{"3 Nov 2026 18:30", "3 November 2026 18:30:05", "Nov 3, 2026 6:30 PM", "November 3 2026", "03-Nov-2026 06:30", "Tue, 3 Nov 2026 18:30", "Sunday, 29 Feb 2032", "2026-Nov-03"}
	for _, name := range []string{"January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "December"} {
		cells = append(cells, "11 "+name+" 2026", name[:3]+" 12, 2027 1:02:03 am")
	}
	for _, cell := range cells {
		s, ok := readStamp(cell)
		if !ok || !s.dated {
			t.Errorf("%q is not read as a date", cell)
			continue
		}
		at, _, problem := s.at("", time.UTC, time.Time{})
		want := strings.TrimSpace(oracle.Run(t, []string{"date", "--version"}, "", "date", "-u", "-d", strings.ReplaceAll(cell, "-Nov-03", "-11-03"), "+%s"))
		if got := strconv.FormatInt(at.Unix(), 10); problem != nil || got != want {
			t.Errorf("%q: %s, %v; expected %s", cell, got, problem, want)
		}
	}
	for _, cell := range []string{"3 Nov", "Nov 2026", "3 Noz 2026", "batch 3 Nov 2026", "3 Nov 126", "Nov 3, 26 6:30", "3 November 2026 25:00", "may", "11 Mayor 2026"} {
		if s, ok := readStamp(cell); ok {
			t.Errorf("%q is read as %+v", cell, s)
		}
	}
	s, _ := readStamp("31 Nov 2026")
	if _, _, problem := s.at("", time.UTC, time.Time{}); problem == nil || !strings.Contains(problem.Error(), "no such day") {
		t.Errorf("31 November: %v", problem)
	}
}

// Day 36526.5 is noon of 1 January 2000, the epoch J2000.0: Julian date 2451545.0 (International Astronomical Union), of which
// day 0, 30 December 1899 at midnight, is 2415018.5. Other days by the count of Julian days (Fliegel and Van Flandern 1968,
// Communications of the ACM 11, 657), and their seconds.
func TestSpreadsheetDays(t *testing.T) {
	julian := func(y, m, d int) int {
		return d - 32075 + 1461*(y+4800+(m-14)/12)/4 + 367*(m-2-(m-14)/12*12)/12 - 3*((y+4900+(m-14)/12)/100)/4
	}
	if got := julian(2000, 1, 1); got != 2451545 {
		t.Fatalf("1 January 2000 is day %d", got)
	}
	for _, at := range []time.Time{time.Date(2000, 1, 1, 12, 0, 0, 0, time.UTC), time.Date(2023, 11, 4, 12, 0, 0, 0, time.UTC), time.Date(2024, 2, 29, 23, 59, 59, 0, time.UTC), time.Date(2099, 12, 31, 0, 0, 1, 0, time.UTC)} {
		days := float64(julian(at.Year(), int(at.Month()), at.Day())) - 0.5 - 2415018.5 + at.Sub(at.Truncate(24*time.Hour)).Hours()/24
		s, ok := readSerial(fmt.Sprintf("%.8f", days), true)
		if got, _, problem := s.at("", time.UTC, time.Time{}); !ok || problem != nil || !got.Equal(at) {
			t.Errorf("day %.8f is %v, %v; expected %v", days, got, problem, at)
		}
	}
	if s, ok := readSerial("45234.5", true); !ok || s.date != [3]int{2023, 11, 4} || s.clock != [4]int{12} {
		t.Errorf("45234.5 is %+v", s)
	}
	for _, cell := range []string{"36525", "73051", "4.5e4", "45234.", "45,234.5", "-45234", "45234.5 d", ""} {
		if s, ok := readSerial(cell, true); ok {
			t.Errorf("%q is read as %+v", cell, s)
		}
	}
	if _, ok := readSerial("45234.5", false); ok {
		t.Error("half a day is read as a date alone")
	}
}

// A column is taken for days of a spreadsheet only where each of its cells is one and nothing else says when; a zone is then asked for.
func TestSpreadsheetDaysAreGuessedWarily(t *testing.T) {
	for _, c := range []struct{ text, first string }{
		{"a,SG\n46351.75,1.040\n46352.75,1.030\n", "spreadsheet time"},
		{"a,SG\n46351,1.040\n46352,1.030\n", "spreadsheet date"},
		{"a,SG\n46351,1.040\n46352.5,1.030\n", "spreadsheet time"},
		{"a,SG\n46351.75,1.040\n3,1.030\n", LeaveOut},
		{"pressure,SG\n46351.75,1.040\n46352,1.030\n", ""},
		{"a,time,SG\n46351,2026-11-25 18:30,1.040\n46352,2026-11-25 19:30,1.030\n", LeaveOut},
		{"a,hours,SG\n46351,12,1.040\n46352,13,1.030\n", LeaveOut},
		{"a,days,SG\n46351,1,1.040\n46352,2,1.030\n", LeaveOut},
		{"a,unix,SG\n46351,1795627800,1.040\n46352,1795631400,1.030\n", LeaveOut},
		{"a,on,SG\n46351,2026-11-25,1.040\n46352,2026-11-26,1.030\n", LeaveOut},
	} {
		u := understood(t, c.text, Choices{})
		if got := u.Named[0].Meaning; got != c.first {
			t.Errorf("%q: the first column is %q, expected %q", c.text, got, c.first)
		}
		if counted := strings.HasPrefix(c.first, "spreadsheet"); counted && (!u.Local || u.Told() == nil || !u.Named[0].Guessed()) {
			t.Errorf("%q: local %t, told %v", c.text, u.Local, u.Told())
		}
	}
	u := understood(t, "a,SG\n46351.75,1.040\n46351.5 h,1.030\n3,1.030\n46351,1.020\n", Choices{Columns: []string{"spreadsheet date", "gravity SG"}})
	if len(u.Bad) != 3 || !strings.Contains(u.Bad[0].Why.Error(), "accepted: a whole day of 2000 to 2099") || len(u.Found.Readings) != 1 || u.Found.Readings[0].Uncertain == 0 {
		t.Errorf("told to be dates: bad %v, found %s", u.Bad, lines(&u.Found))
	}
	u = understood(t, "a,SG\n3,1.030\n", Choices{Columns: []string{"spreadsheet time", "gravity SG"}})
	if len(u.Bad) != 1 || !strings.Contains(u.Bad[0].Why.Error(), "as 46351.75") {
		t.Errorf("told to be moments: bad %v", u.Bad)
	}
}

// The air around a vessel is read, of a column of its fridge or of the room that it stands in.
func TestAirIsRead(t *testing.T) {
	const text = "time,beer temp C,fridge temp °C,comment\n2026-11-25 18:30,19.5,4.5,\n2026-11-25 19:30,,5 °C,opened it\n2026-11-25 20:30,19,41 F,smells of apple\n2026-11-25 21:30,19,300,\n"
	u := understood(t, text, Choices{})
	const want = "25T17:30:00 6 277.65\n25T17:30:00 2 292.65 probe\n25T18:30:00 6 278.15\n25T19:30:00 6 278.15\n25T19:30:00 2 292.15 probe\n25T18:30:00 note opened it\n25T19:30:00 note smells of apple"
	if got := lines(&u.Found); got != want || !u.Sure() || len(u.Bad) != 1 || u.Bad[0].Column != "fridge temp °C" || !strings.Contains(u.Bad[0].Why.Error(), "-40 to 120 °C") {
		t.Errorf("got\n%s\nwant\n%s\nbad %v", got, want, u.Bad)
	}
	s, id := aCellar(t)
	keep(t, s, id, u.Found)
	there, _ := state(t, s, id)
	if fresh := u.Found.Unknown(&there); fresh.Count() != 0 || len(there.Log.Readings) != 5 || len(there.Notes) != 2 {
		t.Errorf("the same file again: %+v; kept %+v, %+v", fresh, there.Log.Readings, there.Notes)
	}
	if u := understood(t, "time,SG,room\n2026-11-25 18:30,1.040,18\n", Choices{}); u.Named[2].Meaning != LeaveOut {
		t.Errorf("a column of a room that nothing says to be a temperature: %+v", u.Named[2])
	}
	if u := understood(t, "time,SG,room temp\n2026-11-25 18:30,1.040,18\n", Choices{}); u.Named[2].Meaning != "air temperature C" {
		t.Errorf("the room that it stands in: %+v", u.Named[2])
	}
	if u := understood(t, "time,SG,room temp\n2026-11-25 18:30,1.040,38\n", Choices{}); u.Sure() || !strings.Contains(u.Asks[0].Says.String(), "In which unit was the temperature read?") {
		t.Errorf("a unit that nothing tells: %v", u.Asks)
	}
}

// The room around a fridge is neither beer nor the air around the vessel. It is kept as a note, in the line of what was read with it, and is known again.
func TestRoomTemperatureIsKept(t *testing.T) {
	b := aBatch()
	b.Place.Fridge = &batch.Fridge{Coldest: unit.Celsius(1)}
	const text = "time,beer temp C,room temp °C,comment\n2026-11-25 18:30,19.5,4.5,\n2026-11-25 19:30,,5 °C,opened it\n2026-11-25 20:30,19,41 F,smells of apple\n2026-11-25 21:30,19,300,\n"
	u, err := Understand("a.csv", []byte(text), b, Choices{Zone: berlin}, now)
	if err != nil {
		t.Fatal(err)
	}
	const want = "25T17:30:00 2 292.65 probe\n25T19:30:00 2 292.15 probe\n25T17:30:00 note Air 4.5 °C\n25T18:30:00 note Air 5 °C\n25T18:30:00 note opened it\n25T19:30:00 note Air 41 F\n25T19:30:00 note smells of apple"
	if got := lines(&u.Found); got != want || !u.Sure() || len(u.Bad) != 1 || u.Bad[0].Column != "room temp °C" {
		t.Errorf("got\n%s\nwant\n%s\nbad %v", got, want, u.Bad)
	}
	s, id := aCellar(t)
	keep(t, s, id, u.Found)
	there, _ := state(t, s, id)
	if fresh := u.Found.Unknown(&there); fresh.Count() != 0 || len(there.Notes) != 5 {
		t.Errorf("the same file again: %+v; kept %+v", fresh, there.Notes)
	}
	if r, n := there.Log.Readings[0], there.Notes[0]; n.Words != "Air 4.5 °C" || n.Entry != r.Entry {
		t.Errorf("what stands in one row is not one line: %+v, %+v", r, n)
	}
	if u := understood(t, "time,SG,room\n2026-11-25 18:30,1.040,18\n", Choices{Columns: []string{"time", "gravity SG", "room temperature F"}}); !strings.HasSuffix(lines(&u.Found), "note Air 18 °F") {
		t.Errorf("told: %s", lines(&u.Found))
	}
}

// What somebody noted beside a reading, or of the room once more, is a line of its own: readings of one instrument are drawn into one, and words in them would not be seen.
func TestCommentsAreLinesOfTheirOwn(t *testing.T) {
	u := understood(t, "time,comment,beer temp C,room °C\n2026-11-25 18:30,smells of apple,19.5,4.5\n2026-11-25 18:30,,19.5,5\n2026-11-25 19:30,hiss at the lid,19,\n", Choices{Columns: []string{"time", "note", "beer temperature C", "room temperature C"}})
	s, id := aCellar(t)
	keep(t, s, id, u.Found)
	there, _ := state(t, s, id)
	read := map[batch.ID]bool{}
	for _, r := range there.Log.Readings {
		read[r.Entry] = true
	}
	if len(read) != 2 || len(there.Notes) != 4 {
		t.Fatalf("%d lines of readings, notes %+v", len(read), there.Notes)
	}
	for _, n := range there.Notes {
		if air := n.Words == "Air 4.5 °C"; read[n.Entry] != air {
			t.Errorf("%q stands in the line of a reading: %t, expected %t", n.Words, read[n.Entry], air)
		}
	}
}
