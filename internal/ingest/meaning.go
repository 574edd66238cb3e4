package ingest

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"spile/batch"
	"spile/internal/batchfile"
	"spile/unit"
	"spile/wording"
	"spile/wort"
)

// Meaning is what a column can hold.
type Meaning struct {
	Code  string       // as it is chosen
	Label wording.Text // as people read it
	sort  sort
	value *value // of a sort that is read
	unit  string // that stands behind a bare number
	of    string // instrument, empty: the usual one
}

// sort is how the cells of a column are read.
type sort int

const (
	left sort = iota // left out
	moment
	date
	clock
	serialTime
	serialDate
	unixTime
	hours
	days
	read
	event
	note
	room // a temperature that is kept as a note: neither the beer has it nor the air around it
	instrument
)

// value is a quantity as the cells of a column tell it, in SI.
type value struct {
	batch.Quantity
	parse    func(cell, unit string, of *batch.Batch) (float64, error)
	accepted wording.Text
}

// with reads a cell by the parser of its quantity: a unit in the cell goes before that of the column.
func with[T ~float64](parse func(string) (T, error)) func(string, string, *batch.Batch) (float64, error) {
	return func(cell, unit string, _ *batch.Batch) (float64, error) {
		v, err := parse(either(bare(cell), cell+" "+unit, cell))
		return float64(v), err
	}
}

// bare tells whether a cell ends as a number does: no unit stands behind it.
func bare(cell string) bool {
	end := cell[len(cell)-1]
	return end >= '0' && end <= '9' || end == '.' || end == ','
}

func gravityOf(s string) (unit.Gravity, error) {
	return unit.ParseGravity(s, wort.GravityFromExtract)
}

// thousandfold reads 1046 as 1.046.
func thousandfold(cell, _ string, _ *batch.Batch) (float64, error) {
	v, err := strconv.ParseFloat(strings.Replace(cell, ",", ".", 1), 64)
	if err != nil || !(v >= 980 && v <= 1200) {
		return 0, wording.Unsaid("accepted: 980 to 1200, as 1046")
	}
	return v / 1000, nil
}

// vented reads gas let out by weight, or by volume as a meter in the room shows it.
func vented(cell, in string, of *batch.Batch) (float64, error) {
	if in == "L" && bare(cell) {
		v, err := unit.ParseVolume(cell + " L")
		return float64(v) * batchfile.GasDensity(of.Place), err
	}
	return with(unit.ParseMass)(cell, in, of)
}

var (
	gravityValue     = &value{batch.Gravity, with(gravityOf), "1.046 or 11.4 °P"}
	thousandValue    = &value{batch.Gravity, thousandfold, "1046"}
	pressureValue    = &value{batch.Pressure, with(unit.ParseGauge), "10 psi, 0.7 bar or 70 kPa"}
	temperatureValue = &value{batch.Temperature, with(unit.ParseTemperature), "19 °C or 66 °F"}
	airValue         = &value{batch.AirTemperature, with(unit.ParseTemperature), "13.5 °C or 56 °F"}
	vesselValue      = &value{batch.VesselMass, with(unit.ParseMass), "24.1 kg or 53 lb"}
	cylinderValue    = &value{batch.CylinderMass, with(unit.ParseMass), "5.3 kg or 11.7 lb"}
	ventedValue      = &value{batch.VentedGas, vented, "230 g, or 120 L by a meter"}
)

// probe is the instrument that reads in the beer.
const probe = "probe"

// LeaveOut is the code of a column that is not taken.
const LeaveOut = "leave out"

