package estimate

import (
	"math"
	"testing"

	"spile/batch"
	"spile/unit"
)

// Beer is poured by eye, so that what is left becomes less sure with each glass, as far as all were filled too full or not full
// enough; a scale under the vessel tells.
func TestPouredByEye(t *testing.T) {
	b := usualWay()
	var log batch.Log
	for _, r := range []struct{ h, sg float64 }{{0, 1.046}, {48, 1.034}, {96, 1.012}, {160, 1.010}} {
		log.Readings = append(log.Readings, batch.Reading{Time: hour(r.h), Quantity: batch.Gravity, Value: r.sg})
	}
	wide := func(log batch.Log) float64 {
		l := forecastOf(t, b, log, hour(300), Options{Seed: 4, Members: 400}).Now.Liquid
		return (l.P95 - l.P05) / unit.Litre
	}
	full := wide(log)
	const poured = 8.0
	for i := range 16 {
		log.Events = append(log.Events, batch.Event{Time: hour(250 + float64(i)), Kind: batch.Poured, Volume: poured / 16 * unit.Litre})
	}
	byEye := wide(log)
	if want := 2 * NineInTen * pourSD * poured; math.Abs(math.Sqrt(byEye*byEye-full*full)-want) > 0.15*want {
		t.Errorf("the beer left is known within %.2f L before and %.2f L after %g L were poured; glasses filled by eye add %.2f L", full, byEye, poured, want)
	}
	log.Readings = append(log.Readings, batch.Reading{Time: hour(240), Quantity: batch.VesselMass, Value: 25.2}, batch.Reading{Time: hour(280), Quantity: batch.VesselMass, Value: 17.1})
	if weighed := wide(log); weighed > 0.6*byEye {
		t.Errorf("a scale leaves it known within %.2f L, by eye %.2f L", weighed, byEye)
	}
}
