package advice

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"spile/batch"
	"spile/estimate"
	"spile/limit"
	"spile/unit"
	"spile/vessel"
	"spile/yeast"
)

var pitched = time.Date(2026, 11, 20, 18, 30, 0, 0, time.FixedZone("", 3600)) // a Friday evening

func someBatch() *batch.Batch {
	return &batch.Batch{
		Name: "Sluice Gate Pale", Pitched: pitched,
		Wort:   batch.Wort{Volume: 20 * unit.Litre, Gravity: 1.046},
		Yeast:  batch.Yeast{Kind: yeast.Ale, Form: "dry"},
		Vessel: batch.Vessel{Capacity: 26 * unit.Litre, Diameter: 0.3, Rating: gauge(2.5e5), SafetyRelief: gauge(2.2e5)},
		Place:  batch.Place{Ambient: unit.Celsius(16), Fridge: &batch.Fridge{Coldest: unit.Celsius(1)}},
		Gas:    &batch.Gas{Cylinder: 2.6, Content: 1.9},
		Target: &batch.Target{CO2: 2.5, Temperature: unit.Celsius(3), Ready: pitched.Add(14 * 24 * time.Hour)},
		Programme: []batch.Step{
			{AtSet: true, Set: batch.Setting{Hold: kelvin(20), Relief: gauge(15 * unit.PSI)}},
			{When: batch.Condition{Kind: batch.FinishedFor, For: unit.Day}, Set: batch.Setting{Hold: kelvin(1), Gas: gauge(10 * unit.PSI)}},
		},
	}
}

func kelvin(c float64) *unit.Temperature { t := unit.Celsius(c); return &t }

func around(x, half float64) estimate.Band {
	return estimate.Band{P05: x - half, P50: x, P95: x + half}
}

func timesAround(at time.Time, half time.Duration) estimate.Milestone {
	return estimate.Milestone{P05: at.Add(-half), P50: at, P95: at.Add(half), Probability: 0.72}
}

// someForecast is a hand-made belief: an ale of 1.046 that ends at 1.010, hours
// after pitching, with so many points left and falling so fast.
func someForecast(hours, left, perDay float64) *estimate.Forecast {
	at := pitched.Add(time.Duration(hours * float64(time.Hour)))
	g := 1.010 + left/1000
	f := &estimate.Forecast{
		At: at, LastReading: at.Add(-2 * time.Hour), Fermenting: unit.Celsius(20), CooledHours: math.Inf(1),
		TerminalGravity: around(1.010, 0.002), TerminalABV: around(0.047, 0.002),
		Now: estimate.Snapshot{
			Gravity: around(g, 0.0015), ABV: around((1.046-g)*0.131, 0.002), Volumes: around(1.2, 0.1),
			Pressure: around(10*unit.PSI, 0.6*unit.PSI), Temperature: around(293.15, 0.5), Liquid: around(0.02, 0.0003),
			PointsLeft: around(left, math.Min(left, 2)), PointsPerDay: around(perDay, perDay*0.2), Finished: 0,
		},
		Worst: estimate.Worst{Contents: 2.3e5, Regulator: 2.2e5, Hottest: unit.Celsius(40)},
		Next:  estimate.NextReading{Instrument: batch.Gravity, At: at.Add(40 * time.Hour), Narrows: 0.4},
	}
	f.Diagnostics.Trusted = true
	f.Milestones = estimate.Milestones{
		Attenuated90: timesAround(at.Add(20*time.Hour), 5*time.Hour), Finished: timesAround(at.Add(50*time.Hour), 14*time.Hour),
		Cold: timesAround(at.Add(90*time.Hour), 20*time.Hour), Carbonated: timesAround(at.Add(200*time.Hour), 60*time.Hour), Ready: timesAround(at.Add(210*time.Hour), 60*time.Hour),
	}
	for h := 0.0; h <= 500; h += 2 {
		s := &f.Series
		s.Hours = append(s.Hours, h)
		s.Gravity, s.Volumes = append(s.Gravity, f.Now.Gravity), append(s.Volumes, f.Now.Volumes)
		s.Pressure, s.Temperature = append(s.Pressure, f.Now.Pressure), append(s.Temperature, f.Now.Temperature)
	}
	return f
}

func done(f *estimate.Forecast) *estimate.Forecast {
	f.Now.Finished, f.Now.PointsLeft = 0.94, estimate.Band{P05: 0, P50: 0.3, P95: 0.95}
	f.Now.PointsPerDay = estimate.Band{P05: 0, P50: 0.1, P95: 0.3}
	return f
}