// Meanings are all of them, as they are offered.
var Meanings = []*Meaning{
	{LeaveOut, "Leave it out", left, nil, "", ""},
	{"time", "Date and time", moment, nil, "", ""},
	{"date", "Date", date, nil, "", ""},
	{"clock", "Time of day", clock, nil, "", ""},
	{"spreadsheet time", "Spreadsheet date and time, as 46351.75", serialTime, nil, "", ""},
	{"spreadsheet date", "Spreadsheet date, as 46351", serialDate, nil, "", ""},
	{"unix", "Seconds since 1970", unixTime, nil, "", ""},
	{"hours", "Hours since the yeast went in", hours, nil, "", ""},
	{"days", "Days since the yeast went in", days, nil, "", ""},
	{"gravity SG", "Gravity, such as 1.046", read, gravityValue, "SG", ""},
	{"gravity Plato", "Gravity, °P", read, gravityValue, "°P", ""},
	{"gravity 1046", "Gravity, such as 1046", read, thousandValue, "", ""},
	{"pressure psi", "Pressure, psi", read, pressureValue, "psi", ""},
	{"pressure bar", "Pressure, bar", read, pressureValue, "bar", ""},
	{"pressure kPa", "Pressure, kPa", read, pressureValue, "kPa", ""},
	{"beer temperature C", "Temperature in the beer, °C", read, temperatureValue, "C", probe},
	{"beer temperature F", "Temperature in the beer, °F", read, temperatureValue, "F", probe},
	{"vessel temperature C", "Temperature on the vessel, °C", read, temperatureValue, "C", ""},
	{"vessel temperature F", "Temperature on the vessel, °F", read, temperatureValue, "F", ""},
	{"air temperature C", "Temperature of the air around the vessel, °C", read, airValue, "C", ""},
	{"air temperature F", "Temperature of the air around the vessel, °F", read, airValue, "F", ""},
	{"room temperature C", "Temperature of the room, °C: kept as a note", room, temperatureValue, "C", ""},
	{"room temperature F", "Temperature of the room, °F: kept as a note", room, temperatureValue, "F", ""},
	{"vessel weight kg", "Weight of the vessel, kg", read, vesselValue, "kg", ""},
	{"vessel weight lb", "Weight of the vessel, lb", read, vesselValue, "lb", ""},
	{"cylinder weight kg", "Weight of the cylinder, kg", read, cylinderValue, "kg", ""},
	{"cylinder weight g", "Weight of the cylinder, g", read, cylinderValue, "g", ""},
	{"cylinder weight lb", "Weight of the cylinder, lb", read, cylinderValue, "lb", ""},
	{"vented g", "Gas let out so far, g", read, ventedValue, "g", ""},
	{"vented L", "Gas let out so far, L by a meter", read, ventedValue, "L", ""},
	{"event", "Something done", event, nil, "", ""},
	{"note", "A note", note, nil, "", ""},
	{"instrument", "The instrument that read the rest of the row", instrument, nil, "", ""},
}

// meant is the meaning of that code, nil where there is none.
func meant(code string) *Meaning {
	code = strings.Join(strings.Fields(code), " ")
	for _, m := range Meanings {
		if strings.EqualFold(m.Code, code) {
			return m
		}
	}
	return nil
}

// same tells whether two columns would tell the same thing.
func (m *Meaning) same(other *Meaning) bool {
	switch {
	case m.sort == left || other.sort == left:
		return false
	case m.sort == read && other.sort == read:
		return m.value.Quantity == other.value.Quantity && m.of == other.of
	case m.when() && other.when():
		return !(m.dates() && other.sort == clock || m.sort == clock && other.dates())
	}
	return m.sort == other.sort
}

// when tells whether a column says when.
func (m *Meaning) when() bool { return m.sort >= moment && m.sort <= days }

// dates tells whether a column gives dates, whose time of day may stand beside them.
func (m *Meaning) dates() bool { return m.sort == date || m.sort == serialDate }

// number tells whether its cells are numbers whose decimal mark may be a comma.
func (m *Meaning) number() bool {
	return m.value != nil || m.sort == hours || m.sort == days
}

// ParseColumns reads what columns mean, as "1=time, 2=pressure psi"; those that are not named are left out.
func ParseColumns(list string) ([]string, error) {
	out := slices.Repeat([]string{LeaveOut}, mostColumns)
	for _, part := range strings.Split(list, ",") {
		place, code, _ := strings.Cut(part, "=")
		n, err := strconv.Atoi(strings.TrimSpace(place))
		m := meant(code)
		if err != nil || n < 1 || n > mostColumns || m == nil {
			return nil, fmt.Errorf("read column %q; accepted: the number of a column and what it is, as 2=pressure psi; they can be %s", strings.TrimSpace(part), Codes())
		}
		out[n-1] = m.Code
	}
	return out, nil
}

// WriteColumns is the list that ParseColumns reads back.
func WriteColumns(codes []string) string {
	var out []string
	for i, code := range codes {
		if code != LeaveOut {
			out = append(out, fmt.Sprintf("%d=%s", i+1, either(code == "", "?", code)))
		}
	}
	return strings.Join(out, ",")
}

// Codes are those of all meanings, as a list to read.
func Codes() string {
	var out []string
	for _, m := range Meanings {
		out = append(out, m.Code)
	}
	return strings.Join(out, ", ")
}
