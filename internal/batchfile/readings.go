package batchfile

import (
	"bufio"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"spile/batch"
	"spile/unit"
	"spile/wort"
)

// Bounds of a readings file. It is read as a stream; what is kept in memory is
// at most maxRows rows, and the reading stops at the first bound passed.
const (
	MaxReadingsBytes = 32 << 20
	MaxReadingsRows  = 500_000
	maxRowBytes      = 64 << 10
)

// DecodeLog reads READINGS.csv of the batch b. Rows may stand in any order of
// time; what is returned is in order. file is the name that refusals print.
func DecodeLog(file string, r io.Reader, b *batch.Batch) (batch.Log, error) {
	bounded := &boundedReader{file: file, r: bufio.NewReaderSize(r, 64<<10)}
	records := csv.NewReader(bounded)
	records.ReuseRecord, records.FieldsPerRecord, records.TrimLeadingSpace, records.Comment = true, -1, true, '#'
	t := table{file: file, batch: b, csv: records}
	if err := t.header(bounded); err != nil {
		return batch.Log{}, err
	}
	if err := t.rows(); err != nil {
		return batch.Log{}, err
	}
	slices.SortStableFunc(t.log.Readings, func(a, b batch.Reading) int { return a.Time.Compare(b.Time) })
	slices.SortStableFunc(t.log.Events, func(a, b batch.Event) int { return a.Time.Compare(b.Time) })
	return t.log, nil
}

// boundedReader passes text on and refuses a file that is too large, has a row
// that is too long, or is not UTF-8, at the line where that shows.
type boundedReader struct {
	file string
	r    *bufio.Reader
	rest []byte
	read int
	line int
	err  error
}

func (b *boundedReader) Read(p []byte) (int, error) {
	for len(b.rest) == 0 {
		if b.err != nil {
			return 0, b.err
		}
		b.fetch()
	}
	n := copy(p, b.rest)
	b.rest = b.rest[n:]
	return n, nil
}

// fetch reads one line and checks it.
func (b *boundedReader) fetch() {
	var line []byte
	for {
		part, err := b.r.ReadSlice('\n')
		line = append(line, part...)
		if len(line) > maxRowBytes {
			b.err = &Refusal{b.file, b.line + 1, fmt.Sprintf("a row of more than %d kB", maxRowBytes>>10), "one reading a row is accepted"}
			return
		}
		if !errors.Is(err, bufio.ErrBufferFull) {
			b.err = err
			break
		}
	}
	b.line++
	b.read += len(line)
	switch {
	case b.read > MaxReadingsBytes:
		b.err = TooLarge(b.file, b.line)
	case !utf8.Valid(line):
		b.err = &Refusal{b.file, b.line, "bytes that are not UTF-8 text", "save the file as CSV, UTF-8"}
	case slices.Contains(line, 0):
		b.err = &Refusal{b.file, b.line, "a zero byte", "plain text is accepted"}
	default:
		b.rest = line
	}
}

// TooLarge is the refusal of a readings file of more bytes than are accepted.
func TooLarge(file string, line int) *Refusal {
	return &Refusal{file, line, fmt.Sprintf("more than %d MB", MaxReadingsBytes>>20),
		fmt.Sprintf("accepted: at most %d MB or %d rows; keep one reading a minute or fewer", MaxReadingsBytes>>20, MaxReadingsRows)}
}

// column is what one column of the header means.
type column struct {
	name     string
	quantity batch.Quantity
	low      float64 // in the unit of the column
	high     float64
	toSI     func(v float64, b *batch.Batch) float64
	example  string
}

// The columns that hold numbers. Bounds are what an instrument can show.
var numberColumns = []column{
	{"gravity_sg", batch.Gravity, 0.98, 1.2, scale(1), "1.046"},
	{"gravity_plato", batch.Gravity, -5, 45, func(v float64, _ *batch.Batch) float64 { return float64(wort.GravityFromExtract(unit.Plato(v))) }, "11.4"},
	{"pressure_psi", batch.Pressure, -14.7, 150, scale(unit.PSI), "10"},
	{"pressure_bar", batch.Pressure, -1.013, 10, scale(unit.Bar), "0.7"},
	{"pressure_kpa", batch.Pressure, -101.3, 1000, scale(unit.Kilopascal), "70"},
	{"temperature_c", batch.Temperature, -30, 60, fromCelsius, "19.5"},
	{"temperature_f", batch.Temperature, -22, 140, fromFahrenheit, "67"},
	{"mass_kg", batch.VesselMass, 0, 5000, scale(1), "24.15"},
	{"cylinder_kg", batch.CylinderMass, 0, 500, scale(1), "5.32"},
	{"vented_l", batch.VentedGas, 0, 1e6, func(v float64, b *batch.Batch) float64 { return v * unit.Litre * GasDensity(b.Place) }, "120"},
	{"vented_g", batch.VentedGas, 0, 1e7, scale(unit.Gram), "230"},
	{"air_c", batch.AirTemperature, -30, 60, fromCelsius, "13.5"},
	{"air_f", batch.AirTemperature, -22, 140, fromFahrenheit, "56"},
}

