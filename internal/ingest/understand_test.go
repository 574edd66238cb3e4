package ingest

import (
	"encoding/binary"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"
	"unicode/utf16"

	"spile/batch"
	"spile/internal/batchfile"
	"spile/unit"
	"spile/wort"
	"spile/yeast"
)

var (
	berlin  = mustZone("Europe/Berlin")
	newYork = mustZone("America/New_York")
	pitched = time.Date(2026, 11, 20, 18, 30, 0, 0, berlin)
	now     = time.Date(2027, 1, 10, 12, 0, 0, 0, time.UTC)
)

func mustZone(name string) *time.Location {
	zone, err := ParseZone(name)
	if err != nil {
		panic(err)
	}
	return zone
}

func aBatch() *batch.Batch {
	return &batch.Batch{Name: "Sluice Gate Pale", Pitched: pitched, Yeast: batch.Yeast{Kind: yeast.Ale}, Wort: batch.Wort{Volume: 0.02, Gravity: 1.046},
		Vessel: batch.Vessel{Capacity: 0.026, Diameter: 0.3}, Place: batch.Place{Ambient: unit.Celsius(18)}}
}

func understood(t testing.TB, text string, c Choices) *Understood {
	t.Helper()
	if c.Zone == nil {
		c.Zone = berlin
	}
	u, err := Understand("a.csv", []byte(text), aBatch(), c, now)
	if err != nil {
		t.Fatal(err)
	}
	return u
}

// lines are what was found, in words that a test can hold: time in UTC, quantity, value, instrument.
func lines(f *Found) string {
	var out []string
	for _, r := range f.Readings {
		text := fmt.Sprintf("%s %d %.6g", r.Time.UTC().Format("02T15:04:05"), r.Quantity, r.Value)
		if r.Instrument != "" {
			text += " " + r.Instrument
		}
		out = append(out, text)
	}
	for _, e := range f.Events {
		out = append(out, fmt.Sprintf("%s act %d", e.Time.UTC().Format("02T15:04:05"), e.Kind))
	}
	for _, n := range f.Notes {
		out = append(out, n.Time.UTC().Format("02T15:04:05")+" note "+n.Words)
	}
	return strings.Join(out, "\n")
}

func wide(text string, order binary.ByteOrder, mark bool) string {
	if mark {
		text = "\ufeff" + text
	}
	var out []byte
	for _, u := range utf16.Encode([]rune(text)) {
		b := make([]byte, 2)
		order.PutUint16(b, u)
		out = append(out, b...)
	}
	return string(out)
}

