package store

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"spile/batch"
)

// Stored is an entry as it is kept.
type Stored struct {
	batch.Entry
	Position int64
	Form     []byte
	Sum      batch.Sum
}

// Head is the end of one log.
type Head struct {
	Batch    batch.ID // zero: the cellar's own log
	Position int64    // of the last entry
	Sum      batch.Sum
}

// Heads are the ends of all logs, the cellar's own first.
func (s *Store) Heads(ctx context.Context) ([]Head, error) {
	var out []Head
	err := s.rows(ctx, `SELECT id, head, sum FROM batch WHERE cellar = ? ORDER BY id`, []any{s.cellar[:]}, func(scan func(...any) error) error {
		var h Head
		var id, sum []byte
		if err := scan(&id, &h.Position, &sum); err != nil {
			return err
		}
		if err := fill(&h.Batch, id); err != nil {
			return err
		}
		copy(h.Sum[:], sum) // a short one is found by Verify, which compares it
		out = append(out, h)
		return nil
	})
	return out, err
}

// Head is how many entries a log has; 0 where there is none.
func (s *Store) Head(ctx context.Context, id batch.ID) (position int64, err error) {
	err = s.read.QueryRowContext(ctx, `SELECT head FROM batch WHERE cellar = ? AND id = ?`, s.cellar[:], id[:]).Scan(&position)
	if errors.Is(err, sql.ErrNoRows) {
		return 0, nil
	}
	return position, s.fault(err)
}

// Log gives the entries of a log stored after a position (0: all), in storing order. An
// entry whose checksum does not fit is named in damaged and left out: never is a number
// shown that is not the one that was kept.
func (s *Store) Log(ctx context.Context, id batch.ID, after int64) (entries []batch.Entry, damaged []Finding, err error) {
	head, err := s.Head(ctx, id)
	if err != nil {
		return nil, nil, err
	}
	entries = make([]batch.Entry, 0, max(head-max(after, 0), 0))
	damaged, err = s.walk(ctx, id, after, func(e Stored) error {
		entries = append(entries, e.Entry)
		return nil
	})
	return entries, damaged, s.fault(err)
}

// Each calls f for every sound entry of every log, the cellar's own first, each in
// storing order, all as they were at one moment.
func (s *Store) Each(ctx context.Context, f func(Stored) error) (damaged []Finding, err error) {
	heads, err := s.Heads(ctx)
	if err != nil {
		return nil, err
	}
	for _, h := range heads {
		found, err := s.walk(ctx, h.Batch, 0, func(e Stored) error {
			if e.Position > h.Position {
				return nil // came in meanwhile
			}
			e.Form = bytes.Clone(e.Form)
			return f(e)
		})
		if err != nil {
			return damaged, s.fault(err)
		}
		damaged = append(damaged, found...)
	}
	return damaged, nil
}

// walk reads a log row by row, and checks each against its checksum on the way. The form that f is given is gone after it.
func (s *Store) walk(ctx context.Context, id batch.ID, after int64, f func(Stored) error) (damaged []Finding, err error) {
	rows, err := s.read.QueryContext(ctx, `SELECT id, position, time, form, sum FROM entry WHERE cellar = ? AND batch = ? AND position >= ? ORDER BY position`, s.cellar[:], id[:], max(after, 1))
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	c := chain{batch: id}
	for rows.Next() {
		r, err := scan(rows)
		if err != nil {
			return damaged, err
		}
		if after > 0 && r.position == after { // only the link before
			c.start(r)
			continue
		}
		e, found := c.next(r)
		if found != nil {
			damaged = append(damaged, *found)
		} else if err := f(e); err != nil {
			return damaged, err
		}
	}
	return damaged, rows.Err()
}

// row is one row of the table entry, as long as the next one is not read.
type row struct {
	id, form, sum  sql.RawBytes
	position, time int64
}

func scan(rows *sql.Rows) (r row, err error) {
	return r, rows.Scan(&r.id, &r.position, &r.time, &r.form, &r.sum)
}

