package monitor

import (
	"bytes"
	"cmp"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"runtime"
	"runtime/debug"
	"slices"
	"sync"
	"time"

	"spile/advice"
	"spile/batch"
	"spile/estimate"
	"spile/internal/store"
	"spile/unit"
)

const (
	sweepEvery  = 5 * time.Second
	oldAfter    = time.Hour           // a forecast looks from its own moment, and ages
	restsAfter  = 14 * 24 * time.Hour // without a reading nobody waits for a newer forecast
	leaseFor    = 2 * time.Minute     // and again while a renewal lasts; who was killed loses it then
	ahead       = 10 * time.Minute    // by which the clock of a phone may run fast
	manyAnHour  = 30                  // readings of one batch come from a sensor: it is renewed no more often, unless somebody waits, than
	denseEvery  = 5 * time.Minute
	maxRenewers = 64
)

// renewers is how many batches are renewed at the same time, and on how many cores each.
func renewers() (n, workers int) {
	cores := runtime.GOMAXPROCS(0)
	n = min(max(1, cores-1), maxRenewers)
	return n, max(1, cores/n)
}

// Run renews what is stale until ctx ends.
func (w *Watch) Run(ctx context.Context) error {
	if err := w.warm(ctx); err != nil && ctx.Err() == nil {
		w.log.Error("looking round at the start", "err", err)
	}
	var all sync.WaitGroup
	n, _ := renewers()
	for range n {
		all.Go(func() { w.keepRenewing(ctx) })
	}
	all.Wait()
	return nil
}

// warm reads the logs of what is in the vessels on all cores, before anything else takes these: who asks first after a
// start need not wait long.
func (w *Watch) warm(ctx context.Context) error {
	heads, briefs, err := w.inShort(ctx)
	if err != nil {
		return err
	}
	ids := make(chan batch.ID)
	var readers sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		readers.Go(func() {
			for id := range ids {
				if _, err := w.see(ctx, id, heads[id]); err != nil && ctx.Err() == nil {
					w.log.Error("looking round at the start", "batch", id.String(), "err", err)
				}
			}
		})
	}
	for _, b := range briefs {
		if b.Ended.IsZero() {
			ids <- b.Batch
		}
	}
	close(ids)
	readers.Wait()
	return nil
}

// keepRenewing is one of those who renew: it works off what is stale, and waits for more.
func (w *Watch) keepRenewing(ctx context.Context) {
	tick := time.NewTicker(sweepEvery)
	defer tick.Stop()
	for {
		done := 0
		for again := true; again && ctx.Err() == nil; {
			var err error
			if again, err = w.RenewOne(ctx); err != nil && ctx.Err() == nil {
				w.log.Error("renewing", "err", err)
				again = false
			}
			if again {
				done++
			}
		}
		if done > 0 && ctx.Err() == nil {
			debug.FreeOSMemory() // a renewal takes much more than what stays of it, and the next may be an hour away
		}
		select {
		case <-w.wake:
		case <-tick.C:
		case <-ctx.Done():
			return
		}
	}
}

// RenewOne renews the batch that is most in need of it, and tells whether there was one.
func (w *Watch) RenewOne(ctx context.Context) (bool, error) {
	return w.renewOne(ctx, func(store.Brief) bool { return true })
}

// Learn learns from every batch that has ended, where that was not done yet.
func (w *Watch) Learn(ctx context.Context) error {
	for again := true; again; {
		var err error
		if again, err = w.renewOne(ctx, func(b store.Brief) bool { return !b.Ended.IsZero() }); err != nil {
			return err
		}
	}
	return nil
}

// renewOne renews one of the batches that are asked for.
func (w *Watch) renewOne(ctx context.Context, asked func(b store.Brief) bool) (bool, error) {
	heads, briefs, err := w.inShort(ctx)
	if err != nil {
		return false, err
	}
	if err := w.saveBriefs(ctx); err != nil {
		w.log.Error("batches in short", "err", err) // they are derived again
	}
	c, err := w.cellarAt(ctx, heads[batch.ID{}])
	if err != nil {
		return false, err
	}
	briefs = slices.DeleteFunc(briefs, func(b store.Brief) bool { return !asked(b) })
	for _, id := range w.due(c, briefs, heads) {
		if !w.known.claim(id) {
			continue
		}
		until, err := w.renewClaimed(ctx, c, id, heads[id])
		w.known.let(id, until)
		return true, err
	}
	return false, nil
}

