package monitor

import (
	"context"
	"slices"
	"strings"
	"sync"
	"time"

	"spile/batch"
	"spile/internal/store"
)

// mostHeld is how many readings are held in memory, of all batches together: about 100 bytes each.
const mostHeld = 150_000

// logs are the states derived of the batches looked at last.
type logs struct {
	mu   sync.Mutex
	each map[batch.ID]*logged
	turn int // of use
}

// logged is one batch's; its lock is held while its log is read.
type logged struct {
	mu   sync.Mutex
	seen *Seen // nil: not derived yet

	used, cost int // under the lock of logs
}

// derive is the batch as its log tells it; the log is at least so long.
func (w *Watch) derive(ctx context.Context, id batch.ID, head int64) (*Seen, error) {
	l := w.logs.of(id)
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.seen != nil && l.seen.Position >= head {
		return l.seen, nil
	}
	next, err := w.goOn(ctx, id, head, l.seen)
	if err != nil {
		return nil, err
	}
	l.seen = next
	w.logs.weigh(l, len(next.State.Log.Readings)+len(next.State.Log.Events)+len(next.State.Notes)+100)
	w.known.note(briefOf(next))
	return next, nil
}

// goOn derives a state, from the one before it where that is easy.
func (w *Watch) goOn(ctx context.Context, id batch.ID, head int64, from *Seen) (*Seen, error) {
	if from != nil {
		entries, damaged, err := w.store.Log(ctx, id, from.Position)
		if err != nil {
			return nil, err
		}
		if state, easy := grown(from.State, entries); easy {
			return seenOf(id, state, from.Position+int64(len(entries)+len(damaged)), slices.Concat(from.Damaged, damaged)), nil
		}
	}
	entries, damaged, err := w.store.Log(ctx, id, 0)
	if err != nil {
		return nil, err
	}
	return seenOf(id, batch.Derive(id, entries), max(head, int64(len(entries)+len(damaged))), damaged), nil
}

func grown(s batch.State, entries []batch.Entry) (batch.State, bool) {
	for i := range entries {
		var easy bool
		if s, easy = s.Grown(&entries[i]); !easy {
			return s, false
		}
	}
	return s, true
}

func seenOf(id batch.ID, s batch.State, position int64, damaged []store.Finding) *Seen {
	return &Seen{ID: id, State: s, Position: position, Ended: s.Ended(), Damaged: damaged}
}

// of is the place of a batch.
func (l *logs) of(id batch.ID) *logged {
	l.mu.Lock()
	defer l.mu.Unlock()
	one := l.each[id]
	if one == nil {
		one = &logged{}
		l.each[id] = one
	}
	l.turn++
	one.used = l.turn
	return one
}

// weigh notes what one costs, and forgets those not used for longest where all cost too much.
func (l *logs) weigh(one *logged, cost int) {
	l.mu.Lock()
	defer l.mu.Unlock()
	one.cost = cost
	total := 0
	for _, o := range l.each {
		total += o.cost
	}
	for total > mostHeld {
		var oldest batch.ID
		for id, o := range l.each {
			if o != one && o.cost > 0 && (oldest.IsZero() || o.used < l.each[oldest].used) {
				oldest = id
			}
		}
		if oldest.IsZero() {
			return
		}
		total -= l.each[oldest].cost
		delete(l.each, oldest)
	}
}

// briefOf is a batch in short.
func briefOf(s *Seen) store.Brief {
	b := store.Brief{Batch: s.ID, Position: s.Position, Ended: s.Ended}
	if r := s.State.Record; r != nil {
		b.Name, b.Vessel, b.Pitched, b.Yeast = r.Name, r.Uses.Vessel, r.Pitched, string(r.Yeast.Kind)
		if !r.Uses.YeastPack.IsZero() {
			b.Yeast = r.Uses.YeastPack.String()
		}
	}
	b.Last = lastOf(&s.State.Log)
	return b
}

// lastOf is when something was last read or done, zero where nothing was.
func lastOf(log *batch.Log) (at time.Time) {
	if n := len(log.Readings); n > 0 {
		at = log.Readings[n-1].Time
	}
	if n := len(log.Events); n > 0 && log.Events[n-1].Time.After(at) {
		at = log.Events[n-1].Time
	}
	return at
}

// things are what the cellar's own log says.
type things struct {
	mu  sync.Mutex
	now *cellar
}

type cellar struct {
	batch.Cellar
	position int64
	entries  []batch.Entry
	packs    map[string]string // of yeast: their names in small letters, by id

	mu        sync.Mutex
	turns     map[turnOf]batch.Turn        // worked out already
	judged    map[batch.ID][]batch.Note    // the same
	weighings map[batch.ID][]batch.Reading // the same
}

