package vessel

import (
	"math"

	"spile/unit"
)

// slice is the beer drawn at a time while a tap is open.
const slice = 0.05 * unit.Litre

// Pour takes v of beer, or what there is. Without a tap named in Params it is gone at once; with one it runs at the flow
// that the gauge drives through the line, while time goes on in Advance: the headspace refills from the regulator, or the
// pressure falls and the flow with it.
func (f *Full) Pour(v unit.Volume) {
	if f.p.Tap == nil {
		f.core.Pour(v)
		return
	}
	f.pouring += v
}

// Pouring is the beer still to come from an open tap.
func (f *Full) Pouring() unit.Volume { return f.pouring }

// drawTo lets the tap run up to t, in slices, and gives the time at which it stopped or t.
func (f *Full) drawTo(t float64) error {
	for f.pouring > 0 && f.s.Time < t {
		flow := f.p.Tap.Flow(f.s.Gauge(), f.s.Beer())
		if flow <= 0 {
			return nil
		}
		v := math.Min(math.Min(slice, float64(f.pouring)), flow*(t-f.s.Time))
		if err := f.integrate(math.Min(f.s.Time+v/flow, t)); err != nil {
			return err
		}
		f.core.Pour(unit.Volume(v))
		if f.pouring -= unit.Volume(v); f.pouring < 1e-9 {
			f.pouring = 0
		}
	}
	return nil
}
