// Package limit holds the safety limits of a closed vessel. It stands apart from
// inference: it is handed the last reading, the edges of what is believed and the
// ratings, and always acts on the worse of them.
//
// Three rules hold everywhere, and tests hold the package to them. A number that is
// not known, or is no number, counts as a limit that is exceeded. Raising a pressure
// never takes a finding away. Nothing can be configured off: there is no argument,
// variable or build tag that silences a limit.
//
// It is no safety device. A valve protects a vessel, software does not.
package limit

import (
	"math"
	"time"

	"spile/unit"
)

// Kind names a limit.
type Kind string

// The limits.
const (
	OverRating          Kind = "over-rating"                     // pressure now or ahead, at or above the rating
	OverSafety          Kind = "over-safety-valve"               // pressure now or ahead, at or above the safety valve's setting
	PressureUnknown     Kind = "pressure-unknown"                // neither reading nor belief
	RatingUnknown       Kind = "rating-unknown"                  // the vessel's rating is not known
	SafetyUnknown       Kind = "safety-valve-unknown"            // no safety valve known
	SafetyHigh          Kind = "safety-valve-high"               // safety valve set above the rating
	ValveHigh           Kind = "working-valve-over-rating"       // working valve set at or above the rating
	ValveOverSafety     Kind = "working-valve-over-safety-valve" // working valve set at or above the safety valve
	RegulatorHigh       Kind = "regulator-over-rating"           // regulator set at or above the rating
	RegulatorOverSafety Kind = "regulator-over-safety-valve"     // regulator set at or above the safety valve
	GasNearRating       Kind = "gas-near-rating"                 // no room for the working valve between gas and rating
	GasNearSafety       Kind = "gas-near-safety-valve"           // no room for the working valve between gas and safety valve
	WorstCase           Kind = "worst-case"                      // contents, all extract, working valve stuck, hottest place
	RegulatorFailure    Kind = "regulator-failure"               // regulator failed fully open
	PullsIn             Kind = "pulls-in"                        // below the air outside, now
	WouldPullIn         Kind = "would-pull-in"                   // below the air outside, if the plan is followed
	HeadspaceSmall      Kind = "headspace-small"                 // less than 5 % at the warmest
	Freezing            Kind = "freezing"                        // at or below the freezing point
	WasFrozen           Kind = "was-frozen"                      // has held ice
	OpenUnderGas        Kind = "open-under-pressure"             // to be opened, and not known to be empty of gas
	CheckDue            Kind = "check-due"                       // the vessel's own check is overdue
)

// Severity is how soon to act.
type Severity int

// The severities, least first.
const (
	WhenYouCan Severity = iota
	Today
	Now
)

func (s Severity) String() string { return [...]string{"When you can", "Today", "Now"}[s] }

// Quantity says what the numbers of a finding are.
type Quantity int

// What a finding can be about.
const (
	NoQuantity  Quantity = iota
	Pressure             // Pa gauge
	Share                // a fraction
	Temperature          // K
	Day                  // s since 1970
)

// Number is a value in SI that may not be known.
type Number struct {
	SI    float64
	Known bool
}

// Finding is one limit that is, or would be, passed.
type Finding struct {
	Kind     Kind
	Severity Severity
	Quantity Quantity
	Value    Number // the higher of reading and belief, or what else was compared
	Limit    Number // not known: counts as exceeded
	From     Source // where Value comes from
	Force    Number // on the lid, N; for OpenUnderGas with a known opening
}

// Source says which of the numbers handed in decided a finding.
type Source string

// The sources of a value.
const (
	Reading Source = "reading"
	Belief  Source = "belief"
	Plan    Source = "plan"
	Plate   Source = "plate" // settings and marks of vessel and fittings
)

// Vessel is what is handed in. A nil pointer is a number that is not known.
type Vessel struct {
	Rating       *unit.Gauge // of the weakest rated part
	SafetyRelief *unit.Gauge // setting of the safety valve
	WorkingValve *unit.Gauge // its highest setting, now and in the plan; nil: none fitted
	Regulator    *unit.Gauge // its highest setting, now and in the plan; nil: no gas

	OverGas *unit.Gauge // what the working valve must be set to over that, lest the cylinder's gas leave through it; nil: no gas

	Measured *unit.Gauge // the last reading
	High     *unit.Gauge // upper edge of what is believed now
	Low      *unit.Gauge // lower edge of what is believed now

	AheadHigh *unit.Gauge // highest upper edge while the plan is followed; nil: nothing planned
	AheadLow  *unit.Gauge // lowest lower edge while the plan is followed; nil: nothing planned

	WorstCase     *unit.Gauge // all contents and extract, working valve stuck shut, hottest place
	RegulatorOpen *unit.Gauge // regulator failed fully open; looked at only where Gas
	Gas           bool        // a cylinder is or will be connected

	Headspace *unit.Ratio       // share of the vessel, at the warmest
	Coldest   *unit.Temperature // lowest of reading, lower edge of belief and plan
	Freezes   *unit.Temperature // freezing point of the beer; nil: that of water is taken, which is safe

	ToBeOpened bool         // somebody is about to open it
	Opening    *unit.Length // diameter of the lid's opening
	Frozen     bool         // it has held ice since it was last checked
	CheckDue   bool         // the check of the vessel itself is overdue
	Due        time.Time    // of that check; zero: not told
}

