package monitor

import (
	"context"
	"errors"
	"sync"
	"time"

	"spile/batch"
	"spile/estimate"
	"spile/unit"
)

const (
	triedMembers = 200             // stand for the belief where a person tries something
	mostStands   = 6               // batches are held brought to now; each takes about a megabyte
	mostStages   = 32              // beliefs are held beside them
	tryPatience  = 5 * time.Second // for a forecast that knows the newest entry
)

// ErrNotYet says that nothing can be tried before the first forecast is made.
var ErrNotYet = errors.New("the first forecast of this batch is still being made; try again in a few seconds")

// stands are the beliefs brought to now, from where steps can be tried.
type stands struct {
	mu     sync.Mutex
	each   map[batch.ID]*stand
	turn   int
	stages map[batch.ID]*stage
}

type stand struct {
	mu   sync.Mutex
	made time.Time // when the forecast was made that it belongs to
	from *estimate.Standing
	used int // under the lock of stands
}

// of is the place of a batch.
func (s *stands) of(id batch.ID) *stand {
	s.mu.Lock()
	defer s.mu.Unlock()
	one := s.each[id]
	if one == nil {
		one = &stand{}
		s.each[id] = one
	}
	s.turn++
	one.used = s.turn
	for len(s.each) > mostStands {
		oldest := id
		for o, other := range s.each {
			if other.used < s.each[oldest].used {
				oldest = o
			}
		}
		delete(s.each, oldest)
	}
	return one
}

// forget drops what was brought to a now that has passed.
func (s *stands) forget(id batch.ID) { locked(&s.mu, func() { delete(s.each, id) }) }

// gate lets those who try something before those who renew.
type gate struct {
	mu     sync.Mutex
	trying int
	open   chan struct{} // closed when nobody tries any more
}

func (g *gate) enter() {
	locked(&g.mu, func() {
		if g.trying++; g.trying == 1 {
			g.open = make(chan struct{})
		}
	})
}

func (g *gate) leave() {
	locked(&g.mu, func() {
		if g.trying--; g.trying == 0 {
			close(g.open)
		}
	})
}

// pass waits until nobody tries anything, but not for ever.
func (g *gate) pass() {
	var open chan struct{}
	locked(&g.mu, func() {
		if g.trying > 0 {
			open = g.open
		}
	})
	if open == nil {
		return
	}
	select {
	case <-open:
	case <-time.After(time.Second):
	}
}

// Try follows the batch under other steps than those planned from now on, for so many seconds.
// It returns ErrNotYet before the first forecast.
func (w *Watch) Try(ctx context.Context, id batch.ID, steps []batch.Step, span unit.Duration) (*estimate.Ahead, error) {
	seen, err := w.Settle(ctx, id, tryPatience)
	if err != nil {
		return nil, err
	}
	if !seen.Fresh() {
		return nil, ErrNotYet
	}
	w.trying.enter()
	defer w.trying.leave()
	from, err := w.standing(ctx, seen)
	if err != nil {
		return nil, err
	}
	return from.Ahead(steps, span)
}

// standing is what is believed of a batch, brought to the moment of its forecast.
func (w *Watch) standing(ctx context.Context, seen *Seen) (*estimate.Standing, error) {
	one := w.stands.of(seen.ID)
	one.mu.Lock()
	defer one.mu.Unlock()
	if one.from != nil && one.made.Equal(seen.Told.Made) {
		return one.from, nil
	}
	c, err := w.cellar(ctx)
	if err != nil {
		return nil, err
	}
	s, err := w.subject(ctx, c, seen, seen.Told.Forecast.At)
	if err != nil {
		return nil, err
	}
	s.options.Progress = func(float64) bool { return ctx.Err() == nil } // it does not wait for itself
	st, err := w.stage(ctx, s, w.belief(ctx, seen.ID))
	if err != nil {
		return nil, err
	}
	bl, err := s.belief(st)
	if err != nil {
		return nil, err
	}
	t, err := w.ties(ctx, c, seen, s.at)
	if err != nil {
		return nil, err
	}
	if bl, _, err = w.tied(ctx, c, s, bl, t); err != nil {
		return nil, err
	}
	one.from, one.made = bl.Stand(triedMembers), seen.Told.Made
	return one.from, nil
}
