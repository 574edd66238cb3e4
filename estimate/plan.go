package estimate

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"spile/batch"
	"spile/co2"
	"spile/unit"
)

// Aim is what a choice is best at.
type Aim string

// The aims, in the order in which choices are offered.
const (
	AimLikely   Aim = "likely"    // to be ready by the wished date
	AimLeastGas Aim = "least-gas" // from the cylinder
	AimGentle   Aim = "gentle"    // coolest ferment, lowest pressure
	AimEarliest Aim = "earliest"  // very likely ready soonest
)

var aims = []Aim{AimLikely, AimLeastGas, AimGentle, AimEarliest}

// Plan is what can be done to have a batch ready by a date: a few programmes, none of which is better than another in everything.
type Plan struct {
	From    time.Time // the programmes hold from here on; what was set before stands in them too
	Ready   time.Time // wished
	Seed    uint64
	Choices []Choice // at least one
	// Earliest is when some programme is ready with VeryLikely odds; zero: not within the days looked at.
	Earliest time.Time
	// Pressure says that rating and safety valve are known and fit; else the programmes hold temperatures alone.
	Pressure bool
	Needs    unit.Gauge       // that hold the wished carbonation in the cold
	Most     unit.Gauge       // highest setting that the weakest part allows, the valve's error taken off
	Served   unit.Temperature // wished
	Now      Band             // Pa gauge in the vessel at From
	Terminal Band             // SG
	Tried    int              // programmes
	Trusted  bool
}

// VeryLikely is the least of the odds called so.
const VeryLikely = 0.85

// Choice is one programme and what comes of it.
type Choice struct {
	Aims      []Aim
	Programme []batch.Step
	Outcome
	Buys []Buy
}

// Outcome is what a programme leads to, over all that is believed.
type Outcome struct {
	// Probability of being ready by the wished date: seen to be finished, rest done, cold for SettleFor, carbonated as wished.
	Probability float64
	Ready       Milestone
	VeryLikely  time.Time // by when it is ready with those odds; zero: not within the days looked at
	Gas         unit.Mass // from the cylinder until ready, median
	Highest     unit.Gauge
	Lowest      unit.Gauge // 1 %, ahead
	Warmest     unit.Temperature
	Coldest     unit.Temperature
	Worst       Worst
	sure        float64 // s since pitching, when VeryLikely ready
	mean        float64 // s since pitching, of when it is ready, no later than the days looked at
	strain      float64
}

// WorstCase is the highest of the worst case of the contents and of the programme's own pressure.
func (o *Outcome) WorstCase() unit.Gauge { return max(o.Worst.Contents, o.Highest) }

// Hopeful says whether any small change leaves a chance.
func (c *Choice) Hopeful() bool {
	return slices.ContainsFunc(c.Buys, func(b Buy) bool { return b.Probability >= 0.03 })
}

// Change is a small change of a choice.
type Change string

// The changes whose odds are told.
const (
	OneDegreeWarmer Change = "warmer"
	ColdDaySooner   Change = "cold-sooner"
	WishedDayLater  Change = "later"
)

// Buy is what a change would buy.
type Buy struct {
	Change      Change
	Probability float64
}

// ErrPlanEnded is returned where progress was told to end the work.
var ErrPlanEnded = errors.New("the search for a plan was ended")

