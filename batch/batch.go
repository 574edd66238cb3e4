// Package batch holds the records of one batch: what was put together, what was
// read and done, and what is meant to be done. It stores nothing and computes
// nothing but what the records themselves say.
package batch

import (
	"time"

	"spile/unit"
	"spile/yeast"
)

// Batch is one fill of one vessel.
type Batch struct {
	Name      string
	Pitched   time.Time
	Wort      Wort
	Yeast     Yeast
	Vessel    Vessel
	Place     Place
	Gas       *Gas    // nil: no cylinder known
	Target    *Target // nil: none named
	Programme []Step
	Faults    []Fault // planted, for lessons and tests
}

// Wort is what was poured in.
type Wort struct {
	Volume     unit.Volume
	Gravity    unit.Gravity // original, as labelled or measured
	Bitterness float64      // IBU
}

// Yeast is what was pitched.
type Yeast struct {
	Kind        yeast.Kind
	Form        string     // "dry", "liquid", "slurry"; empty: not known
	Mass        unit.Mass  // 0: not known
	Attenuation unit.Ratio // apparent, as labelled; 0: not known
}

// Vessel is the plate and the measures of the vessel.
type Vessel struct {
	Capacity     unit.Volume
	Diameter     unit.Length
	Rating       *unit.Gauge // nil: not known, counts as exceeded
	SafetyRelief *unit.Gauge // nil: none known
}

// Place is where the vessel stands.
type Place struct {
	Ambient  unit.Temperature
	Altitude unit.Length
	Fridge   *Fridge    // nil: none
	Belt     unit.Power // 0: none
}

// Fridge is a cold place the vessel stands in.
type Fridge struct{ Coldest unit.Temperature }

// Gas is the cylinder. Cylinder is its capacity, Content what was in it at pitching.
type Gas struct{ Cylinder, Content unit.Mass }

// Target is what the brewer wishes for.
type Target struct {
	CO2         unit.Volumes     // 0: not named
	Temperature unit.Temperature // 0: not named
	Ready       time.Time        // zero: not named
}

// Step is one line of the programme: when, and what is then set. Exactly one of
// At (with AtSet) and When is given.
type Step struct {
	At    unit.Duration // since pitching
	AtSet bool
	When  Condition
	Set   Setting
	Line  int // in the file, 0 where there is none
}

// Condition is what a step waits for.
type Condition struct {
	Kind    ConditionKind
	Gravity unit.Gravity  // for GravityAtMost
	For     unit.Duration // for FinishedFor
}

// ConditionKind names a condition.
type ConditionKind int

// The conditions a step can wait for.
const (
	NoCondition ConditionKind = iota
	GravityAtMost
	FinishedFor
	Carbonated
)

// Setting is what a step or an event sets; nil leaves as it is.
type Setting struct {
	Hold   *unit.Temperature
	Relief *unit.Gauge // the working valve; 0 is open
	Gas    *unit.Gauge // the regulator
	GasOff bool
	Action string // free words: "dry hop 60 g", a reminder
}

// Quantity is what an instrument reads.
type Quantity int

// The quantities a reading can be of.
const (
	Gravity      Quantity = iota // unit.Gravity
	Pressure                     // unit.Gauge
	Temperature                  // unit.Temperature
	VesselMass                   // unit.Mass, vessel and contents as weighed
	CylinderMass                 // unit.Mass, cylinder as weighed
	VentedGas                    // unit.Mass of CO2 let out since pitching, a total
)

// Reading is one value of one instrument. Value is in SI: gravity as SG, gauge
// pressure in Pa, temperature in K, mass in kg.
type Reading struct {
	Time       time.Time
	Quantity   Quantity
	Value      float64
	Instrument string // empty: the usual one for the quantity
	Line       int    // in the file, 0 where there is none
}

// EventKind is what was done or noticed.
type EventKind int

// The events a log can hold.
const (
	SetRelief    EventKind = iota // Pressure
	VentedTo                      // From, To
	SampleTaken                   // Volume
	GasOn                         // Pressure
	GasOff                        //
	HoldAt                        // Temperature
	Opened                        //
	Shaken                        // For
	DryHopped                     // Mass
	Poured                        // Volume
	ForcedSample                  // Gravity: final gravity of a sample fermented out warm
	Noticed                       // Words: hiss, foam, wet seal, nothing
)

// Event is one thing done or noticed.
type Event struct {
	Time        time.Time
	Kind        EventKind
	Pressure    unit.Gauge
	From, To    unit.Gauge
	Volume      unit.Volume
	Temperature unit.Temperature
	For         unit.Duration
	Mass        unit.Mass
	Gravity     unit.Gravity
	Words       string
	Line        int
}

// Setting is what e leaves set, nil where it leaves nothing.
func (e *Event) Setting() *Setting {
	switch e.Kind {
	case SetRelief:
		return &Setting{Relief: &e.Pressure}
	case GasOn:
		return &Setting{Gas: &e.Pressure}
	case GasOff:
		return &Setting{GasOff: true}
	case HoldAt:
		return &Setting{Hold: &e.Temperature}
	}
	return nil
}

// Log is what was read and done, each in order of time.
type Log struct {
	Readings []Reading
	Events   []Event
}

// Fault is a planted fault: Kind "leak" (Rate), "relief" or "regulator" (How: "stuck", "foamed shut", "open"), from time At on.
type Fault struct {
	Kind string
	How  string
	Rate unit.MassRate
	At   unit.Duration
}
