package monitor

import (
	"context"
	"crypto/sha256"
	"slices"
	"sync"
	"time"

	"spile/batch"
	"spile/internal/store"
)

// mostTold is how many forecasts are held in memory.
const mostTold = 64

// known is what is held in memory of every batch: little, for there may be hundreds.
type known struct {
	mu      sync.Mutex
	loaded  bool
	briefs  map[batch.ID]store.Brief
	saved   map[batch.ID]int64 // the positions of the briefs that are on the disk
	marks   map[batch.ID]mark
	told    map[batch.ID]*Told
	used    map[batch.ID]int
	turn    int
	failed  map[batch.ID]failure
	busy    map[batch.ID]bool // being renewed by this watch
	rest    map[batch.ID]time.Time
	lessons map[batch.ID]lessonMark
	ice     map[batch.ID]icedUpTo

	air       map[batch.ID][sha256.Size]byte // checksums of what logs told of the air when their batches were renewed
	airPassed map[batch.ID]bool              // to be renewed: the air was read at another vessel in the fridge

	backupFailed string
	backupRests  time.Time
}

// mark is what a forecast was made of.
type mark struct {
	position int64
	things   int64
	made     time.Time
	engine   string
	prior    []byte // checksum of what was expected beforehand
	shared   []byte // checksum of what was measured of several vessels together; nil: to be looked up
}

// failure is an attempt that came to nothing.
type failure struct {
	position int64
	at       time.Time
	sentence string
}

func (k *known) reset() {
	k.briefs, k.saved, k.marks = map[batch.ID]store.Brief{}, map[batch.ID]int64{}, map[batch.ID]mark{}
	k.told, k.used, k.failed = map[batch.ID]*Told{}, map[batch.ID]int{}, map[batch.ID]failure{}
	k.busy, k.rest, k.lessons = map[batch.ID]bool{}, map[batch.ID]time.Time{}, map[batch.ID]lessonMark{}
	k.ice = map[batch.ID]icedUpTo{}
	k.air, k.airPassed = map[batch.ID][sha256.Size]byte{}, map[batch.ID]bool{}
}

// icedUpTo is when ice was last noticed, by a log so long.
type icedUpTo struct {
	position int64
	at       time.Time
}

// icedUpTo is when ice was last noticed, where that is known of a log so long.
func (k *known) icedUpTo(id batch.ID, head int64) (at time.Time, known bool) {
	locked(&k.mu, func() {
		i, there := k.ice[id]
		at, known = i.at, there && i.position >= head
	})
	return at, known
}

// recall reads once what was put away. What cannot be read is made again.
func (w *Watch) recall(ctx context.Context) error {
	k := &w.known
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.loaded {
		return nil
	}
	briefs, err := w.store.Briefs(ctx)
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if err != nil {
		w.log.Error("batches in short", "err", err)
	}
	for _, b := range briefs {
		if b.Position > k.briefs[b.Batch].Position {
			k.briefs[b.Batch] = b
		}
		k.saved[b.Batch] = b.Position
	}
	marks, err := w.store.Marks(ctx)
	if err != nil {
		w.log.Error("what is believed", "err", err)
	}
	for _, m := range marks {
		k.marks[m.Batch] = mark{position: m.Position, things: m.Things, made: m.Made, engine: m.Engine, prior: m.Prior}
	}
	w.recallLessons(ctx)
	k.loaded = true
	return nil
}

// note takes in a batch in short.
func (k *known) note(b store.Brief) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if old, there := k.briefs[b.Batch]; !there || b.Position >= old.Position {
		b.Hours = old.Hours
		k.briefs[b.Batch] = b
	}
}

func (k *known) brief(id batch.ID) (b store.Brief) {
	locked(&k.mu, func() { b = k.briefs[id] })
	return b
}

// failure is why no forecast could be made of a log so long, empty where one was, or was not tried yet.
func (k *known) failure(id batch.ID, position int64) (sentence string) {
	locked(&k.mu, func() {
		if f := k.failed[id]; f.position >= position {
			sentence = f.sentence
		}
	})
	return sentence
}

func (k *known) fail(id batch.ID, f failure) { locked(&k.mu, func() { k.failed[id] = f }) }

// tell takes in a forecast.
func (k *known) tell(id batch.ID, t *Told, m mark) {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.marks[id] = m
	delete(k.failed, id)
	k.turn++
	k.told[id], k.used[id] = t, k.turn
	for len(k.told) > mostTold {
		oldest := id
		for o := range k.told {
			if k.used[o] < k.used[oldest] {
				oldest = o
			}
		}
		delete(k.told, oldest)
		delete(k.used, oldest)
	}
}

// told is the last forecast of a batch, nil where there is none.
func (w *Watch) told(ctx context.Context, id batch.ID) (*Told, error) {
	if err := w.recall(ctx); err != nil {
		return nil, err
	}
	k := &w.known
	var t *Told
	var made bool
	locked(&k.mu, func() {
		t, made = k.told[id], !k.marks[id].made.IsZero()
		if t != nil {
			k.turn++
			k.used[id] = k.turn
		}
	})
	if t != nil || !made {
		return t, nil
	}
	row := w.belief(ctx, id)
	if row == nil {
		return nil, ctx.Err()
	}
	return w.adopt(row), nil
}

// belief is the row of a batch, nil where there is none that can be read; then it is made again.
func (w *Watch) belief(ctx context.Context, id batch.ID) *store.Belief {
	row, err := w.store.Belief(ctx, id)
	if ctx.Err() != nil {
		return nil
	}
	if err != nil {
		w.log.Error("what is believed", "batch", id.String(), "err", err)
	}
	if row == nil {
		locked(&w.known.mu, func() { delete(w.known.marks, id) })
		w.rouse()
	}
	return row
}

// adopt takes in what was put away, here or by another watch; nil where it does not read.
func (w *Watch) adopt(row *store.Belief) *Told {
	told, shared, err := unpackTold(row)
	if err != nil {
		w.log.Warn("a forecast that was put away does not read; it is made again", "batch", row.Batch.String(), "err", err)
		locked(&w.known.mu, func() { delete(w.known.marks, row.Batch) })
		w.rouse()
		return nil
	}
	w.known.tell(row.Batch, told, mark{row.Position, row.Things, row.Made, row.Engine, row.Prior, shared})
	return told
}

// claim takes a batch for one of those who renew here.
func (k *known) claim(id batch.ID) (got bool) {
	locked(&k.mu, func() {
		if got = !k.busy[id]; got {
			k.busy[id] = true
		}
	})
	return got
}

// let gives a batch free; it is not looked at again before a time.
func (k *known) let(id batch.ID, until time.Time) {
	locked(&k.mu, func() {
		delete(k.busy, id)
		if k.rest[id] = until; until.IsZero() {
			delete(k.rest, id)
		}
	})
}

// hurry ends the rest of a batch for which somebody waits, and tells whether it had one.
func (k *known) hurry(id batch.ID) (rested bool) {
	locked(&k.mu, func() {
		_, rested = k.rest[id]
		delete(k.rest, id)
	})
	return rested
}

// unsaved are the batches in short that are not on the disk as they are.
func (k *known) unsaved() (out []store.Brief) {
	locked(&k.mu, func() {
		for id, b := range k.briefs {
			if k.saved[id] != b.Position {
				out = append(out, b)
			}
		}
	})
	slices.SortFunc(out, func(a, b store.Brief) int { return a.Pitched.Compare(b.Pitched) })
	return out
}