// The same two readings (a gravity of 1.040, then 1.030 an hour later, from 18:30 in Berlin on
// 25 November 2026) as spreadsheets and loggers write them.
var formats = map[string]struct {
	text string
	c    Choices
}{
	"comma":              {"time,gravity\n2026-11-25 18:30,1.040\n2026-11-25 19:30,1.030\n", Choices{}},
	"semicolon":          {"Zeit;Dichte SG\n25.11.2026 18:30;1,040\n25.11.2026 19:30;1,030\n", Choices{}},
	"tab":                {"Time\tSG\n2026-11-25 18:30:00\t1.040\n2026-11-25 19:30:00\t1.030\n", Choices{}},
	"said separator":     {"sep=;\ntime;gravity\n2026-11-25 18:30;1.040\n2026-11-25 19:30;1.030\n", Choices{}},
	"byte order mark":    {"\ufefftime,gravity\r\n2026-11-25 18:30,1.040\r\n2026-11-25 19:30,1.030\r\n", Choices{}},
	"carriage returns":   {"time,gravity\r2026-11-25 18:30,1.040\r2026-11-25 19:30,1.030\r", Choices{}},
	"UTF-16 LE":          {wide("time,gravity\n2026-11-25 18:30,1.040\n2026-11-25 19:30,1.030\n", binary.LittleEndian, true), Choices{}},
	"UTF-16 BE":          {wide("time,gravity\n2026-11-25 18:30,1.040\n2026-11-25 19:30,1.030\n", binary.BigEndian, true), Choices{}},
	"UTF-16 unmarked":    {wide("time,gravity\n2026-11-25 18:30,1.040\n2026-11-25 19:30,1.030\n", binary.LittleEndian, false), Choices{}},
	"no header":          {"2026-11-25 18:30,1.040\n2026-11-25 19:30,1.030\n", Choices{}},
	"RFC 3339":           {"when,SG\n2026-11-25T18:30:00+01:00,1.040\n2026-11-25T18:30:00Z,1.030\n", Choices{Zone: newYork}},
	"zone without colon": {"when,SG\n2026-11-25 18:30:00 +0100,1.040\n2026-11-25 18:30:00.000 UTC,1.030\n", Choices{Zone: newYork}},
	"another zone":       {"when,SG\n2026-11-25 12:30,1.040\n2026-11-25 13:30,1.030\n", Choices{Zone: newYork}},
	"month first":        {"when,SG\n11/25/2026 6:30 PM,1.040\n11/25/2026 7:30 pm,1.030\n", Choices{}},
	"month first, short": {"when,SG\n11/25/26 6:30PM,1.040\n11/25/26 7:30 p.m.,1.030\n", Choices{}},
	"day first":          {"when,SG\n25/11/2026 18:30,1.040\n25/11/2026 19:30,1.030\n", Choices{}},
	"date and time":      {"Date,Time,Gravity\n2026-11-25,18:30,1.040\n2026-11-25,19:30,1.030\n", Choices{}},
	"date and US time":   {"Date,Time,Gravity\n11/25/2026,6:30:00 PM,1.040\n11/25/2026,7:30:00 PM,1.030\n", Choices{}},
	"Unix seconds":       {"timestamp,SG\n1795627800,1.040\n1795631400,1.030\n", Choices{}},
	"Unix milliseconds":  {"timestamp,SG\n1795627800000,1.040\n1795631400000,1.030\n", Choices{}},
	"Unix, no header":    {"1795627800,1.040\n1795631400,1.030\n", Choices{}},
	"hours":              {"hours,SG\n120,1.040\n121,1.030\n", Choices{}},
	"hours, comma":       {"Stunden;SG\n120,0;1,040\n121,0;1,030\n", Choices{}},
	"days":               {"day,SG\n5,1.040\n5.0416666666667,1.030\n", Choices{}},
	"quoted":             {"\"time\",\"gravity\"\n\"2026-11-25 18:30\",\"1,040\"\n\"2026-11-25 19:30\",\"1,030\"\n", Choices{}},
	"with unit":          {"when,reading\n2026-11-25 18:30,1.040 SG\n2026-11-25 19:30,1.030 SG\n", Choices{}},
	"thousandfold":       {"when,density\n2026-11-25 18:30,1040\n2026-11-25 19:30,1030\n", Choices{}},
	"newest first":       {"when,SG\n2026-11-25 19:30,1.030\n2026-11-25 18:30,1.040\n", Choices{}},
	"lines before":       {"Made by hand\nin November\n\ntime,gravity\n2026-11-25 18:30,1.040\n2026-11-25 19:30,1.030\n", Choices{}},
	"empty cells, rows":  {"time,gravity,note\n2026-11-25 18:30,1.040,\n,,\n2026-11-25 18:45,--,\n2026-11-25 19:30,1.030,n/a\n", Choices{}},
	"what nobody knows":  {"time,battery,name,gravity\n2026-11-25 18:30,3.9,one,1.040\n2026-11-25 19:30,3.8,one,1.030\n", Choices{}},
	"day and name":       {"when,SG\n25 Nov 2026 18:30,1.040\n25 November 2026 19:30,1.030\n", Choices{}},
	"name and day":       {"when,SG\n\"Nov 25, 2026 6:30 PM\",1.040\n\"November 25th, 2026, 7:30 PM\",1.030\n", Choices{}},
	"with hyphens":       {"when,SG\n25-Nov-26 18:30,1.040\n25-NOV-2026 19:30:00,1.030\n", Choices{}},
	"with its weekday":   {"when,SG\n\"Wednesday, 25 November 2026 at 18:30\",1.040\n\"Wed, Nov 25 2026 19:30\",1.030\n", Choices{}},
	"in German":          {"wann;SG\n25. Nov. 2026 18:30;1,040\nMi, 25. November 2026 19:30;1,030\n", Choices{}},
	"name in the middle": {"when,SG\n2026-Nov-25 18:30,1.040\n2026 Nov 25 18:30 UTC,1.030\n", Choices{}},
	"date by name, time": {"Date,Time,Gravity\n25-Nov-2026,18:30,1.040\n25-Nov-2026,19:30,1.030\n", Choices{}},
	"spreadsheet":        {"Date,SG\n46351.7708333333,1.040\n46351.8125,1.030\n", Choices{}},
	"spreadsheet, comma": {"wann;SG\n46351,7708333333;1,040\n46351,8125;1,030\n", Choices{}},
	"spreadsheet days":   {"Date,Time,SG\n46351,18:30,1.040\n46351,19:30,1.030\n", Choices{}},
	"spreadsheet, told":  {"temp,SG\n46351.7708333333,1.040\n46351.8125,1.030\n", Choices{Columns: []string{"spreadsheet time", "gravity SG"}}},
	"twice the same":     {"time,gravity\n2026-11-25 18:30,1.040\n2026-11-25 18:30,1.040\n2026-11-25 19:30,1.030\n", Choices{}},
	"told":               {"a;b;c\n25.11.2026 18:30;1,040;9\n25.11.2026 19:30;1,030;9\n", Choices{Columns: []string{"time", "gravity SG", LeaveOut}}},
}

