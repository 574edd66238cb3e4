package store

import (
	"context"
	"database/sql"
	"errors"
	"time"
)

// Sessions keep what browsers that came in are known by. The names they are kept under are
// checksums already.
type Sessions struct{ s *Store }

// Sessions are those of this cellar.
func (s *Store) Sessions() Sessions { return Sessions{s} }

// FindCtx is a session that has not ended.
func (x Sessions) FindCtx(ctx context.Context, sum string) (data []byte, found bool, err error) {
	err = x.s.read.QueryRowContext(ctx, `SELECT data FROM session WHERE cellar = ? AND sum = ? AND until > ?`, x.s.cellar[:], sum, moment(time.Now())).Scan(&data)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, false, nil
	}
	return data, err == nil, x.s.fault(err)
}

// CommitCtx keeps a session, and lets go of those that have ended.
func (x Sessions) CommitCtx(ctx context.Context, sum string, data []byte, until time.Time) error {
	return x.s.change(ctx, func(ctx context.Context, c *sql.Conn) error {
		if _, err := c.ExecContext(ctx, `DELETE FROM session WHERE cellar = ? AND until <= ?`, x.s.cellar[:], moment(time.Now())); err != nil {
			return err
		}
		_, err := c.ExecContext(ctx, `INSERT INTO session (cellar, sum, data, until) VALUES (?, ?, ?, ?) ON CONFLICT (cellar, sum) DO UPDATE SET data = excluded.data, until = excluded.until`,
			x.s.cellar[:], sum, data, moment(until))
		return err
	})
}

// DeleteCtx ends a session.
func (x Sessions) DeleteCtx(ctx context.Context, sum string) error {
	return x.s.change(ctx, func(ctx context.Context, c *sql.Conn) error {
		_, err := c.ExecContext(ctx, `DELETE FROM session WHERE cellar = ? AND sum = ?`, x.s.cellar[:], sum)
		return err
	})
}

// Find is FindCtx.
func (x Sessions) Find(sum string) ([]byte, bool, error) { return x.FindCtx(context.Background(), sum) }

// Commit is CommitCtx.
func (x Sessions) Commit(sum string, data []byte, until time.Time) error {
	return x.CommitCtx(context.Background(), sum, data, until)
}

// Delete is DeleteCtx.
func (x Sessions) Delete(sum string) error { return x.DeleteCtx(context.Background(), sum) }
