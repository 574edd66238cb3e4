package monitor

import (
	"bytes"
	"context"
	"crypto/sha256"
	"fmt"
	"math"
	"slices"
	"time"

	"spile/batch"
	"spile/estimate"
	"spile/internal/store"
	"spile/unit"
)

// What vessels share is evidence about all of them: one cylinder lost what they took
// together, and the air of one fridge is nearly the same around each.

// ties are what ties a batch to others.
type ties struct {
	cylinder []batch.ID // batches on one cylinder that was weighed twice, this one among them; nil: none
	loss     estimate.CylinderLoss
	gas      []batch.ID // batches that had gas on from one regulator, this one among them; nil: none
	air      []batch.ID // batches in one fridge, this one among them; nil: none
}

// shared is the checksum of all that a batch shares with others: of its ties, and of the air beside it.
func (s *subject) shared(t *ties) []byte {
	if s.beside == sumOf(nil) {
		return t.sum()
	}
	return append(t.sum(), s.beside[:]...)
}

// sum is the checksum of the ties.
func (t *ties) sum() []byte {
	h := sha256.New()
	fmt.Fprint(h, t.cylinder, t.loss.From.UnixNano(), t.loss.To.UnixNano(), float64(t.loss.Mass), t.gas, t.air)
	return h.Sum(nil)
}

// weighed are the weighings of a cylinder in the cellar's own log.
func (c *cellar) weighed(cylinder batch.ID) []batch.Reading {
	c.mu.Lock()
	defer c.mu.Unlock()
	all, known := c.weighings[cylinder]
	if !known {
		all = batch.Weighings(c.entries, cylinder)
		c.weighings[cylinder] = all
	}
	return all
}

// logOf is the log of a batch with the weighings of its cylinder: those from the cellar's own log where the cylinder is
// its alone; and none where others hang on it too, for what it lost was not all taken by this one.
func (c *cellar) logOf(s *Seen) batch.Log {
	log := s.State.Log
	cylinder, vessels := c.HangsOn(s.State.Record.Uses.Vessel)
	switch {
	case cylinder.IsZero():
	case len(vessels) > 1:
		log.Readings = slices.DeleteFunc(slices.Clone(log.Readings), func(r batch.Reading) bool { return r.Quantity == batch.CylinderMass })
	default:
		until := s.Ended
		if until.IsZero() {
			until = distant
		}
		log = with(log, slices.DeleteFunc(slices.Clone(c.weighed(cylinder)), func(r batch.Reading) bool {
			return r.Time.Before(s.State.Record.Pitched) || r.Time.After(until)
		}))
	}
	return log
}

// with is a log with more readings, in order of time.
func with(log batch.Log, more []batch.Reading) batch.Log {
	if len(more) > 0 {
		log.Readings = slices.Concat(log.Readings, more)
		slices.SortStableFunc(log.Readings, func(a, b batch.Reading) int { return a.Time.Compare(b.Time) })
	}
	return log
}

// distant is later than any time that a log may hold.
var distant = time.Date(2201, 1, 1, 0, 0, 0, 0, time.UTC)

// place is where a batch stands, zero where nobody knows.
func (c *cellar) place(s *Seen) batch.ID {
	uses := s.State.Record.Uses
	for i := range c.Vessels {
		if v := &c.Vessels[i]; v.ID == uses.Vessel && !v.Facts.Place.IsZero() {
			return v.Facts.Place
		}
	}
	return uses.Place
}

// chilled tells whether a place has a fridge.
func (c *cellar) chilled(place batch.ID) bool {
	return slices.ContainsFunc(c.Places, func(p batch.Thing[batch.PlaceFacts]) bool { return p.ID == place && p.Facts.Fridge != nil })
}

// fed tells whether gas was turned on for the batch by a time, as its log or its programme has it.
func fed(s *Seen, at time.Time) bool {
	return slices.ContainsFunc(s.State.Log.Events, func(e batch.Event) bool { return e.Kind == batch.GasOn && !e.Time.After(at) }) ||
		slices.ContainsFunc(s.State.Record.Programme, func(p batch.Step) bool {
			return p.AtSet && p.Set.Gas != nil && s.State.Record.After(p.At).Before(at)
		})
}

// ties finds what ties a batch to others that are still in their vessels, at a time.
func (w *Watch) ties(ctx context.Context, c *cellar, s *Seen, at time.Time) (*ties, error) {
	t := &ties{}
	cylinder, vessels := c.HangsOn(s.State.Record.Uses.Vessel)
	hang, place := c.OnOneRegulator(s.State.Record.Uses.Vessel), c.place(s)
	shared, cold := !cylinder.IsZero() && len(vessels) > 1, c.chilled(place)
	if !s.Ended.IsZero() || !shared && !cold && len(hang) < 2 {
		return t, nil
	}
	heads, briefs, err := w.inShort(ctx)
	if err != nil {
		return nil, err
	}
	since, weighed := time.Time{}, slices.Clone(c.weighed(cylinder)) // since the last batch on this cylinder ended
	for _, b := range briefs {
		on, beside := shared && slices.Contains(vessels, b.Vessel), slices.Contains(hang, b.Vessel)
		if on && b.Ended.After(since) {
			since = b.Ended
		}
		if !b.Ended.IsZero() || b.Pitched.After(at) || !on && !cold && !beside {
			continue
		}
		other, err := w.derive(ctx, b.Batch, heads[b.Batch])
		if err != nil {
			return nil, err
		}
		if on {
			t.cylinder = append(t.cylinder, b.Batch)
			weighed = append(weighed, weighings(&other.State.Log)...)
		}
		if beside && fed(other, at) {
			t.gas = append(t.gas, b.Batch)
		}
		if cold && c.place(other) == place {
			t.air = append(t.air, b.Batch)
		}
	}
	t.loss = lossOf(weighed, since, at)
	t.settle(s.ID)
	return t, nil
}