func TestFormats(t *testing.T) {
	const same = "25T17:30:00 0 1.04\n25T18:30:00 0 1.03"
	for name, c := range formats {
		t.Run(name, func(t *testing.T) {
			u := understood(t, c.text, c.c)
			if got := lines(&u.Found); got != same || !u.Sure() || len(u.Bad) > 0 {
				t.Errorf("expected\n%s\ngot\n%s\nasked %v, bad %v, columns %+v", same, got, u.Asks, u.Bad, u.Named)
			}
		})
	}
}

// Units and instruments, by the header and by the cells. Factors are exact definitions (international
// yard and pound agreement 1959); degrees Plato by the relation that wort is tested for.
func TestUnits(t *testing.T) {
	const psi = 0.45359237 * 9.80665 / (0.0254 * 0.0254)
	plato := float64(wort.GravityFromExtract(unit.Plato(10)))
	for _, c := range []struct {
		header, cell string
		quantity     batch.Quantity
		want         float64
		instrument   string
	}{
		{"pressure (psi)", "10", batch.Pressure, 10 * psi, ""}, {"Pressure [bar]", "0.7", batch.Pressure, 70e3, ""}, {"Druck_kPa", "70", batch.Pressure, 70e3, ""},
		{"PressurePSI", "10", batch.Pressure, 10 * psi, ""}, {"pressure", "10 psi", batch.Pressure, 10 * psi, ""}, {"pressure bar", "10 psi", batch.Pressure, 10 * psi, ""},
		{"Beer Temp (°C)", "19.5", batch.Temperature, 292.65, "probe"}, {"beerTemp_f", "68", batch.Temperature, 293.15, "probe"}, {"vessel temperature", "18", batch.Temperature, 291.15, ""},
		{"keg temperature", "68", batch.Temperature, 293.15, ""}, {"Temperatur Bier", "19.5 °C", batch.Temperature, 292.65, "probe"},
		{"Extract °P", "10", batch.Gravity, plato, ""}, {"gravity", "10 °P", batch.Gravity, plato, ""}, {"gravity (plato)", "10", batch.Gravity, plato, ""},
		{"keg weight kg", "24.15", batch.VesselMass, 24.15, ""}, {"cylinder (lb)", "10", batch.CylinderMass, 4.5359237, ""}, {"cylinder weight (lb)", "10", batch.CylinderMass, 4.5359237, ""},
		{"CO2 bottle weight g", "5300", batch.CylinderMass, 5.3, ""}, {"vented (g)", "230", batch.VentedGas, 0.23, ""},
		{"pressure abs (kPa)", "170", 0, 0, "none"}, {"barometer hPa", "1013", 0, 0, "none"},
	} {
		u := understood(t, "time,"+c.header+"\n2026-11-25 18:30,"+c.cell+"\n", Choices{})
		if c.instrument == "none" {
			if len(u.Found.Readings) != 0 {
				t.Errorf("%s %s: got %+v, want nothing", c.header, c.cell, u.Found.Readings)
			}
			continue
		}
		if len(u.Found.Readings) != 1 || !u.Sure() {
			t.Errorf("%s %s: got %+v, asked %v, bad %v", c.header, c.cell, u.Found.Readings, u.Asks, u.Bad)
			continue
		}
		if r := u.Found.Readings[0]; r.Quantity != c.quantity || math.Abs(r.Value-c.want) > 1e-12*c.want || r.Instrument != c.instrument {
			t.Errorf("%s %s: got %+v, want %v %v %q", c.header, c.cell, r, c.quantity, c.want, c.instrument)
		}
	}
}

