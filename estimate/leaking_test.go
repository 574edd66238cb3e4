package estimate

import (
	"testing"

	"spile/unit"
	"spile/vessel"
)

// A leak of 15 g a day on a warm vessel at rest is found; a tight one is told tight; under a valve at work neither can be told.
func TestLeaking(t *testing.T) {
	run := func(grams, relief, until float64) Leaking {
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
		return forecastOf(t, b, f.log, last, Options{Seed: 3, Members: 150}).Questions.Leak
	}
	if l := run(15, 10, 300); l.Verdict != Yes {
		t.Errorf("15 g a day, at rest for a week: %+v", l)
	}
	if l := run(5, 10, 72); l.Verdict != CannotTell || l.Hides != BehindValve {
		t.Errorf("5 g a day while the valve lets out ten times as much: %+v", l)
	}
	if l := run(0.01, 10, 420); l.Verdict != No {
		t.Errorf("tight for two and a half weeks: %+v", l)
	}
}
