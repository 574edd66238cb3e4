package estimate

import (
	"testing"

	"spile/batch"
	"spile/unit"
)

// Gas that was turned on comes from a cylinder, also where nobody named one: beer that is poured under it does not leave
// the vessel without pressure, and a regulator that fails counts. Without it, it does.
func TestGasFromACylinderThatNobodyNamed(t *testing.T) {
	on := unit.Gauge(12 * unit.PSI)
	b := usualWay()
	b.Gas, b.Programme = nil, b.Programme[:1]
	log := batch.Log{
		Readings: []batch.Reading{{Time: hour(0), Quantity: batch.Gravity, Value: 1.046}, {Time: hour(150), Quantity: batch.Gravity, Value: 1.011}},
		Events:   []batch.Event{{Time: hour(152), Kind: batch.HoldAt, Temperature: unit.Celsius(3)}, {Time: hour(190), Kind: batch.Poured, Volume: 8 * unit.Litre}},
	}
	without := forecastOf(t, b, log, hour(192), Options{Seed: 3, Members: 200})
	log.Events = append([]batch.Event{{Time: hour(151), Kind: batch.GasOn, Pressure: on}}, log.Events...)
	with := forecastOf(t, b, log, hour(192), Options{Seed: 3, Members: 200})
	if p := with.Now.Pressure.P05; p < 0.7*float64(on) {
		t.Errorf("under 12 psi the vessel has %.1f psi; expected most of them", p/unit.PSI)
	}
	if p := without.Now.Pressure.P50; p > 0.3*float64(on) {
		t.Errorf("without gas the vessel has %.1f psi after eight litres in the cold; expected few", p/unit.PSI)
	}
	if with.Worst.Regulator < 50*unit.Bar || without.Worst.Regulator > without.Worst.Contents+unit.Gauge(unit.Bar) {
		t.Errorf("if the regulator fails: %v with gas on, expected the cylinder's pressure; %v without, expected no more than the contents give", with.Worst.Regulator, without.Worst.Regulator)
	}
}
