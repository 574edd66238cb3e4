package store

import (
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"time"

	"spile/batch"
)

// What is derived can be made again from the logs. It is kept so that it need not be. Each
// row carries a checksum of itself: one that does not fit is taken for not there.

// derivedSchema is the first schema that keeps what is derived.
const derivedSchema = 2

// Brief is a batch in short, as its log up to a position tells it.
type Brief struct {
	Batch    batch.ID
	Position int64
	Name     string // empty: never made, or its making was taken back
	Vessel   batch.ID
	Yeast    string // the name under which its yeast is learnt
	Pitched  time.Time
	Ended    time.Time // zero: still in its vessel
	Last     time.Time // when something was last read or done
	Hours    []byte    // checksum of its hours, see [SumHours]
}

// Hour is what was read of one quantity within an hour, SI.
type Hour struct {
	Quantity        batch.Quantity
	Hour            int64 // since 1970
	Count           int64
	Lowest, Highest float64
	Sum, Last       float64
}

// Belief is what is believed of a batch, put away, with the forecast made of it.
type Belief struct {
	Batch           batch.ID
	Position        int64 // of its log, that the forecast knows
	Things          int64 // of the cellar's own log, the same
	Made            time.Time
	Engine          string // version of what computed it
	Prior, Evidence []byte // checksums of what was expected, and of the records that the members know
	Seed            uint64
	Upto            time.Time // the last thing that the members know
	Base            time.Time // the hour that they were conditioned for
	Members, Told   []byte
}

// Lesson is what a finished batch taught.
type Lesson struct {
	Batch    batch.ID
	Evidence []byte
	Engine   string
	Taught   []byte
}

// ErrLease says that another one has the lease by now.
var ErrLease = errors.New("the lease has passed to another one")

// seal is the checksum of a row.
func seal(parts ...any) []byte {
	h := sha256.New()
	for _, p := range parts {
		var raw []byte
		switch v := p.(type) {
		case []byte:
			raw = v
		case string:
			raw = []byte(v)
		case int64:
			raw = binary.BigEndian.AppendUint64(nil, uint64(v))
		case float64:
			raw = binary.BigEndian.AppendUint64(nil, math.Float64bits(v))
		default:
			panic(fmt.Sprintf("a %T cannot be sealed", p))
		}
		h.Write(binary.BigEndian.AppendUint64(nil, uint64(len(raw))))
		h.Write(raw)
	}
	return h.Sum(nil)
}

// moment is t for a column: nanoseconds since 1970, 0 where it is zero.
func moment(t time.Time) int64 {
	if t.IsZero() {
		return 0
	}
	return t.UnixNano()
}

func ofMoment(n int64) time.Time {
	if n == 0 {
		return time.Time{}
	}
	return time.Unix(0, n).UTC()
}

// derives tells whether the file keeps what is derived: an older one opened for reading does not.
func (s *Store) derives() bool { return s.schema >= derivedSchema }

// SumHours is the checksum of the hours of a batch, in the order in which [Store.Hours] gives them.
func SumHours(hours []Hour) []byte {
	parts := make([]any, 0, 7*len(hours))
	for _, h := range hours {
		parts = append(parts, int64(h.Quantity), h.Hour, h.Count, h.Lowest, h.Highest, h.Sum, h.Last)
	}
	return seal(parts...)
}

func (b *Brief) seal() []byte {
	return seal(b.Batch[:], b.Position, b.Name, b.Vessel[:], b.Yeast, moment(b.Pitched), moment(b.Ended), moment(b.Last), b.Hours)
}

// Briefs are the batches in short that are kept and sound.
func (s *Store) Briefs(ctx context.Context) (out []Brief, err error) {
	if !s.derives() {
		return nil, nil
	}
	err = s.rows(ctx, `SELECT batch, position, name, vessel, yeast, pitched, ended, last, hours, sum FROM brief WHERE cellar = ?`, []any{s.cellar[:]}, func(scan func(...any) error) error {
		var b Brief
		var id, vessel, sum []byte
		var pitched, ended, last int64
		if err := scan(&id, &b.Position, &b.Name, &vessel, &b.Yeast, &pitched, &ended, &last, &b.Hours, &sum); err != nil {
			return err
		}
		b.Pitched, b.Ended, b.Last = ofMoment(pitched), ofMoment(ended), ofMoment(last)
		if fill(&b.Batch, id) == nil && fill(&b.Vessel, vessel) == nil && bytes.Equal(b.seal(), sum) {
			out = append(out, b)
		}
		return nil
	})
	return out, err
}

