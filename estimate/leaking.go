package estimate

import (
	"math"

	"spile/batch"
	"spile/unit"
)

// Verdict is an answer that may not be known.
type Verdict string

// The verdicts.
const (
	Yes        Verdict = "yes"
	No         Verdict = "no"
	CannotTell Verdict = "cannot-tell"
)

// Hides says what a leak would hide behind.
type Hides string

// What can hide a leak.
const (
	BehindNothing    Hides = ""
	BehindValve      Hides = "valve"      // gas leaves through the working valve
	BehindAbsorption Hides = "absorption" // gas is on, and cold beer takes it up
	BehindSilence    Hides = "silence"    // the gauge was not read
	BehindLetDown    Hides = "let-down"   // gas that somebody may have let out, or a lid that sealed late, explains as much
)

// Leaking answers whether the vessel loses gas, and what hides it where that cannot be told.
type Leaking struct {
	Verdict     Verdict
	Probability float64 // of a leak worth a search
	Size        Band    // kg/s at one bar above the air
	Hides       Hides
}

// The readings have spoken of a leak where they narrow it to toldBy of the prior's spread, or bring its upper edge below
// boundBy of the prior's.
const (
	toldBy  = 0.75
	boundBy = 0.5
)

// leaking judges the leak: from the readings if they have spoken, else it says what hides it. What else may have happened, by the
// findings, takes its share of the probability: the belief rests on the log.
func (bl *Belief) leaking(fs []future, found []Finding) Leaking {
	logged := asLogged(found)
	grams := over(fs, func(f *future) float64 { return bl.prior.value(Leak, f.z[Leak]) })
	logs, worth := make([]float64, len(grams)), []float64{}
	for i, g := range grams {
		logs[i] = math.Log(g)
		if g > leakWorthIt {
			worth = append(worth, g)
		}
	}
	l := Leaking{Verdict: CannotTell, Probability: logged * float64(len(worth)) / float64(len(grams))}
	b, before := bandOf(grams), bl.prior.band(Leak)
	told := spread(logs) < toldBy*bl.prior[Leak].SD || b.P95 < boundBy*before.P95
	switch {
	case logged < 0.5:
		l.Hides = BehindLetDown
	case l.Probability > 0.5:
		l.Verdict, b = Yes, bandOf(worth) // if it leaks, as the finding says it
	case told && l.Probability < 0.05:
		l.Verdict = No
	default:
		l.Hides = bl.hiding(fs)
	}
	perDay := unit.Gram / unit.Day
	l.Size = Band{b.P05 * perDay, b.P50 * perDay, b.P95 * perDay}
	return l
}

// hiding is what a leak would hide behind now.
func (bl *Belief) hiding(fs []future) Hides {
	relief := float64(bl.reliefNow())
	gauge := bandOf(over(fs, func(f *future) float64 { return f.now.gauge }))
	switch {
	case !bl.hasAny([]batch.Quantity{batch.Pressure, batch.CylinderMass, batch.VesselMass}):
		return BehindSilence
	case bl.gasAt(bl.tl.now):
		return BehindAbsorption
	case gauge.P50 > relief-nearRelief:
		return BehindValve
	}
	return BehindNothing
}
