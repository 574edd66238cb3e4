package shed

import (
	"time"

	"spile/batch"
	"spile/unit"
	"spile/yeast"
)

// Name is the place of the demonstration.
const Name = "The Thirdgate Marsh shed"

// entries collects what the shed's people have written down.
type entries struct {
	now  time.Time
	next func() batch.ID
	out  []batch.Entry
	err  error
}

// Entries are the logs of the shed as they stand at now: its things, and five batches with what was read and done.
// The same now and seed give the same readings; next makes the ids.
func Entries(now time.Time, seed uint64, next func() batch.ID) ([]batch.Entry, error) {
	e := &entries{now: now, next: next}
	things := e.furnish()
	for i, l := range lives(now, seed) {
		e.fill(things.vessels[i], things, l)
	}
	return e.out, e.err
}

// furniture are the ids of the things that batches use.
type furniture struct {
	place, fridge, cylinder, regulator batch.ID
	vessels                            [5]batch.ID
}

// names of the vessels, after birds of the shore.
var names = [5]string{"Dunlin", "Godwit", "Sanderling", "Turnstone", "Whimbrel"}

const (
	altitude     = 4 // m
	cylinderTare = 5.4
	monthsBack   = 40 * 24 * time.Hour
)

// furnish writes down the things of the shed.
func (e *entries) furnish() furniture {
	var f furniture
	then := e.now.Add(-monthsBack)
	f.place = e.thing(then, "place", "Bench", batch.PlaceFacts{Place: batch.Place{Ambient: unit.Celsius(16), Altitude: altitude, Belt: 40}})
	f.fridge = e.thing(then, "place", "Tall fridge", batch.PlaceFacts{Place: batch.Place{Ambient: unit.Celsius(16), Altitude: altitude, Fridge: &batch.Fridge{Coldest: unit.Celsius(1)}, Belt: 40}})
	f.cylinder = e.thing(then, "cylinder", "Grey cylinder", batch.CylinderFacts{Capacity: 2.6, Tare: cylinderTare, Tested: then.AddDate(-2, 0, 0)})
	rating, safety := unit.Gauge(2.5*unit.Bar), unit.Gauge(2.2*unit.Bar)
	for i, name := range names {
		place := f.place
		if i == 2 || i == 4 {
			place = f.fridge
		}
		f.vessels[i] = e.thing(then, "vessel", name, batch.VesselFacts{
			Vessel: batch.Vessel{Capacity: 26 * unit.Litre, Diameter: 0.30, Rating: &rating, SafetyRelief: &safety},
			Place:  place, Tare: 4.9, Built: then.AddDate(-1, 0, 0), Checked: then, Invented: true,
		})
	}
	f.regulator = e.thing(then, "regulator", "Twin regulator", batch.RegulatorFacts{Cylinder: f.cylinder, Vessels: []batch.ID{f.vessels[2], f.vessels[4]}, Set: 10 * unit.PSI})
	e.weigh(then, f.cylinder, cylinderTare+2.42)
	e.weigh(e.now.Add(-26*time.Hour), f.cylinder, cylinderTare+2.30)
	return f
}

func (e *entries) thing(at time.Time, is, name string, facts any) batch.ID {
	body, err := batch.EncodeThing(is, name, facts)
	return e.add(batch.Entry{Kind: batch.KindThing, At: at, Body: body}, err)
}

// weigh is a cylinder on the scale.
func (e *entries) weigh(at time.Time, cylinder batch.ID, kg float64) {
	var s batch.Said
	s.Put(batch.CylinderMass, kg)
	body, err := batch.EncodeBody(&s)
	e.add(batch.Entry{Kind: batch.KindReading, At: at, Thing: cylinder, Body: body}, err)
}

// add keeps an entry, written down when it was so.
func (e *entries) add(x batch.Entry, err error) batch.ID {
	if err != nil && e.err == nil {
		e.err = err
	}
	if x.ID.IsZero() {
		x.ID = e.next()
	}
	x.Made = x.At
	e.out = append(e.out, x)
	return x.ID
}