func chilled(f *estimate.Forecast, c float64) *estimate.Forecast {
	f.Now.Temperature, f.CooledHours = around(float64(unit.Celsius(c)), 0.5), 20
	return f
}

func says(f *estimate.Forecast, change func(b *batch.Batch, log *batch.Log)) Said {
	b, log := someBatch(), batch.Log{Readings: []batch.Reading{{Time: f.At.Add(-2 * time.Hour), Quantity: batch.Gravity, Value: f.Now.Gravity.P50}}}
	if change != nil {
		change(b, &log)
	}
	return Say(b, log, batch.Upkeep{}, f, f.At, written)
}

// written is the style in which the cases are said.
var written unit.Style

// asking is a forecast with every question answered in one of the ways it can be.
func asking(n int) *estimate.Forecast {
	f := someForecast(120, 2, 0.8)
	q := &f.Questions
	q.Chill = &estimate.Rehearsal{To: unit.Celsius(2), Pressure: around(-2e3, 4e3), PullsIn: 0.7, Volumes: around(1.6, 0.1), ToStay: around(0.01, 0.005), ToWish: around(0.045, 0.005), Hold: around(60e3, 5e3)}
	q.Own = &estimate.Keeping{Setting: 1.4e5, Needed: 1.6e5, Capped: n%2 == 0, Advised: n%3 != 0, Volumes: around(2.2, 0.2), Enough: 0.4}
	q.Quiet = &estimate.Proposal{From: 70e3, To: 20e3, Times: n%4 - 1, Hours: 24, Limit: 0.33, Expected: around(0.8, 0.3)}
	q.Leak = []estimate.Leaking{
		{Verdict: estimate.Yes, Probability: 0.8, Size: around(5*unit.Gram/unit.Day, 2*unit.Gram/unit.Day)}, {Verdict: estimate.No, Size: around(0.4*unit.Gram/unit.Day, 0.3*unit.Gram/unit.Day)},
		{Verdict: estimate.CannotTell, Hides: estimate.BehindValve}, {Verdict: estimate.CannotTell, Hides: estimate.BehindAbsorption},
	}[n]
	for _, quiet := range []vessel.Quiet{{Points: 0.1, SD: 0.1, Limit: 0.25}, {Points: 2, SD: 0.1, Limit: 0.25}, {Points: 0.4, SD: 0.3, Limit: 0.8}, {Points: 1, SD: 0.1, Limit: 0.25, Unsettled: 0.8}} {
		q.Proof = append(q.Proof, estimate.Proof{First: f.At.Add(-26 * time.Hour), Second: f.At.Add(-2 * time.Hour), Quiet: quiet, Opened: n == 1, Leak: unit.MassRate(n) * unit.Gram / unit.Day})
	}
	q.Turns = []estimate.Turned{
		{Since: f.At.Add(-50 * time.Hour), By: around(6, 1), Kept: n == 1}, {Since: f.At.Add(-30 * time.Hour), By: around(-6, 1), Kept: n == 2},
	}
	return f
}