// The columns of READINGS.csv leave nothing to be guessed, and it is read as that file is.
func TestReadingsFile(t *testing.T) {
	const text = "hours,gravity_sg,pressure_psi,temperature_c,instrument,event\n12,1.04,10,19.5,,\n13,,,19.6,probe,gas off\n14.5,1.03,,,,\n"
	want, err := batchfile.DecodeLog("r.csv", strings.NewReader(text), aBatch())
	if err != nil {
		t.Fatal(err)
	}
	u := understood(t, text, Choices{})
	if err := u.Told(); err != nil || !u.Sure() || len(u.Bad) > 0 || lines(&u.Found) != lines(&Found{Log: want}) {
		t.Errorf("got\n%s\nwant\n%s\n%v %v %v", lines(&u.Found), lines(&Found{Log: want}), err, u.Asks, u.Bad)
	}
	if err := understood(t, strings.Replace(text, "hours", "hour", 1), Choices{}).Told(); err == nil || !strings.Contains(err.Error(), "nobody told") {
		t.Errorf("another header: %v", err)
	}
}

// Where nothing tells, it is asked and nothing is taken for granted.
func TestAsks(t *testing.T) {
	for _, c := range []struct{ text, of, says string }{
		{"when,SG\n11/10/2026 18:30,1.040\n", "order", "the day or the month"},
		{"when,SG\n25/11/2026 18:30,1.040\n11/25/2026 18:30,1.030\n", "order", "the day or the month"},
		{"time,pressure\n2026-11-25 18:30,10\n", "2", "unit was the pressure"},
		{"time,temp\n2026-11-25 18:30,19\n", "2", "°C. Was it in the beer"},
		{"time,beer temp\n2026-11-25 18:30,38\n2026-11-25 19:30,33\n", "2", "unit was the temperature"},
		{"time,weight kg\n2026-11-25 18:30,24\n", "2", "vessel or of the cylinder"},
		{"time,vessel weight\n2026-11-25 18:30,24\n", "2", "unit was the weight"},
		{"time,gravity\n2026-11-25 18:30,11.4\n", "2", "unit was the gravity"},
		{"time,vented\n2026-11-25 18:30,114\n", "2", "gas measured"},
		{"2026-11-25 18:30,114\n", "2", "What is this number"},
		{"time;cylinder weight g\n2026-11-25 18:30;5,300\n", "decimal", "5,300"},
		{"gravity,note\n1.040,a\n", "columns", "says when"},
		{"clock,SG\n18:30,1.040\n", "1", "needs its date"},
		{"time,battery\n2026-11-25 18:30,3.9\n", "columns", "what was read"},
	} {
		u := understood(t, c.text, Choices{})
		if len(u.Asks) == 0 || u.Asks[0].Of != c.of || !strings.Contains(u.Asks[0].Says.String(), c.says) {
			t.Errorf("%q: asked %v, want %s %q", c.text, u.Asks, c.of, c.says)
		}
	}
	u := understood(t, "when,SG,SG two\n2026-11-25 18:30,1.040,1.040\n", Choices{Columns: []string{"time", "gravity SG", "gravity Plato"}})
	if u.Sure() || u.Asks[0].Of != "3" {
		t.Errorf("two columns of one quantity: %v", u.Asks)
	}
}