// Plan searches programmes that have the batch ready by a time: fermenting temperature and its rise near the end,
// settings of the working valve, rest, cold, gas pressure and its steps. Every programme is tried on the same members
// of the belief and with the same chance, first coarse and few, then finer and on all. ready must be later than the belief, and the batch
// needs a wished carbonation.
func (bl *Belief) Plan(ready time.Time, progress func(done float64) (goOn bool)) (*Plan, error) {
	t := bl.batch.Target
	if t == nil || t.CO2 <= 0 {
		return nil, fmt.Errorf("%s: a plan needs a wished carbonation", bl.batch.Name)
	}
	if !ready.After(bl.at) {
		return nil, fmt.Errorf("%s: the wished date is not ahead", bl.batch.Name)
	}
	s := newSearch(bl, ready, progress)
	if s.survey(); s.sound == 0 {
		return nil, errNoFuture
	}
	found, err := s.run()
	if err != nil {
		return nil, err
	}
	p := &Plan{
		From: bl.at, Ready: ready, Seed: bl.options.Seed, Pressure: s.pressure, Needs: s.needs, Most: s.most,
		Served: s.coldest(), Now: s.now, Terminal: s.terminal, Trusted: bl.diagnostics().Trusted,
	}
	p.Earliest = bl.time(sure(found))
	if p.Choices, err = s.choices(found); err != nil {
		return nil, err
	}
	p.Tried = len(s.tried)
	return p, nil
}

// sure is the earliest time at which one of them is VeryLikely ready, +Inf for none.
func sure(found []*attempt) float64 {
	at := math.Inf(1)
	for _, t := range found {
		at = math.Min(at, t.sure)
	}
	return at
}

// choices picks the best for each aim and drops what another choice beats in everything.
func (s *search) choices(found []*attempt) ([]Choice, error) {
	var picked []*attempt
	aimsOf := map[*attempt][]Aim{}
	for _, aim := range aims {
		best := s.best(found, aim, 1)
		if len(best) == 0 || aim == AimLeastGas && (!s.pressure || s.bl.batch.Gas == nil) {
			continue
		}
		t := best[0]
		if i := slices.IndexFunc(picked, t.alike); i >= 0 {
			t = picked[i]
		} else {
			picked = append(picked, t)
		}
		aimsOf[t] = append(aimsOf[t], aim)
	}
	picked = slices.DeleteFunc(picked, func(t *attempt) bool {
		return slices.ContainsFunc(picked, func(other *attempt) bool { return other.beats(t) })
	})
	if !slices.ContainsFunc(picked, func(t *attempt) bool { return t.readyBy(s.end) > 0 }) {
		picked = picked[:1] // nothing to choose by
	}
	var out []Choice
	for _, t := range picked {
		buys, err := s.buys(t)
		if err != nil {
			return nil, err
		}
		out = append(out, Choice{aimsOf[t], t.programme, t.Outcome, buys})
	}
	return out, nil
}

// beats: no worse in anything, and better in something.
func (t *attempt) beats(other *attempt) bool {
	a, b := t.objectives(), other.objectives()
	better := false
	for i := range a {
		if a[i] > b[i] {
			return false
		}
		better = better || a[i] < b[i]
	}
	return better
}

// objectives are what one would rather have less of.
func (t *attempt) objectives() [4]float64 {
	return [4]float64{-t.Probability, float64(t.Gas), t.strain, t.sure}
}

// buys tells what a degree, a day less of rest, or a day more of waiting would buy.
func (s *search) buys(t *attempt) ([]Buy, error) {
	var changed []*attempt
	var out []Buy
	for _, c := range []struct {
		change Change
		knob   knob
		by     int
	}{{OneDegreeWarmer, knobHold, 1}, {ColdDaySooner, knobRest, -1}} {
		k := t.set
		k[c.knob] += c.by
		if other := s.attempt(k); other != nil {
			changed, out = append(changed, other), append(out, Buy{Change: c.change})
		}
	}
	if err := s.judge(changed, len(s.members)); err != nil {
		return nil, err
	}
	for i, c := range changed {
		out[i].Probability = c.Probability
	}
	return append(out, Buy{WishedDayLater, t.readyBy(s.wish + unit.Day)}), nil
}

// Needs is the gauge pressure that holds the wished carbonation of b at t, 0 where none does.
func Needs(b *batch.Batch, t unit.Temperature) unit.Gauge {
	p, err := co2.EquilibriumPressure(t, b.Target.CO2, co2.BeerFactor{}, nil)
	if err != nil {
		return 0
	}
	return p.Gauge(atmosphere(b))
}
