package monitor

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/gob"
	"encoding/json"
	"errors"
	"hash"
	"math"
	"slices"
	"sort"
	"time"

	"spile/batch"
	"spile/estimate"
	"spile/internal/store"
)

// stage is what is believed of a batch after so much of its log.
type stage struct {
	Memory  estimate.Memory
	Renewed bool // weighed anew since it was conditioned

	upto     time.Time // the last thing that it knows
	base     time.Time // the hour that it was made for
	evidence []byte    // checksum of what it knows
	prior    []byte    // checksum of what was expected beforehand
}

// subject is a batch as it is handed to inference.
type subject struct {
	id      batch.ID
	record  *batch.Batch
	log     batch.Log         // with what was weighed of the cylinder, where that is its alone, and read of the air beside it
	beside  [sha256.Size]byte // checksum of that air
	at      time.Time         // the moment to look from
	live    bool              // still in its vessel
	options estimate.Options
	prior   []byte // checksum of what the options say of what is expected
}

// everyRenewal is how many moments are weighed in one after the other before all are taken together again.
const everyRenewal = 12

// known is the log up to a time, that included.
func (s *subject) known(upto time.Time) batch.Log {
	r := sort.Search(len(s.log.Readings), func(i int) bool { return s.log.Readings[i].Time.After(upto) })
	e := sort.Search(len(s.log.Events), func(i int) bool { return s.log.Events[i].Time.After(upto) })
	return batch.Log{Readings: s.log.Readings[:r:r], Events: s.log.Events[:e:e]}
}

// moments are the times after one, up to the moment to look from, at which something was read or done.
func (s *subject) moments(after time.Time) []time.Time {
	known := s.known(s.at)
	var out []time.Time
	for i := len(known.Readings) - 1; i >= 0 && known.Readings[i].Time.After(after); i-- {
		out = append(out, known.Readings[i].Time)
	}
	for i := len(known.Events) - 1; i >= 0 && known.Events[i].Time.After(after); i-- {
		out = append(out, known.Events[i].Time)
	}
	slices.SortFunc(out, time.Time.Compare)
	return slices.CompactFunc(out, time.Time.Equal)
}

// chain goes to what is believed now, from old where that leads there: nil, or a stage that was put away. Where it
// leads does not depend on old.
func (s *subject) chain(ctx context.Context, old *stage) (*stage, error) {
	base := s.at.Truncate(time.Hour)
	if base.Before(s.record.Pitched) {
		base = s.record.Pitched
	}
	since := s.moments(base)
	done := len(since) / everyRenewal * everyRenewal // moments that are taken together
	var now *stage
	if old != nil && s.leadsOn(old, base, since, done) {
		again := *old // others may go on from it too
		now = &again
	} else {
		upto := s.lastMoment(base)
		if done > 0 {
			upto = since[done-1]
		}
		var err error
		if now, err = s.condition(upto); err != nil {
			return nil, err
		}
	}
	now.base = base
	for _, m := range since {
		if !m.After(now.upto) {
			continue
		}
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		next, err := s.renew(now, m)
		if errors.Is(err, estimate.ErrRefit) {
			next, err = s.condition(m)
		}
		if err != nil {
			return nil, err
		}
		next.base, now = base, next
	}
	return now, nil
}

// leadsOn tells whether a stage lies on the way of the hour that begins at base.
func (s *subject) leadsOn(old *stage, base time.Time, since []time.Time, done int) bool {
	begin := s.lastMoment(base) // what was known when the hour began
	if old.upto.Before(begin) || done > 0 && old.upto.Before(since[done-1]) || !bytes.Equal(old.evidence, s.evidence(old.upto)) {
		return false
	}
	return old.base.Equal(base) || !old.Renewed && old.upto.Equal(begin)
}

// lastMoment is the last time up to one at which something was read or done; that of pitching where nothing was.
func (s *subject) lastMoment(upto time.Time) time.Time {
	known := s.known(upto)
	if at := lastOf(&known); at.After(s.record.Pitched) {
		return at
	}
	return s.record.Pitched
}

