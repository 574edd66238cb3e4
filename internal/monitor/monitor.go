// Package monitor keeps what is believed of every batch of a cellar up to date.
//
// The log is the queue: a batch is stale while its log is longer than its forecast knows.
// Those who renew are woken when something is kept, and look around every few seconds
// besides, so that nothing can be lost between them and the store.
package monitor

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"log/slog"
	"slices"
	"strings"
	"sync"
	"time"

	"spile/batch"
	"spile/estimate"
	"spile/internal/store"
	"spile/unit"
)

// ErrNoBatch says that the cellar has no batch under an id.
var ErrNoBatch = errors.New("no such batch")

// Watch keeps what is believed of every batch of a cellar up to date. Its methods may be called at the same time.
type Watch struct {
	store *store.Store
	log   *slog.Logger
	clock func() time.Time

	followers followers
	wake      chan struct{}

	mu      sync.Mutex
	derived map[batch.ID]*Seen
	cellar  *cellar
	told    map[batch.ID]*Told
	failed  map[batch.ID]string
	stands  map[batch.ID]*estimate.Standing
}

// cellar is what the cellar's own log says.
type cellar struct {
	position int64
	entries  []batch.Entry
	things   batch.Cellar
}

// New watches the cellar in s. Nothing is renewed before Run.
func New(s *store.Store, log *slog.Logger, clock func() time.Time) *Watch {
	return &Watch{
		store: s, log: log, clock: clock, wake: make(chan struct{}, 1),
		derived: map[batch.ID]*Seen{}, told: map[batch.ID]*Told{}, failed: map[batch.ID]string{}, stands: map[batch.ID]*estimate.Standing{},
	}
}

// Store is the cellar's store.
func (w *Watch) Store() *store.Store { return w.store }

// Now is what the clock shows.
func (w *Watch) Now() time.Time { return w.clock() }

// Keep stores entries, all or none: they are on the disk when it returns.
func (w *Watch) Keep(ctx context.Context, entries ...batch.Entry) ([]store.Kept, error) {
	kept, err := w.store.Append(ctx, entries...)
	if err != nil {
		return nil, err
	}
	for i := range kept {
		w.followers.tell(Change{Batch: entries[i].Batch, Position: kept[i].Position})
	}
	select {
	case w.wake <- struct{}{}:
	default: // woken already
	}
	return kept, nil
}

// Things are what the cellar has.
func (w *Watch) Things(ctx context.Context) (batch.Cellar, error) {
	heads, err := w.heads(ctx)
	if err != nil {
		return batch.Cellar{}, err
	}
	c, err := w.cellarAt(ctx, heads[batch.ID{}])
	if err != nil {
		return batch.Cellar{}, err
	}
	return c.things, nil
}

func (w *Watch) heads(ctx context.Context) (map[batch.ID]int64, error) {
	heads, err := w.store.Heads(ctx)
	if err != nil {
		return nil, err
	}
	out := make(map[batch.ID]int64, len(heads))
	for _, h := range heads {
		out[h.Batch] = h.Position
	}
	return out, nil
}

func (w *Watch) cellarAt(ctx context.Context, head int64) (*cellar, error) {
	w.mu.Lock()
	c := w.cellar
	w.mu.Unlock()
	if c != nil && c.position >= head {
		return c, nil
	}
	entries, damaged, err := w.store.Log(ctx, batch.ID{}, 0)
	if err != nil {
		return nil, err
	}
	for _, d := range damaged {
		w.log.Error("damaged", "finding", d.String())
	}
	c = &cellar{max(head, int64(len(entries)+len(damaged))), entries, batch.DeriveCellar(entries)}
	w.mu.Lock()
	defer w.mu.Unlock()
	w.cellar = c
	return c, nil
}

// See is a batch as its log and the last forecast tell it; ErrNoBatch where there is none.
func (w *Watch) See(ctx context.Context, id batch.ID) (*Seen, error) {
	heads, err := w.heads(ctx)
	if err != nil {
		return nil, err
	}
	return w.see(ctx, id, heads[id])
}

func (w *Watch) see(ctx context.Context, id batch.ID, head int64) (*Seen, error) {
	d, err := w.derive(ctx, id, head)
	if err != nil {
		return nil, err
	}
	s := *d
	w.mu.Lock()
	defer w.mu.Unlock()
	s.Told, s.Failed = w.told[id], w.failed[id]
	return &s, nil
}

