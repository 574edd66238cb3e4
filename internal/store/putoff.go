package store

import (
	"context"
	"database/sql"
	"time"

	"spile/batch"
)

// PutOff is something that somebody wants to be reminded of later.
type PutOff struct {
	Person batch.ID // zero: somebody at this machine who did not log in
	Batch  batch.ID
	What   string // the key of the action
	Until  time.Time
}

// PutOffUntil keeps that somebody wants to be reminded later, in the place of what was kept of it
// before, and lets go of all whose time has come.
func (s *Store) PutOffUntil(ctx context.Context, p PutOff, now time.Time) error {
	return s.change(ctx, func(ctx context.Context, c *sql.Conn) error {
		if _, err := c.ExecContext(ctx, `DELETE FROM put_off WHERE cellar = ? AND until <= ?`, s.cellar[:], moment(now)); err != nil {
			return err
		}
		_, err := c.ExecContext(ctx, `INSERT INTO put_off (cellar, person, batch, what, until) VALUES (?, ?, ?, ?, ?) ON CONFLICT (cellar, person, batch, what) DO UPDATE SET until = excluded.until`,
			s.cellar[:], p.Person[:], p.Batch[:], p.What, moment(p.Until))
		return err
	})
}

// Remind takes back that it was put off.
func (s *Store) Remind(ctx context.Context, p PutOff) error {
	return s.change(ctx, func(ctx context.Context, c *sql.Conn) error {
		_, err := c.ExecContext(ctx, `DELETE FROM put_off WHERE cellar = ? AND person = ? AND batch = ? AND what = ?`, s.cellar[:], p.Person[:], p.Batch[:], p.What)
		return err
	})
}

// PutOffs are what somebody has put off beyond now.
func (s *Store) PutOffs(ctx context.Context, person batch.ID, now time.Time) (out []PutOff, err error) {
	if s.schema < calendarSchema {
		return nil, nil
	}
	err = s.rows(ctx, `SELECT batch, what, until FROM put_off WHERE cellar = ? AND person = ? AND until > ?`, []any{s.cellar[:], person[:], moment(now)}, func(scan func(...any) error) error {
		p := PutOff{Person: person}
		var id []byte
		var until int64
		if err := scan(&id, &p.What, &until); err != nil {
			return err
		}
		p.Until = ofMoment(until)
		out = append(out, p)
		return fill(&out[len(out)-1].Batch, id)
	})
	return out, err
}
