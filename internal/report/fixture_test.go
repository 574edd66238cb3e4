package report

import (
	"math"
	"time"

	"spile/advice"
	"spile/batch"
	"spile/estimate"
	"spile/unit"
	"spile/yeast"
)

var pitched = time.Date(2026, 11, 20, 18, 30, 0, 0, time.FixedZone("", 3600))

func gauge(psi float64) *unit.Gauge       { g := unit.Gauge(psi * unit.PSI); return &g }
func degrees(c float64) *unit.Temperature { t := unit.Celsius(c); return &t }

// A made-up ale, four days in: fermented along a logistic curve, the cold to come.
func fixture() (*batch.Batch, batch.Log, *estimate.Forecast) {
	b := &batch.Batch{
		Name: "Sluice Gate Pale, third", Pitched: pitched,
		Wort:   batch.Wort{Volume: 20 * unit.Litre, Gravity: 1.046, Bitterness: 28},
		Yeast:  batch.Yeast{Kind: yeast.Ale, Form: "dry", Mass: 0.0115, Attenuation: 0.77},
		Vessel: batch.Vessel{Capacity: 26 * unit.Litre, Diameter: 0.3, Rating: gauge(36.26), SafetyRelief: gauge(31.9)},
		Place:  batch.Place{Ambient: unit.Celsius(16), Fridge: &batch.Fridge{Coldest: unit.Celsius(1)}},
		Gas:    &batch.Gas{Cylinder: 2.6, Content: 1.9},
		Target: &batch.Target{CO2: 2.5, Temperature: unit.Celsius(3), Ready: pitched.Add(14 * 24 * time.Hour)},
		Programme: []batch.Step{
			{AtSet: true, Set: batch.Setting{Hold: degrees(20), Relief: gauge(10)}},
			{AtSet: true, At: 72 * unit.Hour, Set: batch.Setting{Hold: degrees(21)}},
			{When: batch.Condition{Kind: batch.FinishedFor, For: unit.Day}, Set: batch.Setting{Hold: degrees(1), Gas: gauge(10)}},
		},
	}
	const now = 90.0
	f := &estimate.Forecast{At: pitched.Add(now * time.Hour), Seed: 1, LastReading: pitched.Add(88 * time.Hour), Fermenting: unit.Celsius(20), CooledHours: math.Inf(1),
		TerminalGravity: estimate.Band{P05: 1.0085, P50: 1.0102, P95: 1.012}, TerminalABV: estimate.Band{P05: 0.045, P50: 0.047, P95: 0.049}}
	for h := 0.0; h <= 400; h += 2 {
		at(f, h, now)
	}
	i := int(now / 2)
	s := &f.Series
	f.Now = estimate.Snapshot{Gravity: s.Gravity[i], Volumes: s.Volumes[i], Pressure: s.Pressure[i], Temperature: s.Temperature[i],
		ABV: estimate.Band{P05: 0.036, P50: 0.038, P95: 0.04}, Liquid: estimate.Band{P05: 0.0193, P50: 0.0196, P95: 0.0199},
		PointsLeft: estimate.Band{P05: 3, P50: 5, P95: 7}, PointsPerDay: estimate.Band{P05: 3, P50: 4, P95: 5}, CylinderLeft: estimate.Band{P05: 1.85, P50: 1.9, P95: 1.9}}
	f.Milestones = estimate.Milestones{Attenuated90: milestone(100, 6), Finished: milestone(135, 16), Cold: milestone(185, 24), Carbonated: milestone(300, 60), Ready: milestone(300, 60)}
	f.Worst = estimate.Worst{Contents: 2.1e5, Regulator: 2.2e5, Hottest: unit.Celsius(40)}
	f.Next = estimate.NextReading{Instrument: batch.Gravity, At: pitched.Add(118 * time.Hour), Narrows: 0.35}
	f.Ledger = estimate.LedgerBands{Made: grams(640, 40), Dissolved: grams(52, 5), Headspace: grams(17, 1), Vented: grams(570, 40), Leaked: grams(1, 1)}
	f.Diagnostics = estimate.Diagnostics{ParetoK: 0.31, EffectiveSamples: 640, Simulations: 4100, Method: "importance", Trusted: true}
	log := batch.Log{Events: []batch.Event{{Time: pitched.Add(50 * time.Hour), Kind: batch.Noticed, Words: "hiss"}}}
	for _, r := range []struct {
		h float64
		q batch.Quantity
		v float64
	}{{0, batch.Gravity, 1.046}, {40, batch.Gravity, 1.036}, {64, batch.Gravity, 1.023}, {88, batch.Gravity, 1.015}, {40, batch.Pressure, 9.5 * unit.PSI}, {64, batch.Pressure, 10.5 * unit.PSI}, {88, batch.Temperature, 293.65}} {
		log.Readings = append(log.Readings, batch.Reading{Time: pitched.Add(time.Duration(r.h * float64(time.Hour))), Quantity: r.q, Value: r.v})
	}
	return b, log, f
}

func grams(g, half float64) estimate.Band {
	return estimate.Band{P05: (g - half) / 1000, P50: g / 1000, P95: (g + half) / 1000}
}

func milestone(h, half float64) estimate.Milestone {
	t := func(h float64) time.Time { return pitched.Add(time.Duration(h * float64(time.Hour))) }
	return estimate.Milestone{P05: t(h - half), P50: t(h), P95: t(h + half), Probability: 0.72}
}

// at appends one hour of the made-up series.
func at(f *estimate.Forecast, h, now float64) {
	done := 1 / (1 + math.Exp(-(h-58)/13))
	spread := 0.0008 + 0.00001*math.Abs(h-now)
	cold := 1 / (1 + math.Exp(-(h-175)/6))
	band := func(mid, half float64) estimate.Band {
		return estimate.Band{P05: mid - half, P50: mid, P95: mid + half}
	}
	s := &f.Series
	s.Hours = append(s.Hours, h)
	s.Gravity = append(s.Gravity, band(1.046-0.0355*done, spread))
	psi := math.Min(10, h/3) * unit.PSI
	s.Pressure = append(s.Pressure, band(psi, 0.5*unit.PSI))
	s.Volumes = append(s.Volumes, band(1.35*math.Min(1, h/40)+cold*(1-math.Exp(-math.Max(h-175, 0)/90))*1.1, 0.06+0.15*cold))
	s.Temperature = append(s.Temperature, band(float64(unit.Celsius(20-19*cold)), 0.3+1.5*cold*(1-cold)))
}

func sayOf(b *batch.Batch, log batch.Log, f *estimate.Forecast) advice.Said {
	return advice.Say(b, log, batch.Upkeep{}, f, f.At, unit.Style{})
}

// viewed is the fixture as somebody sees it.
func viewed(style unit.Style) *View {
	b, log, f := fixture()
	return &View{Batch: b, Log: log, Forecast: f, Said: advice.Say(b, log, batch.Upkeep{}, f, f.At, style), Style: style}
}