// cases cover every rule of the table.
var cases = []struct {
	what  string
	said  func() Said
	state State
	also  string // words beside, joined
	first string // key of the first action
}{
	{"first night", func() Said { return says(someForecast(12, 36, 1), nil) }, Waking, "", "waiting"},
	{"two days and nothing", func() Said { return says(someForecast(44, 36, 0.5), nil) }, Waking, "", "still nothing"},
	{"working", func() Said { return says(someForecast(60, 20, 12), nil) }, Working, "", "working"},
	{"hiss", func() Said {
		return says(someForecast(60, 20, 12), func(_ *batch.Batch, l *batch.Log) {
			l.Events = append(l.Events, batch.Event{Time: pitched.Add(50 * time.Hour), Kind: batch.Noticed, Words: "hiss"})
		})
	}, Working, "", "hiss"},
	{"slowing", func() Said { return says(someForecast(90, 4, 3), nil) }, Slowing, "", "best"},
	{"slowing, nothing to read", func() Said {
		f := someForecast(90, 4, 3)
		f.Next = estimate.NextReading{None: true, At: f.At.Add(48 * time.Hour)}
		return says(f, nil)
	}, Slowing, "", "slowing"},
	{"two equal readings", func() Said {
		return says(someForecast(120, 4, 3), func(_ *batch.Batch, l *batch.Log) {
			l.Readings = append([]batch.Reading{{Time: pitched.Add(90 * time.Hour), Quantity: batch.Gravity, Value: 1.014}}, l.Readings...)
		})
	}, Slowing, "", "two equal"},
	{"finished, cold is next", func() Said { return says(done(someForecast(150, 0, 0)), nil) }, Finished, "", "before cold"},
	{"finished, butter test before the cold", func() Said {
		return says(done(someForecast(150, 0, 0)), func(b *batch.Batch, _ *batch.Log) { b.Programme[1].Set.Action = estimate.ButterTest })
	}, Finished, "", "before cold"},
	{"finished, no plan", func() Said {
		return says(done(someForecast(150, 0, 0)), func(b *batch.Batch, _ *batch.Log) { b.Programme = b.Programme[:1] })
	}, Finished, "", "finished"},
	{"finished, no gas", func() Said {
		return says(done(someForecast(150, 0, 0)), func(b *batch.Batch, _ *batch.Log) { b.Programme[1].Set.Gas, b.Gas = nil, nil })
	}, Finished, "", "before cold"},
	{"finished, gas near the valve's setting", func() Said {
		return says(done(someForecast(150, 0, 0)), func(b *batch.Batch, _ *batch.Log) { b.Programme[0].Set.Relief = gauge(10 * unit.PSI) })
	}, Finished, "", "before cold"},
	{"taking gas near the valve's setting", func() Said {
		return says(chilled(done(someForecast(200, 0, 0)), 2), func(b *batch.Batch, _ *batch.Log) { b.Programme[0].Set.Relief = gauge(10 * unit.PSI) })
	}, TakingGas, "", "drain"},
	{"more gas than is wished for", func() Said {
		f := chilled(done(someForecast(200, 0, 0)), 2)
		f.Now.Volumes = around(3.2, 0.1)
		return says(f, nil)
	}, Ready, "", "too much gas"},
	{"asked, let down once", func() Said { return says(asking(2), nil) }, Slowing, "", "best"},
	{"asked, the valve too low", func() Said { return says(asking(0), nil) }, Slowing, "", "best"},
	{"asked, low enough", func() Said { return says(asking(1), nil) }, Slowing, "", "best"},
	{"asked, let down often", func() Said { return says(asking(3), nil) }, Slowing, "", "best"},
	{"no sample, but all else", func() Said {
		return says(someForecast(60, 20, 12), func(_ *batch.Batch, l *batch.Log) {
			l.Readings = nil
			for _, q := range []batch.Quantity{batch.Pressure, batch.VesselMass, batch.VentedGas} {
				l.Readings = append(l.Readings, batch.Reading{Time: pitched.Add(50 * time.Hour), Quantity: q, Value: 1})
			}
		})
	}, Working, "", "working"},
	{"a let-down that explains a falling gauge", func() Said {
		f := someForecast(60, 20, 12)
		f.Questions.Leak = estimate.Leaking{Verdict: estimate.CannotTell, Hides: estimate.BehindLetDown}
		return says(f, nil)
	}, Working, "", "working"},
	{"a cylinder that will not do", func() Said {
		f := someForecast(60, 20, 12)
		f.Questions.Chill = &estimate.Rehearsal{To: unit.Celsius(2), ToWish: around(0.045, 0.005), Hold: around(60e3, 5e3)}
		f.Now.CylinderLeft = around(0.03, 0.01)
		return says(f, nil)
	}, Working, "", "working"},
	{"too late for the wish", func() Said {
		f := someForecast(60, 20, 12)
		f.Milestones.Ready.Probability = 0.01
		return says(f, nil)
	}, Working, "", "working"},
	{"cooling", func() Said { return says(chilled(done(someForecast(180, 0, 0)), 10), nil) }, Cooling, "", "cooling"},
	{"taking gas", func() Said { return says(chilled(done(someForecast(200, 0, 0)), 2), nil) }, TakingGas, "", "taking gas"},
	{"ready", func() Said {
		f := chilled(done(someForecast(300, 0, 0)), 2)
		f.Now.Volumes = around(2.5, 0.1)
		return says(f, nil)
	}, Ready, "", "first glass"},
	{"pouring", func() Said {
		return says(chilled(done(someForecast(400, 0, 0)), 2), func(_ *batch.Batch, l *batch.Log) {
			l.Events = append(l.Events, batch.Event{Time: pitched.Add(380 * time.Hour), Kind: batch.Poured, Volume: 2e-3})
		})
	}, Pouring, "", "pouring"},
	{"empty", func() Said {
		f := chilled(done(someForecast(600, 0, 0)), 2)
		f.Now.Liquid = around(0.0005, 0.0002)
		return says(f, func(_ *batch.Batch, l *batch.Log) {
			l.Events = append(l.Events, batch.Event{Time: pitched.Add(580 * time.Hour), Kind: batch.Poured, Volume: 2e-3})
		})
	}, Empty, "", "empty"},
	{"stuck in the cold", func() Said {
		f := someForecast(240, 33, 0.3)
		f.Now.Temperature = around(float64(unit.Celsius(6)), 0.5)
		return says(f, nil)
	}, Slowing, "Stuck", "too cold"},
	{"stuck in the warm", func() Said { return says(someForecast(240, 12, 0.2), nil) }, Slowing, "Stuck", "stuck"},
	{"stuck, below the middle of its range", func() Said {
		f := someForecast(240, 12, 0.2)
		f.Now.Temperature = around(float64(unit.Celsius(18)), 0.5)
		return says(f, nil)
	}, Slowing, "Stuck", "stuck"},
	{"foam", func() Said {
		return says(someForecast(40, 20, 20), func(_ *batch.Batch, l *batch.Log) {
			l.Events = append(l.Events, batch.Event{Time: pitched.Add(39 * time.Hour), Kind: batch.Noticed, Words: "foam"})
		})
	}, Working, "", "foam"},
	{"foam in the glass, too warm for its gas", func() Said { return pours(2.5, 6, 10*unit.PSI) }, Pouring, "", "foam in the glass"},
	{"foam in the glass, too much gas", func() Said { return pours(3.2, 3, 20*unit.PSI) }, Pouring, "", "foam in the glass"},
	{"foam in the glass, from the line", func() Said { return pours(2.4, 3, 12*unit.PSI) }, Pouring, "", "foam in the glass"},
	{"the gauge falls over cold beer", func() Said { return falls(12*unit.PSI, 9*unit.PSI, nil) }, Cooling, "", "cooling"},
	{"odd gravity", func() Said {
		f := someForecast(60, 20, 12)
		f.Flags = []estimate.Flag{{Kind: estimate.FlagFar, Reading: batch.Reading{Quantity: batch.Gravity, Value: 1.040}, Expected: around(1.03, 0.002)}}
		return says(f, nil)
	}, Working, "Hard to tell", "odd"},
	{"odd gauge", func() Said {
		f := someForecast(60, 20, 12)
		f.Flags = []estimate.Flag{{Kind: estimate.FlagFar, Reading: batch.Reading{Quantity: batch.Pressure, Value: 5 * unit.PSI}, Expected: around(69e3, 5e3)}}
		return says(f, nil)
	}, Working, "Hard to tell", "disagree"},
	{"leak", func() Said {
		f := chilled(done(someForecast(250, 0, 0)), 2)
		f.Findings = []estimate.Finding{{Kind: estimate.FindingLeak, Probability: 0.8, Size: around(1.2e-7, 3e-8)}}
		return says(f, nil)
	}, TakingGas, "Losing gas", "leak"},
	{"old readings", func() Said {
		f := someForecast(200, 4, 2)
		f.LastReading = pitched.Add(50 * time.Hour)
		return says(f, nil)
	}, Slowing, "Hard to tell", "old"},
	{"no reading", func() Said {
		f := someForecast(90, 20, 8)
		f.LastReading = time.Time{}
		return says(f, nil)
	}, Working, "Hard to tell", "too little"},
	{"step of the plan tomorrow", func() Said {
		return says(someForecast(60, 20, 12), func(b *batch.Batch, _ *batch.Log) {
			b.Programme = append(b.Programme[:1], batch.Step{AtSet: true, At: 80 * unit.Hour, Set: batch.Setting{Hold: kelvin(22), Relief: gauge(12 * unit.PSI), GasOff: true, Action: "dry hop 60 g"}})
		})
	}, Working, "", "plan"},
	{"the gravity that a step waits for is there", func() Said {
		return says(someForecast(60, 20, 12), func(b *batch.Batch, _ *batch.Log) {
			b.Programme = append(b.Programme[:1], batch.Step{When: batch.Condition{Kind: batch.GravityAtMost, Gravity: 1.040}, Set: batch.Setting{Relief: gauge(14 * unit.PSI)}})
		})
	}, Working, "", "plan"},
	{"it was done", func() Said {
		return says(someForecast(60, 20, 12), func(b *batch.Batch, log *batch.Log) {
			b.Programme = append(b.Programme[:1], batch.Step{When: batch.Condition{Kind: batch.GravityAtMost, Gravity: 1.040}, Set: batch.Setting{Relief: gauge(14 * unit.PSI)}})
			log.Events = append(log.Events, batch.Event{Time: pitched.Add(50 * time.Hour), Kind: batch.SetRelief, Pressure: 14 * unit.PSI})
		})
	}, Working, "", "working"},
	{"plan above the rating", func() Said {
		return says(someForecast(60, 20, 12), func(b *batch.Batch, _ *batch.Log) {
			b.Programme = append(b.Programme[:1], batch.Step{AtSet: true, At: 80 * unit.Hour, Set: batch.Setting{Relief: gauge(3e5), Gas: gauge(3e5)}})
		})
	}, Working, "", "working-valve-over-rating"},
	{"no rating", func() Said {
		return says(someForecast(60, 20, 12), func(b *batch.Batch, _ *batch.Log) { b.Vessel.Rating = nil })
	}, Working, "", "over-rating"},
	{"pressure over the safety valve", func() Said {
		return says(someForecast(60, 20, 12), func(_ *batch.Batch, l *batch.Log) {
			l.Readings = append(l.Readings, batch.Reading{Time: pitched.Add(59 * time.Hour), Quantity: batch.Pressure, Value: 2.3e5})
		})
	}, Working, "Pressure high", "over-safety-valve"},
	{"working valve stuck", func() Said {
		return says(someForecast(60, 20, 12), func(_ *batch.Batch, l *batch.Log) {
			l.Readings = append(l.Readings, batch.Reading{Time: pitched.Add(59 * time.Hour), Quantity: batch.Pressure, Value: 25 * unit.PSI})
		})
	}, Working, "Pressure high", "working"},
}

