// Package shed is the demonstration: an invented allotment shed with five vessels at
// different stages. Everything in it comes from the simulator, with the noise that
// instruments have, from a seed; nothing of it was ever brewed.
package shed

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"spile/batch"
	"spile/co2"
	"spile/estimate"
	"spile/unit"
	"spile/vessel"
	"spile/wort"
	"spile/yeast"
)

// life is one batch, simulated from pitching to now with what was done to it.
type life struct {
	rng      *rand.Rand
	batch    batch.Record
	params   vessel.Params
	controls vessel.Controls
	full     *vessel.Full
	deeds    []deed
	log      batch.Log
	// errors of the instruments that stay, SI
	hydrometer, dial, strip float64
}

// deed is something done, read or broken at an hour since pitching.
type deed struct {
	hour float64
	do   func(l *life)
}

// begin is a batch that was pitched so many hours before now.
func begin(seed uint64, now time.Time, hours float64, b batch.Record) *life {
	b.Pitched = now.Add(-time.Duration(hours * float64(time.Hour))).Truncate(time.Minute)
	l := &life{rng: rand.New(rand.NewPCG(seed, 5)), batch: b, controls: vessel.Controls{Gas: vessel.GasOff}}
	l.hydrometer, l.dial, l.strip = l.normal(0.0006), l.normal(0.5*unit.PSI), l.normal(0.4)
	start := b.Place.Ambient
	for _, s := range b.Programme {
		if s.AtSet && s.At == 0 && s.Set.Hold != nil {
			start = *s.Set.Hold
		}
		if s.AtSet {
			l.at(s.At.Hours(), func(l *life) { l.set(s.Set) })
		}
	}
	l.params = vessel.Standard(b.Vessel.Capacity, b.Vessel.Diameter, b.Wort.Volume, wort.ExtractFromGravity(b.Wort.Gravity+unit.Gravity(l.normal(0.0006))),
		b.Yeast.Kind, start, b.Place.Ambient, unit.StandardAtmosphere(b.Place.Altitude))
	l.params.SafetyRelief, l.params.Belt = *b.Vessel.SafetyRelief, b.Place.Belt
	l.params.Swing = 1.5
	if b.Place.Fridge != nil {
		l.params.Fridge = vessel.UsualFridge(b.Place.Fridge.Coldest)
	}
	if b.Gas != nil {
		l.params.Cylinder = b.Gas.Content
	}
	return l
}

func (l *life) normal(sd float64) float64 { return sd * l.rng.NormFloat64() }

func (l *life) at(hour float64, do func(l *life)) {
	l.deeds = append(l.deeds, deed{hour, do})
}

// set turns what a step of the plan sets.
func (l *life) set(s batch.Setting) {
	estimate.Turn(&l.controls, &s)
	l.full.Set(l.controls)
}

// did is something that a person did and wrote down.
func (l *life) did(hour float64, e batch.Event) {
	l.at(hour, func(l *life) {
		e.Time = l.time(hour)
		if s := e.Setting(); s != nil {
			l.set(*s)
		}
		switch e.Kind {
		case batch.VentedTo:
			e.From = unit.Gauge(float64(l.full.State().Gauge()))
			l.full.Vent(e.From, e.To)
		case batch.SampleTaken:
			l.full.Sample(e.Volume)
		case batch.Poured:
			l.full.Pour(e.Volume)
		}
		l.log.Events = append(l.log.Events, e)
	})
}

// read is a look at one instrument, or what one with a name sent by itself, every so many hours from one hour to another.
func (l *life) read(q batch.Quantity, instrument string, from, to, every float64) {
	for h := from; h <= to; h += every {
		l.at(h, func(l *life) {
			l.log.Readings = append(l.log.Readings, batch.Reading{Time: l.time(h), Quantity: q, Value: l.shown(q, instrument), Instrument: instrument, Unattended: instrument != ""})
		})
	}
}

// look is what a person reads in passing: dial and strip.
func (l *life) look(from, to, every float64) {
	l.read(batch.Pressure, "", from, to, every)
	l.read(batch.Temperature, "", from, to, every)
}

// shown is what the instrument shows, to its nearest mark.
func (l *life) shown(q batch.Quantity, instrument string) float64 {
	s := l.full.State()
	switch {
	case q == batch.Gravity:
		return mark(float64(s.Gravity())+l.hydrometer+l.normal(0.0005), 0.0005)
	case q == batch.Pressure:
		return mark(float64(s.Gauge())+l.dial+l.normal(0.3*unit.PSI), 0.5*unit.PSI)
	case q == batch.Temperature && instrument != "":
		return mark(s.Temperature+l.normal(0.1), 0.1)
	}
	return mark(s.Temperature+l.strip+l.normal(0.4), 0.5)
}

// mark is x to the nearest mark of the scale.
func mark(x, step float64) float64 { return math.Round(x/step) * step }

func (l *life) time(hour float64) time.Time {
	return l.batch.Pitched.Add(time.Duration(hour * float64(time.Hour))).Truncate(time.Second)
}

// leak lets the vessel lose so much gas a day at 10 psi from an hour on.
func (l *life) leak(hour float64, a unit.Mass) {
	l.at(hour, func(l *life) {
		l.full.SetLeak(float64(a) / unit.Day / co2.MolarMass / (10 * unit.PSI))
	})
}

// grow runs to an hour, everything in its order.
func (l *life) grow(until float64) error {
	l.full = vessel.NewFull(l.params)
	l.full.Set(l.controls)
	slices.SortStableFunc(l.deeds, func(a, b deed) int { return cmp.Compare(a.hour, b.hour) })
	for _, d := range l.deeds {
		if d.hour > until {
			break
		}
		if err := l.full.Advance(d.hour * unit.Hour); err != nil {
			return fmt.Errorf("%s at %g h: %w", l.batch.Name, d.hour, err)
		}
		d.do(l)
	}
	return nil
}

// usual is a batch in the example vessel, with one yeast.
func usual(name string, og unit.Gravity, kind yeast.Kind, place batch.Place) batch.Record {
	rating, safety := unit.Gauge(2.5*unit.Bar), unit.Gauge(2.2*unit.Bar)
	return batch.Record{Batch: batch.Batch{
		Name: name, Wort: batch.Wort{Volume: 20 * unit.Litre, Gravity: og}, Yeast: batch.Yeast{Kind: kind, Form: "dry", Mass: 11.5 * unit.Gram},
		Vessel: batch.Vessel{Capacity: 26 * unit.Litre, Diameter: 0.30, Rating: &rating, SafetyRelief: &safety}, Place: place,
	}}
}
