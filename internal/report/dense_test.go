package report

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"spile/batch"
	"spile/unit"
)

// A sensor that says something every three seconds for 88 hours, with spikes of a single
// reading planted up and down, beside a dial that is read now and then.
func TestNoExtremeIsLost(t *testing.T) {
	b, log, f := fixture()
	rng := rand.New(rand.NewPCG(3, 5))
	spikes := map[time.Time]float64{}
	for i := range 100000 {
		at := pitched.Add(time.Duration(float64(i) / 100000 * 88 * float64(time.Hour)))
		value := 10 + rng.NormFloat64()*0.05
		if rng.IntN(2000) == 0 {
			value += float64(1+rng.IntN(9)) * float64(1-2*rng.IntN(2))
			spikes[at] = value
		}
		log.Readings = append(log.Readings, batch.Reading{Time: at, Quantity: batch.Pressure, Value: value * unit.PSI, Instrument: "transducer"})
	}
	c := ForecastChart(&View{Batch: b, Log: log, Forecast: f})
	s := &c.Strips[1]
	if len(s.Readings) != 2 || s.Readings[0].Sensor {
		t.Errorf("the two readings of the dial: got %d marks", len(s.Readings))
	}
	if n := len(s.Spans); n < 100 || n > stripColumns {
		t.Errorf("%d columns", n)
	}
	half, all := c.End/stripColumns/2, 0
	for _, p := range s.Spans {
		all += p.Count
	}
	if all != 100000 {
		t.Errorf("the columns hold %d readings of 100,000", all)
	}
	for at, value := range spikes {
		hour, found := at.Sub(pitched).Hours(), false
		for _, p := range s.Spans {
			found = found || math.Abs(p.Hour-hour) <= half*1.0001 && p.Low <= value+1e-9 && p.High >= value-1e-9
		}
		if !found {
			t.Errorf("the spike of %.2f psi at %.2f h is lost", value, hour)
		}
	}
	low, high := math.Inf(1), math.Inf(-1)
	for _, value := range spikes {
		low, high = min(low, value), max(high, value)
	}
	sc := s.fit(0, 1)
	if sc.low > low || sc.high < high {
		t.Errorf("the scale of %.1f to %.1f leaves out spikes of %.1f to %.1f", sc.low, sc.high, low, high)
	}
	if svg := c.svg(820, "", false); strings.Count(svg, `class="ribbon"`) != len(s.Spans) || len(svg) > 400000 {
		t.Errorf("%d ribbons drawn of %d, %d bytes", strings.Count(svg, `class="ribbon"`), len(s.Spans), len(svg))
	}
}

// A few readings of a sensor are ticks, one in doubt stands by itself at its true place
// among any number of others.
func TestGather(t *testing.T) {
	var all []Point
	for i := range apart {
		all = append(all, Point{Hour: float64(i), by: "probe", Sensor: true})
	}
	if points, spans := gather(all, 200); len(points) != apart || len(spans) != 0 {
		t.Errorf("%d readings: %d marks, %d columns", apart, len(points), len(spans))
	}
	all = append(all, Point{Hour: 3.3, Value: 9, by: "probe", Doubt: true})
	points, spans := gather(all, 200)
	if len(points) != 1 || points[0].Value != 9 || points[0].Hour != 3.3 || len(spans) == 0 {
		t.Errorf("in doubt: %+v, %d columns", points, len(spans))
	}
}

// What a page draws is what the server draws: the same numbers, to a twentieth of the
// finest step that is said.
func TestDrawn(t *testing.T) {
	b, log, f := fixture()
	style, err := unit.ParseStyle("bar,f,comma", nil)
	if err != nil {
		t.Fatal(err)
	}
	c := ForecastChart(&View{Batch: b, Log: log, Forecast: f, Style: style})
	d := c.Drawn()
	if *d.Now != c.Now || d.End != c.End || len(d.Strips) != 4 || len(d.Times) != len(c.Strips[0].Hours) {
		t.Fatalf("%+v", d)
	}
	if d.Times[0] != "Fri 20 Nov 18:30" || d.Days[0].Hour != 5.5 || d.Days[0].Day != "Sat" || d.Days[0].Date != "21 Nov" {
		t.Errorf("%q, %+v", d.Times[0], d.Days[0])
	}
	for i, s := range d.Strips {
		for k, v := range s.Mid {
			if was := c.Strips[i].Mid[k]; math.Abs(was-v) > s.Finest/19 {
				t.Fatalf("%s: %v became %v", s.Name, was, v)
			}
		}
	}
	p := d.Strips[1]
	if p.Unit != "bar" || p.Mark != "," || p.Decimals != 2 || d.Strips[3].Unit != "°F" || d.Strips[0].Decimals != 3 {
		t.Errorf("%+v", p)
	}
	if len(p.Limits) != 2 || math.Abs(p.Limits[1].Value-2.5) > 0.001 || len(p.Readings) != 2 || math.Abs(p.Readings[0].Value-0.655) > 0.001 || p.Readings[0].Error <= 0 {
		t.Errorf("%+v %+v", p.Limits, p.Readings)
	}
	if body, err := json.Marshal(d); err != nil || len(body) > 60000 {
		t.Errorf("%d bytes, %v", len(body), err)
	}
	c.Now = math.NaN()
	if c.Drawn().Now != nil {
		t.Error("a now where there is none")
	}
}