func TestStateAndFirstAction(t *testing.T) {
	seen := map[string]bool{}
	for _, c := range cases {
		t.Run(c.what, func(t *testing.T) {
			s := c.said()
			if s.State != c.state {
				t.Errorf("state: expected %s, got %s", c.state, s.State)
			}
			if also := strings.Join(s.Also, ", "); also != c.also {
				t.Errorf("beside the state: expected %q, got %q", c.also, also)
			}
			if s.Next[0].Key != c.first {
				t.Errorf("first action: expected %q, got %q: %s", c.first, s.Next[0].Key, s.Next[0].Do)
			}
			waits := slices.ContainsFunc(s.Ahead, func(a Ahead) bool { return a.Key == "carbonated" || a.Key == "ready" })
			if poured := s.State == Pouring || s.State == Empty; poured && waits || s.State == TakingGas && !waits {
				t.Errorf("waits for gas: %t", waits)
			}
			for _, a := range s.Next {
				seen[a.Key] = true
				if a.Do == "" || a.When == "" || a.Why == "" {
					t.Errorf("%s: expected what, when and why, got %+v", a.Key, a)
				}
			}
		})
	}
	for _, r := range rules {
		if !seen[r.key] {
			t.Errorf("rule %q: no case of this test makes it speak", r.key)
		}
	}
}

