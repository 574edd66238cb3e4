// Package report draws what is known of one vessel: strips on one time axis as
// SVG and in the terminal, the vessel cut open, and a page that needs nothing
// but itself. It computes no quantity of its own: everything shown comes from
// the forecast, the records and what advice says of them.
package report

import (
	"fmt"
	"math"
	"strings"
	"time"

	"spile/batch"
	"spile/estimate"
	"spile/internal/batchfile"
	"spile/unit"
)

// Chart is strips over one time axis, in hours since pitching.
type Chart struct {
	Strips  []Strip
	Now     float64 // hours; NaN where there is no now
	End     float64 // hours
	Pitched time.Time
	Plan    []Mark // what is to be set, in words
	Done    []Mark // what was done, in words
	Prefix  string // of ids within one page
}

// Strip is one quantity over time, in the unit it is shown in.
type Strip struct {
	Name     string // a sentence: "Gravity, falling"
	Unit     string // behind a number; empty for gravity
	Decimals int
	Hours    []float64
	Low      []float64 // nil where there is no band
	Mid      []float64
	High     []float64
	Readings []Point
	Limits   []Limit
	Sentence string  // below the strip
	Least    float64 // the least height of the scale
}

// Point is one reading.
type Point struct {
	Hour, Value, Error float64
	Doubt              bool
}

// Limit is a line that must not be passed.
type Limit struct {
	Value float64
	Label string
}

// Mark is a word at a time.
type Mark struct {
	Hour float64
	Text string
}

// shown is how one quantity is drawn.
type shown struct {
	quantity batch.Quantity
	name     string
	unit     string
	decimals int
	least    float64
	toShown  func(si float64) float64
	scale    float64 // of a difference
}

func identity(x float64) float64  { return x }
func toPSI(pa float64) float64    { return pa / unit.PSI }
func toCelsius(k float64) float64 { return unit.Temperature(k).Celsius() }

// noQuantity is for what no instrument reads.
const noQuantity batch.Quantity = -1

var strips = []shown{
	{batch.Gravity, "Gravity", "", 3, 0.008, identity, 1},
	{batch.Pressure, "Pressure", "psi", 1, 4, toPSI, 1 / unit.PSI},
	{noQuantity, "Gas in the beer", "volumes", 1, 1, identity, 1},
	{batch.Temperature, "Temperature", "°C", 1, 4, toCelsius, 1},
}

// ForecastChart is the four strips of a forecast.
func ForecastChart(b *batch.Batch, log batch.Log, f *estimate.Forecast) *Chart {
	c := &Chart{Now: f.At.Sub(b.Pitched).Hours(), Pitched: b.Pitched, Prefix: "s"}
	c.End = spanOf(f, c.Now, b)
	all := [][]estimate.Band{f.Series.Gravity, f.Series.Pressure, f.Series.Volumes, f.Series.Temperature}
	for i, q := range strips {
		s := Strip{Name: q.name + ", " + movement(q, all[i], f.Series.Hours, c.Now), Unit: q.unit, Decimals: q.decimals, Least: q.least}
		for k, h := range f.Series.Hours {
			if h > c.End {
				break
			}
			band := all[i][k]
			s.Hours = append(s.Hours, h)
			s.Low, s.Mid, s.High = append(s.Low, q.toShown(band.P05)), append(s.Mid, q.toShown(band.P50)), append(s.High, q.toShown(band.P95))
		}
		s.Readings = readings(q, b, log, f)
		if q.quantity == batch.Pressure {
			s.Limits = pressureLimits(b)
		}
		s.Sentence = sentence(s, c)
		c.Strips = append(c.Strips, s)
	}
	c.Plan, c.Done = planMarks(b, c.End), doneMarks(b, log, f.At)
	return c
}

// spanOf is how far the strips reach: what people wait for, and some days ahead.
func spanOf(f *estimate.Forecast, now float64, b *batch.Batch) float64 {
	end := math.Max(7*24, now+4*24)
	for _, m := range []estimate.Milestone{f.Milestones.Finished, f.Milestones.Cold, f.Milestones.Carbonated, f.Milestones.Ready} {
		if !m.P95.IsZero() {
			end = math.Max(end, m.P95.Sub(b.Pitched).Hours()+24)
		}
	}
	for _, s := range b.Programme {
		end = math.Max(end, s.At.Hours()+48)
	}
	if n := len(f.Series.Hours); n > 0 {
		end = math.Min(end, f.Series.Hours[n-1])
	}
	return end
}

// movement is the direction at now, in one word.
func movement(q shown, bands []estimate.Band, hours []float64, now float64) string {
	var here, later float64
	for i, h := range hours {
		if h <= now {
			here = q.toShown(bands[i].P50)
		}
		if h <= now+24 {
			later = q.toShown(bands[i].P50)
		}
	}
	switch d := later - here; {
	case d > q.least/16:
		return "rising"
	case d < -q.least/16:
		return "falling"
	}
	return "level"
}

func readings(q shown, b *batch.Batch, log batch.Log, f *estimate.Forecast) []Point {
	var out []Point
	for _, r := range log.Readings {
		if r.Quantity == q.quantity && !r.Time.After(f.At) {
			out = append(out, Point{r.Time.Sub(b.Pitched).Hours(), q.toShown(r.Value), estimate.ReadingError(r) * q.scale, flagged(r, f)})
		}
	}
	return out
}

func flagged(r batch.Reading, f *estimate.Forecast) bool {
	for _, flag := range f.Flags {
		if flag.Reading == r {
			return true
		}
	}
	return false
}

