package estimate

import (
	"math"
	"slices"
	"sync"
	"time"

	"spile/batch"
	"spile/unit"
	"spile/vessel"
)

const (
	planMembers = 200 // on which the choices are judged
	fewMembers  = 48  // on which programmes are sorted out
	mostRounds  = 5   // of looking around the best
	seedsOfAim  = 2   // programmes around which a round looks, for each aim
	finalsOfAim = 4   // programmes judged on all members, for each aim
	planAhead   = 35 * unit.Day
	planBeyond  = 7 * unit.Day // after the wished date
	mostAhead   = 60 * unit.Day
)

// search is the state of one plan being made.
type search struct {
	*Standing
	wish     float64 // s since pitching
	end      float64 // of the days looked at, s since pitching
	progress func(float64) bool
	share    float64 // done

	pressure bool       // settings may be planned
	most     unit.Gauge // highest setting
	needs    unit.Gauge
	weak     unit.Gauge // rating or safety valve
	cold     bool       // finished and cold already
	sound    int        // members that can be run
	now      Band       // Pa gauge
	terminal Band       // SG
	trigger  unit.Gravity
	tried    map[knobs]*attempt
	sizes    knobs
	first    [numKnobs][]int
	reliefs  []unit.Gauge // while it ferments
}

// attempt is one programme and how it did on the members tried so far.
type attempt struct {
	set       knobs
	programme []batch.Step // kept steps included
	bl        *Belief
	fates     []fate
	Outcome
}

func newSearch(bl *Belief, ready time.Time, progress func(float64) bool) *search {
	s := &search{Standing: bl.standing(planMembers), wish: ready.Sub(bl.batch.Pitched).Seconds(), progress: progress, tried: map[knobs]*attempt{}}
	s.end = bl.tl.now + math.Min(math.Max(planAhead, s.wish-bl.tl.now+planBeyond), mostAhead)
	s.weak, s.pressure = weakest(&bl.batch.Vessel)
	s.most = psi * unit.Gauge(math.Floor(float64(s.weak-valveError)/psi))
	s.needs = Needs(bl.batch, s.coldest())
	for _, r := range reliefs {
		if r <= s.most {
			s.reliefs = append(s.reliefs, r)
		}
	}
	if len(s.reliefs) == 0 {
		s.reliefs = []unit.Gauge{s.most}
	}
	return s
}

// survey brings every member to now, where all programmes part, and looks where they will end and whether the beer is
// finished and cold already.
func (s *search) survey() {
	s.bringToNow()
	var ends, gauges []float64
	finished := 0
	for _, w := range s.presents {
		if w.failed {
			continue
		}
		end := float64(vessel.TerminalGravity(&w.params))
		ends, gauges = append(ends, end), append(gauges, float64(w.sim.State().Gauge()))
		if (float64(w.sim.State().Gravity())-end)/gravityPoint < onePoint {
			finished++
		}
	}
	if s.sound = len(ends); s.sound == 0 {
		return
	}
	s.now, s.terminal = bandOf(gauges), bandOf(ends)
	end := s.terminal.P50
	g := end + LastShare*(float64(s.bl.batch.Wort.Gravity)-end)
	s.trigger = unit.Gravity(math.Ceil(g/gravityPoint-1e-6)) / 1000
	s.cold = s.bl.tl.hold > 0 && s.bl.tl.hold <= s.coldest()+coldEnough && 2*finished >= s.sound
	s.sizes, s.first = s.levels()
}

// run searches, coarse first, then around the best, and judges the best on all members.
func (s *search) run() ([]*attempt, error) {
	fresh := s.grid()
	var found []*attempt
	for round := range mostRounds {
		if err := s.judge(fresh, fewMembers); err != nil {
			return nil, err
		}
		found = append(found, fresh...)
		s.share = float64(round+1) / (mostRounds + 2)
		if round+1 < mostRounds {
			fresh = s.around(s.bestOfAll(found, seedsOfAim))
		}
	}
	finals := s.bestOfAll(found, finalsOfAim)
	if err := s.judge(finals, len(s.members)); err != nil {
		return nil, err
	}
	if finals = s.safe(finals); len(finals) == 0 {
		return nil, errNoSafePlan
	}
	return finals, nil
}

// bestOfAll are the n best for each aim, each once.
func (s *search) bestOfAll(trials []*attempt, n int) []*attempt {
	var out []*attempt
	for _, aim := range aims {
		for _, t := range s.best(trials, aim, n) {
			if !slices.Contains(out, t) {
				out = append(out, t)
			}
		}
	}
	return out
}

// grid is the coarse first look: every combination of the few first levels.
func (s *search) grid() []*attempt {
	var out []*attempt
	var k knobs
	var turn func(i knob)
	turn = func(i knob) {
		if i == numKnobs {
			if t := s.untried(k); t != nil {
				out = append(out, t)
			}
			return
		}
		for _, level := range s.first[i] {
			k[i] = level
			turn(i + 1)
		}
	}
	turn(0)
	return out
}