// The words Finished and Stuck are held to figures: each alone takes the word away.
func TestFinishedNeedsAllThree(t *testing.T) {
	for what, spoil := range map[string]func(f *estimate.Forecast){
		"odds":   func(f *estimate.Forecast) { f.Now.Finished = 0.89 },
		"rate":   func(f *estimate.Forecast) { f.Now.PointsPerDay.P95 = 0.6 },
		"cooled": func(f *estimate.Forecast) { f.CooledHours = 40 },
	} {
		f := done(someForecast(150, 0, 0))
		spoil(f)
		if s := says(f, func(b *batch.Batch, _ *batch.Log) { b.Programme = b.Programme[:1] }); s.State == Finished {
			t.Errorf("%s spoilt: expected another word than Finished", what)
		}
	}
}

func TestFirstTwoDaysAreNeverStuck(t *testing.T) {
	for hours := 0.0; hours <= 48; hours += 4 {
		if s := says(someForecast(hours, 36, 0), nil); s.State != Waking || len(s.Also) > 0 {
			t.Errorf("%v h: expected Waking alone, got %s, %v", hours, s.State, s.Also)
		}
	}
}

// A limit reads the measurement and the belief and uses the higher; neither a low
// reading nor a wide belief silences it.
func TestNothingSilencesALimit(t *testing.T) {
	low := batch.Reading{Time: pitched.Add(59 * time.Hour), Quantity: batch.Pressure, Value: 0}
	f := someForecast(60, 20, 12)
	f.Now.Pressure = estimate.Band{P05: 0, P50: 69e3, P95: 2.6e5}
	s := says(f, func(_ *batch.Batch, l *batch.Log) { l.Readings = append(l.Readings, low) })
	if s.Next[0].Urgency != Now || !s.Passed {
		t.Errorf("upper edge above the rating: expected Now, got %v: %s", s.Next[0].Urgency, s.Next[0].Do)
	}
	high := low
	high.Value = 2.6e5
	s = says(someForecast(60, 20, 12), func(_ *batch.Batch, l *batch.Log) { l.Readings = append(l.Readings, high) })
	if s.Next[0].Urgency != Now || !s.Passed {
		t.Errorf("reading above the rating: expected Now, got %v", s.Next[0].Urgency)
	}
}

