package estimate

import (
	"testing"

	"spile/batch"
	"spile/unit"
	"spile/vessel"
)

// Where the vessel's daily means do not do, the forecast says so and is not to be trusted; where they do, it says nothing.
func TestUnfitVesselIsSaid(t *testing.T) {
	for _, c := range []struct {
		share float64 // of the vessel that is filled
		want  vessel.Unfit
	}{{0.8, ""}, {0.995, vessel.NoHeadspace}} {
		b := usualWay()
		b.Wort.Volume = b.Vessel.Capacity
		b.Wort.Volume *= unit.Volume(c.share)
		log := batch.Log{Readings: []batch.Reading{{Time: hour(24), Quantity: batch.Gravity, Value: 1.040}}}
		d := forecastOf(t, b, log, hour(24), Options{Seed: 1, Members: 200}).Diagnostics
		if d.Unfit != c.want || d.Trusted != (c.want == "") {
			t.Errorf("filled to %.3f: expected %q, got %q, trusted %v", c.share, c.want, d.Unfit, d.Trusted)
		}
	}
}