func pressureLimits(b *batch.Batch) []Limit {
	var out []Limit
	if s := b.Vessel.SafetyRelief; s != nil {
		out = append(out, Limit{s.PSI(), "safety valve " + unit.FormatPSI(*s, 0)})
	}
	if r := b.Vessel.Rating; r != nil {
		out = append(out, Limit{r.PSI(), "rating " + unit.FormatPSI(*r, 0)})
	}
	return out
}

// sentence says what the strip shows, for whoever does not see it.
func sentence(s Strip, c *Chart) string {
	i := indexAt(s.Hours, c.Now)
	if i < 0 {
		return s.Name + "."
	}
	last := len(s.Mid) - 1
	text := fmt.Sprintf("%s: now %s, between %s and %s", s.Name, s.within(i), s.number(s.Low[i]), s.number(s.High[i]))
	if last > i {
		text += fmt.Sprintf("; %s by %s, between %s and %s", s.within(last), c.dayName(s.Hours[last]), s.number(s.Low[last]), s.number(s.High[last]))
	}
	return text + "."
}

// within writes the middle at i, no finer than a third of its band.
func (s *Strip) within(i int) string {
	step := unit.Resolution(math.Pow(10, -float64(s.Decimals)), s.High[i]-s.Low[i])
	return s.number(math.Round(s.Mid[i]/step) * step)
}

// number writes a value of the strip with its unit: pressure and temperature to
// half of one, the rest with the decimals of the trade.
func (s *Strip) number(v float64) string {
	switch s.Unit {
	case "":
		return plain(v, s.Decimals)
	case "volumes":
		return plain(v, s.Decimals) + " " + s.Unit
	}
	return strings.TrimSuffix(plain(math.Round(2*v)/2, 1), ".0") + " " + s.Unit
}

// bare is number without its unit, for the first of two.
func (s *Strip) bare(v float64) string { return strings.TrimSuffix(s.number(v), " "+s.Unit) }

// plain is a number without a minus before nothing.
func plain(v float64, decimals int) string {
	text := fmt.Sprintf("%.*f", decimals, v)
	if strings.Trim(text, "-0.") == "" {
		text = strings.TrimPrefix(text, "-")
	}
	return text
}

// indexAt is the last index at or before hour, -1 for none.
func indexAt(hours []float64, hour float64) int {
	at := -1
	for i, h := range hours {
		if h <= hour {
			at = i
		}
	}
	return at
}

// SimulatedChart is the four strips of a run known exactly: no band, no now.
func SimulatedChart(b *batch.Batch, run *batchfile.Simulated) *Chart {
	c := &Chart{Now: math.NaN(), End: run.Hours[len(run.Hours)-1], Pitched: b.Pitched, Prefix: "r"}
	for i, values := range [][]float64{run.Gravity, run.Pressure, run.Volumes, run.Temperature} {
		q := strips[i]
		s := Strip{Name: q.name, Unit: q.unit, Decimals: q.decimals, Least: q.least, Hours: run.Hours, Mid: make([]float64, len(values))}
		for k, v := range values {
			s.Mid[k] = q.toShown(v)
		}
		if q.quantity == batch.Pressure {
			s.Limits = pressureLimits(b)
		}
		last := len(s.Mid) - 1
		s.Sentence = fmt.Sprintf("%s: %s at pitching, %s on %s.", s.Name, s.number(s.Mid[0]), s.number(s.Mid[last]), c.dayName(s.Hours[last]))
		c.Strips = append(c.Strips, s)
	}
	for _, m := range run.Steps {
		c.Plan = append(c.Plan, Mark{m.Hours, m.Set})
	}
	return c
}

// time is the moment of an hour, in the zone of the batch.
func (c *Chart) time(hour float64) time.Time {
	return c.Pitched.Add(time.Duration(hour * float64(time.Hour)))
}

func (c *Chart) dayName(hour float64) string { return c.time(hour).Format("Monday 2 January") }

// midnights are the hours at which a day begins, within the chart.
func (c *Chart) midnights() []float64 {
	t := c.Pitched
	day := time.Date(t.Year(), t.Month(), t.Day()+1, 0, 0, 0, 0, t.Location())
	var out []float64
	for h := day.Sub(t).Hours(); h < c.End; h += 24 {
		out = append(out, h)
	}
	return out
}

// planMarks are the steps at a time; those that wait for a condition stand in the plan's own words.
func planMarks(b *batch.Batch, end float64) []Mark {
	var out []Mark
	for _, s := range b.Programme {
		if s.AtSet && s.At.Hours() <= end {
			out = append(out, Mark{s.At.Hours(), SettingWords(s.Set)})
		}
	}
	return out
}

// SettingWords writes a setting as people say it.
func SettingWords(s batch.Setting) string {
	var out []string
	if s.Hold != nil {
		out = append(out, unit.FormatCelsius(*s.Hold, 0))
	}
	if s.Relief != nil {
		out = append(out, "valve "+unit.FormatPSI(*s.Relief, 0))
	}
	if s.Gas != nil {
		out = append(out, "gas "+unit.FormatPSI(*s.Gas, 0))
	}
	if s.GasOff {
		out = append(out, "gas off")
	}
	if s.Action != "" {
		out = append(out, s.Action)
	}
	return strings.Join(out, ", ")
}

func doneMarks(b *batch.Batch, log batch.Log, at time.Time) []Mark {
	var out []Mark
	for _, e := range log.Events {
		if !e.Time.After(at) {
			out = append(out, Mark{e.Time.Sub(b.Pitched).Hours(), batchfile.EventText(e)})
		}
	}
	return out
}