// fill makes the batch of a life and writes down what was read and done.
func (e *entries) fill(in batch.ID, f furniture, l *life) {
	if err := l.grow(e.now.Sub(l.batch.Pitched).Hours()); err != nil && e.err == nil {
		e.err = err
	}
	r := l.batch
	r.Uses = batch.Uses{Vessel: in, Place: f.place}
	if r.Place.Fridge != nil {
		r.Uses.Place = f.fridge
	}
	if r.Gas != nil {
		r.Uses.Cylinder, r.Uses.Regulator = f.cylinder, f.regulator
	}
	body, err := batch.EncodeBody(r)
	id := e.next()
	e.add(batch.Entry{ID: id, Batch: id, Kind: batch.KindBatch, At: r.Pitched, Body: body}, err)
	looked, sent := batch.Log{Events: l.log.Events}, batch.Log{}
	for _, x := range l.log.Readings {
		if x.Unattended {
			sent.Readings = append(sent.Readings, x)
		} else {
			looked.Readings = append(looked.Readings, x)
		}
	}
	e.say(batch.Entry{Batch: id}, looked)
	e.say(batch.Entry{Batch: id, By: batch.DeviceBy("probe in " + r.Name)}, sent)
}

// say keeps what a log says, each line written down when it was so.
func (e *entries) say(by batch.Entry, log batch.Log) {
	said, err := batch.EntriesOf(log, by, e.next)
	if err != nil && e.err == nil {
		e.err = err
	}
	for _, x := range said {
		e.add(x, nil)
	}
}

// lives are the five batches, in the order of the vessels.
func lives(now time.Time, seed uint64) [5]*life {
	bench := batch.Place{Ambient: unit.Celsius(16), Altitude: altitude, Belt: 40}
	fridge := bench
	fridge.Fridge = &batch.Fridge{Coldest: unit.Celsius(1)}
	return [5]*life{working(seed, now, bench), stalled(seed+1, now), taking(seed+2, now, fridge), losing(seed+3, now, bench), pouring(seed+4, now, fridge)}
}

// at is a step of a plan at an hour.
func at(hour float64, s batch.Setting) batch.Step {
	return batch.Step{At: unit.Duration(hour * unit.Hour), AtSet: true, Set: s}
}

func hold(c float64) *unit.Temperature { t := unit.Celsius(c); return &t }

func gauge(psi float64) *unit.Gauge { g := unit.Gauge(psi * unit.PSI); return &g }

// ready is a wished evening so many days from now.
func ready(now time.Time, days int) time.Time {
	d := now.AddDate(0, 0, days)
	return time.Date(d.Year(), d.Month(), d.Day(), 18, 0, 0, 0, now.Location())
}

// working is in its third day, with a probe that reads by itself.
func working(seed uint64, now time.Time, place batch.Place) *life {
	b := usual("Sluice Gate Pale", 1.046, yeast.Ale, place)
	b.Target = &batch.Target{CO2: 2.5, Temperature: unit.Celsius(4), Ready: ready(now, 9)}
	b.Programme = []batch.Step{at(0, batch.Setting{Hold: hold(19.5), Relief: gauge(10)})}
	l := begin(seed, now, 62, b)
	l.read(batch.Gravity, "", 0, 0, 1)
	l.read(batch.Gravity, "", 38, 38, 1)
	l.did(38, batch.Event{Kind: batch.SampleTaken, Volume: 150 * unit.Millilitre})
	l.look(14, 60, 11.5)
	l.read(batch.Temperature, "probe", 0.5, 62, 0.5)
	l.did(20, batch.Event{Kind: batch.Noticed, Words: "hiss"})
	return l
}

