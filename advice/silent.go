package advice

import (
	"slices"
	"time"

	"spile/batch"
	"spile/unit"
	"spile/wording"
)

// What reads by itself is silent after so many of its own usual intervals; those are told from its latest readings.
const (
	missed       = 3
	fewestToTell = 4 // readings
	mostToTell   = 24
)

// missable is a quantity that may come by itself.
type missable struct {
	quantity batch.Quantity
	name     wording.Text
}

// told are the quantities that may come by themselves, as they are missed.
var told = []missable{
	{batch.Gravity, "the gravity"}, {batch.Pressure, "the pressure"}, {batch.Temperature, "the temperature"},
	{batch.VesselMass, "the weight of the vessel"}, {batch.CylinderMass, "the weight of the cylinder"}, {batch.VentedGas, "the gas let out"},
	{batch.AirTemperature, "the temperature of the air"},
}

// usual is how far apart the readings of one source are as a rule, up to its latest one: the median of the last of them. Zero
// where there are too few to tell, or where a person reads, who owes nobody a reading.
func (v *view) usual(latest *batch.Reading) time.Duration {
	if !latest.Unattended {
		return 0
	}
	var apart []time.Duration
	next := latest.Time
	for _, r := range slices.Backward(v.log.Readings) {
		if r.Quantity != latest.Quantity || r.Instrument != latest.Instrument || !r.Unattended || !r.Time.Before(next) {
			continue
		}
		if apart, next = append(apart, next.Sub(r.Time)), r.Time; len(apart) == mostToTell {
			break
		}
	}
	if len(apart)+1 < fewestToTell {
		return 0
	}
	slices.Sort(apart)
	return apart[len(apart)/2]
}

// silences are sentences about what came by itself and has stopped. Another that reads the same since takes its place.
func (v *view) silences() (out []string) {
	for _, q := range told {
		latest := v.last(q.quantity)
		if latest == nil {
			continue
		}
		usual := v.usual(latest)
		if usual == 0 || v.now.Sub(latest.Time) <= missed*usual {
			continue
		}
		local := latest.Time.In(v.clock.now.Location())
		out = append(out, v.say("now.silent", "what", v.style.Word(q.name), "time", v.style.Say("%s at %s", v.clock.day(local), v.style.Time(local, "15:04")),
			"every", v.style.Duration(unit.Duration(usual.Seconds()), 0)))
	}
	return out
}

// heard tells whether anything was read so lately that what is believed may be said as of now: by itself within what is usual of it,
// by a person before it counts as old.
func (v *view) heard() bool {
	return slices.ContainsFunc(told, func(q missable) bool {
		latest := v.last(q.quantity)
		if latest == nil {
			return false
		}
		within := time.Duration(oldHours * float64(time.Hour))
		if usual := v.usual(latest); usual > 0 {
			within = min(within, missed*usual)
		}
		return v.now.Sub(latest.Time) <= within
	})
}
