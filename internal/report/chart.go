// Package report draws what is known of one vessel: strips on one time axis as
// SVG and in the terminal, the vessel cut open, and a page that needs nothing
// but itself. It computes no quantity of its own: everything shown comes from
// the forecast, the records and what advice says of them.
package report

import (
	"math"
	"time"

	"spile/advice"
	"spile/batch"
	"spile/estimate"
	"spile/internal/batchfile"
	"spile/unit"
	"spile/wording"
)

// View is all that is shown of one batch at one time.
type View struct {
	Batch    *batch.Batch
	Log      batch.Log
	Forecast *estimate.Forecast
	Said     advice.Said
	Style    unit.Style // how quantities are written
	NotReal  bool       // invented, for a demonstration or practice
	Ended    bool       // nothing comes any more
	Tried    *Tried     // nil: nothing is tried
	// Compared is what is tried in words, beside the plan; nil: nothing is.
	Compared *advice.Compared
}

// Tried is what comes of a change that somebody thinks of.
type Tried struct {
	Label  string // "if 22 °C": what is changed
	Series *estimate.Series
}

// in gives a time in the zone of what is shown.
func (v *View) in(t time.Time) time.Time { return v.Style.In(t, v.Batch.Pitched.Location()) }

// Chart is strips over one time axis, in hours since pitching.
type Chart struct {
	Strips  []Strip
	Now     float64   // hours; NaN where there is no now
	End     float64   // hours
	Pitched time.Time // in the zone of what is shown
	Plan    []Mark    // what is to be set, in words
	Done    []Mark    // what was done, in words
	Prefix  string    // of ids within one page
	NotReal bool      // invented, for a demonstration or practice
	Paper   bool      // black alone: tint becomes hatch
	Style   unit.Style
	If      string // what the violet lines are, at their end; empty where nothing is tried
}

// Strip is one quantity over time, in the unit it is shown in.
type Strip struct {
	Name     string // a sentence: "Gravity, falling"
	Measure  *unit.Measure
	Amount   bool // seen from zero where that is near
	Hours    []float64
	Low      []float64 // nil where there is no band
	Mid      []float64
	High     []float64
	Readings []Point
	Spans    []Span // of readings too many to tell apart
	Limits   []Limit
	IfHours  []float64 // of what comes of a change; nil where none is tried
	IfMid    []float64
	Sentence string  // below the strip
	Least    float64 // the least height of the scale
}

// Point is one reading.
type Point struct {
	Hour, Value, Error float64
	Doubt              bool
	Sensor             bool   // nobody read it off
	by                 string // the instrument
}

// Limit is a line that must not be exceeded.
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
	of       unit.Quantity
	name     wording.Text
	usual    float64 // a value in SI that is usual
	least    float64 // the least height of the scale, in SI
	amount   bool    // seen from zero where that is near
}

// noQuantity is for what no instrument reads.
const noQuantity batch.Quantity = -1

var strips = []shown{
	{batch.Gravity, unit.OfGravity, "Gravity", 1.01, 0.008, false},
	{batch.Pressure, unit.OfPressure, "Pressure", 0, 4 * unit.PSI, true},
	{noQuantity, unit.OfGas, "Gas in the beer", 0, 1, true},
	{batch.Temperature, unit.OfTemperature, "Temperature", float64(unit.Celsius(20)), 4, false},
}

// strip begins a strip of q in somebody's style.
func (q *shown) strip(style unit.Style) Strip {
	m := style.Of(q.of, q.usual)
	return Strip{Name: style.Word(q.name), Measure: m, Amount: q.amount, Least: math.Abs(m.Shown(q.usual+q.least) - m.Shown(q.usual))}
}

// ForecastChart is the four strips of a forecast.
func ForecastChart(v *View) *Chart {
	b, f := v.Batch, v.Forecast
	c := &Chart{Now: f.At.Sub(b.Pitched).Hours(), Pitched: v.in(b.Pitched), Prefix: "s", NotReal: v.NotReal, Style: v.Style}
	if c.End = spanOf(f, c.Now, b); v.Ended {
		c.End = c.Now
	}
	all := [][]estimate.Band{f.Series.Gravity, f.Series.Pressure, f.Series.Volumes, f.Series.Temperature}
	for i := range strips {
		q := &strips[i]
		s := q.strip(v.Style)
		s.Name = v.Style.Say("%s, %s", s.Name, movement(q, all[i], f.Series.Hours, c.Now))
		for k, h := range f.Series.Hours {
			if h > c.End {
				break
			}
			band := all[i][k]
			s.Hours = append(s.Hours, h)
			s.Low, s.Mid, s.High = append(s.Low, s.Measure.Shown(band.P05)), append(s.Mid, s.Measure.Shown(band.P50)), append(s.High, s.Measure.Shown(band.P95))
		}
		s.Readings, s.Spans = gather(v.readings(q, s.Measure), c.End)
		if q.quantity == batch.Pressure {
			s.Limits = pressureLimits(b, v.Style)
		}
		c.try(&s, v.Tried, i)
		say := sentence
		if v.Ended {
			say = ended
		}
		s.Sentence = say(&s, c, all[i])
		c.Strips = append(c.Strips, s)
	}
	c.Plan, c.Done = planMarks(b, c.End, v.Style), v.doneMarks()
	if v.Ended { // the last day is the end, and no now
		c.Now = math.NaN()
	}
	return c
}

