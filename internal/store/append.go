package store

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/ncruces/go-sqlite3"

	"spile/batch"
)

// Kept is what became of an entry.
type Kept struct {
	Position int64 // in its log, from 1
	Known    bool  // it was there already, and is one entry still
}

// ErrOther is why an entry is refused whose id another one has.
var ErrOther = errors.New("another line has this id")

// mostTogether is how many calls of Append one transaction takes, so that none waits long.
const mostTogether = 512

// request is one call of Append: all of its entries are kept, or none. Or it is a writing of
// what is derived, in a transaction of its own.
type request struct {
	entries []batch.Entry
	forms   [][]byte
	derived func(ctx context.Context, c *sql.Conn) error
	kept    []Kept
	err     error
	done    chan struct{}
}

// Append keeps entries in the order given, all or none. It returns when they are on
// the disk. An entry that is there already is not kept twice; one with the id of a
// different entry is refused with ErrOther. Where ctx ends before the entries are
// handed over nothing is kept; after that their fate is waited for.
func (s *Store) Append(ctx context.Context, entries ...batch.Entry) ([]Kept, error) {
	r := &request{entries: entries, done: make(chan struct{})}
	for i := range entries {
		e := &entries[i]
		if err := e.Check(); err != nil {
			return nil, &Fault{Usage: true, Sentence: fmt.Sprintf("line %s: %v", e.ID, err), Err: err}
		}
		form, err := e.Form()
		if err != nil {
			return nil, &Fault{Usage: true, Sentence: fmt.Sprintf("line %s: %v", e.ID, err), Err: err}
		}
		r.forms = append(r.forms, form)
	}
	if err := s.hand(ctx, r); err != nil {
		return nil, err
	}
	<-r.done
	return r.kept, s.fault(r.err)
}

// derive has what is derived written, whole or not at all, behind the entries that wait.
func (s *Store) derive(ctx context.Context, write func(ctx context.Context, c *sql.Conn) error) error {
	r := &request{derived: write, done: make(chan struct{})}
	if err := s.hand(ctx, r); err != nil {
		return err
	}
	<-r.done
	if errors.Is(r.err, ErrLease) {
		return ErrLease
	}
	return s.fault(r.err)
}