// KeepBrief keeps a batch in short. The hours are of those from an hour on: earlier ones stay.
func (s *Store) KeepBrief(ctx context.Context, b Brief, hours []Hour, from int64) error {
	return s.derive(ctx, func(ctx context.Context, c *sql.Conn) error {
		if _, err := c.ExecContext(ctx, `DELETE FROM sample_hour WHERE cellar = ? AND batch = ? AND hour >= ?`, s.cellar[:], b.Batch[:], from); err != nil {
			return err
		}
		for _, h := range hours {
			if h.Hour < from {
				continue
			}
			if _, err := c.ExecContext(ctx, `INSERT INTO sample_hour (cellar, batch, quantity, hour, count, lowest, highest, sum, last) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)`,
				s.cellar[:], b.Batch[:], int64(h.Quantity), h.Hour, h.Count, h.Lowest, h.Highest, h.Sum, h.Last); err != nil {
				return err
			}
		}
		return s.replace(ctx, c, "brief", b.Batch, `INSERT INTO brief (cellar, batch, position, name, vessel, yeast, pitched, ended, last, hours, sum) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
			s.cellar[:], b.Batch[:], b.Position, b.Name, b.Vessel[:], b.Yeast, moment(b.Pitched), moment(b.Ended), moment(b.Last), b.Hours, b.seal())
	})
}

// Hours are what was read of a batch by quantity and hour, in this order.
func (s *Store) Hours(ctx context.Context, id batch.ID) (out []Hour, err error) {
	if !s.derives() {
		return nil, nil
	}
	err = s.rows(ctx, `SELECT quantity, hour, count, lowest, highest, sum, last FROM sample_hour WHERE cellar = ? AND batch = ? ORDER BY quantity, hour`, []any{s.cellar[:], id[:]}, func(scan func(...any) error) error {
		var h Hour
		if err := scan(&h.Quantity, &h.Hour, &h.Count, &h.Lowest, &h.Highest, &h.Sum, &h.Last); err != nil {
			return err
		}
		out = append(out, h)
		return nil
	})
	return out, err
}

func (b *Belief) seal() []byte {
	return seal(b.Batch[:], b.Position, b.Things, moment(b.Made), b.Engine, b.Prior, b.Evidence, int64(b.Seed), moment(b.Upto), moment(b.Base), b.Members, b.Told)
}

// Marks are the beliefs that are kept, without members and forecast; whether they are sound is seen when one is read whole.
func (s *Store) Marks(ctx context.Context) (out []Belief, err error) {
	if !s.derives() {
		return nil, nil
	}
	err = s.rows(ctx, `SELECT batch, position, things, made, engine, prior FROM belief WHERE cellar = ?`, []any{s.cellar[:]}, func(scan func(...any) error) error {
		var b Belief
		var id []byte
		var made int64
		if err := scan(&id, &b.Position, &b.Things, &made, &b.Engine, &b.Prior); err != nil {
			return err
		}
		if b.Made = ofMoment(made); fill(&b.Batch, id) == nil {
			out = append(out, b)
		}
		return nil
	})
	return out, err
}

// Belief is what is believed of a batch, nil where nothing sound is kept.
func (s *Store) Belief(ctx context.Context, id batch.ID) (*Belief, error) {
	if !s.derives() {
		return nil, nil
	}
	b := Belief{Batch: id}
	var made, seed, upto, base int64
	var sum []byte
	err := s.read.QueryRowContext(ctx, `SELECT position, things, made, engine, prior, evidence, seed, upto, base, members, told, sum FROM belief WHERE cellar = ? AND batch = ?`, s.cellar[:], id[:]).
		Scan(&b.Position, &b.Things, &made, &b.Engine, &b.Prior, &b.Evidence, &seed, &upto, &base, &b.Members, &b.Told, &sum)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, nil
	}
	if err != nil {
		return nil, s.fault(err)
	}
	b.Made, b.Seed, b.Upto, b.Base = ofMoment(made), uint64(seed), ofMoment(upto), ofMoment(base)
	if !bytes.Equal(b.seal(), sum) {
		return nil, nil
	}
	return &b, nil
}

// KeepBelief keeps what is believed of a batch, for the one who holds its lease, and ends the
// lease; ErrLease where that has passed on. day, where there is one, is kept as the forecast
// of the day unless that has one.
func (s *Store) KeepBelief(ctx context.Context, holder batch.ID, b Belief, day []byte) error {
	return s.derive(ctx, func(ctx context.Context, c *sql.Conn) error {
		freed, err := c.ExecContext(ctx, `DELETE FROM lease WHERE cellar = ? AND batch = ? AND holder = ?`, s.cellar[:], b.Batch[:], holder[:])
		if err != nil {
			return err
		}
		if n, err := freed.RowsAffected(); err != nil || n == 0 {
			return errors.Join(err, ErrLease)
		}
		if err := s.replace(ctx, c, "belief", b.Batch, `INSERT INTO belief (cellar, batch, position, things, made, engine, prior, evidence, seed, upto, base, members, told, sum) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
			s.cellar[:], b.Batch[:], b.Position, b.Things, moment(b.Made), b.Engine, b.Prior, b.Evidence, int64(b.Seed), moment(b.Upto), moment(b.Base), b.Members, b.Told, b.seal()); err != nil {
			return err
		}
		if len(day) == 0 {
			return nil
		}
		n := b.Made.Unix() / (24 * 3600)
		_, err = c.ExecContext(ctx, `INSERT INTO forecast_day (cellar, batch, day, position, made, engine, told, sum) VALUES (?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING`,
			s.cellar[:], b.Batch[:], n, b.Position, moment(b.Made), b.Engine, day, seal(b.Batch[:], n, b.Position, moment(b.Made), b.Engine, day))
		return err
	})
}