type turnOf struct {
	vessel batch.ID
	since  int64
}

// cellar is what the cellar's own log says now.
func (w *Watch) cellar(ctx context.Context) (*cellar, error) {
	head, err := w.store.Head(ctx, batch.ID{})
	if err != nil {
		return nil, err
	}
	return w.cellarAt(ctx, head)
}

func (w *Watch) cellarAt(ctx context.Context, head int64) (*cellar, error) {
	w.things.mu.Lock()
	defer w.things.mu.Unlock()
	if c := w.things.now; c != nil && c.position >= head {
		return c, nil
	}
	entries, damaged, err := w.store.Log(ctx, batch.ID{}, 0)
	if err != nil {
		return nil, err
	}
	for _, d := range damaged {
		w.log.Error("damaged", "finding", d.String())
	}
	c := &cellar{Cellar: batch.DeriveCellar(entries), position: max(head, int64(len(entries)+len(damaged))), entries: entries, packs: map[string]string{}, turns: map[turnOf]batch.Turn{}, judged: map[batch.ID][]batch.Note{}, weighings: map[batch.ID][]batch.Reading{}}
	for i := range c.YeastPacks {
		c.packs[c.YeastPacks[i].ID.String()] = strings.ToLower(c.YeastPacks[i].Name)
	}
	w.things.now = c
	return c, nil
}

// turn is what was done to a vessel since a time.
func (c *cellar) turn(vessel batch.ID, since time.Time) batch.Turn {
	c.mu.Lock()
	defer c.mu.Unlock()
	key := turnOf{vessel, since.UnixNano()}
	t, known := c.turns[key]
	if !known {
		t = batch.TurnOf(vessel, c.entries, since)
		c.turns[key] = t
	}
	return t
}

// judgedOf is what was judged of a vessel.
func (c *cellar) judgedOf(vessel batch.ID) []batch.Note {
	c.mu.Lock()
	defer c.mu.Unlock()
	notes, known := c.judged[vessel]
	if !known {
		notes = batch.NotesOf(vessel, c.entries)
		c.judged[vessel] = notes
	}
	return notes
}

// upkeep is what the cellar's own log tells of a vessel itself.
func (c *cellar) upkeep(v *batch.Thing[batch.VesselFacts]) batch.Upkeep {
	u := batch.Upkeep{Checked: v.Facts.Checked, Due: v.Facts.Due}
	if seals := c.turn(v.ID, time.Time{}).Seals; seals.After(u.Checked) {
		u.Checked = seals
	}
	return u
}

// inVessels are the vessels that are there, by the name of their place and their own.
func (w *Watch) inVessels(ctx context.Context, c *cellar, briefs []store.Brief, heads map[batch.ID]int64) ([]InVessel, error) {
	places, last := map[batch.ID]string{}, map[batch.ID]store.Brief{}
	for _, p := range c.Places {
		places[p.ID] = p.Name
	}
	for _, b := range briefs {
		if b.Ended.After(last[b.Vessel].Ended) {
			last[b.Vessel] = b
		}
	}
	var out []InVessel
	for i := range c.Vessels {
		v := &c.Vessels[i]
		if v.Gone {
			continue
		}
		before := last[v.ID]
		in := InVessel{Vessel: v, Emptied: before.Ended, Turn: c.turn(v.ID, before.Ended), Upkeep: c.upkeep(v), Judged: c.judgedOf(v.ID)}
		if before.Ended.After(in.Upkeep.Checked) { // else no ice in it can matter any more
			iced, err := w.iced(ctx, before.Batch, heads[before.Batch])
			if err != nil {
				return nil, err
			}
			in.Upkeep.Iced = iced
		}
		out = append(out, in)
	}
	slices.SortStableFunc(out, func(a, b InVessel) int {
		return strings.Compare(places[a.Vessel.Facts.Place], places[b.Vessel.Facts.Place])
	})
	return out, nil
}

// iced is when ice was last noticed in a batch; its log, which is at least so long, is read once.
func (w *Watch) iced(ctx context.Context, id batch.ID, head int64) (time.Time, error) {
	if at, known := w.known.icedUpTo(id, head); known {
		return at, nil
	}
	seen, err := w.derive(ctx, id, head)
	if err != nil {
		return time.Time{}, err
	}
	at := seen.State.Log.Iced()
	locked(&w.known.mu, func() { w.known.ice[id] = icedUpTo{seen.Position, at} })
	return at, nil
}