// stalled was caught by a cold week.
func stalled(seed uint64, now time.Time) *life {
	place := batch.Place{Ambient: unit.Celsius(2), Altitude: altitude, Belt: 80}
	b := usual("Borrowed Ladder Porter", 1.052, yeast.Ale, place)
	b.Target = &batch.Target{CO2: 2.7, Temperature: unit.Celsius(6)}
	b.Programme = []batch.Step{at(0, batch.Setting{Hold: hold(19), Relief: gauge(10)})}
	l := begin(seed, now, 9*24+3, b)
	l.params.Yeast.ColdSlope = 160e3                                         // J/mol: one that minds the cold
	l.did(70, batch.Event{Kind: batch.HoldAt, Temperature: unit.Celsius(2)}) // the belt's plug was wanted for a kettle
	l.read(batch.Gravity, "", 0, 0, 1)
	for _, h := range []float64{40, 66, 90, 118, 142, 166, 190, 214} {
		l.read(batch.Gravity, "", h, h, 1)
		l.did(h, batch.Event{Kind: batch.SampleTaken, Volume: 150 * unit.Millilitre})
	}
	l.look(20, 215, 24)
	return l
}

// taking is a lager that was chilled and takes gas, on one regulator with another vessel.
func taking(seed uint64, now time.Time, place batch.Place) *life {
	b := usual("Second Blanket Lager", 1.048, yeast.Lager, place)
	b.Gas = &batch.Gas{Cylinder: 2.6, Content: 2.42}
	b.Target = &batch.Target{CO2: 2.5, Temperature: unit.Celsius(2), Ready: ready(now, 5)}
	b.Programme = []batch.Step{at(0, batch.Setting{Hold: hold(13), Relief: gauge(5)}), at(14*24, batch.Setting{Hold: hold(17)}), at(21*24, batch.Setting{Hold: hold(2), Relief: gauge(18), Gas: gauge(12)})}
	l := begin(seed, now, 23*24+5, b)
	for _, h := range []float64{0, 120, 240, 336, 408, 455} {
		l.read(batch.Gravity, "", h, h, 1)
		if h > 0 {
			l.did(h, batch.Event{Kind: batch.SampleTaken, Volume: 150 * unit.Millilitre})
		}
	}
	l.did(21*24, batch.Event{Kind: batch.SetRelief, Pressure: *gauge(18)})
	l.did(21*24, batch.Event{Kind: batch.GasOn, Pressure: *gauge(12)})
	l.did(21*24, batch.Event{Kind: batch.HoldAt, Temperature: unit.Celsius(2)})
	l.look(48, 23*24, 36)
	return l
}

// losing finished warm and stands shut, and its gauge falls.
func losing(seed uint64, now time.Time, place batch.Place) *life {
	b := usual("Odd Glove Red", 1.050, yeast.CleanAle, place)
	b.Target = &batch.Target{CO2: 2.4, Temperature: unit.Celsius(4)}
	b.Programme = []batch.Step{at(0, batch.Setting{Hold: hold(19), Relief: gauge(15)})}
	l := begin(seed, now, 15*24+4, b)
	for _, h := range []float64{0, 60, 132, 204, 300, 348} {
		l.read(batch.Gravity, "", h, h, 1)
	}
	l.look(24, 15*24, 12)
	l.leak(0, 7*unit.Gram)
	return l
}

// pouring is nearly empty.
func pouring(seed uint64, now time.Time, place batch.Place) *life {
	b := usual("Sluice Gate Pale, second", 1.045, yeast.WarmFarmhouse, place)
	b.Gas = &batch.Gas{Cylinder: 2.6, Content: 2.42}
	b.Target = &batch.Target{CO2: 2.5, Temperature: unit.Celsius(4)}
	b.Programme = []batch.Step{at(0, batch.Setting{Hold: hold(24), Relief: gauge(12)}), at(9*24, batch.Setting{Hold: hold(4), Relief: gauge(18), Gas: gauge(11)})}
	l := begin(seed, now, 33*24+2, b)
	for _, h := range []float64{0, 72, 144, 192} {
		l.read(batch.Gravity, "", h, h, 1)
	}
	l.did(9*24, batch.Event{Kind: batch.SetRelief, Pressure: *gauge(18)})
	l.did(9*24, batch.Event{Kind: batch.GasOn, Pressure: *gauge(11)})
	l.did(9*24, batch.Event{Kind: batch.HoldAt, Temperature: unit.Celsius(4)})
	for day := 18.0; day <= 32; day++ {
		l.did(day*24+2, batch.Event{Kind: batch.Poured, Volume: 1.1 * unit.Litre})
	}
	l.look(24, 33*24, 40)
	return l
}
