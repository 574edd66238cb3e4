package batch

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"

	"spile/unit"
)

// Record is a batch as its log tells it, with the things of the cellar it uses.
type Record struct {
	Batch
	Uses Uses `json:"uses,omitzero"`
}

// Uses are the things of the cellar that a batch uses, zero where none is named.
type Uses struct {
	Vessel    ID `json:"vessel,omitzero"`
	Place     ID `json:"place,omitzero"`
	Cylinder  ID `json:"cylinder,omitzero"`
	Regulator ID `json:"regulator,omitzero"`
	WortPack  ID `json:"wort_pack,omitzero"`
	YeastPack ID `json:"yeast_pack,omitzero"`
}

// Note is what somebody wrote down, or judged.
type Note struct {
	Entry     ID
	Time      time.Time
	By        string
	Words     string
	Judgement *Judgement // nil: a plain note
}

// Trouble is an entry that could not be understood. It stays in the log and has no effect.
type Trouble struct {
	Entry ID
	Err   error
}

// State is what a batch's log says now.
type State struct {
	ID      ID
	Record  *Record // nil: the batch was never made, or its making was taken back
	Log     Log
	Notes   []Note
	Trouble []Trouble

	last  time.Time // of the entries that hold
	waits bool      // an entry supersedes one that is not there yet
}

// Stands is the vessel of the cellar that the batch is in, or the batch itself where the
// cellar does not list its vessel.
func (s *State) Stands() ID {
	if s.Record != nil && !s.Record.Uses.Vessel.IsZero() {
		return s.Record.Uses.Vessel
	}
	return s.ID
}

// Derive is the state of the batch id from the entries of its log, in any order.
// Readings and events keep the uncertainty of their times and the id of their entry.
func Derive(id ID, entries []Entry) State {
	l := link(entries)
	s := State{ID: id, waits: l.wait()}
	held := l.held()
	s.Record = makeRecord(&s, held)
	for i := range held {
		s.hear(&held[i])
	}
	return s
}

func makeRecord(s *State, held []Held) *Record {
	var first *Held
	var changes []*Held
	for i := range held {
		if h := &held[i]; h.Kind == KindBatch && h.ID == s.ID {
			first = h
		} else if h.Kind == KindBatch {
			changes = append(changes, h)
		}
	}
	if first == nil {
		return nil
	}
	record, trouble := fold(first, changes, func(doc []byte) (*Record, error) {
		r, err := bodyOf[Record](doc)
		if err == nil {
			err = r.check()
		}
		return &r, err
	})
	s.Trouble = append(s.Trouble, trouble...)
	return record
}

// fold makes a record of its first body and merge patches in order of time. A patch
// after which the record no longer reads is left out and named.
func fold[T any](first *Held, changes []*Held, read func(doc []byte) (*T, error)) (record *T, trouble []Trouble) {
	var doc any
	for _, h := range append([]*Held{first}, changes...) {
		after, next, err := patched(doc, h.Body, read)
		if err != nil {
			trouble = append(trouble, Trouble{h.ID, err})
		} else {
			doc, record = after, next
		}
		if record == nil {
			return nil, trouble
		}
	}
	return record, trouble
}

// patched is doc with the patch in body, and the record that it reads as.
func patched[T any](doc any, body []byte, read func(doc []byte) (*T, error)) (after any, record *T, err error) {
	patch, err := decode(body)
	if err != nil {
		return nil, nil, err
	}
	after = merged(doc, patch)
	record, err = read(appendValue(nil, after))
	return after, record, err
}

// said adds what a reading, action or note told.
func (s *State) said(h *Held) error {
	b, err := saidOf(h.Body)
	if err == nil {
		err = b.check(h.Kind)
	}
	if err != nil {
		return err
	}
	for q := range b.values() {
		if v, given := b.Value(Quantity(q)); given {
			s.Log.Readings = append(s.Log.Readings, Reading{Time: h.At, Uncertain: h.Uncertain, Quantity: Quantity(q), Value: v, Instrument: b.Instrument, Entry: h.ID, Unattended: h.unattended()})
		}
	}
	if b.Event != nil {
		e := *b.Event
		e.Time, e.Uncertain, e.Entry = h.At, h.Uncertain, h.ID
		s.Log.Events = append(s.Log.Events, e)
	}
	if b.Words != "" {
		s.Notes = append(s.Notes, Note{Entry: h.ID, Time: h.At, By: h.By, Words: b.Words})
	}
	return nil
}

func (s *State) judged(h *Held) error {
	j, err := bodyOf[Judgement](h.Body)
	if err != nil {
		return err
	}
	s.Notes = append(s.Notes, Note{Entry: h.ID, Time: h.At, By: h.By, Words: j.Words, Judgement: &j})
	return nil
}

// check says why a record is not one that can be followed. Whether it is sensible is
// asked where it is typed.
func (r *Record) check() error {
	switch {
	case r.Name == "":
		return errors.New("a batch without a name")
	case !sensible(r.Pitched):
		return errors.New("a batch without the time of pitching")
	case !(r.Wort.Volume > 0 && r.Vessel.Capacity > r.Wort.Volume && r.Vessel.Diameter > 0):
		return errors.New("a batch whose wort does not fit its vessel")
	case !(r.Wort.Gravity > 1 && r.Place.Ambient > 0):
		return errors.New("a batch without the gravity of its wort or the temperature of its place")
	}
	return nil
}

func (e *Entry) checkBatch() error {
	if e.ID != e.Batch {
		_, err := bodyOf[map[string]json.RawMessage](e.Body)
		return err
	}
	r, err := bodyOf[Record](e.Body)
	if err != nil {
		return err
	}
	return r.check()
}

// EntriesOf are the readings and events of a log as entries of the batch, in order of
// time, one for each moment and instrument. They come with the import by.With, and take
// who made them, and when, from by; next makes their ids.
func EntriesOf(log Log, by Entry, next func() ID) ([]Entry, error) {
	var out []Entry
	var said Said
	add := func(k Kind, at time.Time, uncertain unit.Duration) error {
		e := by
		e.ID, e.Kind, e.At, e.Uncertain = next(), k, at, uncertain
		e.Made = by.Made.Add(time.Duration(len(out))) // rows of one moment keep their order
		body, err := EncodeBody(&said)
		if err != nil {
			return fmt.Errorf("at %s: %w", at.Format(time.RFC3339), err)
		}
		e.Body = body
		out = append(out, e)
		return nil
	}
	for i, r := range log.Readings {
		said.Put(r.Quantity, r.Value)
		said.Instrument = r.Instrument
		if i+1 < len(log.Readings) {
			if n := log.Readings[i+1]; n.Time.Equal(r.Time) && n.Instrument == r.Instrument && *said.values()[n.Quantity] == nil {
				continue
			}
		}
		if err := add(KindReading, r.Time, r.Uncertain); err != nil {
			return nil, err
		}
		said = Said{}
	}
	for _, ev := range log.Events {
		said = Said{Event: &ev}
		if err := add(KindAction, ev.Time, ev.Uncertain); err != nil {
			return nil, err
		}
	}
	slices.SortStableFunc(out, func(a, b Entry) int { return a.At.Compare(b.At) })
	return out, nil
}