// An answer settles what was asked.
func TestAnswers(t *testing.T) {
	const text = "when;press;weight\n11/12/2026 18:30;10;5,300\n"
	u := understood(t, text, Choices{Order: "month", Decimal: "comma", Columns: []string{"", "pressure psi", "cylinder weight kg"}})
	if !u.Sure() || len(u.Bad) != 1 || !strings.Contains(u.Bad[0].Why.Error(), "before the yeast went in") {
		t.Errorf("month first: %v %v", u.Asks, u.Bad)
	}
	u = understood(t, text, Choices{Order: "day", Decimal: "point", Columns: []string{"", "pressure psi", "cylinder weight g"}})
	if want := "11T17:30:00 1 68947.6\n11T17:30:00 4 5.3"; lines(&u.Found) != want {
		t.Errorf("day first: got\n%s\nwant\n%s\n%v %v", lines(&u.Found), want, u.Asks, u.Bad)
	}
}

// Each row that cannot be read has one line: where, what, and what is accepted.
func TestBadRows(t *testing.T) {
	const good = "2026-11-25 18:30"
	for _, c := range []struct {
		cells, column, says string
	}{
		{"never,1.040,", "time", "accepted: a date and time"},
		{",1.040,", "time", "no time stands"},
		{"2026-11-31 18:30,1.040,", "time", "no such day"},
		{"2026-03-29 02:30,1.040,", "time", "clocks went forward"},
		{"2026-11-25 24:30,1.040,", "time", "accepted: a date and time"},
		{"2026-11-01 18:30,1.040,", "time", "before the yeast went in"},
		{"2028-11-01 18:30,1.040,", "time", "still to come"},
		{good + ",1.48,", "gravity", "outside 0.970 to 1.200; accepted: 1.046"},
		{good + ",x,", "gravity", "a number was expected; accepted: 1.046"},
		{good + ",1.040 kg,", "gravity", "not known here"},
		{good + ",,oops", "event", "accepted: relief 12 psi"},
		{good + ",1.040,,,9", "", "5 cells; accepted: 3"},
		{good + ",1.0\"40,", "", "quote"},
	} {
		u := understood(t, "time,gravity,event\n"+good+",1.040,gas off\n2026-11-25 19:30,1.030,\n"+c.cells+"\n2026-11-25 20:30,1.020,\n", Choices{})
		if len(u.Bad) != 1 || u.Bad[0].Line != 4 || u.Bad[0].Column != c.column || !strings.Contains(u.Bad[0].Why.Error(), c.says) || strings.Contains(u.Bad[0].Why.Error(), "\n") {
			t.Errorf("%s: got %+v, want line 4, %s, %q", c.cells, u.Bad, c.column, c.says)
		}
		if len(u.Found.Readings) != 3 || len(u.Found.Events) != 1 {
			t.Errorf("%s: the good rows are %s", c.cells, lines(&u.Found))
		}
	}
}

func TestWholeFilesRefused(t *testing.T) {
	for text, says := range map[string]string{
		"": "an empty file", " \n\n": "an empty file", "gravity\n1.040\n": "one column alone", "time,gravity\n": "without a row",
		"a,b\n1,\x00\n": "a zero byte", strings.Repeat("a,", 80) + "\n": "81 columns", strings.Repeat("x", MostBytes+1): "4.0 MB",
	} {
		_, err := Understand("a.csv", []byte(text), aBatch(), Choices{}, now)
		if err == nil || !strings.Contains(err.Error(), says) || !strings.Contains(err.Error(), "accepted: ") || strings.Contains(err.Error(), "\n") {
			t.Errorf("%.20q: %v, want one line that says %q", text, err, says)
		}
	}
}

// said is what is odd about a file.
func said(u *Understood) (out string) {
	for _, n := range u.Notes {
		out += n.String() + " "
	}
	return out
}