// What a device sends can raise an alarm and never clear one; what a person reads can do both.
func TestDeviceRaisesAndNeverClears(t *testing.T) {
	sent := func(hours, value float64, device bool) batch.Reading {
		return batch.Reading{Time: pitched.Add(time.Duration(hours * float64(time.Hour))), Quantity: batch.Pressure, Value: value, Unattended: device}
	}
	for what, c := range map[string]struct {
		readings []batch.Reading
		passed   bool
	}{
		"a device raises":                     {[]batch.Reading{sent(57, 7e4, false), sent(58, 2.6e5, true)}, true},
		"a device does not clear its own":     {[]batch.Reading{sent(57, 2.6e5, true), sent(58, 7e4, true)}, true},
		"a device does not clear a person's":  {[]batch.Reading{sent(57, 2.6e5, false), sent(58, 7e4, true), sent(59, 7e4, true)}, true},
		"a person clears a device's":          {[]batch.Reading{sent(57, 2.6e5, true), sent(58, 7e4, false)}, false},
		"a person clears, a device goes on":   {[]batch.Reading{sent(57, 2.6e5, true), sent(58, 7e4, false), sent(59, 7e4, true)}, false},
		"a person clears, a device raises it": {[]batch.Reading{sent(57, 7e4, false), sent(58, 7e4, true), sent(59, 2.6e5, true)}, true},
	} {
		s := says(someForecast(60, 20, 12), func(_ *batch.Batch, l *batch.Log) { l.Readings = append(l.Readings, c.readings...) })
		if s.Passed != c.passed {
			t.Errorf("%s: a limit is passed: got %v, want %v", what, s.Passed, c.passed)
		}
	}
}

// What a regulator left open could bring is said where there is a cylinder, and nowhere else.
func TestWorstRegulatorNeedsACylinder(t *testing.T) {
	with := says(someForecast(60, 20, 12), nil).Worst
	without := says(someForecast(60, 20, 12), func(b *batch.Batch, _ *batch.Log) { b.Gas, b.Programme = nil, b.Programme[:1] }).Worst
	if line := sayIn(written, "worst regulator", "value", written.Dials(2.2e5, 0)); with != without+" "+line {
		t.Errorf("expected %q behind %q, got %q", line, without, with)
	}
}

func TestHealthyBatchPassesNoLimit(t *testing.T) {
	s := says(someForecast(60, 20, 12), nil)
	if s.Passed {
		t.Errorf("expected no limit to be passed, got %+v", s.Limits)
	}
}

func TestSafetyLimits(t *testing.T) {
	for _, c := range []struct {
		what   string
		change func(b *batch.Batch, f *estimate.Forecast)
		kind   limit.Kind
	}{
		{"no rating", func(b *batch.Batch, _ *estimate.Forecast) { b.Vessel.Rating = nil }, limit.RatingUnknown},
		{"rated below its relief", func(b *batch.Batch, _ *estimate.Forecast) { b.Vessel.Rating = gauge(0.5e5) }, limit.ValveHigh},
		{"worst case above the rating", func(_ *batch.Batch, f *estimate.Forecast) { f.Worst.Contents = 6e5 }, limit.WorstCase},
		{"regulator", func(_ *batch.Batch, f *estimate.Forecast) { f.Worst.Regulator = 6e5 }, limit.RegulatorFailure},
		{"full to the lid", func(b *batch.Batch, f *estimate.Forecast) { f.Now.Liquid = around(0.0255, 0.0001) }, limit.HeadspaceSmall},
		{"freezes", func(_ *batch.Batch, f *estimate.Forecast) { f.Series.Temperature[200] = around(270, 0.5) }, limit.Freezing},
		{"pulls in ahead", func(_ *batch.Batch, f *estimate.Forecast) { f.Series.Pressure[200] = around(0, 8e3) }, limit.WouldPullIn},
		{"pulls in now", func(_ *batch.Batch, f *estimate.Forecast) { f.Now.Pressure = around(-6e3, 1e2) }, limit.PullsIn},
		{"plan above the safety valve", func(_ *batch.Batch, f *estimate.Forecast) { f.Series.Pressure[200] = around(2.2e5, 1e4) }, limit.OverSafety},
	} {
		b, f := someBatch(), someForecast(60, 20, 12)
		c.change(b, f)
		found := false
		for _, l := range Say(b, batch.Log{}, batch.Upkeep{}, f, f.At, unit.Style{}).Limits {
			found = found || l.Kind == c.kind && l.Sentence != ""
		}
		if !found {
			t.Errorf("%s: expected the limit %s", c.what, c.kind)
		}
	}
}