// settle drops what ties own to nothing, and gives what is left an order of its own.
func (t *ties) settle(own batch.ID) {
	if len(t.cylinder) < 2 || t.loss.From.IsZero() {
		t.cylinder, t.loss = nil, estimate.CylinderLoss{}
	}
	for _, ids := range []*[]batch.ID{&t.gas, &t.air} {
		if len(*ids) < 2 || !slices.Contains(*ids, own) {
			*ids = nil
		}
	}
	for _, ids := range [][]batch.ID{t.cylinder, t.gas, t.air} {
		slices.SortFunc(ids, func(a, b batch.ID) int { return bytes.Compare(a[:], b[:]) })
	}
}

func weighings(log *batch.Log) (out []batch.Reading) {
	for _, r := range log.Readings {
		if r.Quantity == batch.CylinderMass {
			out = append(out, r)
		}
	}
	return out
}

const (
	weighingSD = 0.01 // kg, of one weighing of a cylinder, as of the usual scale
	refilled   = 0.05 // kg, more than weighings differ by: the cylinder was filled or changed
)

// lossOf is what a cylinder lost from the first to the last weighing since a time, a refill counting as a new
// beginning; zero where there are not two.
func lossOf(weighed []batch.Reading, since, until time.Time) (l estimate.CylinderLoss) {
	slices.SortStableFunc(weighed, func(a, b batch.Reading) int { return a.Time.Compare(b.Time) })
	var first, last *batch.Reading
	for i := range weighed {
		r := &weighed[i]
		switch {
		case r.Time.Before(since) || r.Time.After(until):
			continue
		case first == nil || r.Value > last.Value+refilled:
			first = r
		}
		last = r
	}
	if first == nil || !last.Time.After(first.Time) {
		return l
	}
	return estimate.CylinderLoss{From: first.Time, To: last.Time, Mass: unit.Mass(first.Value - last.Value), SD: unit.Mass(weighingSD * math.Sqrt2)}
}

// tied is the belief of a batch once what it shares with others is weighed in. Where that does not fit what is believed of
// each, it is left out and the reason comes back.
func (w *Watch) tied(ctx context.Context, c *cellar, s *subject, bl *estimate.Belief, t *ties) (_ *estimate.Belief, apart string, err error) {
	share := func(ids []batch.ID, tie func(bs []*estimate.Belief) ([]*estimate.Belief, error)) error {
		if ids == nil {
			return nil
		}
		bs := make([]*estimate.Belief, len(ids))
		for i, id := range ids {
			if id == s.id {
				bs[i] = bl
			} else if bs[i], err = w.neighbour(ctx, c, id, s.at); err != nil {
				return err
			}
		}
		if bs = slices.DeleteFunc(bs, func(b *estimate.Belief) bool { return b == nil }); len(bs) < 2 {
			return nil
		}
		own := slices.Index(bs, bl)
		tied, err := tie(bs)
		if err == nil {
			bl = tied[own]
		} else {
			apart = err.Error()
		}
		return nil
	}
	if err := share(t.cylinder, func(bs []*estimate.Belief) ([]*estimate.Belief, error) { return estimate.ShareCylinder(bs, t.loss) }); err != nil {
		return nil, "", err
	}
	if err := share(t.gas, estimate.ShareRegulator); err != nil {
		return nil, "", err
	}
	if len(airOf(&s.log)) == 0 { // else all in the fridge have heard it: tied once more, it would count twice
		err = share(t.air, estimate.ShareAir)
	}
	return bl, apart, err
}

// neighbour is what is believed of another batch at a time, by its own log alone; nil where nothing can be.
func (w *Watch) neighbour(ctx context.Context, c *cellar, id batch.ID, at time.Time) (*estimate.Belief, error) {
	head, err := w.store.Head(ctx, id)
	if err != nil {
		return nil, err
	}
	seen, err := w.derive(ctx, id, head)
	if err != nil || seen.State.Record == nil {
		return nil, err
	}
	s, err := w.subject(ctx, c, seen, at)
	if err != nil {
		return nil, err
	}
	st, err := w.stage(ctx, s, w.belief(ctx, id))
	if err != nil {
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		return nil, nil // its own forecast says why
	}
	return s.belief(st)
}

// stage is what is believed of a batch now, from what is at hand: in memory, or in a row.
func (w *Watch) stage(ctx context.Context, s *subject, row *store.Belief) (*stage, error) {
	var old *stage
	locked(&w.stands.mu, func() { old = w.stands.stages[s.id] })
	if put := w.stageOf(row, s); put != nil && (old == nil || !old.upto.After(put.upto) || !bytes.Equal(old.evidence, s.evidence(old.upto))) {
		old = put
	}
	if old != nil && !bytes.Equal(old.prior, s.prior) {
		old = nil
	}
	st, err := s.chain(ctx, old)
	if err != nil {
		return nil, err
	}
	st.prior = s.prior
	if s.live {
		locked(&w.stands.mu, func() {
			if len(w.stands.stages) >= mostStages {
				clear(w.stands.stages)
			}
			w.stands.stages[s.id] = st
		})
	}
	return st, nil
}
