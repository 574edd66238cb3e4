// Package batch holds the records of one batch: what was put together, what was
// read and done, and what is meant to be done. It stores nothing and computes
// nothing but what the records themselves say.
//
// Everything a person or an instrument tells Spile is an [Entry] of a log that only
// grows. [Hold] says which entries hold once corrections and takings-back are
// followed; [Derive] makes of them the batch and its readings, [DeriveCellar] the
// things of the cellar. docs/records.md fixes the form in which entries are kept.
package batch

import (
	"time"

	"spile/unit"
	"spile/yeast"
)

// Batch is one fill of one vessel.
type Batch struct {
	Name      string    `json:"name"`
	Pitched   time.Time `json:"pitched"`
	Wort      Wort      `json:"wort"`
	Yeast     Yeast     `json:"yeast"`
	Vessel    Vessel    `json:"vessel"`
	Place     Place     `json:"place"`
	Gas       *Gas      `json:"gas,omitempty"`    // nil: no cylinder known
	Target    *Target   `json:"target,omitempty"` // nil: none named
	Programme []Step    `json:"programme,omitempty"`
	Faults    []Fault   `json:"faults,omitempty"` // planted, for lessons and tests
}

// After is the moment so long after pitching; a negative time lies before it.
func (b *Batch) After(d unit.Duration) time.Time {
	return b.Pitched.Add(time.Duration(float64(d) * float64(time.Second)))
}

// Wort is what was poured in.
type Wort struct {
	Volume     unit.Volume  `json:"volume_m3"`
	Gravity    unit.Gravity `json:"gravity_sg"`              // original, as labelled or measured
	Bitterness float64      `json:"bitterness_ibu,omitzero"` // IBU
	Assumed    bool         `json:"assumed,omitzero"`        // nobody knew Gravity
}

// Yeast is what was pitched.
type Yeast struct {
	Kind        yeast.Kind `json:"kind"`
	Form        string     `json:"form,omitzero"`        // "dry", "liquid", "slurry"; empty: not known
	Mass        unit.Mass  `json:"mass_kg,omitzero"`     // 0: not known
	Attenuation unit.Ratio `json:"attenuation,omitzero"` // apparent, as labelled; 0: not known
}

// Vessel is the plate and the measures of the vessel.
type Vessel struct {
	Capacity     unit.Volume `json:"capacity_m3"`
	Diameter     unit.Length `json:"diameter_m"`
	Rating       *unit.Gauge `json:"rating_pa,omitempty"`        // nil: not known, counts as exceeded
	SafetyRelief *unit.Gauge `json:"safety_relief_pa,omitempty"` // nil: none known
}

// Place is where the vessel stands.
type Place struct {
	Ambient  unit.Temperature `json:"ambient_k"`
	Altitude unit.Length      `json:"altitude_m"`
	Fridge   *Fridge          `json:"fridge,omitempty"` // nil: none
	Belt     unit.Power       `json:"belt_w,omitzero"`  // 0: none
	Assumed  bool             `json:"assumed,omitzero"` // nobody knew Ambient
}

// Fridge is a cold place the vessel stands in.
type Fridge struct {
	Coldest unit.Temperature `json:"coldest_k"`
}

// Gas is the cylinder. Cylinder is its capacity, Content what was in it at pitching.
type Gas struct {
	Cylinder unit.Mass `json:"cylinder_kg"`
	Content  unit.Mass `json:"content_kg"`
}

// Target is what the brewer wishes for.
type Target struct {
	CO2         unit.Volumes     `json:"co2_volumes,omitzero"`   // 0: not named
	Temperature unit.Temperature `json:"temperature_k,omitzero"` // 0: not named
	Ready       time.Time        `json:"ready,omitzero"`         // zero: not named
}

// Step is one line of the programme: when, and what is then set. Exactly one of
// At (with AtSet) and When is given.
type Step struct {
	At    unit.Duration `json:"at_s,omitzero"` // since pitching
	AtSet bool          `json:"at_set,omitzero"`
	When  Condition     `json:"when,omitzero"`
	Set   Setting       `json:"set"`
	Line  int           `json:"-"` // in the file, 0 where there is none
}

// Condition is what a step waits for.
type Condition struct {
	Kind    ConditionKind `json:"kind"`
	Gravity unit.Gravity  `json:"gravity_sg,omitzero"` // for GravityAtMost
	For     unit.Duration `json:"for_s,omitzero"`      // for FinishedFor
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
	Hold   *unit.Temperature `json:"hold_k,omitempty"`
	Relief *unit.Gauge       `json:"relief_pa,omitempty"` // the working valve; 0 is open
	Gas    *unit.Gauge       `json:"gas_pa,omitempty"`    // the regulator
	GasOff bool              `json:"gas_off,omitzero"`
	Action string            `json:"action,omitzero"` // free words: "dry hop 60 g", a reminder
}

// Quantity is what an instrument reads.
type Quantity int

// The quantities a reading can be of.
const (
	Gravity        Quantity = iota // unit.Gravity
	Pressure                       // unit.Gauge
	Temperature                    // unit.Temperature
	VesselMass                     // unit.Mass, vessel and contents as weighed
	CylinderMass                   // unit.Mass, cylinder as weighed
	VentedGas                      // unit.Mass of CO2 let out since pitching, a total
	AirTemperature                 // unit.Temperature of the air around the vessel: of its fridge, of the room
	Quantities                     // how many there are
)

// Reading is one value of one instrument. Value is in SI: gravity as SG, gauge
// pressure in Pa, temperature in K, mass in kg.
type Reading struct {
	Time       time.Time
	Uncertain  unit.Duration // of Time, one standard deviation; 0: as exact as a clock
	Quantity   Quantity
	Value      float64
	Instrument string // empty: the usual one for the quantity
	Entry      ID     // of the log it stands in, zero where it comes from a file
	Line       int    // in the file, 0 where there is none
	Unattended bool   // sent by a device or come with a file, and corrected by nobody: it can raise an alarm and never clear one
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
	Time        time.Time        `json:"-"`
	Uncertain   unit.Duration    `json:"-"` // of Time, one standard deviation; 0: as exact as a clock
	Kind        EventKind        `json:"kind"`
	Pressure    unit.Gauge       `json:"pressure_pa,omitzero"`
	From        unit.Gauge       `json:"from_pa,omitzero"`
	To          unit.Gauge       `json:"to_pa,omitzero"`
	Volume      unit.Volume      `json:"volume_m3,omitzero"`
	Temperature unit.Temperature `json:"temperature_k,omitzero"`
	For         unit.Duration    `json:"for_s,omitzero"`
	Mass        unit.Mass        `json:"mass_kg,omitzero"`
	Gravity     unit.Gravity     `json:"gravity_sg,omitzero"`
	Words       string           `json:"words,omitzero"`
	Entry       ID               `json:"-"` // of the log it stands in, zero where it comes from a file
	Line        int              `json:"-"`
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
	Kind string        `json:"kind"`
	How  string        `json:"how,omitzero"`
	Rate unit.MassRate `json:"rate_kg_per_s,omitzero"`
	At   unit.Duration `json:"at_s,omitzero"`
}
