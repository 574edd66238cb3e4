package estimate

import (
	"math"
	"slices"
	"testing"

	"spile/unit"
	"spile/vessel"
)

// A leak of 15 g a day on a warm vessel at rest is found; a tight one is told tight; under a valve at work neither can be told.
func TestLeaking(t *testing.T) {
	run := func(grams, relief, until float64) (Leaking, []Finding) {
		f := plant(relief, nil)
		if grams > 0 {
			f.sim.Break(vessel.Fault{Kind: vessel.Leaking, Leak: unit.MassRate(grams) * unit.Gram / unit.Day})
		}
		every(t, f, 0, until, 12)
		b := usualWay()
		valve, hold := unit.Gauge(relief*psi), unit.Celsius(20)
		b.Programme = nil
		b.Programme = append(b.Programme, usualWay().Programme[0])
		b.Programme[0].Set.Relief, b.Programme[0].Set.Hold = &valve, &hold
		last := f.log.Readings[len(f.log.Readings)-1].Time
		forecast := forecastOf(t, b, f.log, last, Options{Seed: 3, Members: 150})
		return forecast.Questions.Leak, forecast.Findings
	}
	if l, _ := run(15, 10, 300); l.Verdict != Yes {
		t.Errorf("15 g a day, at rest for a week: %+v", l)
	}
	l, found := run(3.5, 10, 300) // hardly worth a search, and not quite sure to be
	if i := slices.IndexFunc(found, func(f Finding) bool { return f.Kind == FindingLeak }); l.Verdict != Yes || i < 0 || math.Abs(found[i].Size.P50/l.Size.P50-1) > 1e-9 {
		t.Errorf("the answer tells a leak of %v, the findings are %+v; want one size", l.Size, found)
	}
	if l, _ := run(5, 10, 72); l.Verdict != CannotTell || l.Hides != BehindValve {
		t.Errorf("5 g a day while the valve lets out ten times as much: %+v", l)
	}
	if l, _ := run(0.01, 10, 420); l.Verdict != No {
		t.Errorf("tight for two and a half weeks: %+v", l)
	}
}