// hand gives r to the writer.
func (s *Store) hand(ctx context.Context, r *request) error {
	s.sending.RLock()
	defer s.sending.RUnlock()
	if s.closed || s.in == nil {
		return &Fault{Sentence: s.dir + ": the cellar is not open for writing"}
	}
	select {
	case s.in <- r:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// writer is the one goroutine that writes.
type writer struct {
	s      *Store
	conn   *sql.Conn
	known  *sql.Stmt
	head   *sql.Stmt
	insert *sql.Stmt
	raise  *sql.Stmt
	failed error // the disk has failed: nothing more is tried on it

	last int           // requests in the last transaction
	took time.Duration // by it
}

func newWriter(s *Store) (*writer, error) {
	ctx := context.Background()
	conn, err := s.write.Conn(ctx)
	if err != nil {
		return nil, err
	}
	w := &writer{s: s, conn: conn}
	for _, p := range []struct {
		to    **sql.Stmt
		query string
	}{
		{&w.known, `SELECT position, form FROM entry WHERE cellar = ? AND id = ?`},
		{&w.head, `SELECT head, sum FROM batch WHERE cellar = ? AND id = ?`},
		{&w.insert, `INSERT INTO entry (cellar, id, batch, position, time, form, sum) VALUES (?, ?, ?, ?, ?, ?, ?)`},
		{&w.raise, `INSERT INTO batch (cellar, id, head, sum) VALUES (?, ?, ?, ?) ON CONFLICT (cellar, id) DO UPDATE SET head = excluded.head, sum = excluded.sum`},
	} {
		if *p.to, err = conn.PrepareContext(ctx, p.query); err != nil {
			return nil, errors.Join(err, conn.Close())
		}
	}
	return w, nil
}

// run keeps what comes until the channel is closed: what waits, in one transaction.
func (w *writer) run() {
	defer w.close()
	for first := range w.s.in {
		together := w.gather(first)
		derived := slices.DeleteFunc(slices.Clone(together), func(r *request) bool { return r.derived == nil })
		together = slices.DeleteFunc(together, func(r *request) bool { return r.derived != nil })
		if len(together) > 0 {
			started := time.Now()
			w.keep(together, func(ctx context.Context) error { return w.entries(ctx, together) })
			w.last, w.took = len(together), time.Since(started)
		}
		for _, r := range derived {
			w.keep([]*request{r}, func(ctx context.Context) error { return r.derived(ctx, w.conn) })
		}
	}
}

// gather takes what waits. Those whom the last transaction woke come back one by one: as
// many as it had are waited for, but at most a quarter of the time it took, or the first
// to come back would have a transaction alone and the others would wait for it.
func (w *writer) gather(first *request) []*request {
	together := append(make([]*request, 0, w.last+1), first)
	late := time.After(w.took / 4)
	for len(together) < mostTogether && (len(together) < w.last || len(w.s.in) > 0) {
		select {
		case r, open := <-w.s.in:
			if !open {
				return together
			}
			together = append(together, r)
		case <-late:
			return together
		}
	}
	return together
}

func (w *writer) close() {
	for _, stmt := range []*sql.Stmt{w.known, w.head, w.insert, w.raise} {
		stmt.Close()
	}
	w.conn.Close()
}

// keep stores all of the requests that can be, and wakes everybody after the commit.
func (w *writer) keep(together []*request, write func(ctx context.Context) error) {
	err := w.failed
	if err == nil {
		err = w.transaction(write)
	}
	if errors.Is(err, sqlite3.IOERR) { // a sync that failed may have lost what it should have written: never try it again
		w.failed = err
	}
	for _, r := range together {
		if err != nil && r.err == nil {
			r.err = err
		}
		if r.err != nil {
			r.kept = nil
		}
		close(r.done)
	}
}

// end is the end of one log within a transaction.
type end struct {
	head   int64
	sum    batch.Sum
	raised bool
}

// transaction writes whole or not at all.
func (w *writer) transaction(write func(ctx context.Context) error) (err error) {
	ctx := context.Background()
	if _, err = w.conn.ExecContext(ctx, `BEGIN IMMEDIATE`); err != nil {
		return err
	}
	defer func() {
		if err != nil {
			w.conn.ExecContext(ctx, `ROLLBACK`) //nolint: where SQLite has rolled back already there is none left to do
		}
	}()
	if err = write(ctx); err != nil {
		return err
	}
	_, err = w.conn.ExecContext(ctx, `COMMIT`)
	return err
}

// entries stores what the requests bring, and raises the ends of their logs.
func (w *writer) entries(ctx context.Context, together []*request) error {
	ends := map[batch.ID]*end{}
	for _, r := range together {
		if err := w.one(ctx, r, ends); err != nil {
			return err
		}
	}
	for id, e := range ends {
		if !e.raised {
			continue
		}
		if _, err := w.raise.ExecContext(ctx, w.s.cellar[:], id[:], e.head, e.sum[:]); err != nil {
			return err
		}
	}
	return nil
}

// one stores a request, or refuses it whole in r.err. What it returns ends the transaction.
func (w *writer) one(ctx context.Context, r *request, ends map[batch.ID]*end) error {
	r.kept = make([]Kept, len(r.entries))
	within := map[batch.ID]int{} // a request may name an id twice
	for i := range r.entries {
		k, form, err := w.find(ctx, r.entries[i].ID)
		if err != nil {
			return err
		}
		if first, twice := within[r.entries[i].ID]; twice {
			k.Known, form = true, r.forms[first]
		}
		if within[r.entries[i].ID] = i; k.Known && !bytes.Equal(form, r.forms[i]) {
			r.err = &Fault{Usage: true, Sentence: "line " + r.entries[i].ID.String() + ": " + ErrOther.Error() + "; accepted: a new id for what is new", Err: ErrOther}
			return nil
		}
		r.kept[i] = k
	}
	for i := range r.entries {
		if r.kept[i].Known {
			continue
		}
		e, err := w.end(ctx, r.entries[i].Batch, ends)
		if err != nil {
			return err
		}
		if err := w.add(ctx, &r.entries[i], r.forms[i], e); err != nil {
			return err
		}
		r.kept[i].Position = e.head
	}
	return nil
}

func (w *writer) find(ctx context.Context, id batch.ID) (k Kept, form []byte, err error) {
	err = w.known.QueryRowContext(ctx, w.s.cellar[:], id[:]).Scan(&k.Position, &form)
	if errors.Is(err, sql.ErrNoRows) {
		return k, nil, nil
	}
	k.Known = true
	return k, form, err
}

// end is the end of a log as this transaction has it so far.
func (w *writer) end(ctx context.Context, id batch.ID, ends map[batch.ID]*end) (*end, error) {
	if e := ends[id]; e != nil {
		return e, nil
	}
	e := &end{sum: batch.FirstSum()}
	var sum []byte
	err := w.head.QueryRowContext(ctx, w.s.cellar[:], id[:]).Scan(&e.head, &sum)
	if err == nil && copy(e.sum[:], sum) != len(e.sum) {
		err = sqlite3.CORRUPT
	}
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return nil, err
	}
	ends[id] = e
	return e, nil
}

func (w *writer) add(ctx context.Context, x *batch.Entry, form []byte, e *end) error {
	e.head++
	e.sum = e.sum.Next(form)
	e.raised = true
	_, err := w.insert.ExecContext(ctx, w.s.cellar[:], x.ID[:], x.Batch[:], e.head, x.At.UnixNano(), form, e.sum[:])
	return err
}