// The needs of a batch, the greatest first.
const (
	newEntries   = iota + 1 // somebody waits for what they change
	newThings               // of the cellar, or the air beside it: they may change what it shares
	aged                    // its forecast looks from an hour ago
	neverToldEnd            // it has ended, and its last forecast or lesson is missing: those after it learn from it
	otherPrior              // those before it taught something else
)

// due are the batches to be renewed, by need: of those that ended the oldest first, for the later ones learn from them.
func (w *Watch) due(c *cellar, briefs []store.Brief, heads map[batch.ID]int64) []batch.ID {
	now, ended := w.clock(), w.ended()
	type needy struct {
		store.Brief
		need int
	}
	var all []needy
	for _, b := range briefs {
		if need := w.need(c, b, heads[b.Batch], now, ended); need > 0 {
			all = append(all, needy{b, need})
		}
	}
	slices.SortStableFunc(all, func(a, b needy) int {
		order := b.Last.Compare(a.Last)
		if a.need >= neverToldEnd {
			order = a.Pitched.Compare(b.Pitched)
		}
		return cmp.Or(cmp.Compare(a.need, b.need), order)
	})
	out := make([]batch.ID, len(all))
	for i := range all {
		out[i] = all[i].Batch
	}
	return out
}

// need is why a batch is to be renewed, 0 where it is not.
func (w *Watch) need(c *cellar, b store.Brief, head int64, now time.Time, past []store.Brief) int {
	k := &w.known
	k.mu.Lock()
	m, failed, rest, busy, air := k.marks[b.Batch], k.failed[b.Batch], k.rest[b.Batch], k.busy[b.Batch], k.airPassed[b.Batch]
	lesson, taught := k.lessons[b.Batch]
	k.mu.Unlock()
	ended := !b.Ended.IsZero()
	switch {
	case busy || now.Before(rest) || now.Before(b.Pitched) && !ended:
		return 0
	case failed.position == head && !failed.at.IsZero() && now.Sub(failed.at) < oldAfter:
		return 0
	case m.position < head && !ended:
		return newEntries
	case m.position < head || m.engine != w.engine && ended:
		return neverToldEnd
	case ended && (!taught || lesson.engine != w.engine):
		return neverToldEnd
	case m.engine != w.engine:
		return aged
	case (m.things < c.position || air) && !ended:
		return newThings
	case !bytes.Equal(m.prior, w.priorSum(c, c.pastOf(b, past))):
		return otherPrior
	case !ended && now.Sub(m.made) > oldAfter && now.Sub(later(b.Last, b.Pitched)) < restsAfter:
		return aged
	}
	return 0
}

// renewClaimed renews a batch under a lease. It is not looked at again before the time that comes back.
func (w *Watch) renewClaimed(ctx context.Context, c *cellar, id batch.ID, head int64) (until time.Time, err error) {
	now := w.clock()
	got, err := w.store.Lease(ctx, id, w.holder, now, now.Add(leaseFor))
	if err != nil {
		return now.Add(sweepEvery), err
	}
	if !got { // another one is at it
		return now.Add(sweepEvery), nil
	}
	defer w.hold(ctx, id)()
	locked(&w.known.mu, func() { delete(w.known.airPassed, id) })
	row := w.belief(ctx, id)
	if row != nil && w.adopted(row, head) {
		return time.Time{}, w.store.Release(ctx, id, w.holder)
	}
	seen, err := w.see(ctx, id, head)
	if err == nil {
		err = w.renew(ctx, c, seen, row)
	}
	if err == nil {
		return restOf(seen, now), nil
	}
	err = errors.Join(err, w.store.Release(context.WithoutCancel(ctx), id, w.holder))
	if ctx.Err() != nil || errors.Is(err, ErrNoBatch) || errors.Is(err, errAgain) || errors.Is(err, store.ErrLease) {
		return time.Time{}, nil
	}
	w.log.Warn("a forecast came to nothing", "batch", id.String(), "err", err)
	w.known.fail(id, failure{head, now, "No forecast could be made: " + err.Error() + "."})
	w.followers.tell(Change{Batch: id, Position: head, Told: true})
	return time.Time{}, nil
}