// What is odd and taken all the same is said.
func TestNotes(t *testing.T) {
	for text, says := range map[string]string{
		"time,SG\n2026-11-25 18:30,1.040\n2026-11-25 18:30,1.040\n":                                               "stands there twice",
		"time,SG\n2026-11-25 18:30,1.040\n2026-11-25 18:30,1.030\n":                                               "another value",
		"time,SG\n2026-11-25 18:30,1.040\n2026-11-25 19:30,1.030\n2026-11-25 19:00,1.035\n2026-11-26 1:00,1.03\n": "earlier than the row above",
		"time,SG\n2026-11-26 18:30,1.030\n2026-11-25 18:30,1.040\n":                                               "newest row stands first",
		"date,SG\n2026-11-25,1.040\n":                                                                             "no time of day",
		"hello\ntime,SG\n2026-11-25 18:30,1.040\n":                                                                "before the table",
		"time,beer \xb0C\n2026-11-25 18:30,19\n":                                                                  "ISO 8859-1",
	} {
		if u := understood(t, text, Choices{}); !strings.Contains(said(u), says) {
			t.Errorf("%q: %v, want %q", text, u.Notes, says)
		}
	}
}

// What no instrument shows, and words beyond measure, are refused; at the bounds they are taken. The
// rows that cannot be read stand in order, whatever is wrong with them.
func TestBoundsOfCells(t *testing.T) {
	long := func(n int) string { return strings.Repeat("ä", n) }
	u := understood(t, "time,vessel temp C,instrument,note\n2026-11-25 18:30,60,"+long(80)+","+long(2000)+"\n2026-11-25 19:30,60.1,,\n2026-11-25 20:30,1\"8,,\n2026-11-25 21:30,18,"+long(81)+",\n2026-11-25 22:30,18,,"+long(2001)+"\n", Choices{})
	want := []struct {
		column, says string
	}{{"vessel temp C", "no instrument shows that; accepted: -30 to 60 °C"}, {"", "a quote stands within a cell"}, {"instrument", "more than 80 letters"}, {"note", "more than 2000 letters"}}
	if len(u.Bad) != len(want) || u.Found.Count() != 2 {
		t.Fatalf("%d are found, bad %+v", u.Found.Count(), u.Bad)
	}
	for i, b := range u.Bad {
		if b.Line != i+3 || b.Column != want[i].column || !strings.Contains(b.Why.Error(), want[i].says) {
			t.Errorf("got %+v, want line %d, %v", b, i+3, want[i])
		}
	}
}

// What was done or noted stands twice as a reading does, is taken once, and is not called a reading.
func TestActsAndNotesTwice(t *testing.T) {
	const row = "2026-11-25 18:30,gas off,cloudy\n"
	u := understood(t, "time,event,note\n"+row+row+"2026-11-25 18:30,,clear\n2026-11-25 19:30,gas off,cloudy\n", Choices{})
	if len(u.Found.Events) != 2 || len(u.Found.Notes) != 3 || u.Rows != 4 || said(u) != "2 things done or noted stand there twice. They are taken once. " {
		t.Errorf("got\n%s\nsaid %q", lines(&u.Found), said(u))
	}
	u = understood(t, "time,gravity,event\n2026-11-25 18:30,1.040,gas off\n2026-11-25 18:30,1.040,gas off\n", Choices{})
	if want := "One reading stands there twice. It is taken once. One thing done or noted stands there twice. It is taken once. "; said(u) != want {
		t.Errorf("a reading and an act: said %q, want %q", said(u), want)
	}
}

// A date alone may be any time of its day, and is said to be so uncertain: the standard
// deviation of a uniform distribution is its width by the root of twelve.
func TestDatesAlone(t *testing.T) {
	u := understood(t, "date,SG\n20.11.2026,1.046\n25.11.2026,1.040\n", Choices{})
	want := []struct {
		at    time.Time
		hours float64
	}{{time.Date(2026, 11, 20, 21, 15, 0, 0, berlin), 5.5}, {time.Date(2026, 11, 25, 12, 0, 0, 0, berlin), 24}}
	for i, r := range u.Found.Readings {
		if !r.Time.Equal(want[i].at) || math.Abs(float64(r.Uncertain)-3600*want[i].hours/math.Sqrt(12)) > 1e-6 {
			t.Errorf("got %v ± %v s, want %v", r.Time, r.Uncertain, want[i])
		}
	}
	if len(u.Found.Readings) != 2 || u.Dotted {
		t.Errorf("got %+v %v", u.Found, u.Bad)
	}
	if u := understood(t, "date,SG\n10.12.2026,1.046\n", Choices{}); !u.Dotted || u.Order != "day" || lines(&u.Found) != "10T11:00:00 0 1.046" {
		t.Errorf("points: %v %v %s", u.Dotted, u.Order, lines(&u.Found))
	}
}

