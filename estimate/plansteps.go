package estimate

import (
	"math"
	"strconv"

	"spile/batch"
	"spile/limit"
	"spile/unit"
)

// knob is one thing a plan can turn, in steps.
type knob int

const (
	knobHold   knob = iota // K above the coolest ordinary temperature of the yeast
	knobRise               // K more near the end of the ferment
	knobRelief             // working valve while it ferments: see reliefs
	knobOwn                // working valve near the end, to keep the yeast's own gas: see ownShares
	knobRest               // days in the warm after it was seen to be finished
	knobBelow              // K colder than wished
	knobExcess             // psi of gas above what holds the wished carbonation
	knobPush               // gas pressed harder at first: see pushes
	numKnobs
)

type knobs [numKnobs]int

var (
	reliefs   = []unit.Gauge{5 * psi, 10 * psi, 15 * psi}
	ownShares = []float64{0, 0.6, 1} // of the pressure that holds the wished carbonation in the warm; 0: left as it is
	pushes    = []pressing{{}, {8 * psi, 2 * unit.Day}, {8 * psi, 0}, {15 * psi, 0}}
)

// pressing is more gas at first. For is how long, 0 until it is carbonated.
type pressing struct {
	more unit.Gauge
	For  unit.Duration
}

const (
	mostRise   = 4
	mostRest   = 4
	mostBelow  = 2
	mostExcess = 4
	// overRange is K above the ordinary range that a rest may have (common practice, no source).
	overRange = 2
	// LastShare is the share of the fall left at which the temperature rises and own gas is kept: early enough that a
	// hydrometer four points off still leaves the gas (assumption).
	LastShare = 0.25
	// valveError is two sd of the set point of a working valve: no setting comes nearer to the weakest part.
	valveError = 3 * psi
	// AboveGas is how far above the regulator the working valve must stand, lest it drains the cylinder: valve and regulator
	// each err by a psi or two, and the valve closes below its setting.
	AboveGas = 3 * psi
	// coldestPlanned keeps clear of the freezing point of weak beer, with a thermostat a degree off.
	coldestPlanned unit.Temperature = 273.15
)

// levels is how many settings each knob has, and the few looked at first.
func (s *search) levels() (n knobs, first [numKnobs][]int) {
	low, high := s.bl.batch.Yeast.Kind.Range()
	degrees := int(high - low + 0.5)
	n = knobs{degrees + 1, mostRise + 1, len(s.reliefs), len(ownShares), mostRest, s.colder() + 1, mostExcess + 1, len(pushes)}
	first = [numKnobs][]int{{0, degrees / 2, degrees}, {2}, {min(1, len(s.reliefs)-1)}, {0, 1, 2}, {1}, {min(1, s.colder())}, {2}, {0, 2}}
	if !s.pressure {
		n[knobRelief], n[knobOwn] = 1, 1
		first[knobRelief], first[knobOwn] = []int{0}, []int{0}
	}
	if !s.pressure || s.bl.batch.Gas == nil {
		n[knobExcess], n[knobPush] = 1, 1
		first[knobExcess], first[knobPush] = []int{0}, []int{0}
	}
	if s.cold { // only the gas is left to turn
		for _, k := range []knob{knobHold, knobRise, knobRelief, knobOwn, knobRest} {
			n[k], first[k] = 1, []int{0}
		}
	}
	return n, first
}

// weakest is the lower of rating and safety valve. Plans set pressures only where both are known and fit each other.
func weakest(v *batch.Vessel) (unit.Gauge, bool) {
	if !limit.Guarded(v.Rating, v.SafetyRelief) || !(*v.SafetyRelief > valveError+psi) {
		return 0, false
	}
	return *v.SafetyRelief, true
}

