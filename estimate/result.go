// Package estimate holds what Spile believes about one batch: priors, models of
// the instruments, conditioning on what was read and done, and the forecast.
package estimate

import (
	"time"

	"spile/batch"
	"spile/unit"
	"spile/vessel"
)

// Band is the 5th, 50th and 95th percentile of a belief, in SI units of its quantity.
type Band struct{ P05, P50, P95 float64 }

// Snapshot is the belief about the vessel at one moment.
type Snapshot struct {
	Gravity      Band    // SG 20/20, degassed
	ABV          Band    // fraction
	Volumes      Band    // of CO2 in the beer
	Pressure     Band    // Pa gauge
	Temperature  Band    // K, of the beer
	Liquid       Band    // m3 of beer left
	CylinderLeft Band    // kg of CO2; all zero where no cylinder is known
	PointsLeft   Band    // points of gravity still to fall at the last fermenting temperature
	PointsPerDay Band    // how fast gravity falls now
	Attenuation  Band    // apparent, fraction
	Oxygen       Band    // share of the headspace
	Suspended    Band    // yeast in suspension, relative to its peak
	Finished     float64 // probability that fewer than one point remains
}

// Milestone is a forecast time. Never is the share of futures in which it does
// not come within the span looked at; then a quantile may be later than that span (At zero).
type Milestone struct {
	P05, P50, P95 time.Time // zero: later than the span looked at
	Probability   float64   // of coming before the wished date; NaN where none is named
	Never         float64
	Futures       [Dots]time.Time // equally likely, in order; zero: later than the span looked at
}

// Dots is how many equally likely futures a time is shown as.
const Dots = 20

// Milestones are the times people wait for.
type Milestones struct {
	Attenuated90, Finished, Cold, Carbonated, Ready Milestone
}

// Series is the belief over time, hours since pitch; each slice as long as Hours.
type Series struct {
	Hours                                   []float64
	Gravity, Volumes, Pressure, Temperature []Band
}

// FindingKind names something amiss, as in the file formats.
type FindingKind string

// The findings a forecast can carry.
const (
	FindingLeak             FindingKind = "leak"
	FindingReliefStuck      FindingKind = "relief-stuck"
	FindingHydrometerOffset FindingKind = "hydrometer-offset"
	FindingDialOffset       FindingKind = "dial-offset"
	FindingMissingVent      FindingKind = "missing-vent"
	FindingSealSlow         FindingKind = "seal-slow"
	FindingColdStall        FindingKind = "cold-stall"
	FindingTiredYeast       FindingKind = "tired-yeast"
	FindingCannotTell       FindingKind = "cannot-tell"
)

// Finding is something that may be amiss. Size is in SI (kg/s for a leak, Pa, SG, kg); its words are made by package advice.
type Finding struct {
	Kind        FindingKind
	Probability float64
	Size        Band
	Since       time.Time
	Of          FindingKind // what cannot be told, for FindingCannotTell; empty: finished from stopped
}

// Flag is a reading that does not fit and is asked about.
type Flag struct {
	Kind     FlagKind
	Reading  batch.Reading
	Expected Band // of the reading, instrument error included
}

// NextReading is the reading most worth taking. Instrument "" means none is worth taking before At.
type NextReading struct {
	Instrument batch.Quantity
	Forced     bool // fermented out warm first
	None       bool
	At         time.Time
	// Narrows is the expected factor by which the band of what is asked shrinks, 0..1.
	Narrows float64
}

// Diagnostics say how well the inference went.
type Diagnostics struct {
	ParetoK          float64
	EffectiveSamples float64
	Simulations      int
	Method           string // "importance" or "tempered"
	Trusted          bool   // ParetoK below its limit and enough effective samples, or tempered; and the closure fit
	// Unfit says why the closure by daily means, of which every simulation is, does not do for this vessel; "" where it does.
	Unfit vessel.Unfit
}

// Worst is the highest pressure that credible mishaps could bring, gauge; see vessel.WorstCase.
type Worst struct {
	Contents  unit.Gauge // all still fermentable at its 95 % bound, working valve stuck, hottest credible place
	Regulator unit.Gauge // regulator failed fully open, safety valve counted on; 0 where no gas is connected
	Hottest   unit.Temperature
}

// LedgerBands say where the gas went, kg of CO2, up to now.
type LedgerBands struct {
	Made, Supplied, Dissolved, Headspace, Vented, Leaked, Drawn Band
}

// Forecast is the belief now and ahead.
type Forecast struct {
	At          time.Time
	Seed        uint64
	LastReading time.Time        // zero: none
	Fermenting  unit.Temperature // the last fermenting temperature, to which Terminal belongs
	Now         Snapshot
	// Terminal gravity and alcohol if left at the last fermenting temperature.
	TerminalGravity, TerminalABV Band
	// CooledHours is how long ago the beer was last cooled by more than 2 K, in hours; +Inf where it was not.
	CooledHours float64
	Milestones  Milestones
	Series      Series
	// Lowest is the gauge pressure below which the vessel comes with 1 % probability, now or ahead.
	Lowest      unit.Gauge
	Findings    []Finding
	Flags       []Flag
	Evidence    []Evidence // of the readings in the likelihood, in order of time
	Next        NextReading
	Worst       Worst
	Ledger      LedgerBands
	Questions   Questions
	Diagnostics Diagnostics
}
