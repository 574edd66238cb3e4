package estimate

import (
	"math"
	"testing"

	"spile/batch"
	"spile/unit"
)

// A let-down that somebody remembers to within six hours: the gauge, read before and after, tells when it was.
func TestUnsureTimesAreFound(t *testing.T) {
	f := plant(25, nil)
	every(t, f, 0, 144, 24)
	f.noise = func() float64 { return 0 }
	if err := f.sim.Advance(158 * unit.Hour); err != nil {
		t.Fatal(err)
	}
	from := f.sim.State().Gauge()
	f.sim.Vent(from, 2*psi)
	every(t, f, 170, 200, 6)
	f.log.Events = append(f.log.Events, batch.Event{Time: hour(148), Uncertain: 6 * unit.Hour, Kind: batch.VentedTo, From: from, To: 2 * psi})
	b := usualWay()
	valve, hold := unit.Gauge(25*psi), unit.Celsius(20)
	b.Programme = []batch.Step{{AtSet: true, Set: batch.Setting{Hold: &hold, Relief: &valve}}}
	bl, err := Condition(b, f.log, hour(200), Options{Seed: 4, Members: 300})
	if err != nil {
		t.Fatal(err)
	}
	var mean, looks float64
	for i := range bl.tl.items {
		it := &bl.tl.items[i]
		if it.event == nil || it.event.Kind != batch.VentedTo {
			continue
		}
		for m, z := range bl.posterior.Z {
			mean += bl.posterior.Weight[m] * it.when(z) / unit.Hour
			if at := it.when(z); at < 144*unit.Hour || at > 170*unit.Hour {
				t.Errorf("it happened between the readings at 144 and 170 h, not at %.1f", at/unit.Hour)
			}
		}
		for _, look := range []int{i - 1, i + 1} { // both looks at the dial belong to it
			if bl.tl.items[look].shift == it.shift {
				looks++
			}
		}
	}
	if looks != 2 {
		t.Errorf("%g looks at the dial share the let-down's time, want 2", looks)
	}
	if math.Abs(mean-158) > math.Abs(148-158) {
		t.Errorf("remembered at 148 h, done at 158 h, believed at %.1f h", mean)
	}
}
