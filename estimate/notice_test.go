package estimate

import (
	"math"
	"testing"

	"spile/batch"
	"spile/unit"
)

// A note moves the belief the way it should, and words that are not known do not.
func TestNotesAreEvidence(t *testing.T) {
	at := func(words string) *Forecast {
		var log batch.Log
		if words != "" {
			log.Events = []batch.Event{{Time: hour(30), Kind: batch.Noticed, Words: words}}
		}
		return forecastOf(t, usualWay(), log, hour(30), Options{Seed: 8, Members: 400})
	}
	none := at("")
	for _, c := range []struct {
		words string
		more  int // of points a day
	}{{"foam", 1}, {"hiss", 1}, {"nothing", -1}, {"a robin", 0}} {
		f := at(c.words)
		moved := math.Log((f.Now.PointsPerDay.P50 + 0.1) / (none.Now.PointsPerDay.P50 + 0.1))
		if c.more > 0 && moved < 0.1 || c.more < 0 && moved > -0.1 || c.more == 0 && math.Abs(moved) > 0.25 {
			t.Errorf("%q: points a day go from %.2f to %.2f", c.words, none.Now.PointsPerDay.P50, f.Now.PointsPerDay.P50)
		}
	}
	if dry, wet := none.Ledger.Leaked.P50, at("wet seal").Ledger.Leaked.P50; wet <= dry {
		t.Errorf("a wet seal: leaked %.3g kg believed, %.3g without the note", wet, dry)
	}
}

// Computed apart from this code (partial molar volume of 34 mL, from memory): gas lifts a float by about 0.6 point at 10 psi and
// 20 °C, and by 1.1 in beer of 2.5 volumes.
func TestFloatFeelsGas(t *testing.T) {
	for _, c := range []struct{ volumes, points float64 }{{1.42, 0.6}, {2.5, 1.1}} {
		if got := c.volumes * perVolume / gravityPoint; math.Abs(got-c.points) > 0.25 {
			t.Errorf("%.2f volumes lift a float by %.2f points, want %.1f, tolerance 0.25", c.volumes, got, c.points)
		}
	}
	b := usualWay()
	reads := func(name string) float64 {
		log := batch.Log{Readings: []batch.Reading{
			{Time: hour(0), Quantity: batch.Gravity, Instrument: name, Value: 1.046},
			{Time: hour(120), Quantity: batch.Gravity, Instrument: name, Value: 1.0110},
			{Time: hour(120), Quantity: batch.Pressure, Value: 10 * psi}}}
		return forecastOf(t, b, log, hour(120), Options{Seed: 8, Members: 300}).Now.Gravity.P50
	}
	if glass, float := reads("hydrometer"), reads("floating"); !(float < glass) {
		t.Errorf("the same reading: %.4f by glass, %.4f by a float that gas lifts", glass, float)
	}
}

// A gauge on open gas shows the regulator, one near the valve's setting its saw-tooth: both mean less.
func TestUnsettledGauges(t *testing.T) {
	b := usualWay()
	b.Programme = b.Programme[:1]
	on := unit.Gauge(14 * psi)
	log := batch.Log{
		Readings: []batch.Reading{
			{Time: hour(20), Quantity: batch.Pressure, Instrument: "transducer", Value: 3 * psi},
			{Time: hour(90), Quantity: batch.Pressure, Instrument: "transducer", Value: 10 * psi},
			{Time: hour(200), Quantity: batch.Pressure, Instrument: "transducer", Value: 14 * psi}},
		Events: []batch.Event{{Time: hour(150), Kind: batch.GasOn, Pressure: on}},
	}
	tl := newTimeline(b, log, hour(210), nil)
	plain := instruments[batch.Pressure]["transducer"].Scatter
	for i, least := range []float64{plain, 3 * plain, 10 * plain} {
		if got := tl.data[i].scatter; got < least || i == 0 && got != plain {
			t.Errorf("reading %d scatters by %.3f psi, want at least %.3f", i, got/psi, least/psi)
		}
	}
}
