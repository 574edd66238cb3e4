package monitor

import (
	"context"
	"crypto/sha256"
	"slices"

	"spile/batch"
)

// The air of a fridge is around every vessel in it: what was read of it at one speaks for all. It stays in the log of the one.

// airBeside is what was read of the air at other vessels in the fridge of a batch while it stood there, but for what its own log
// holds as well.
func (w *Watch) airBeside(ctx context.Context, c *cellar, s *Seen) ([]batch.Reading, error) {
	place, pitched, until := c.place(s), s.State.Record.Pitched, s.Ended
	if !c.chilled(place) {
		return nil, nil
	}
	if until.IsZero() {
		until = distant
	}
	heads, briefs, err := w.inShort(ctx)
	if err != nil {
		return nil, err
	}
	var beside []batch.Reading
	for _, b := range briefs {
		if b.Batch == s.ID || b.Pitched.After(until) || b.Last.Before(pitched) {
			continue
		}
		other, err := w.derive(ctx, b.Batch, heads[b.Batch])
		if err != nil {
			return nil, err
		}
		if other.State.Record == nil || c.place(other) != place {
			continue
		}
		for _, r := range airOf(&other.State.Log) {
			if !r.Time.Before(pitched) && !r.Time.After(until) {
				beside = append(beside, r)
			}
		}
	}
	return onceEach(beside, airOf(&s.State.Log)), nil
}

func airOf(log *batch.Log) (out []batch.Reading) {
	for _, r := range log.Readings {
		if r.Quantity == batch.AirTemperature {
			out = append(out, r)
		}
	}
	return out
}

// look is one look at one thermometer, by whoever wrote it down.
type look struct {
	at         int64
	value      float64
	instrument string
}

// onceEach are readings in order of time, each look once and none that was had already.
func onceEach(readings, had []batch.Reading) (out []batch.Reading) {
	seen := map[look]bool{}
	first := func(r *batch.Reading) bool {
		l := look{r.Time.UnixNano(), r.Value, r.Instrument}
		before := seen[l]
		seen[l] = true
		return !before
	}
	for i := range had {
		first(&had[i])
	}
	slices.SortStableFunc(readings, func(a, b batch.Reading) int { return a.Time.Compare(b.Time) })
	for i := range readings {
		if first(&readings[i]) {
			out = append(out, readings[i])
		}
	}
	return out
}

// sumOf is the checksum of readings.
func sumOf(readings []batch.Reading) (sum [sha256.Size]byte) {
	h := checksum{sha256.New()}
	for i := range readings {
		h.reading(&readings[i])
	}
	h.Sum(sum[:0])
	return sum
}

// passAir has the others in the fridge of a batch renewed where its own log tells something new of the air.
func (w *Watch) passAir(s *Seen, inFridge []batch.ID) {
	own := airOf(&s.State.Log)
	k := &w.known
	k.mu.Lock()
	defer k.mu.Unlock()
	before, known := k.air[s.ID]
	now := sumOf(own)
	k.air[s.ID] = now
	if before == now || !known && len(own) == 0 {
		return
	}
	for _, id := range inFridge {
		if id != s.ID {
			k.airPassed[id] = true
		}
	}
}