// The hour that the clock shows twice when summer time ends (Berlin, 25 October 2026, 3:00 to
// 2:00; tz database) is told by the order of the rows.
func TestHourTwice(t *testing.T) {
	b := aBatch()
	b.Pitched = time.Date(2026, 10, 24, 18, 0, 0, 0, berlin)
	u, err := Understand("a.csv", []byte("time,SG\n2026-10-25 01:30,1.046\n2026-10-25 02:30,1.045\n2026-10-25 02:00,1.044\n2026-10-25 02:30,1.043\n2026-10-25 03:00,1.042\n"), b, Choices{Zone: berlin}, now)
	if err != nil {
		t.Fatal(err)
	}
	const want = "24T23:30:00 0 1.046\n25T00:30:00 0 1.045\n25T01:00:00 0 1.044\n25T01:30:00 0 1.043\n25T02:00:00 0 1.042"
	if got := lines(&u.Found); got != want || !strings.Contains(said(u), "3 times were on the clock twice") {
		t.Errorf("got\n%s\nwant\n%s\n%v", got, want, u.Notes)
	}
}

// A megabyte of anything keeps nobody waiting: the slowest of these takes a fraction of
// a second when the machine is idle.
func TestNothingHangs(t *testing.T) {
	for _, piece := range []string{"a\"b\n", "\"", ",\n", "1,2\n", "\"\n\",", "2026-11-25 18:30,x\n", "2026-11-25 18:30,1.04\n", "\t", ",", "1,1/2\n", "x", "\xff\n,"} {
		began := time.Now()
		u, err := Understand("a.csv", []byte("a,b\n1,2\n"+strings.Repeat(piece, 1<<20/len(piece))), aBatch(), Choices{Zone: berlin, Columns: []string{"time", "gravity SG"}}, now)
		if took := time.Since(began); took > 10*time.Second {
			t.Errorf("%q took %v", piece, took)
		}
		if u == nil {
			continue
		}
		for _, b := range u.Bad {
			if len(b.Cell) > 300 || strings.Contains(b.Why.Error(), "\n") {
				t.Fatalf("%q: %+v", piece, b)
			}
		}
		if err == nil && u.Rows == 0 && len(u.Bad) == 0 {
			t.Errorf("%q: nothing was said", piece)
		}
	}
}

// Whatever the bytes and choices, there is an answer, and what was found can be kept.
func FuzzUnderstand(f *testing.F) {
	for _, text := range []string{"time,gravity\n2026-11-25 18:30,1.040\n", "sep=;\na;b\n25.11.2026;1,04\n", "\xff\xfea\x00,\x00", "\"a\n,b\n1\"2,3\n", "1795627800,10 psi\n", "h,event,note\n1,gas off,x\n", "a\tb\n\n\t\n", "date,time,x\n1/2/26,6:30 PM,NaN\n"} {
		f.Add([]byte(text), "time", "comma", "day")
	}
	f.Add([]byte("a,b\n1,2\n"), "hours", "", "month")
	f.Fuzz(func(t *testing.T, data []byte, column, decimal, order string) {
		u, err := Understand("a.csv", data, aBatch(), Choices{Decimal: decimal, Order: order, Columns: []string{column}, Zone: berlin}, now)
		if err != nil {
			if strings.ContainsAny(err.Error(), "\n\r") {
				t.Errorf("more than one line: %q", err)
			}
			return
		}
		if u.Rows < u.Found.Count()/(3*mostColumns) || len(u.Named) < 2 {
			t.Errorf("%d rows, %d found, %d columns", u.Rows, u.Found.Count(), len(u.Named))
		}
		for _, r := range u.Found.Readings {
			if math.IsNaN(r.Value) || math.IsInf(r.Value, 0) || r.Time.Before(pitched.Add(-time.Hour)) || r.Time.After(now.Add(time.Hour)) || !(r.Uncertain >= 0) {
				t.Errorf("found %+v", r)
			}
		}
	})
}
