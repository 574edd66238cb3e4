package monitor

import (
	"context"
	"encoding/binary"
	"time"

	"spile/batch"
	"spile/estimate"
)

const (
	sweepEvery = 5 * time.Second
	oldAfter   = time.Hour           // a forecast looks from its own moment, and ages
	restsAfter = 14 * 24 * time.Hour // without a reading nobody waits for a newer forecast
)

// Run renews what is stale until ctx ends.
func (w *Watch) Run(ctx context.Context) error {
	tick := time.NewTicker(sweepEvery)
	defer tick.Stop()
	for {
		if err := w.sweep(ctx); err != nil && ctx.Err() == nil {
			w.log.Error("looking for stale forecasts", "err", err)
		}
		select {
		case <-w.wake:
		case <-tick.C:
		case <-ctx.Done():
			return nil
		}
	}
}

// sweep renews every batch that is stale, the newest first.
func (w *Watch) sweep(ctx context.Context) error {
	heads, err := w.heads(ctx)
	if err != nil {
		return err
	}
	all, err := w.all(ctx, heads)
	if err != nil {
		return err
	}
	for _, s := range all {
		if ctx.Err() != nil {
			return nil
		}
		if w.stale(s) {
			w.renew(s)
		}
	}
	return nil
}

func (w *Watch) stale(s *Seen) bool {
	if s.Told == nil || s.Told.Position < s.Position {
		return s.Ended.IsZero() && (s.Failed == "" || s.Told != nil)
	}
	now := w.clock()
	return s.Ended.IsZero() && now.Sub(s.Told.Made) > oldAfter && now.Sub(lastOf(&s.State)) < restsAfter
}

// lastOf is when something was last read or done.
func lastOf(s *batch.State) (at time.Time) {
	if n := len(s.Log.Readings); n > 0 {
		at = s.Log.Readings[n-1].Time
	}
	if n := len(s.Log.Events); n > 0 && s.Log.Events[n-1].Time.After(at) {
		at = s.Log.Events[n-1].Time
	}
	return at
}

// renew makes a forecast anew.
func (w *Watch) renew(s *Seen) {
	now := w.clock()
	seed := binary.BigEndian.Uint64(s.ID[8:])
	bl, err := estimate.Condition(&s.State.Record.Batch, s.State.Log, now, estimate.Options{Seed: seed})
	var f *estimate.Forecast
	if err == nil {
		f, err = bl.Forecast()
	}
	w.mu.Lock()
	if err != nil {
		w.failed[s.ID] = err.Error()
	} else {
		w.told[s.ID], w.stands[s.ID] = &Told{Position: s.Position, Made: now, Forecast: f}, bl.Stand(triedMembers)
		delete(w.failed, s.ID)
	}
	w.mu.Unlock()
	w.followers.tell(Change{Batch: s.ID, Position: s.Position, Told: true})
}