const (
	// LeastHeadspace leaves the liquid room to expand. Common practice, no source;
	// water alone needs 0.8 % from 1 to 40 C.
	LeastHeadspace unit.Ratio = 0.05
	// leastVacuum is what no dial shows: a fifth of its finest mark.
	leastVacuum unit.Gauge = -1 * unit.Kilopascal
	// breath is what a shut vessel of fresh wort breathes in as it cools a little and
	// takes up gas, before the yeast works: no reason to act on a belief (assumption).
	breath unit.Gauge = -5 * unit.Kilopascal
	// water freezes at 0 C, beer lower.
	waterFreezes unit.Temperature = 273.15
)

// Check gives every limit that v passes or would pass, the most urgent first in
// each group. Nothing that is handed in can make it skip a limit.
func Check(v Vessel) []Finding {
	var found []Finding
	for _, rule := range []func(Vessel) []Finding{
		plates, pressures, settings, worstCases, vacuum, headspace, cold, opening, Condition,
	} {
		found = append(found, rule(v)...)
	}
	return found
}

// Passed tells whether any finding asks for something today or now: a program ends with
// exit code 3 then. What is left is a worst case that a safety valve in order stands against.
func Passed(found []Finding) bool {
	for _, f := range found {
		if f.Severity >= Today {
			return true
		}
	}
	return false
}

// Rated compares one pressure with one rating, for a calculation that knows no more.
// It is ok only if both are known and the pressure is below.
func Rated(p unit.Gauge, rating *unit.Gauge) (f Finding, ok bool) {
	limit := known(rating)
	if !limit.Known {
		return Finding{Kind: RatingUnknown, Severity: Today, Quantity: Pressure, Value: number(float64(p)), From: Plan}, false
	}
	if below(number(float64(p)), limit) {
		return Finding{}, true
	}
	return Finding{Kind: OverRating, Severity: Now, Quantity: Pressure, Value: number(float64(p)), Limit: limit, From: Plan}, false
}

// HottestPlace is the hottest place that a vessel is taken to meet (assumption).
var HottestPlace = unit.Celsius(40)

// Weakest is the lower of a rating and the setting of a safety valve, where that is known; ok only where a rating is known.
func Weakest(rating, safety *unit.Gauge) (weakest unit.Gauge, ok bool) {
	switch {
	case rating == nil:
		return 0, false
	case safety != nil:
		return min(*rating, *safety), true
	}
	return *rating, true
}

// Guarded tells whether a safety valve stands against what a sealed vessel could reach: rating and setting are known, and
// the valve is set no higher.
func Guarded(rating, safety *unit.Gauge) bool {
	r, s := known(rating), known(safety)
	return r.Known && s.Known && s.SI <= r.SI
}

// Stuck compares what a working valve that sticks could bring with the rating. A safety valve set no higher than the
// rating stands against it; nil: none is known.
func Stuck(worst unit.Gauge, rating, safety *unit.Gauge) []Finding {
	return worstCases(Vessel{Rating: rating, SafetyRelief: safety, WorstCase: &worst})
}

// LidForce is the force in newtons of gas on a lid whose opening is this wide.
func LidForce(p unit.Gauge, opening unit.Length) float64 {
	return float64(p) * math.Pi / 4 * float64(opening) * float64(opening)
}

// number is known unless it is no number.
func number(v float64) Number {
	if math.IsNaN(v) {
		return Number{}
	}
	return Number{SI: v, Known: true}
}

func known[T ~float64](p *T) Number {
	if p == nil {
		return Number{}
	}
	return number(float64(*p))
}

// below is true only of two known numbers.
func below(value, limit Number) bool {
	return value.Known && limit.Known && value.SI < limit.SI
}

// higher is the higher of a reading and a belief. A NaN, unlike a nil, is a broken
// number and makes the whole unknown: it must not hide behind a low partner.
func higher(reading, belief *unit.Gauge) (Number, Source) {
	r, b := known(reading), known(belief)
	broken := reading != nil && !r.Known || belief != nil && !b.Known
	switch {
	case broken:
		return Number{}, Belief
	case !r.Known || b.Known && b.SI > r.SI:
		return b, Belief
	}
	return r, Reading
}
