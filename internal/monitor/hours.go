package monitor

import (
	"bytes"
	"cmp"
	"context"
	"math"
	"slices"

	"spile/batch"
	"spile/internal/store"
)

// hoursOf are the readings of a batch by quantity and hour.
func hoursOf(log *batch.Log) []store.Hour {
	type key struct {
		quantity batch.Quantity
		hour     int64
	}
	at := map[key]int{}
	var out []store.Hour
	for _, r := range log.Readings { // in order of time
		k := key{r.Quantity, int64(math.Floor(float64(r.Time.Unix()) / 3600))}
		i, there := at[k]
		if !there {
			i = len(out)
			at[k] = i
			out = append(out, store.Hour{Quantity: k.quantity, Hour: k.hour, Lowest: r.Value, Highest: r.Value})
		}
		h := &out[i]
		h.Count++
		h.Lowest, h.Highest = min(h.Lowest, r.Value), max(h.Highest, r.Value)
		h.Sum += r.Value
		h.Last = r.Value
	}
	slices.SortFunc(out, func(a, b store.Hour) int {
		return cmp.Or(cmp.Compare(a.Quantity, b.Quantity), cmp.Compare(a.Hour, b.Hour))
	})
	return out
}

// saveBriefs puts away what was derived since the last time.
func (w *Watch) saveBriefs(ctx context.Context) error {
	for _, b := range w.known.unsaved() {
		if _, err := w.saveBrief(ctx, b.Batch, b.Position); err != nil {
			return err
		}
	}
	return nil
}

// saveBrief puts a batch in short and its hours away, and gives the hours.
func (w *Watch) saveBrief(ctx context.Context, id batch.ID, position int64) ([]store.Hour, error) {
	seen, err := w.derive(ctx, id, position)
	if err != nil {
		return nil, err
	}
	b, hours := briefOf(seen), hoursOf(&seen.State.Log)
	b.Hours = store.SumHours(hours)
	kept, err := w.store.Hours(ctx, id)
	if err != nil {
		return nil, err
	}
	if err := w.store.KeepBrief(ctx, b, hours, differ(kept, hours)); err != nil {
		return nil, err
	}
	locked(&w.known.mu, func() {
		w.known.saved[id] = b.Position
		if old := w.known.briefs[id]; old.Position == b.Position {
			w.known.briefs[id] = b
		}
	})
	return hours, nil
}

// differ is the first hour in which two differ; later than all where none does.
func differ(a, b []store.Hour) int64 {
	first := int64(math.MaxInt64)
	seen := map[store.Hour]int{}
	for _, h := range a {
		seen[h]++
	}
	for _, h := range b {
		seen[h]--
	}
	for h, n := range seen {
		if n != 0 {
			first = min(first, h.Hour)
		}
	}
	return first
}

// Hours are the readings of a batch by quantity and hour, as they are put away; they are made again where they do not fit.
func (w *Watch) Hours(ctx context.Context, id batch.ID) ([]store.Hour, error) {
	head, err := w.store.Head(ctx, id)
	if err != nil {
		return nil, err
	}
	if head == 0 {
		return nil, ErrNoBatch
	}
	if err := w.recall(ctx); err != nil {
		return nil, err
	}
	if b := w.known.brief(id); b.Position == head && len(b.Hours) > 0 {
		hours, err := w.store.Hours(ctx, id)
		if err == nil && bytes.Equal(store.SumHours(hours), b.Hours) {
			return hours, nil
		}
	}
	return w.saveBrief(ctx, id, head)
}