// rows calls f with the scanner of each row that a query gives.
func (s *Store) rows(ctx context.Context, query string, args []any, f func(scan func(...any) error) error) error {
	rows, err := s.read.QueryContext(ctx, query, args...)
	if err != nil {
		return s.fault(err)
	}
	defer rows.Close()
	for rows.Next() {
		if err := f(rows.Scan); err != nil {
			return s.fault(err)
		}
	}
	return s.fault(rows.Err())
}

func fill(id *batch.ID, raw []byte) error {
	if copy(id[:], raw) != len(id) || len(raw) != len(id) {
		return fmt.Errorf("an id of %d bytes", len(raw))
	}
	return nil
}

// Find gives an entry by its id, and whether it is there.
func (s *Store) Find(ctx context.Context, id batch.ID) (e batch.Entry, found bool, err error) {
	var form []byte
	err = s.read.QueryRowContext(ctx, `SELECT form FROM entry WHERE cellar = ? AND id = ?`, s.cellar[:], id[:]).Scan(&form)
	if errors.Is(err, sql.ErrNoRows) {
		return e, false, nil
	}
	if err == nil {
		e, err = batch.ReadForm(form)
	}
	return e, err == nil, s.fault(err)
}

// imports looks up the entries with which others came; the bytes are those of "kind":"import" in a canonical form, as in
// the index of these few.
const imports = `SELECT form FROM entry WHERE cellar = ? AND instr(form, X'226B696E64223A22696D706F727422') > 0 ORDER BY batch, position`

// Imports are the entries with which others came, in storing order within each log.
func (s *Store) Imports(ctx context.Context) ([]batch.Entry, error) {
	return s.those(ctx, func(e *batch.Entry) bool { return e.Kind == batch.KindImport }, imports, s.cellar[:])
}

// superseding looks up the entries of a log that correct or take back others; the bytes are those of "supersedes":" in a
// canonical form, as in their index. Within a text such marks are escaped.
const superseding = `SELECT form FROM entry WHERE cellar = ? AND batch = ? AND instr(form, X'2273757065727365646573223A22') > 0 ORDER BY position`

// Superseding are the entries of a log that correct or take back others, in storing order.
func (s *Store) Superseding(ctx context.Context, id batch.ID) ([]batch.Entry, error) {
	return s.those(ctx, func(e *batch.Entry) bool { return !e.Supersedes.IsZero() }, superseding, s.cellar[:], id[:])
}

// those are the entries meant among those whose forms a query gives.
func (s *Store) those(ctx context.Context, meant func(*batch.Entry) bool, query string, args ...any) (out []batch.Entry, err error) {
	err = s.rows(ctx, query, args, func(scan func(...any) error) error {
		var form []byte
		if err := scan(&form); err != nil {
			return err
		}
		e, err := batch.ReadForm(form)
		if err == nil && meant(&e) {
			out = append(out, e)
		}
		return err
	})
	return out, err
}

// Extent is what a cellar holds, in numbers.
type Extent struct {
	Schema      int64
	Logs        int
	Entries     int64
	First, Last time.Time // of the entries, zero where there are none
}

// Extent counts without reading the entries.
func (s *Store) Extent(ctx context.Context) (x Extent, err error) {
	if x.Schema, err = version(ctx, s.read); err != nil {
		return x, s.fault(err)
	}
	heads, err := s.Heads(ctx)
	if err != nil {
		return x, err
	}
	x.Logs = len(heads)
	for _, h := range heads {
		x.Entries += h.Position
		var first, last int64
		err := s.read.QueryRowContext(ctx, `SELECT (SELECT min(time) FROM entry WHERE cellar = ?1 AND batch = ?2), (SELECT max(time) FROM entry WHERE cellar = ?1 AND batch = ?2)`, s.cellar[:], h.Batch[:]).Scan(&first, &last) // each from the index
		if err != nil {
			return x, s.fault(err)
		}
		if from := time.Unix(0, first).UTC(); x.First.IsZero() || from.Before(x.First) {
			x.First = from
		}
		if to := time.Unix(0, last).UTC(); to.After(x.Last) {
			x.Last = to
		}
	}
	return x, nil
}