// What is known of the vessel itself counts, whatever is noticed or believed: ice until it was checked, and a check that is due.
func TestConditionOfVessel(t *testing.T) {
	noticed := func(h float64, words string) batch.Event {
		return batch.Event{Time: pitched.Add(time.Duration(h * float64(time.Hour))), Kind: batch.Noticed, Words: words}
	}
	log := batch.Log{Events: []batch.Event{noticed(50, "ice"), noticed(55, "hiss")}}
	b, f := someBatch(), someForecast(60, 20, 12)
	for _, c := range []struct {
		what   string
		log    batch.Log
		vessel batch.Upkeep
		kind   limit.Kind
		first  Action
	}{
		{"a hiss since", log, batch.Upkeep{}, limit.WasFrozen, Action{Do: "Ice inside: gas off, do not tap, do not heat. Let it thaw, then have the vessel checked before pressure.", When: "Now.", Urgency: Now}},
		{"checked since", log, batch.Upkeep{Checked: pitched.Add(52 * time.Hour)}, "", Action{}},
		{"in the batch before", batch.Log{}, batch.Upkeep{Iced: pitched.Add(-time.Hour)}, limit.WasFrozen, Action{Do: "Ice inside: gas off, do not tap, do not heat. Let it thaw, then have the vessel checked before pressure.", When: "Now.", Urgency: Now}},
		{"due", batch.Log{}, batch.Upkeep{Due: f.At.Add(-time.Hour)}, limit.CheckDue, Action{Do: "This vessel is due for its check (" + f.At.Add(-time.Hour).UTC().Format("2 January 2006") + "). Until then, no pressure.", When: "Today.", Urgency: Today}},
		{"not due yet", batch.Log{}, batch.Upkeep{Due: f.At.Add(time.Hour)}, "", Action{}},
	} {
		said := Say(b, c.log, c.vessel, f, f.At, written)
		var kind limit.Kind
		for _, l := range said.Limits {
			if l.Kind == limit.WasFrozen || l.Kind == limit.CheckDue {
				kind = l.Kind
			}
		}
		if kind != c.kind {
			t.Errorf("%s: got the limit %q, want %q", c.what, kind, c.kind)
		}
		if a := said.Next[0]; kind != "" && (a.Do != c.first.Do || a.When != c.first.When || a.Urgency != c.first.Urgency || a.Why != "A safety limit comes before everything else." || said.Urgency != c.first.Urgency || !said.Passed) {
			t.Errorf("%s: first comes %+v, want %+v", c.what, a, c.first)
		}
	}
}

// Only rules that are there may be put off, and none that tells of gas that leaves or of a pressure in doubt.
func TestMayWait(t *testing.T) {
	keys := map[string]bool{}
	for _, r := range rules {
		keys[r.key] = true
	}
	for key := range mayWait {
		if !keys[key] {
			t.Errorf("there is no rule %q", key)
		}
	}
	for _, key := range []string{"foam", "disagree", "leak", "drain", "drain ahead", "too much gas", "cooling"} {
		if !keys[key] || mayWait[key] {
			t.Errorf("%q may be put off", key)
		}
	}
}

