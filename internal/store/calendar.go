package store

import (
	"bytes"
	"context"
	"crypto/rand"
	"crypto/sha256"
	"database/sql"
	"errors"
	"fmt"
	"strings"
	"time"

	"spile/batch"
)

// Calendar is an address at which a calendar program reads what comes.
type Calendar struct {
	ID       batch.ID
	Person   batch.ID // whose it is; zero: of somebody at this machine who did not log in
	Name     string
	Words    string // the units chosen when it was made, as the settings write them
	Zone     string // of time, the same; empty: that of each batch
	Language string // the same, by its code; empty: English
	Made     time.Time
}

// calendarSchema is the first schema that knows calendars and what was put off.
const calendarSchema = 4

// languageSchema is the first schema that knows the language of a calendar.
const languageSchema = 8

// mostCalendars is how many addresses one person may have.
const mostCalendars = 20

// newKey is a key that nobody guesses, and what is kept of it.
func newKey() (key string, sum [sha256.Size]byte) {
	var chance [20]byte
	rand.Read(chance[:]) //nolint: it never fails (crypto/rand, Go 1.24)
	key = strings.ToLower(keyLetters.EncodeToString(chance[:]))
	return key, sha256.Sum256([]byte(key))
}

// AddCalendar makes an address of somebody, by its name, units, zone and language. The key is told here alone.
func (s *Store) AddCalendar(ctx context.Context, c Calendar) (_ Calendar, key string, err error) {
	if c.Name, err = tidyName(c.Name); err != nil {
		return c, "", err
	}
	key, sum := newKey()
	c.ID, c.Made = NewID(), time.Now().UTC()
	return c, key, s.change(ctx, func(ctx context.Context, conn *sql.Conn) error {
		var n int
		if err := conn.QueryRowContext(ctx, `SELECT count(*) FROM calendar WHERE cellar = ? AND person = ?`, s.cellar[:], c.Person[:]).Scan(&n); err != nil {
			return err
		}
		if n >= mostCalendars {
			return misused("there are %d addresses for calendars already; withdraw one first", n)
		}
		_, err := conn.ExecContext(ctx, `INSERT INTO calendar (cellar, id, person, name, words, zone, language, sum, made) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)`,
			s.cellar[:], c.ID[:], c.Person[:], c.Name, c.Words, c.Zone, c.Language, sum[:], moment(c.Made))
		return err
	})
}

// calendarColumns are those of a calendar in the order in which readCalendar takes them.
func (s *Store) calendarColumns() string {
	language := "language"
	if s.schema < languageSchema {
		language = "''"
	}
	return `SELECT id, person, name, words, zone, ` + language + `, made FROM calendar WHERE cellar = ?`
}

func readCalendar(scan func(...any) error) (c Calendar, err error) {
	var id, person []byte
	var made int64
	if err = scan(&id, &person, &c.Name, &c.Words, &c.Zone, &c.Language, &made); err != nil {
		return c, err
	}
	c.Made = ofMoment(made)
	return c, errors.Join(fill(&c.ID, id), fill(&c.Person, person))
}

// Calendars are all addresses, in the order in which they were made.
func (s *Store) Calendars(ctx context.Context) (out []Calendar, err error) {
	if s.schema < calendarSchema {
		return nil, nil
	}
	err = s.rows(ctx, s.calendarColumns()+` ORDER BY made, id`, []any{s.cellar[:]}, func(scan func(...any) error) error {
		c, err := readCalendar(scan)
		out = append(out, c)
		return err
	})
	return out, err
}

// CalendarOf is the calendar that a key opens, and whether there is one.
func (s *Store) CalendarOf(ctx context.Context, key string) (c Calendar, found bool, err error) {
	sum := sha256.Sum256([]byte(key))
	c, err = readCalendar(s.read.QueryRowContext(ctx, s.calendarColumns()+` AND sum = ?`, s.cellar[:], sum[:]).Scan)
	if errors.Is(err, sql.ErrNoRows) {
		return c, false, nil
	}
	return c, err == nil, s.fault(err)
}

// WithdrawCalendar makes the key of an address worthless.
func (s *Store) WithdrawCalendar(ctx context.Context, id batch.ID) error {
	return s.change(ctx, func(ctx context.Context, c *sql.Conn) error {
		done, err := c.ExecContext(ctx, `DELETE FROM calendar WHERE cellar = ? AND id = ?`, s.cellar[:], id[:])
		if err := s.found(done, err, "there is no address for a calendar under %.60q; it was withdrawn already", id.String()); err != nil {
			return err
		}
		return s.forgetEvents(ctx, c)
	})
}

// forgetEvents lets go of the events of calendars that are gone.
func (s *Store) forgetEvents(ctx context.Context, c *sql.Conn) error {
	_, err := c.ExecContext(ctx, `DELETE FROM calendar_event WHERE cellar = ?1 AND calendar NOT IN (SELECT id FROM calendar WHERE cellar = ?1)`, s.cellar[:])
	return err
}

// Revision tells how often an event was changed since it was first told, and when last.
type Revision struct {
	Sequence int64
	Revised  time.Time
}

// Revise compares what a calendar tells now, a checksum under each uid, with what it told last, and
// gives the revision of each. One that vanished and comes again goes on where it was.
func (s *Store) Revise(ctx context.Context, calendar batch.ID, now time.Time, sums map[string][]byte) (map[string]Revision, error) {
	last, told, err := s.revisions(ctx, calendar)
	if err != nil {
		return nil, err
	}
	out, fresh := map[string]Revision{}, false
	for uid, sum := range sums {
		r, known := last[uid]
		if !bytes.Equal(told[uid], sum) {
			fresh, r.Revised = true, now.UTC().Truncate(time.Second)
			if known {
				r.Sequence++
			}
		}
		out[uid] = r
	}
	if !fresh {
		return out, nil
	}
	return out, s.change(ctx, func(ctx context.Context, c *sql.Conn) error {
		for uid, sum := range sums {
			if _, err := c.ExecContext(ctx, `INSERT INTO calendar_event (cellar, calendar, uid, sum, sequence, revised) VALUES (?, ?, ?, ?, ?, ?)
				ON CONFLICT (cellar, calendar, uid) DO UPDATE SET sum = excluded.sum, sequence = excluded.sequence, revised = excluded.revised`,
				s.cellar[:], calendar[:], uid, sum, out[uid].Sequence, moment(out[uid].Revised)); err != nil {
				return fmt.Errorf("event %s: %w", uid, err)
			}
		}
		return s.forgetEvents(ctx, c) // it may have been withdrawn meanwhile
	})
}

// revisions are what a calendar told last.
func (s *Store) revisions(ctx context.Context, calendar batch.ID) (last map[string]Revision, told map[string][]byte, err error) {
	last, told = map[string]Revision{}, map[string][]byte{}
	err = s.rows(ctx, `SELECT uid, sum, sequence, revised FROM calendar_event WHERE cellar = ? AND calendar = ?`, []any{s.cellar[:], calendar[:]}, func(scan func(...any) error) error {
		var uid string
		var sum []byte
		var r Revision
		var revised int64
		if err := scan(&uid, &sum, &r.Sequence, &revised); err != nil {
			return err
		}
		r.Revised = ofMoment(revised)
		last[uid], told[uid] = r, sum
		return nil
	})
	return last, told, err
}