func fromCelsius(v float64, _ *batch.Batch) float64    { return float64(unit.Celsius(v)) }
func fromFahrenheit(v float64, _ *batch.Batch) float64 { return float64(unit.Fahrenheit(v)) }

func scale(factor float64) func(float64, *batch.Batch) float64 {
	return func(v float64, _ *batch.Batch) float64 { return v * factor }
}

// The columns that hold words.
const (
	timeColumn       = "time"
	hoursColumn      = "hours"
	instrumentColumn = "instrument"
	eventColumn      = "event"
)

func columnNames() []string {
	out := []string{timeColumn, hoursColumn}
	for _, c := range numberColumns {
		out = append(out, c.name)
	}
	return append(out, instrumentColumn, eventColumn)
}

// IsReadings tells whether a text begins as READINGS.csv does: with a header in which some
// column is named as only that names it, and one says when.
func IsReadings(text string) bool {
	var when, what bool
	first, _, _ := strings.Cut(strings.TrimPrefix(text, "\ufeff"), "\n")
	for _, cell := range strings.Split(first, ",") {
		name := strings.ToLower(strings.Trim(cell, "\" \r\t"))
		when = when || name == timeColumn || name == hoursColumn
		what = what || numberColumn(name) != nil || name == eventColumn
	}
	return when && what
}

// table reads one file, row by row.
type table struct {
	file    string
	batch   *batch.Batch
	csv     *csv.Reader
	columns []string
	numbers []*column
	log     batch.Log
}

func (t *table) refuse(line int, read, accepted string) error {
	return &Refusal{t.file, line, read, accepted}
}

// header reads the first row, from which every column knows quantity and unit.
func (t *table) header(in *boundedReader) error {
	if mark, err := in.r.Peek(3); err == nil && string(mark) == "\ufeff" {
		in.r.Discard(3) //nolint: three bytes were just seen
	}
	row, err := t.csv.Read()
	if errors.Is(err, io.EOF) {
		return t.refuse(1, "an empty file", "accepted: a header such as hours,gravity_sg,temperature_c and one reading a row")
	}
	if err != nil {
		return t.broken(err)
	}
	line, _ := t.csv.FieldPos(0)
	for _, cell := range row {
		name := strings.ToLower(strings.TrimSpace(cell))
		if !slices.Contains(columnNames(), name) {
			return t.refuse(line, "column "+quoted(cell), unknownColumn(name))
		}
		if slices.Contains(t.columns, name) {
			return t.refuse(line, "column "+name+" twice", "each column once is accepted")
		}
		t.columns = append(t.columns, name)
		t.numbers = append(t.numbers, numberColumn(name))
	}
	return t.headerAgrees(line)
}

func unknownColumn(name string) string {
	for _, c := range numberColumns {
		stem, unitName, _ := strings.Cut(c.name, "_")
		if name == stem {
			return "a column names quantity and unit, as " + c.name + " (here " + unitName + ")"
		}
	}
	return unknownWord(name, columnNames())
}

func numberColumn(name string) *column {
	for i := range numberColumns {
		if numberColumns[i].name == name {
			return &numberColumns[i]
		}
	}
	return nil
}

// headerAgrees asks for exactly one column of time and one column a quantity.
func (t *table) headerAgrees(line int) error {
	byTime, byHours := slices.Contains(t.columns, timeColumn), slices.Contains(t.columns, hoursColumn)
	if byTime == byHours {
		return t.refuse(line, either(byTime, "both time and hours", "a header without time"), "accepted: one column of time (2026-11-21T08:00:00+01:00) or of hours since pitch (13.5)")
	}
	if len(t.columns) < 2 {
		return t.refuse(line, "a header with times alone", "accepted beside it: "+strings.Join(columnNames()[2:], ", "))
	}
	seen := map[batch.Quantity]string{}
	for _, c := range t.numbers {
		if c == nil {
			continue
		}
		if other := seen[c.quantity]; other != "" {
			return t.refuse(line, other+" and "+c.name+" side by side", "one column for each quantity is accepted")
		}
		seen[c.quantity] = c.name
	}
	return nil
}

// broken turns a fault in the stream into a refusal, unless the disk is at fault.
func (t *table) broken(err error) error {
	var refusal *Refusal
	var syntax *csv.ParseError
	switch {
	case errors.As(err, &refusal):
		return refusal
	case errors.As(err, &syntax):
		return t.refuse(syntax.Line, "a row that is not CSV ("+syntax.Err.Error()+")", `accepted: cells between commas, in double quotes where a comma stands inside`)
	}
	return fmt.Errorf("read %s: %w", t.file, err)
}

