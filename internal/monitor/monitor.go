// Package monitor keeps what is believed of every batch of a cellar up to date.
//
// The log is the queue: a batch is stale while its log is longer than its forecast knows.
// Those who renew are woken when something is kept, and look around every few seconds
// besides, so that nothing can be lost between them and the store.
//
// What is believed follows from the log, the hour and the engine alone, whatever way it was
// come by: at the first look of an hour a batch is conditioned on all that was known when the
// hour began, and what came since is weighed in one moment after the other (chain.go). So a
// table that was lost is made again to the same bit.
package monitor

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"log/slog"
	"runtime/debug"
	"slices"
	"sync"
	"time"

	"spile/batch"
	"spile/internal/store"
)

// ErrNoBatch says that the cellar has no batch under an id.
var ErrNoBatch = errors.New("no such batch")

// Watch keeps what is believed of every batch of a cellar up to date. Its methods may be called at the same time.
type Watch struct {
	store  *store.Store
	log    *slog.Logger
	clock  func() time.Time
	engine string   // version of what computes; what another one told is told anew
	holder batch.ID // under which this watch takes leases

	members int // of what is believed; 0: as many as usual

	followers followers
	wake      chan struct{}
	trying    gate

	logs   logs
	things things
	known  known
	stands stands
}

// New watches the cellar in s. Nothing is renewed before Run.
func New(s *store.Store, log *slog.Logger, clock func() time.Time) *Watch {
	w := &Watch{store: s, log: log, clock: clock, engine: engine(), holder: store.NewID(), wake: make(chan struct{}, maxRenewers)}
	w.logs.each = map[batch.ID]*logged{}
	w.known.reset()
	w.stands.each, w.stands.stages = map[batch.ID]*stand{}, map[batch.ID]*stage{}
	return w
}

// engine is the version of the program: whatever changed in it may have changed what it computes.
func engine() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "unknown"
	}
	version := info.Main.Version
	for _, s := range info.Settings {
		if s.Key == "vcs.revision" || s.Key == "vcs.modified" {
			version += " " + s.Value
		}
	}
	return version
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
	w.rouse()
	return kept, nil
}

// rouse wakes those who renew.
func (w *Watch) rouse() {
	for range cap(w.wake) {
		select {
		case w.wake <- struct{}{}:
		default:
			return // all are woken already
		}
	}
}

// heads are the ends of all logs.
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

// See is a batch as its log and the last forecast tell it; ErrNoBatch where there is none.
func (w *Watch) See(ctx context.Context, id batch.ID) (*Seen, error) {
	if id.IsZero() {
		return nil, ErrNoBatch
	}
	head, err := w.store.Head(ctx, id)
	if err != nil {
		return nil, err
	}
	return w.see(ctx, id, head)
}

// see is See for a log that is at least so long.
func (w *Watch) see(ctx context.Context, id batch.ID, head int64) (*Seen, error) {
	if head == 0 || id.IsZero() {
		return nil, ErrNoBatch
	}
	seen, err := w.derive(ctx, id, head)
	if err != nil {
		return nil, err
	}
	if seen.State.Record == nil {
		return nil, ErrNoBatch
	}
	out := *seen
	if out.Told, err = w.told(ctx, id); err != nil {
		return nil, err
	}
	out.Failed = w.known.failure(id, out.Position)
	return &out, nil
}

// briefs are the batches of the cellar in short, the newest first.
func (w *Watch) briefs(ctx context.Context, heads map[batch.ID]int64) ([]store.Brief, error) {
	if err := w.recall(ctx); err != nil {
		return nil, err
	}
	out := make([]store.Brief, 0, len(heads))
	for id, head := range heads {
		if id.IsZero() {
			continue
		}
		b := w.known.brief(id)
		if b.Position < head {
			if _, err := w.derive(ctx, id, head); err != nil {
				return nil, err
			}
			b = w.known.brief(id)
		}
		if b.Name != "" {
			out = append(out, b)
		}
	}
	slices.SortFunc(out, func(a, b store.Brief) int {
		return cmp.Or(b.Pitched.Compare(a.Pitched), bytes.Compare(b.Batch[:], a.Batch[:]))
	})
	return out, nil
}

// inShort are the ends of all logs, and the batches in short.
func (w *Watch) inShort(ctx context.Context) (heads map[batch.ID]int64, briefs []store.Brief, err error) {
	if heads, err = w.heads(ctx); err == nil {
		briefs, err = w.briefs(ctx, heads)
	}
	return heads, briefs, err
}

// Batches are all batches, the newest first.
func (w *Watch) Batches(ctx context.Context) ([]Brief, error) {
	_, briefs, err := w.inShort(ctx)
	if err != nil {
		return nil, err
	}
	out := make([]Brief, len(briefs))
	for i, b := range briefs {
		out[i] = Brief{b.Batch, b.Vessel, b.Name, b.Pitched, b.Ended}
	}
	return out, nil
}

// Things are what the cellar has.
func (w *Watch) Things(ctx context.Context) (batch.Cellar, error) {
	c, err := w.cellar(ctx)
	if err != nil {
		return batch.Cellar{}, err
	}
	return c.Cellar, nil
}

// Round is every vessel, by place and name, then the batches that are in none of the cellar's.
func (w *Watch) Round(ctx context.Context) ([]InVessel, error) {
	heads, briefs, err := w.inShort(ctx)
	if err != nil {
		return nil, err
	}
	c, err := w.cellarAt(ctx, heads[batch.ID{}])
	if err != nil {
		return nil, err
	}
	out, err := w.inVessels(ctx, c, briefs, heads)
	if err != nil {
		return nil, err
	}
	at := map[batch.ID]int{}
	for i := range out {
		at[out[i].Vessel.ID] = i
	}
	for _, b := range briefs {
		if !b.Ended.IsZero() {
			continue
		}
		seen, err := w.see(ctx, b.Batch, heads[b.Batch])
		if err != nil {
			return nil, err
		}
		switch i, listed := at[b.Vessel]; {
		case listed && out[i].Seen == nil:
			out[i].Seen = seen
		case listed:
			out = append(out, InVessel{Seen: seen, Upkeep: out[i].Upkeep, Judged: out[i].Judged})
		default:
			out = append(out, InVessel{Seen: seen})
		}
	}
	return out, nil
}

// Upkeep is what the cellar knows of a vessel itself; nothing of one that it does not list.
func (w *Watch) Upkeep(ctx context.Context, vessel batch.ID) (batch.Upkeep, error) {
	round, err := w.Round(ctx)
	return UpkeepIn(round, vessel), err
}

// UpkeepIn is that of a vessel in a round; nothing of one that is not in it.
func UpkeepIn(round []InVessel, vessel batch.ID) batch.Upkeep {
	for _, in := range round {
		if in.Vessel != nil && in.Vessel.ID == vessel {
			return in.Upkeep
		}
	}
	return batch.Upkeep{}
}

// Settle is See once the forecast knows the newest entry, or once patience has ended.
func (w *Watch) Settle(ctx context.Context, id batch.ID, patience time.Duration) (*Seen, error) {
	changes, stop := w.Follow()
	defer stop()
	over := time.NewTimer(patience)
	defer over.Stop()
	if w.known.hurry(id) {
		w.rouse()
	}
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

// locked runs f under a lock.
func locked(mu *sync.Mutex, f func()) {
	mu.Lock()
	defer mu.Unlock()
	f()
}
