package estimate

import (
	"math"

	"spile/batch"
	"spile/portable"
	"spile/unit"
)

// The air around a vessel closes the heat balance of its beer: colder air says that the yeast gives more heat.

// Assumptions about the air.
const (
	// airPasses is the sd, K, of one look at the air about what the beer feels of it over its hours: doors, the cycle of a
	// compressor, day and night.
	airPasses = 1.0
	// airSpan is how far before and after a look the slope of the measured course of the beer is told, s.
	airSpan = 2 * unit.Hour
	// courseLasts is how long after the last reading of the beer its course still tells the slope, s: beer takes about so long to
	// follow its air.
	courseLasts = 6 * unit.Hour
	// airSettles is the time, s, in which beer on its way to another temperature, and so its air, draws near to that.
	airSettles = 12 * unit.Hour
	// roomSD is the sd, K, of the mean air of a room over a ferment about what somebody said of it once.
	roomSD = 2.0
)

// leftToRoom says that nobody reads the temperature of the beer nor named one to keep from pitching on: it follows its air.
func (tl *timeline) leftToRoom() bool { return tl.unkept && len(tl.track.looks) == 0 }

// roomOff is the sd, K, of the air of b about its place, where beer is left to that.
func roomOff(b *batch.Batch) float64 {
	switch {
	case thermostat(b): // somebody has set it and not said to what
		return unkeptSD
	case b.Place.Assumed:
		return assumedAirSD
	}
	return roomSD
}

// heedAir says of every reading of the air where the slope of the beer is to be read, and how unsure the air makes it.
func (tl *timeline) heedAir(b *batch.Batch) {
	var legs []leg
	for i := range tl.data {
		d := &tl.data[i]
		if tl.channels[d.channel].quantity != batch.AirTemperature {
			continue
		}
		d.scatter, d.course = math.Hypot(d.scatter, airPasses), math.Min(d.at, tl.track.end())
		if b.Place.Belt > 0 { // on or off, nobody knows: it gives the beer more heat than yeast does
			d.scatter = math.Inf(1)
		}
		if d.course >= 0 && d.at <= d.course+courseLasts && !tl.turned(d.course, d.at) {
			continue
		}
		d.course = -1
		if tl.leftToRoom() && tl.inForce(d.at).hold == nil {
			continue
		}
		if legs == nil {
			legs = append(tl.expected(b, 1).legs, leg{by: pitchedOff})
		}
		for _, l := range legs {
			if l.at <= d.at {
				d.scatter = math.Hypot(d.scatter, l.by*portable.Exp((l.at-d.at)/airSettles))
			}
		}
	}
}

// turned says that somebody set a temperature after from, up to to.
func (tl *timeline) turned(from, to float64) bool {
	for i := range tl.items {
		if it := &tl.items[i]; it.at > from && it.at <= to && it.set != nil && it.set.Hold != nil {
			return true
		}
	}
	return false
}

// airNow is the temperature of the air around the vessel, K. course is where the measured course of the beer tells its slope, s
// since pitching; -1: nowhere. Then a named fridge is followed, or the room; and what keeps the beer otherwise keeps it level.
func (w *world) airNow(course float64) float64 {
	st := w.sim.State()
	switch {
	case course >= 0:
		from, to := math.Max(course-airSpan, 0), math.Min(course+airSpan, w.tl.track.end())
		first, last := w.tracked(from), w.tracked(to)
		return w.sim.AirAround((first+last)/2, (last-first)/math.Max(to-from, 1))
	case w.batch.Place.Fridge != nil || w.controls.Hold == 0:
		return st.Around
	}
	return w.sim.AirAround(st.Temperature, 0)
}