func (t *table) rows() error {
	for n := 0; ; n++ {
		row, err := t.csv.Read()
		if errors.Is(err, io.EOF) {
			if n == 0 {
				return t.refuse(1, "a header without a row below it", "accepted: at least one reading or event")
			}
			return nil
		}
		if err != nil {
			return t.broken(err)
		}
		line, _ := t.csv.FieldPos(0)
		if n >= MaxReadingsRows {
			return t.refuse(line, fmt.Sprintf("more than %d rows", MaxReadingsRows), TooLarge("", 0).Accepted)
		}
		if err := t.row(line, row); err != nil {
			return err
		}
	}
}

func (t *table) row(line int, row []string) error {
	if len(row) == 1 && strings.TrimSpace(row[0]) == "" && len(t.columns) > 1 {
		return nil // a line of blanks
	}
	if len(row) > len(t.columns) || len(row) < len(t.columns) {
		return t.refuse(line, fmt.Sprintf("%d cells", len(row)), fmt.Sprintf("as many as the header has, %d (a decimal comma goes in double quotes)", len(t.columns)))
	}
	at, err := t.moment(line, row)
	if err != nil || at.IsZero() {
		return err
	}
	instrument := ""
	if i := slices.Index(t.columns, instrumentColumn); i >= 0 {
		instrument = strings.Clone(strings.TrimSpace(row[i]))
	}
	if len(instrument) > 80 {
		return t.refuse(line, "instrument "+quoted(instrument), "a name of at most 80 letters is accepted")
	}
	return t.cells(line, row, at, instrument)
}

// cells reads what a row holds beside its time.
func (t *table) cells(line int, row []string, at time.Time, instrument string) error {
	for i, cell := range row {
		cell = strings.TrimSpace(cell)
		switch c := t.numbers[i]; {
		case cell == "":
		case c != nil:
			v, err := t.number(line, c, cell)
			if err != nil {
				return err
			}
			t.log.Readings = append(t.log.Readings, batch.Reading{Time: at, Quantity: c.quantity, Value: c.toSI(v, t.batch), Instrument: instrument, Line: line})
		case t.columns[i] == eventColumn:
			e, err := ParseEvent(cell)
			if err != nil {
				return t.refuse(line, "event "+quoted(cell), err.Error())
			}
			e.Time, e.Line = at, line
			t.log.Events = append(t.log.Events, e)
		}
	}
	return nil
}

// number reads a cell whose unit stands in the header. A decimal comma is read as such.
func (t *table) number(line int, c *column, cell string) (float64, error) {
	v, err := strconv.ParseFloat(strings.Replace(cell, ",", ".", 1), 64)
	if err != nil || math.IsNaN(v) || v < c.low || v > c.high {
		return 0, t.refuse(line, c.name+" "+quoted(cell), fmt.Sprintf("accepted: a number from %s to %s, as %s", trim(c.low), trim(c.high), c.example)+c.meant(cell))
	}
	return v, nil
}

// meant asks whether a gravity in points, or without its point, was meant as package unit reads it.
func (c *column) meant(cell string) string {
	if c.name != "gravity_sg" {
		return ""
	}
	_, err := unit.ParseGravity(cell, nil)
	return suggestion(err)
}

func trim(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// moment is when a row was. It is zero for a row with nothing in it.
func (t *table) moment(line int, row []string) (time.Time, error) {
	i := max(slices.Index(t.columns, timeColumn), slices.Index(t.columns, hoursColumn))
	cell := strings.TrimSpace(row[i])
	if cell == "" {
		for _, other := range row {
			if strings.TrimSpace(other) != "" {
				return time.Time{}, t.refuse(line, "a row without its time", "accepted: "+t.columns[i]+" in every row")
			}
		}
		return time.Time{}, nil
	}
	at, accepted := t.parseMoment(t.columns[i], cell)
	if accepted != "" {
		return at, t.refuse(line, t.columns[i]+" "+quoted(cell), accepted)
	}
	if at.Before(t.batch.Pitched) {
		return at, t.refuse(line, t.columns[i]+" "+quoted(cell)+", before the yeast went in", "accepted: from pitching on ("+t.batch.Pitched.Format(time.RFC3339)+")")
	}
	return at, nil
}

// parseMoment gives the time, or what would have been accepted.
func (t *table) parseMoment(name, cell string) (at time.Time, accepted string) {
	if name == timeColumn {
		at, err := time.Parse(time.RFC3339, cell)
		if err != nil || at.Year() > 2200 {
			return at, "accepted: a date and time with its zone, as 2026-11-21T08:00:00+01:00"
		}
		return at, ""
	}
	h, err := strconv.ParseFloat(strings.Replace(cell, ",", ".", 1), 64)
	if err != nil || math.IsNaN(h) || math.Abs(h) > spanHours.high/unit.Hour {
		return at, "accepted: hours since pitch, as 13.5"
	}
	return t.batch.Pitched.Add(time.Duration(math.Round(h * float64(time.Hour)))), ""
}