// try adds to strip i what comes of a change.
func (c *Chart) try(s *Strip, t *Tried, i int) {
	if t == nil {
		return
	}
	c.If = t.Label
	bands := [][]estimate.Band{t.Series.Gravity, t.Series.Pressure, t.Series.Volumes, t.Series.Temperature}[i]
	for k, h := range t.Series.Hours {
		if h <= c.End {
			s.IfHours, s.IfMid = append(s.IfHours, h), append(s.IfMid, s.Measure.Shown(bands[k].P50))
		}
	}
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
func movement(q *shown, bands []estimate.Band, hours []float64, now float64) wording.Text {
	var here, later float64
	for i, h := range hours {
		if h <= now {
			here = bands[i].P50
		}
		if h <= now+24 {
			later = bands[i].P50
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

func (v *View) readings(q *shown, m *unit.Measure) []Point {
	var out []Point
	for _, r := range v.Log.Readings {
		if r.Quantity == q.quantity && !r.Time.After(v.Forecast.At) {
			half := math.Abs(m.Shown(r.Value+estimate.ReadingError(r)) - m.Shown(r.Value))
			out = append(out, Point{r.Time.Sub(v.Batch.Pitched).Hours(), m.Shown(r.Value), half, flagged(r, v.Forecast), sensors[r.Instrument], r.Instrument})
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

func pressureLimits(b *batch.Batch, style unit.Style) []Limit {
	var out []Limit
	add := func(name wording.Text, g *unit.Gauge) {
		if g != nil {
			out = append(out, Limit{style.Of(unit.OfPressure, float64(*g)).Shown(float64(*g)), style.Say(name, style.Limit(*g))})
		}
	}
	add("safety valve %s", b.Vessel.SafetyRelief)
	add("rating %s", b.Vessel.Rating)
	return out
}

// sentence says what the strip shows, for whoever does not see it; its bands are rounded as everywhere else.
func sentence(s *Strip, c *Chart, bands []estimate.Band) string {
	i := indexAt(s.Hours, c.Now)
	if i < 0 {
		return s.Name + "."
	}
	between := func(i int) string {
		low, high := s.Measure.Edges(bands[i].P05, bands[i].P95)
		return c.Style.Say("between %s and %s", s.Measure.With(low), s.Measure.With(high))
	}
	last := len(s.Mid) - 1
	text := c.Style.Say("%s: now %s, %s", s.Name, s.within(i), between(i))
	if last > i {
		text += c.Style.Say("; %s by %s, %s", s.within(last), c.dayName(s.Hours[last]), between(last))
	}
	return text + "."
}

// ended is sentence of a batch that is over.
func ended(s *Strip, c *Chart, bands []estimate.Band) string {
	i := indexAt(s.Hours, c.End)
	if i < 0 {
		return s.Name + "."
	}
	low, high := s.Measure.Edges(bands[i].P05, bands[i].P95)
	return c.Style.Say("%s: at the end %s, between %s and %s.", s.Name, s.within(i), s.Measure.With(low), s.Measure.With(high))
}

// within writes the middle at i, no finer than a third of its band.
func (s *Strip) within(i int) string {
	return s.number(s.rounded(s.Mid[i], unit.Resolution(s.Measure.Finest, math.Abs(s.High[i]-s.Low[i]))))
}

func (s *Strip) rounded(v, step float64) float64 { return math.Round(v/step) * step }

// number writes a value of the strip with its unit, to the finest step of the trade.
func (s *Strip) number(v float64) string { return s.Measure.With(s.bare(v)) }

// bare is number without its unit, for the first of two.
func (s *Strip) bare(v float64) string { return s.Measure.Text(s.rounded(v, s.Measure.Finest)) }

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
func SimulatedChart(b *batch.Batch, run *batchfile.Simulated, style unit.Style) *Chart {
	c := &Chart{Now: math.NaN(), End: run.Hours[len(run.Hours)-1], Pitched: style.In(b.Pitched, b.Pitched.Location()), Prefix: "r", Style: style}
	for i, values := range [][]float64{run.Gravity, run.Pressure, run.Volumes, run.Temperature} {
		s := strips[i].strip(style)
		s.Hours, s.Mid = run.Hours, make([]float64, len(values))
		for k, v := range values {
			s.Mid[k] = s.Measure.Shown(v)
		}
		if strips[i].quantity == batch.Pressure {
			s.Limits = pressureLimits(b, style)
		}
		last := len(s.Mid) - 1
		s.Sentence = style.Say("%s: %s at pitching, %s on %s.", s.Name, s.number(s.Mid[0]), s.number(s.Mid[last]), c.dayName(s.Hours[last]))
		c.Strips = append(c.Strips, s)
	}
	for _, m := range run.Steps {
		c.Plan = append(c.Plan, Mark{m.Hours, m.Set})
	}
	return c
}

// time is the moment of an hour.
func (c *Chart) time(hour float64) time.Time {
	return c.Pitched.Add(time.Duration(hour * float64(time.Hour)))
}

func (c *Chart) dayName(hour float64) string { return c.Style.Time(c.time(hour), "Monday 2 January") }

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
func planMarks(b *batch.Batch, end float64, style unit.Style) []Mark {
	var out []Mark
	for _, s := range b.Programme {
		if s.AtSet && s.At.Hours() <= end {
			out = append(out, Mark{s.At.Hours(), SettingWords(s.Set, style)})
		}
	}
	return out
}

func (v *View) doneMarks() []Mark {
	var out []Mark
	for _, e := range v.Log.Events {
		if !e.Time.After(v.Forecast.At) {
			out = append(out, Mark{e.Time.Sub(v.Batch.Pitched).Hours(), EventWords(e, v.Style)})
		}
	}
	return out
}