// programme is what k says, nil where k does not fit together or passes a limit.
func (s *search) programme(k knobs) []batch.Step {
	chilled := s.chill(k)
	if chilled == nil {
		return nil
	}
	if s.cold {
		return chilled
	}
	low, high := s.bl.batch.Yeast.Kind.Range()
	warm := low + unit.Temperature(k[knobHold])
	risen := tenth(warm + unit.Temperature(k[knobRise]))
	warm = tenth(warm)
	if k[knobRise] > 0 && risen > high+overRange {
		return nil
	}
	first := batch.Step{At: s.from, AtSet: true, Set: batch.Setting{Hold: &warm}}
	end := batch.Step{When: batch.Condition{Kind: batch.GravityAtMost, Gravity: s.trigger}}
	if k[knobRise] > 0 {
		end.Set.Hold = &risen
	}
	if s.pressure {
		set, kept := dial(s.reliefs[k[knobRelief]]), s.keeps(k, risen)
		if k[knobOwn] > 0 && kept <= set {
			return nil
		}
		first.Set.Relief = &set
		high := set
		if k[knobOwn] > 0 {
			end.Set.Relief, high = &kept, kept
		}
		if r := chilled[0].Set.Relief; r != nil && *r <= high {
			chilled[0].Set.Relief = nil // high enough already
		}
	}
	out := []batch.Step{first}
	if end.Set != (batch.Setting{}) {
		out = append(out, end)
	}
	return append(out, chilled...)
}

// dial is g to the half psi, and to the last bit what reading it from a file gives.
func dial(g unit.Gauge) unit.Gauge {
	read, err := unit.ParseGauge(strconv.FormatFloat(math.Round(2*g.PSI())/2, 'f', -1, 64) + " psi")
	if err != nil {
		return g // not a number: no setting either
	}
	return read
}

// tenth is t to a tenth of a degree.
func tenth(t unit.Temperature) unit.Temperature { return unit.Celsius(math.Round(10*t.Celsius()) / 10) }

// keeps is the setting of the working valve that keeps k's share of the yeast's own gas at t, whole psi.
func (s *search) keeps(k knobs, t unit.Temperature) unit.Gauge {
	share := ownShares[k[knobOwn]]
	return dial(min(psi*unit.Gauge(math.Round(share*float64(Needs(s.bl.batch, t))/psi)), s.most))
}

// chill is the cold end of k: rest done, cold, gas and its steps; nil where the gas would be pressed too hard.
func (s *search) chill(k knobs) []batch.Step {
	to := tenth(s.coldest() - unit.Temperature(k[knobBelow]))
	days := unit.Duration(k[knobRest]+1) * unit.Day
	step := batch.Step{When: batch.Condition{Kind: batch.FinishedFor, For: days}, Set: batch.Setting{Hold: &to, Action: ButterTest}}
	if s.cold {
		step = batch.Step{At: s.from, AtSet: true, Set: batch.Setting{Hold: &to}}
	}
	if !s.pressure || s.bl.batch.Gas == nil {
		return []batch.Step{step}
	}
	holds := Needs(s.bl.batch, to) + unit.Gauge(k[knobExcess])*psi
	most := s.most - AboveGas
	if most <= 0 {
		return []batch.Step{step}
	}
	more := pushes[k[knobPush]]
	gas := dial(min(unit.Gauge(math.Ceil(float64(holds)/psi*2))/2*psi, most))
	high := dial(gas + more.more)
	if high > most+1 {
		return nil
	}
	valve := dial(psi * unit.Gauge(math.Ceil(float64(high+AboveGas)/psi-1e-9)))
	step.Set.Gas, step.Set.Relief = &high, &valve
	out := []batch.Step{step}
	if more.more > 0 {
		back := batch.Step{When: batch.Condition{Kind: batch.Carbonated}, Set: batch.Setting{Gas: &gas}}
		switch {
		case more.For > 0 && s.cold:
			back.When, back.At, back.AtSet = batch.Condition{}, s.from+more.For, true
		case more.For > 0:
			back.When = batch.Condition{Kind: batch.FinishedFor, For: days + more.For}
		}
		out = append(out, back)
	}
	return out
}

// ButterTest is what a plan wants done before the cold.
const ButterTest = "butter test first"

// coldest is the wished temperature of the beer in the glass.
func (s *search) coldest() unit.Temperature {
	if t := s.bl.batch.Target.Temperature; t > 0 {
		return t
	}
	return ServedCold
}

// colder is how many K below the wish the beer may be kept.
func (s *search) colder() int {
	least := coldestPlanned
	if f := s.bl.batch.Place.Fridge; f != nil {
		least = max(least, f.Coldest)
	}
	return int(min(max(math.Floor(float64(s.coldest()-least)+1e-9), 0), mostBelow))
}