// hold takes the lease of a batch again and again, until the function that comes back is called.
func (w *Watch) hold(ctx context.Context, id batch.ID) (stop func()) {
	ctx, end := context.WithCancel(ctx)
	var held sync.WaitGroup
	held.Go(func() {
		again := time.NewTicker(leaseFor / 2)
		defer again.Stop()
		for {
			select {
			case <-again.C:
				now := w.clock()
				if _, err := w.store.Lease(ctx, id, w.holder, now, now.Add(leaseFor)); err != nil && ctx.Err() == nil {
					w.log.Warn("a lease could not be held", "batch", id.String(), "err", err)
				}
			case <-ctx.Done():
				return
			}
		}
	})
	return func() { end(); held.Wait() }
}

// adopted takes in what another watch put away since, and tells whether that will do.
func (w *Watch) adopted(row *store.Belief, head int64) bool {
	var m mark
	locked(&w.known.mu, func() { m = w.known.marks[row.Batch] })
	if !row.Made.After(m.made) || row.Position < head || row.Engine != w.engine || w.adopt(row) == nil {
		return false
	}
	w.followers.tell(Change{Batch: row.Batch, Position: row.Position, Told: true})
	return true
}

// restOf is until when a batch rests that a sensor reads all the time.
func restOf(s *Seen, now time.Time) time.Time {
	readings := s.State.Log.Readings
	if n := len(readings); n > manyAnHour && now.Sub(readings[n-manyAnHour].Time) < time.Hour {
		return now.Add(denseEvery)
	}
	return time.Time{}
}

// moment is the time to look from: now, a little later where a clock that runs fast has said so; or that of the end.
func (w *Watch) moment(s *Seen) time.Time {
	if !s.Ended.IsZero() {
		return later(s.Ended, s.State.Record.Pitched)
	}
	now := w.clock().UTC()
	if last := lastOf(&s.State.Log); last.Sub(now) < ahead {
		now = later(now, last)
	}
	return later(now, s.State.Record.Pitched)
}

func later(a, b time.Time) time.Time {
	if b.After(a) {
		return b.UTC()
	}
	return a.UTC()
}

// subject is a batch as it is handed to inference, to be looked at from a moment.
func (w *Watch) subject(ctx context.Context, c *cellar, s *Seen, at time.Time) (*subject, error) {
	o, prior, err := w.expect(ctx, c, s)
	if err != nil {
		return nil, err
	}
	beside, err := w.airBeside(ctx, c, s)
	if err != nil {
		return nil, err
	}
	o.Seed, o.Members = binary.BigEndian.Uint64(s.ID[8:]), w.members
	_, o.Workers = renewers()
	o.Progress = func(float64) bool { w.trying.pass(); return ctx.Err() == nil }
	return &subject{id: s.ID, record: &s.State.Record.Batch, log: with(c.logOf(s), beside), beside: sumOf(beside), at: at, live: s.Ended.IsZero(), options: o, prior: prior}, nil
}

// renew makes the forecast of a batch anew, puts it away and tells of it.
func (w *Watch) renew(ctx context.Context, c *cellar, seen *Seen, row *store.Belief) (err error) {
	defer w.brokeOff(seen.ID, &err)
	s, err := w.subject(ctx, c, seen, w.moment(seen))
	if err != nil {
		return err
	}
	t, err := w.ties(ctx, c, seen, s.at)
	if err != nil {
		return err
	}
	w.passAir(seen, t.air)
	if w.stillHolds(seen, s, t, c.position) {
		return w.store.Release(ctx, seen.ID, w.holder)
	}
	st, err := w.stage(ctx, s, row)
	if err != nil {
		return err
	}
	bl, err := s.belief(st)
	if err != nil {
		return err
	}
	told := packedTold{Shared: s.shared(t)}
	tied, apart, err := w.tied(ctx, c, s, bl, t)
	if err == nil {
		told.Apart = apart
		told.Forecast, err = tied.Forecast()
	}
	if err != nil {
		return err
	}
	told.Changed = w.changed(ctx, seen, told.Forecast)
	if err := w.limitsOver(ctx, seen, s.at, told.Forecast); err != nil {
		w.log.Error("limits that are over", "batch", seen.ID.String(), "err", err) // then they stand as seen until the next forecast
	}
	if err := w.putAway(ctx, c, seen, s, st, told); err != nil {
		return err
	}
	if !seen.Ended.IsZero() {
		return errors.Join(w.score(ctx, s.id, told.Forecast), w.teach(ctx, s, bl))
	}
	return nil
}