// condition is what is believed from all up to a time, taken together.
func (s *subject) condition(upto time.Time) (*stage, error) {
	bl, err := estimate.Condition(s.record, s.known(upto), upto, s.options)
	if err != nil {
		return nil, err
	}
	return &stage{Memory: bl.Remember(), upto: upto, evidence: s.evidence(upto)}, nil
}

// renew weighs in what came since a stage, up to a time.
func (s *subject) renew(from *stage, upto time.Time) (*stage, error) {
	bl, err := estimate.Recall(s.record, s.known(from.upto), from.upto, s.options, from.Memory)
	if err != nil {
		return nil, err
	}
	next, err := bl.Stand(len(from.Memory.Members)).Renew(s.known(upto), upto)
	if err != nil {
		return nil, err
	}
	return &stage{Memory: next.Belief().Remember(), Renewed: true, upto: upto, evidence: s.evidence(upto)}, nil
}

// belief is what a stage stands for, looked at from the moment of s.
func (s *subject) belief(st *stage) (*estimate.Belief, error) {
	return estimate.Recall(s.record, s.known(s.at), s.at, s.options, st.Memory)
}

// evidence is the checksum of all that is known of the batch up to a time.
func (s *subject) evidence(upto time.Time) []byte {
	h := checksum{sha256.New()}
	record, err := json.Marshal(s.record)
	if err != nil {
		panic(err) // it was read from JSON
	}
	h.text(record)
	known := s.known(upto)
	for i := range known.Readings {
		h.reading(&known.Readings[i])
	}
	for i := range known.Events {
		e := &known.Events[i]
		h.number(uint64(e.Time.UnixNano()))
		h.number(math.Float64bits(float64(e.Uncertain)))
		says, err := json.Marshal(e)
		if err != nil {
			panic(err) // the same
		}
		h.text(says)
	}
	return h.Sum(nil)
}

// checksum goes over numbers, texts and readings.
type checksum struct{ hash.Hash }

func (h checksum) number(n uint64) { h.Write(binary.BigEndian.AppendUint64(nil, n)) }

func (h checksum) text(b []byte) {
	h.number(uint64(len(b)))
	h.Write(b)
}

func (h checksum) reading(r *batch.Reading) {
	h.number(uint64(r.Time.UnixNano()))
	h.number(math.Float64bits(float64(r.Uncertain)))
	h.number(uint64(r.Quantity))
	h.number(math.Float64bits(r.Value))
	h.text([]byte(r.Instrument))
}

// pack is v to be put away.
func pack(v any) ([]byte, error) {
	var out bytes.Buffer
	err := gob.NewEncoder(&out).Encode(v)
	return out.Bytes(), err
}

func unpack(raw []byte, v any) error { return gob.NewDecoder(bytes.NewReader(raw)).Decode(v) }

// stageOf is the stage in a row; nil where it does not read, or was computed by another engine, or from something else.
func (w *Watch) stageOf(row *store.Belief, s *subject) *stage {
	if row == nil || row.Engine != w.engine || row.Seed != s.options.Seed || !bytes.Equal(row.Prior, s.prior) {
		return nil
	}
	st := stage{upto: row.Upto, base: row.Base, evidence: row.Evidence, prior: row.Prior}
	if unpack(row.Members, &st) != nil {
		return nil
	}
	return &st
}

// packedTold is a forecast as it is put away.
type packedTold struct {
	Forecast *estimate.Forecast
	Changed  *Changed
	Apart    string
	Shared   []byte
}

func unpackTold(row *store.Belief) (*Told, []byte, error) {
	var p packedTold
	if err := unpack(row.Told, &p); err != nil {
		return nil, nil, err
	}
	if p.Forecast == nil {
		return nil, nil, errors.New("no forecast in it")
	}
	return &Told{Position: row.Position, Made: row.Made, Forecast: p.Forecast, Changed: p.Changed, Apart: p.Apart}, p.Shared, nil
}
