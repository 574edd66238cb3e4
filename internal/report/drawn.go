package report

import "math"

// Drawn is a chart as a page takes it to draw for itself: hours since pitching, values in
// the units of whoever looks, no number finer than can be seen.
type Drawn struct {
	Now    *float64     `json:"now"` // nil where there is no now
	End    float64      `json:"end"`
	Days   []DrawnDay   `json:"days"`
	Times  []string     `json:"times"` // of the hours of the strips, in words
	Strips []DrawnStrip `json:"strips"`
	Plan   []DrawnMark  `json:"plan"`
	Done   []DrawnMark  `json:"done"`
}

// DrawnDay begins at Hour; its noon may lie beyond the end.
type DrawnDay struct {
	Hour float64 `json:"hour"`
	Day  string  `json:"day"`
	Date string  `json:"date"`
}

// DrawnStrip is one quantity over time.
type DrawnStrip struct {
	Name     string       `json:"name"`
	Unit     string       `json:"unit"` // empty for a gravity without one
	Mark     string       `json:"mark"` // of decimals
	Finest   float64      `json:"finest"`
	Decimals int          `json:"decimals"`
	Scale    [2]float64   `json:"scale"` // what it must show at least
	Hours    []float64    `json:"hours"`
	Low      []float64    `json:"p05"`
	Mid      []float64    `json:"p50"`
	High     []float64    `json:"p95"`
	Readings []DrawnPoint `json:"readings"`
	Spans    [][4]float64 `json:"spans"` // hour, lowest, highest, how many readings
	Limits   []DrawnLimit `json:"limits"`
}

// DrawnPoint is one reading.
type DrawnPoint struct {
	Hour   float64 `json:"hour"`
	Value  float64 `json:"value"`
	Error  float64 `json:"error"` // nine times in ten, to either side
	Doubt  bool    `json:"doubt,omitempty"`
	Sensor bool    `json:"sensor,omitempty"`
}

// DrawnLimit is a line that must not be exceeded.
type DrawnLimit struct {
	Value float64 `json:"value"`
	Label string  `json:"label"`
}

// DrawnMark is a word at a time.
type DrawnMark struct {
	Hour float64 `json:"hour"`
	Text string  `json:"text"`
}

// Drawn is the chart for a page that draws it.
func (c *Chart) Drawn() *Drawn {
	d := &Drawn{End: c.End, Plan: drawnMarks(c.Plan), Done: drawnMarks(c.Done), Days: []DrawnDay{}, Times: []string{}, Strips: []DrawnStrip{}}
	if !math.IsNaN(c.Now) {
		now := c.Now
		d.Now = &now
	}
	for _, h := range c.midnights() {
		noon := c.time(h + 12)
		d.Days = append(d.Days, DrawnDay{h, c.Style.Time(noon, "Mon"), c.Style.Time(noon, "2 Jan")})
	}
	for i := range c.Strips {
		d.Strips = append(d.Strips, c.Strips[i].drawn())
	}
	if len(c.Strips) > 0 {
		for _, h := range c.Strips[0].Hours {
			d.Times = append(d.Times, c.Style.Time(c.time(h), "Mon 2 Jan 15:04"))
		}
	}
	return d
}

func drawnMarks(marks []Mark) []DrawnMark {
	out := make([]DrawnMark, len(marks))
	for i, m := range marks {
		out[i] = DrawnMark(m)
	}
	return out
}

func (s *Strip) drawn() DrawnStrip {
	sc := s.fit(0, 1)
	d := DrawnStrip{
		Name: s.Name, Unit: s.Measure.Said(), Mark: s.Measure.Fixed(0.5, 1)[1:2], Finest: s.Measure.Finest, Decimals: s.Measure.Decimals(),
		Scale: [2]float64{sc.low, sc.high}, Hours: short(s.Hours, 0.01), Low: s.seen(s.Low), Mid: s.seen(s.Mid), High: s.seen(s.High),
		Readings: []DrawnPoint{}, Spans: [][4]float64{}, Limits: []DrawnLimit{},
	}
	for _, p := range s.Readings {
		d.Readings = append(d.Readings, DrawnPoint{p.Hour, p.Value, p.Error, p.Doubt, p.Sensor})
	}
	for _, p := range s.Spans {
		d.Spans = append(d.Spans, [4]float64{p.Hour, p.Low, p.High, float64(p.Count)})
	}
	for _, l := range s.Limits {
		d.Limits = append(d.Limits, DrawnLimit(l))
	}
	return d
}

// seen writes values to a twentieth of the finest step that is said.
func (s *Strip) seen(values []float64) []float64 { return short(values, s.Measure.Finest/20) }

func short(values []float64, step float64) []float64 {
	out := make([]float64, len(values))
	for i, v := range values {
		out[i] = math.Round(v/step) * step
		if digits := math.Pow10(int(math.Ceil(-math.Log10(step))) + 1); digits >= 1 {
			out[i] = math.Round(out[i]*digits) / digits // no digits of a binary fraction
		}
	}
	return out
}