func (w *Watch) derive(ctx context.Context, id batch.ID, head int64) (*Seen, error) {
	if head == 0 || id.IsZero() {
		return nil, ErrNoBatch
	}
	w.mu.Lock()
	d := w.derived[id]
	w.mu.Unlock()
	if d == nil || d.Position < head {
		entries, damaged, err := w.store.Log(ctx, id, 0)
		if err != nil {
			return nil, err
		}
		d = &Seen{ID: id, State: batch.Derive(id, entries), Damaged: damaged, Position: max(head, int64(len(entries)+len(damaged)))}
		d.Ended = ended(&d.State)
		w.mu.Lock()
		w.derived[id] = d
		w.mu.Unlock()
	}
	if d.State.Record == nil {
		return nil, ErrNoBatch
	}
	return d, nil
}

// all are the batches of the cellar, the newest first.
func (w *Watch) all(ctx context.Context, heads map[batch.ID]int64) ([]*Seen, error) {
	var out []*Seen
	for id, head := range heads {
		s, err := w.see(ctx, id, head)
		if errors.Is(err, ErrNoBatch) {
			continue
		}
		if err != nil {
			return nil, err
		}
		out = append(out, s)
	}
	slices.SortFunc(out, func(a, b *Seen) int {
		return cmp.Or(b.State.Record.Pitched.Compare(a.State.Record.Pitched), bytes.Compare(b.ID[:], a.ID[:]))
	})
	return out, nil
}

// Batches are all batches, the newest first.
func (w *Watch) Batches(ctx context.Context) ([]Brief, error) {
	heads, err := w.heads(ctx)
	if err != nil {
		return nil, err
	}
	all, err := w.all(ctx, heads)
	if err != nil {
		return nil, err
	}
	out := make([]Brief, len(all))
	for i, s := range all {
		out[i] = s.brief()
	}
	return out, nil
}

// Round is every vessel, by place and name, then the batches that are in none of the cellar's.
func (w *Watch) Round(ctx context.Context) ([]InVessel, error) {
	heads, err := w.heads(ctx)
	if err != nil {
		return nil, err
	}
	c, err := w.cellarAt(ctx, heads[batch.ID{}])
	if err != nil {
		return nil, err
	}
	all, err := w.all(ctx, heads)
	if err != nil {
		return nil, err
	}
	out := c.standing()
	at := map[batch.ID]int{}
	for i := range out {
		at[out[i].Vessel.ID] = i
	}
	for _, s := range all {
		if !s.Ended.IsZero() {
			continue
		}
		if i, listed := at[s.State.Record.Uses.Vessel]; listed && out[i].Seen == nil {
			out[i].Seen = s
		} else {
			out = append(out, InVessel{Seen: s})
		}
	}
	return out, nil
}

// standing are the vessels that are there, by the name of their place and their own.
func (c *cellar) standing() []InVessel {
	places := map[batch.ID]string{}
	for _, p := range c.things.Places {
		places[p.ID] = p.Name
	}
	var out []InVessel
	for i := range c.things.Vessels {
		if v := &c.things.Vessels[i]; !v.Gone {
			out = append(out, InVessel{Vessel: v})
		}
	}
	slices.SortStableFunc(out, func(a, b InVessel) int {
		return strings.Compare(places[a.Vessel.Facts.Place], places[b.Vessel.Facts.Place])
	})
	return out
}

// Settle is See once the forecast knows the newest entry, or once patience has ended.
func (w *Watch) Settle(ctx context.Context, id batch.ID, patience time.Duration) (*Seen, error) {
	changes, stop := w.Follow()
	defer stop()
	over := time.NewTimer(patience)
	defer over.Stop()
	for {
		s, err := w.See(ctx, id)
		if err != nil || s.Fresh() || s.Failed != "" {
			return s, err
		}
		select {
		case <-changes:
		case <-over.C:
			return s, nil
		case <-ctx.Done():
			return s, ctx.Err()
		}
	}
}

// triedMembers stand for the belief where a person tries something.
const triedMembers = 200

// Try follows the batch under other steps than those planned from now on, for so many seconds.
func (w *Watch) Try(ctx context.Context, id batch.ID, steps []batch.Step, span unit.Duration) (*estimate.Ahead, error) {
	if _, err := w.See(ctx, id); err != nil {
		return nil, err
	}
	w.mu.Lock()
	s := w.stands[id]
	w.mu.Unlock()
	if s == nil {
		return nil, errors.New("no forecast has been made of this batch yet; try again in a few seconds")
	}
	return s.Ahead(steps, span)
}