// Days are the forecasts kept of a batch, one a day, the oldest first: when each was made, and what it told.
func (s *Store) Days(ctx context.Context, id batch.ID) (made []time.Time, told [][]byte, err error) {
	if !s.derives() {
		return nil, nil, nil
	}
	err = s.rows(ctx, `SELECT day, position, made, engine, told, sum FROM forecast_day WHERE cellar = ? AND batch = ? ORDER BY day`, []any{s.cellar[:], id[:]}, func(scan func(...any) error) error {
		var day, position, at int64
		var engine string
		var text, sum []byte
		if err := scan(&day, &position, &at, &engine, &text, &sum); err != nil {
			return err
		}
		if bytes.Equal(seal(id[:], day, position, at, engine, text), sum) {
			made, told = append(made, ofMoment(at)), append(told, text)
		}
		return nil
	})
	return made, told, err
}

// Lease gives the batch to holder until a time, unless somebody else has it now.
func (s *Store) Lease(ctx context.Context, id, holder batch.ID, now, until time.Time) (got bool, err error) {
	err = s.derive(ctx, func(ctx context.Context, c *sql.Conn) error {
		var one int
		err := c.QueryRowContext(ctx, `INSERT INTO lease (cellar, batch, holder, until) VALUES (?, ?, ?, ?)
			ON CONFLICT (cellar, batch) DO UPDATE SET holder = excluded.holder, until = excluded.until
			WHERE lease.until <= ? OR lease.holder = excluded.holder RETURNING 1`,
			s.cellar[:], id[:], holder[:], until.UnixNano(), now.UnixNano()).Scan(&one)
		if errors.Is(err, sql.ErrNoRows) {
			return nil
		}
		got = err == nil
		return err
	})
	return got && err == nil, err
}

// Release gives up a lease, where holder has it.
func (s *Store) Release(ctx context.Context, id, holder batch.ID) error {
	return s.derive(ctx, func(ctx context.Context, c *sql.Conn) error {
		_, err := c.ExecContext(ctx, `DELETE FROM lease WHERE cellar = ? AND batch = ? AND holder = ?`, s.cellar[:], id[:], holder[:])
		return err
	})
}

func (l *Lesson) seal() []byte { return seal(l.Batch[:], l.Evidence, l.Engine, l.Taught) }

// Lessons are the lessons that are kept and sound, without what they taught.
func (s *Store) Lessons(ctx context.Context) (out []Lesson, err error) {
	if !s.derives() {
		return nil, nil
	}
	err = s.rows(ctx, `SELECT batch, evidence, engine, taught, sum FROM lesson WHERE cellar = ?`, []any{s.cellar[:]}, func(scan func(...any) error) error {
		var l Lesson
		var id, sum []byte
		if err := scan(&id, &l.Evidence, &l.Engine, &l.Taught, &sum); err != nil {
			return err
		}
		if fill(&l.Batch, id) == nil && bytes.Equal(l.seal(), sum) {
			l.Taught = nil
			out = append(out, l)
		}
		return nil
	})
	return out, err
}

// Lesson is what a batch taught, nil where nothing sound is kept.
func (s *Store) Lesson(ctx context.Context, id batch.ID) (*Lesson, error) {
	if !s.derives() {
		return nil, nil
	}
	l := Lesson{Batch: id}
	var sum []byte
	err := s.read.QueryRowContext(ctx, `SELECT evidence, engine, taught, sum FROM lesson WHERE cellar = ? AND batch = ?`, s.cellar[:], id[:]).
		Scan(&l.Evidence, &l.Engine, &l.Taught, &sum)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return nil, s.fault(err)
	}
	if err != nil || !bytes.Equal(l.seal(), sum) {
		return nil, nil
	}
	return &l, nil
}

// KeepLesson keeps what a batch taught.
func (s *Store) KeepLesson(ctx context.Context, l Lesson) error {
	return s.derive(ctx, func(ctx context.Context, c *sql.Conn) error {
		return s.replace(ctx, c, "lesson", l.Batch, `INSERT INTO lesson (cellar, batch, evidence, engine, taught, sum) VALUES (?, ?, ?, ?, ?, ?)`,
			s.cellar[:], l.Batch[:], l.Evidence, l.Engine, l.Taught, l.seal())
	})
}

// replace puts a row in the place of the one that a table has of a batch.
func (s *Store) replace(ctx context.Context, c *sql.Conn, table string, id batch.ID, insert string, row ...any) error {
	if _, err := c.ExecContext(ctx, `DELETE FROM `+table+` WHERE cellar = ? AND batch = ?`, s.cellar[:], id[:]); err != nil {
		return err
	}
	_, err := c.ExecContext(ctx, insert, row...)
	return err
}