// brokeOff makes an error of a fault of the program, so that the others are renewed all the same.
func (w *Watch) brokeOff(id batch.ID, err *error) {
	if r := recover(); r != nil {
		w.log.Error("a forecast broke off", "batch", id.String(), "panic", r, "stack", string(debug.Stack()))
		*err = fmt.Errorf("a fault of the program, which the log of the server tells: %v", r)
	}
}

// limitsOver writes down which limits that somebody has seen are passed no longer, so that they ask anew once they are again.
func (w *Watch) limitsOver(ctx context.Context, seen *Seen, at time.Time, f *estimate.Forecast) error {
	if !seen.Ended.IsZero() || !slices.ContainsFunc(seen.State.Notes, func(n batch.Note) bool { return n.Judgement != nil && len(n.Judgement.Limits) > 0 }) {
		return nil
	}
	now := w.clock()
	var entries []batch.Entry
	for _, j := range advice.Over(seen.State.Notes, advice.Passes(&seen.State.Record.Batch, seen.State.Log, f, at, unit.Style{})) {
		body, err := batch.EncodeBody(&j)
		if err != nil {
			return err
		}
		entries = append(entries, batch.Entry{ID: store.NewID(), Batch: seen.ID, Kind: batch.KindJudgement, At: now, Made: now, Body: body})
	}
	if len(entries) == 0 {
		return nil
	}
	_, err := w.Keep(ctx, entries...)
	return err
}

// stillHolds tells whether the forecast at hand is of this hour and follows from the same; things that changed then do not matter.
func (w *Watch) stillHolds(seen *Seen, s *subject, t *ties, things int64) bool {
	k := &w.known
	k.mu.Lock()
	defer k.mu.Unlock()
	m := k.marks[s.id]
	same := m.position == seen.Position && m.engine == w.engine && bytes.Equal(m.prior, s.prior) && bytes.Equal(m.shared, s.shared(t))
	if !same || m.things == things || w.clock().Sub(m.made) > oldAfter {
		return false
	}
	m.things = things
	k.marks[s.id] = m
	return true
}

// changed is what the newest entries moved.
func (w *Watch) changed(ctx context.Context, seen *Seen, f *estimate.Forecast) *Changed {
	before := seen.Told
	if before == nil {
		return nil
	}
	if before.Position >= seen.Position {
		return before.Changed
	}
	entries, _, err := w.store.Log(ctx, seen.ID, before.Position)
	if err != nil || len(entries) == 0 {
		return nil
	}
	return moved(before.Forecast, f, entries[len(entries)-1].ID)
}

// putAway keeps what is believed, and tells it. What is told is read back from what is kept: after a restart it is the same.
func (w *Watch) putAway(ctx context.Context, c *cellar, seen *Seen, s *subject, st *stage, p packedTold) error {
	told, err := pack(&p)
	if err != nil {
		return err
	}
	members, err := pack(st)
	if err != nil {
		return err
	}
	row := store.Belief{
		Batch: s.id, Position: seen.Position, Things: c.position, Made: w.clock().UTC(), Engine: w.engine,
		Prior: s.prior, Evidence: st.evidence, Seed: s.options.Seed, Upto: st.upto, Base: st.base, Members: members, Told: told,
	}
	short := *p.Forecast
	short.Series, short.Evidence, short.Questions = estimate.Series{}, nil, estimate.Questions{}
	day, err := pack(&short)
	if err != nil {
		return err
	}
	if err := w.store.KeepBelief(ctx, w.holder, row, day); err != nil {
		if errors.Is(err, store.ErrLease) || ctx.Err() != nil {
			return err
		}
		w.log.Error("what is believed could not be put away", "batch", s.id.String(), "err", err) // it is still told
	}
	if w.adopt(&row) == nil {
		return errors.New("what was computed does not read back")
	}
	w.stands.forget(s.id)
	w.followers.tell(Change{Batch: s.id, Position: row.Position, Told: true})
	return nil
}