// How high the working valve may be set is said by the weakest part, whichever it is, less the error of a valve (1.645 times 1.6 psi),
// and by nothing where none is rated. A limit that is passed says the same.
func TestValveIsHeldToTheWeakestPart(t *testing.T) {
	rating, higher, lower := unit.Gauge(2.5e5), unit.Gauge(3e5), unit.Gauge(1.8e5)
	for _, c := range []struct {
		rating, safety *unit.Gauge
		want           string
	}{
		{&rating, &lower, limit.Say(written, "c.valve", "limit", "23.5 psi")},
		{&rating, &higher, limit.Say(written, "c.valve", "limit", "33.5 psi")},
		{&rating, nil, limit.Say(written, "c.valve", "limit", "33.5 psi")},
		{nil, &lower, limit.Say(written, "l.rating-unknown")},
	} {
		b := someBatch()
		b.Vessel.Rating, b.Vessel.SafetyRelief = c.rating, c.safety
		relief := unit.Gauge(7e4)
		if _, got := SayStep(b, &batch.Setting{Relief: &relief}, written); got != c.want {
			t.Errorf("got %q, want %q", got, c.want)
		}
		v := standing(b, batch.Log{}, batch.Upkeep{}, someForecast(60, 20, 12), b.Pitched.Add(60*time.Hour), written)
		for _, kind := range []limit.Kind{limit.OverRating, limit.OverSafety, limit.ValveHigh, limit.ValveOverSafety} {
			passed := Limit{Finding: limit.Finding{Kind: kind, Severity: limit.Now, Quantity: limit.Pressure, Limit: limit.Number{SI: 2.5e5, Known: true}}}
			if got := v.limitAction(passed).Caution; !strings.HasPrefix(got, c.want) {
				t.Errorf("%s: got %q, want %q", kind, got, c.want)
			}
		}
	}
}

// A step that would be at or above the weakest part is not advised, although the rating would allow it, and it is said which part
// that is; nor is a working valve above its highest setting.
func TestNoStepAboveTheSafetyValve(t *testing.T) {
	for set, valve := range map[unit.Gauge]bool{1.6e5: true, 1.7e5: false, 1.8e5: false, 2e5: false, 2.6e5: false} {
		b := someBatch()
		b.Vessel.SafetyRelief = gauge(1.8e5)
		said := written.Pressure(set, 0)
		gas := limit.Say(written, "l.over-safety-valve.plan", "value", said, "limit", "26 psi")
		if set < 1.8e5 {
			gas = sayIn(written, "step gas", "set", said)
		}
		relief := sayIn(written, "valve high", "set", said, "most", "23.5 psi")
		if valve {
			relief = sayIn(written, "step relief", "set", said)
		}
		for want, step := range map[string]batch.Setting{relief: {Relief: &set}, gas: {Gas: &set}} {
			if got, _ := SayStep(b, &step, written); got != want {
				t.Errorf("%v: got %q, want %q", set, got, want)
			}
		}
	}
	set := unit.Gauge(2.6e5)
	b := someBatch()
	b.Vessel.SafetyRelief = nil
	want := limit.Say(written, "l.over-rating.plan", "value", "37.5 psi", "limit", "36 psi")
	if got, _ := SayStep(b, &batch.Setting{Gas: &set}, written); got != want {
		t.Errorf("no safety valve known: got %q, want %q", got, want)
	}
	for safety, want := range map[unit.Gauge]string{2.2e5: sayIn(written, "before cold", "set", written.Pressure(10*unit.PSI, 0)), 0.6e5: sayIn(written, "cool alone")} {
		b := someBatch()
		b.Vessel.SafetyRelief = &safety
		v := viewOf(b, batch.Log{}, someForecast(60, 20, 12), b.Pitched.Add(60*time.Hour), written)
		v.set.next = &b.Programme[1]
		if got := beforeCold(v).Do; got != want {
			t.Errorf("before the cold, safety valve at %v: got %q, want %q", safety, got, want)
		}
	}
}

// Without a safety valve that stands within the rating no gas of its own is advised; nothing is to be seen free that is not there, and
// the reason is that of the valve.
func TestNoSafetyValveNoOwnGas(t *testing.T) {
	for what, safety := range map[string]*unit.Gauge{"No safety valve known.": nil, "The safety valve opens at": gauge(3e5)} {
		b := someBatch()
		b.Vessel.SafetyRelief = safety
		f := someForecast(60, 20, 12)
		f.Worst.Contents = 4e5
		f.Questions.Own = &estimate.Keeping{Setting: 1.7e5}
		said := Say(b, batch.Log{}, batch.Upkeep{}, f, b.Pitched.Add(60*time.Hour), written)
		for _, a := range said.Asked {
			if all := strings.Join(a.Sentences, " "); a.Key == "own_gas" && (strings.Contains(all, "set the working valve") || !strings.HasPrefix(all, what)) {
				t.Errorf("own gas: %q", all)
			}
		}
		for _, l := range said.Limits {
			if strings.Contains(l.Sentence, "See that the safety valve is free") {
				t.Errorf("%s: %q", what, l.Sentence)
			}
		}
		if first := said.Next[0]; !strings.HasPrefix(first.Do, what) || safety == nil && first.Why != sayIn(written, "why safety") {
			t.Errorf("first %q because %q; want it to begin %q", first.Do, first.Why, what)
		}
	}
}
