// Package ingest takes in readings from files: it says what it understood of a CSV file
// that anybody made, asks where that is in doubt, and joins the rows to the log of a
// batch, whence all of them can be taken back in one step.
package ingest

import (
	"context"
	"errors"
	"math"
	"slices"
	"time"

	"spile/batch"
	"spile/internal/store"
)

// Found is what a file tells of a batch, each in order of time.
type Found struct {
	batch.Log
	Notes []batch.Note
	air   map[batch.Note]bool // those of the notes, bare, that a column of the room's temperature told
}

// Count is how many things were read, done and noted.
func (f *Found) Count() int { return len(f.Readings) + len(f.Events) + len(f.Notes) }

// Unknown is what of it is not in a batch's log yet, each row that is there taken for one.
func (f *Found) Unknown(there *batch.State) Found {
	return Found{batch.Log{Readings: beyond(f.Readings, there.Log.Readings, bareReading), Events: beyond(f.Events, there.Log.Events, bareEvent)},
		beyond(f.Notes, there.Notes, bareNote), f.air}
}

// beyond are the rows of a file that are not there, each row that is there taken for one.
func beyond[T any, K comparable](file, there []T, bare func(T) K) (fresh []T) {
	left := map[K]int{}
	for _, x := range there {
		left[bare(x)]++
	}
	for _, x := range file {
		if key := bare(x); left[key] > 0 {
			left[key]--
		} else {
			fresh = append(fresh, x)
		}
	}
	return fresh
}

// bareReading is what was read, without where it stands, and without the last bits of its value,
// in which the ways of turning one written number into SI differ.
func bareReading(r batch.Reading) batch.Reading {
	const bits = 40 // of 53: about twelve digits
	share, power := math.Frexp(r.Value)
	r.Value = math.Ldexp(math.Round(math.Ldexp(share, bits)), power-bits)
	r.Time, r.Uncertain, r.Entry, r.Line, r.Unattended = r.Time.UTC(), 0, batch.ID{}, 0, false
	return r
}

func bareEvent(e batch.Event) batch.Event {
	e.Time, e.Uncertain, e.Entry, e.Line = e.Time.UTC(), 0, batch.ID{}, 0
	return e
}

func bareNote(n batch.Note) batch.Note { return batch.Note{Time: n.Time.UTC(), Words: n.Words} }

// Entries are what was found as lines of the log of the batch first.Batch, behind the import
// with which they come. first is by whom it is written down, when, and under which id; next
// makes the other ids. They are to be kept all or none.
func Entries(found Found, first batch.Entry, file string, next func() batch.ID) ([]batch.Entry, error) {
	first.Kind, first.At = batch.KindImport, first.Made
	each := first
	each.With = first.ID
	each.Made = each.Made.Add(1)
	entries, err := batch.EntriesOf(found.Log, each, next)
	if err != nil {
		return nil, err
	}
	beside := map[int64]int{} // the first line of what was read at a moment, which takes the temperature of the room in
	for i := len(entries) - 1; i >= 0; i-- {
		if entries[i].Kind == batch.KindReading {
			beside[entries[i].At.UnixNano()] = i
		}
	}
	for _, n := range found.Notes {
		if i, there := beside[n.Time.UnixNano()]; there && found.air[bareNote(n)] {
			delete(beside, n.Time.UnixNano())
			if err := noted(&entries[i], n.Words); err != nil {
				return nil, err
			}
			continue
		}
		e := each
		e.ID, e.Kind, e.At, e.Uncertain = next(), batch.KindNote, n.Time, 0
		e.Made = each.Made.Add(time.Duration(len(entries)))
		if e.Body, err = batch.EncodeBody(batch.Said{Words: n.Words}); err != nil {
			return nil, err
		}
		entries = append(entries, e)
	}
	first.Body, err = batch.EncodeBody(batch.Import{File: file, Entries: len(entries)})
	return append([]batch.Entry{first}, entries...), err
}

// noted puts words beside what was read.
func noted(e *batch.Entry, words string) error {
	said, err := e.Said()
	if err != nil {
		return err
	}
	said.Words = words
	e.Body, err = batch.EncodeBody(&said)
	return err
}

// Import is what came from one file, as the log of its batch tells it now.
type Import struct {
	batch.Entry
	batch.Import
	Holds bool
	ends  []batch.ID // what is taken back to turn that round
}

// ErrNoImport says that there is no import under an id.
var ErrNoImport = errors.New("no such import")

// Find is the import with that id; ErrNoImport where there is none.
func Find(ctx context.Context, s *store.Store, id batch.ID) (*Import, error) {
	first, found, err := s.Find(ctx, id)
	switch {
	case err != nil:
		return nil, err
	case !found || first.Kind != batch.KindImport:
		return nil, ErrNoImport
	}
	about, err := s.Superseding(ctx, first.Batch)
	if err != nil {
		return nil, err
	}
	return see(first, about)
}

// All are the imports of the cellar, the newest first.
func All(ctx context.Context, s *store.Store) (all []Import, err error) {
	firsts, err := s.Imports(ctx)
	if err != nil {
		return nil, err
	}
	about := map[batch.ID][]batch.Entry{}
	for _, first := range firsts {
		of := first.Batch
		if _, read := about[of]; !read {
			if about[of], err = s.Superseding(ctx, of); err != nil {
				return nil, err
			}
		}
		i, err := see(first, about[of])
		if err != nil {
			return nil, err
		}
		all = append(all, *i)
	}
	slices.SortStableFunc(all, func(a, b Import) int { return b.Made.Compare(a.Made) })
	return all, nil
}

// see follows what became of an import, by the entries of its log that supersede others: no other
// tells whether it holds.
func see(first batch.Entry, about []batch.Entry) (i *Import, err error) {
	holding := batch.Holding(append([]batch.Entry{first}, about...))
	i = &Import{Entry: first, Holds: holding[first.ID]}
	if i.Import, err = first.Import(); err != nil {
		return nil, err
	}
	if i.Holds {
		i.ends = []batch.ID{first.ID}
	}
	for _, e := range about {
		if !i.Holds && e.Kind == batch.KindTakenBack && e.Supersedes == first.ID && holding[e.ID] {
			i.ends = append(i.ends, e.ID)
		}
	}
	return i, nil
}

// TurnRound takes all of an import back, or puts it back where it was taken back. by is who
// does so and when; next makes the ids.
func (i *Import) TurnRound(by batch.Entry, next func() batch.ID) (out []batch.Entry) {
	for _, id := range i.ends {
		e := by
		e.ID, e.Batch, e.Kind, e.At, e.Supersedes = next(), i.Batch, batch.KindTakenBack, e.Made, id
		out = append(out, e)
	}
	return out
}