// around are the untried programmes one step from the seeds.
func (s *search) around(seeds []*attempt) []*attempt {
	var out []*attempt
	for _, seed := range seeds {
		for i := range numKnobs {
			for _, by := range []int{-1, 1} {
				k := seed.set
				k[i] += by
				if t := s.untried(k); t != nil {
					out = append(out, t)
				}
			}
		}
	}
	return out
}

// untried is an attempt of k, nil where k is out of range, does not fit together or was tried.
func (s *search) untried(k knobs) *attempt {
	if s.tried[k] != nil {
		return nil
	}
	return s.attempt(k)
}

// attempt is that of k, made where it is new; nil where k is out of range or does not fit together.
func (s *search) attempt(k knobs) *attempt {
	for i := range k {
		if k[i] < 0 || k[i] >= s.sizes[i] {
			return nil
		}
	}
	if t := s.tried[k]; t != nil {
		return t
	}
	steps := s.programme(k)
	if steps == nil {
		return nil
	}
	t := s.attemptOf(steps)
	t.set = k
	s.tried[k] = t
	return t
}

func (s *search) attemptOf(steps []batch.Step) *attempt {
	bl := s.with(steps)
	return &attempt{programme: bl.batch.Programme, bl: bl}
}

// judge runs the trials on n members, in parallel, and scores them.
func (s *search) judge(trials []*attempt, n int) error {
	workers, from := s.bl.options.Workers, s.share
	for i := 0; i < len(trials); i += workers {
		if s.progress != nil && !s.progress(from+float64(i)/float64(len(trials))/(mostRounds+2)) {
			return ErrPlanEnded
		}
		var wg sync.WaitGroup
		for _, t := range trials[i:min(i+workers, len(trials))] {
			wg.Add(1)
			go func() {
				defer wg.Done()
				s.follow(t, n)
			}()
		}
		wg.Wait()
	}
	return nil
}

// safe are the trials that stay below the weakest part and do not pull in.
func (s *search) safe(trials []*attempt) []*attempt {
	var out []*attempt
	for _, t := range trials {
		if !s.pressure || t.Highest < s.weak && t.Lowest > pullsIn {
			out = append(out, t)
		}
	}
	return out
}

// What is given up of the odds, and of the date where it cannot be met, for another aim.
const (
	oddsGivenUp = 0.25
	daysGivenUp = 4 * unit.Day
	noise       = 0.02 // of odds counted on members
	hopeless    = 0.15 // odds below which the date is given up, and the earliest counts
)

// best are the n best safe trials for an aim, no sensible odds or days given up for it.
func (s *search) best(trials []*attempt, aim Aim, n int) []*attempt {
	trials = s.safe(trials)
	odds, sure := 0.0, math.Inf(1)
	for _, t := range trials {
		odds, sure = math.Max(odds, t.Probability), math.Min(sure, t.sure)
	}
	least := odds - oddsGivenUp
	switch {
	case aim == AimLikely && odds < hopeless:
		aim = AimEarliest
	case aim == AimLikely:
		least = odds - noise
	}
	sensible := func(t *attempt) bool {
		if aim == AimEarliest {
			return t.sure <= sure+daysGivenUp
		}
		return t.Probability >= least && (odds >= hopeless || t.sure <= sure+daysGivenUp)
	}
	trials = slices.DeleteFunc(trials, func(t *attempt) bool { return !sensible(t) })
	slices.SortStableFunc(trials, func(a, b *attempt) int {
		x, y := a.against(aim), b.against(aim)
		return slices.Compare(x[:], y[:])
	})
	return trials[:min(n, len(trials))]
}

// Differences that nobody would choose by.
const (
	alikeOdds   = 0.03
	alikeGas    = 0.010 // kg
	alikeStrain = 0.3
	alikeTime   = 1.5 * unit.Day
)

// against is what counts for an aim, the weightiest first; less is better.
func (t *attempt) against(aim Aim) [3]float64 {
	gas, strain := math.Floor(float64(t.Gas)/alikeGas), math.Floor(t.strain/alikeStrain)
	switch aim {
	case AimLeastGas:
		return [3]float64{gas, -t.Probability, t.strain}
	case AimGentle:
		return [3]float64{strain, -t.Probability, gas}
	case AimEarliest: // looks are daily, so that many are sure on the same day
		return [3]float64{t.sure, t.mean, t.strain}
	}
	return [3]float64{strain, gas, -t.Probability}
}

// alike: no difference in anything that one would choose by.
func (t *attempt) alike(o *attempt) bool {
	near := func(a, b, by float64) bool { return a == b || math.Abs(a-b) <= by }
	return near(t.Probability, o.Probability, alikeOdds) && near(float64(t.Gas), float64(o.Gas), alikeGas) &&
		near(t.strain, o.strain, alikeStrain) && near(t.sure, o.sure, alikeTime)
}
