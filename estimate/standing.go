package estimate

import (
	"cmp"
	"math"
	"slices"

	"spile/batch"
	"spile/unit"
	"spile/vessel"
)

// Standing is a belief with its members brought to where they stand now, from where any number of programmes can be tried.
type Standing struct {
	bl       *Belief
	from     unit.Duration // s since pitching, from where another programme may differ
	members  [][]float64
	presents []*world // each member at now, read only
}

// standing spreads n members over the belief; they are not brought to now yet.
func (bl *Belief) standing(n int) *Standing {
	s := &Standing{bl: bl, from: fromNow(bl.tl)}
	all := bl.members()
	n = min(len(all), n)
	for i := range n {
		s.members = append(s.members, all[i*len(all)/n])
	}
	return s
}

// fromNow is the next full hour.
func fromNow(tl *timeline) unit.Duration {
	return unit.Duration(math.Ceil(tl.now/unit.Hour) * unit.Hour)
}

// bringToNow runs every member from pitching to now, once.
func (s *Standing) bringToNow() {
	base := s.with(nil)
	s.presents = make([]*world, len(s.members))
	s.bl.each(len(s.members), func(_ *world, i int) {
		w := newWorld(base.batch, base.tl, base.prior)
		(&pilot{bl: base, w: w}).start(s.members[i], base.tl.now)
		s.presents[i] = w
	})
}

// start runs a member from pitching to a time, s, and gives the next item.
func (p *pilot) start(z []float64, until float64) (next int) {
	p.w.start(z)
	next = p.items(0, until)
	p.w.advance(until)
	return next
}

// toNow brings p to now and gives the next item: from where the member stands already, or by its own way where the
// programme begins with the batch.
func (s *Standing) toNow(p *pilot, member int) (next int) {
	if s.from == 0 {
		return p.start(s.members[member], p.bl.tl.now)
	}
	p.w.resume(s.presents[member])
	for next < len(p.bl.tl.items) {
		it := &p.bl.tl.items[next]
		planned := it.event == nil && it.reading < 0 && it.at >= float64(s.from)
		if it.at > p.bl.tl.now || planned {
			break
		}
		next++
	}
	return p.items(next, p.bl.tl.now) // what is planned for now is set before anybody looks
}

// resume makes w the world that from is, with its own timeline ahead.
func (w *world) resume(from *world) {
	b, tl, sim, course, hands := w.batch, w.tl, w.sim, w.course, w.hands
	*w = *from
	w.batch, w.tl, w.sim = b, tl, sim
	w.hands = append(hands[:0], from.hands...)
	w.course = tl.track.course(w.z, course)
	sim.CopyFrom(from.sim)
	if w.controls.Track != nil {
		w.controls.Track = w.tracked
		sim.Set(w.actual(w.controls))
	}
}

// with is the belief of the same readings, followed by another programme from s.from on. What was set before then stays,
// and so do reminders of the old programme that set nothing.
func (s *Standing) with(steps []batch.Step) *Belief {
	bl, tl, b := *s.bl, *s.bl.tl, *s.bl.batch
	b.Programme = append(s.kept(), steps...)
	slices.SortStableFunc(b.Programme, func(x, y batch.Step) int { return cmp.Compare(place(x), place(y)) })
	tl.items = slices.DeleteFunc(slices.Clone(tl.items), func(it item) bool { return it.event == nil && it.reading < 0 })
	tl.waiting = nil
	tl.addProgramme(&b)
	slices.SortStableFunc(tl.items, func(x, y item) int { return cmp.Compare(x.at, y.at) })
	bl.batch, bl.tl = &b, &tl
	return &bl
}

// kept are the steps of the batch's own programme that lie behind, and its reminders ahead.
func (s *Standing) kept() []batch.Step {
	var out []batch.Step
	for _, p := range s.bl.batch.Programme {
		reminder := p.Set == batch.Setting{Action: p.Set.Action} && p.Set.Action != ButterTest
		if p.AtSet && p.At < s.from || reminder {
			out = append(out, p)
		}
	}
	return out
}

// place orders the steps of a programme: times, then gravity falling, then finished, then carbonated.
func place(p batch.Step) float64 {
	const stage = 1e12
	switch {
	case p.AtSet:
		return float64(p.At)
	case p.When.Kind == batch.GravityAtMost:
		return 2*stage - float64(p.When.Gravity)
	case p.When.Kind == batch.FinishedFor:
		return 3*stage + float64(p.When.For)
	}
	return 4 * stage
}

// Stand brings n members of the belief to now, for [Standing.Ahead]; 200 are enough for what a person tries.
func (bl *Belief) Stand(n int) *Standing {
	s := bl.standing(n)
	s.bringToNow()
	return s
}

// Ahead is what comes of a programme from now on.
type Ahead struct {
	Milestones Milestones
	Series     Series     // from now on
	Gas        Band       // kg from the cylinder after now
	Peak       Band       // Pa gauge, the highest after now
	Highest    unit.Gauge // the upper edge of that
	Lowest     unit.Gauge // with 1 % probability
}

// Ahead follows the members under other steps than those planned from now on, to so many seconds from now. What was set
// before stays. With the same seed it is the same to the digit.
func (s *Standing) Ahead(steps []batch.Step, span unit.Duration) (*Ahead, error) {
	bl := s.with(steps)
	var grid []float64
	for t := math.Ceil(bl.tl.now/seriesStep) * seriesStep; t <= bl.tl.now+float64(span); t += seriesStep {
		grid = append(grid, t)
	}
	futures := make([]future, len(s.members))
	bl.each(len(s.members), func(w *world, i int) { s.follow(bl, w, i, grid, &futures[i]) })
	if futures = sound(futures); len(futures) == 0 {
		return nil, errNoFuture
	}
	peak := bandOf(over(futures, func(f *future) float64 { return slices.Max(f.gauge) }))
	return &Ahead{
		Milestones: bl.milestones(futures), Series: bl.series(grid, futures), Gas: bandOf(over(futures, func(f *future) float64 { return f.supplied })),
		Peak: peak, Highest: unit.Gauge(peak.P95), Lowest: lowest(futures),
	}, nil
}

// follow runs one member from now over the grid.
func (s *Standing) follow(bl *Belief, w *world, member int, grid []float64, f *future) {
	f.reserve(len(grid))
	for i := range f.reach {
		f.reach[i] = math.Inf(1)
	}
	p := bl.pilot(w, f, member)
	next := s.toNow(&p, member)
	f.z, f.lowest = s.members[member], float64(w.sim.State().Gauge())
	f.terminal = float64(vessel.TerminalGravity(&w.params))
	before := w.sim.Ledger().Supplied
	for i, t := range grid {
		p.look(t)
		next = p.items(next, t)
		w.advance(t)
		p.record(i, t)
	}
	f.failed = w.failed
	f.supplied = float64(w.sim.Ledger().Supplied - before)
}
