package estimate

import (
	"errors"
	"math"
	"sort"

	"spile/unit"
	"spile/vessel"
)

var errNoFuture = errors.New("no set of unknowns that fits the readings can be run ahead")

// summary turns futures into the forecast.
func (bl *Belief) summary(grid []float64, fs []future) (*Forecast, error) {
	f := &Forecast{
		At: bl.at, Seed: bl.options.Seed, LastReading: bl.lastTime,
		TerminalGravity: band(fs, func(m *future) float64 { return m.terminal }),
		TerminalABV:     band(fs, func(m *future) float64 { return m.terminalABV }),
		Diagnostics:     bl.diagnostics(),
	}
	f.Now = bl.snapshot(fs)
	f.Milestones = bl.milestones(fs)
	f.Series = bl.series(grid, fs)
	f.Fermenting, f.CooledHours = bl.temperatures(&f.Series)
	f.Worst = Worst{
		Contents:  unit.Gauge(band(fs, func(m *future) float64 { return m.worst }).P95),
		Regulator: unit.Gauge(band(fs, func(m *future) float64 { return m.regulator }).P95),
		Hottest:   Hottest(bl.batch),
	}
	f.Lowest = lowest(fs)
	f.Ledger = ledgerBands(fs)
	f.Flags = bl.flags(fs)
	f.Evidence = bl.leaveOut(fs)
	var err error
	if f.Findings, err = bl.findings(fs, f); err != nil {
		return nil, err
	}
	f.Questions = bl.questions(grid, fs, f.Findings)
	f.Next = f.Questions.Next[0].Next // of the finish
	return f, nil
}

func (bl *Belief) milestones(fs []future) Milestones {
	return Milestones{
		Attenuated90: bl.milestone(fs, reachAttenuated90), Finished: bl.milestone(fs, reachFinished),
		Cold: bl.milestone(fs, reachCold), Carbonated: bl.milestone(fs, reachCarbonated), Ready: bl.milestone(fs, reachReady),
	}
}

func (bl *Belief) snapshot(fs []future) Snapshot {
	get := func(field func(*memberNow) float64) Band {
		return band(fs, func(f *future) float64 { return field(&f.now) })
	}
	s := Snapshot{
		Gravity:      get(func(n *memberNow) float64 { return n.gravity }),
		ABV:          get(func(n *memberNow) float64 { return n.abv }),
		Volumes:      get(func(n *memberNow) float64 { return n.volumes }),
		Pressure:     get(func(n *memberNow) float64 { return n.gauge }),
		Temperature:  get(func(n *memberNow) float64 { return n.kelvin }),
		Liquid:       get(func(n *memberNow) float64 { return n.liquid }),
		PointsLeft:   get(func(n *memberNow) float64 { return n.left }),
		PointsPerDay: get(func(n *memberNow) float64 { return n.perDay }),
		Attenuation:  get(func(n *memberNow) float64 { return n.attenuation }),
		Oxygen:       get(func(n *memberNow) float64 { return n.oxygen }),
		Suspended:    get(func(n *memberNow) float64 { return n.suspended }),
	}
	if bl.batch.Gas != nil {
		s.CylinderLeft = get(func(n *memberNow) float64 { return n.cylinder })
	}
	s.Finished = share(fs, func(f *future) bool { return f.now.left < onePoint })
	return s
}

// lowest is the first percentile of the lowest gauge pressure of each future.
func lowest(fs []future) unit.Gauge {
	x := make([]float64, len(fs))
	for i := range fs {
		x[i] = fs[i].lowest
	}
	sort.Float64s(x)
	return unit.Gauge(quantile(x, 0.01))
}

// share of the futures for which is holds.
func share(fs []future, is func(*future) bool) float64 {
	n := 0
	for i := range fs {
		if is(&fs[i]) {
			n++
		}
	}
	return float64(n) / float64(len(fs))
}

// series of what the futures show at the times of the grid.
func (bl *Belief) series(grid []float64, fs []future) Series {
	n := len(grid)
	s := Series{make([]float64, n), make([]Band, n), make([]Band, n), make([]Band, n), make([]Band, n)}
	bl.each(n, func(_ *world, i int) {
		s.Hours[i] = grid[i] / unit.Hour
		s.Gravity[i] = band(fs, func(f *future) float64 { return f.gravity[i] })
		s.Volumes[i] = band(fs, func(f *future) float64 { return f.volumes[i] })
		s.Pressure[i] = band(fs, func(f *future) float64 { return f.gauge[i] })
		s.Temperature[i] = band(fs, func(f *future) float64 { return f.kelvin[i] })
	})
	return s
}

// temperatures finds the last fermenting temperature (the warmest of the last
// three days) and how long ago the beer was cooled, both up to now.
func (bl *Belief) temperatures(s *Series) (fermenting unit.Temperature, cooledHours float64) {
	now := bl.tl.now / unit.Hour
	cooledHours = math.Inf(1)
	for i, h := range s.Hours {
		if h > now {
			break
		}
		t := s.Temperature[i].P50
		if h >= now-72 {
			fermenting = max(fermenting, unit.Temperature(t))
		}
		if before, ok := s.At(s.Temperature, h-24); ok && before.P50-t > coolingStep {
			cooledHours = now - h
		}
	}
	if fermenting == 0 {
		fermenting = unit.Temperature(s.Temperature[0].P50)
	}
	return fermenting, cooledHours
}

func ledgerBands(fs []future) LedgerBands {
	get := func(field func(*vessel.Ledger) unit.Mass) Band {
		return band(fs, func(f *future) float64 { return float64(field(&f.now.ledger)) })
	}
	return LedgerBands{
		Made:      get(func(l *vessel.Ledger) unit.Mass { return l.Made }),
		Supplied:  get(func(l *vessel.Ledger) unit.Mass { return l.Supplied }),
		Dissolved: get(func(l *vessel.Ledger) unit.Mass { return l.Dissolved }),
		Headspace: get(func(l *vessel.Ledger) unit.Mass { return l.Headspace }),
		Vented:    get(func(l *vessel.Ledger) unit.Mass { return l.Vented }),
		Leaked:    get(func(l *vessel.Ledger) unit.Mass { return l.Leaked }),
		Drawn:     get(func(l *vessel.Ledger) unit.Mass { return l.Drawn }),
	}
}

// oddScatters is how many times its scatter a reading may lie off before it is asked about.
const oddScatters = 4

// At is the band of one of the series at hours since pitching, straight between its times; ok is false outside it.
func (s *Series) At(bands []Band, hours float64) (b Band, ok bool) {
	n := len(s.Hours)
	if n == 0 || hours < s.Hours[0] || hours > s.Hours[n-1] {
		return Band{}, false
	}
	i := sort.SearchFloat64s(s.Hours, hours)
	if i == 0 {
		return bands[0], true
	}
	r := (hours - s.Hours[i-1]) / (s.Hours[i] - s.Hours[i-1])
	mix := func(x, y float64) float64 { return x + r*(y-x) }
	lo, hi := bands[i-1], bands[i]
	return Band{mix(lo.P05, hi.P05), mix(lo.P50, hi.P50), mix(lo.P95, hi.P95)}, true
}
