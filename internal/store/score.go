package store

import (
	"bytes"
	"context"
	"database/sql"

	"spile/batch"
)

// scoreSchema is the first schema that keeps scores.
const scoreSchema = 5

// Score is how good the forecasts of days of one batch were about one thing.
type Score struct {
	Batch  batch.ID
	What   string  // finished, gravity or ready
	Days   int64   // forecasts that are kept
	Judged int64   // of these, made before it came; 0 where what came was never known well enough
	Held   int64   // of the judged, whose band held it
	Scored int64   // of the judged, whose band had two ends
	Sum    float64 // of their interval scores: seconds, or specific gravity
}

func (x *Score) seal() []byte {
	return seal(x.Batch[:], x.What, x.Days, x.Judged, x.Held, x.Scored, x.Sum)
}

// KeepScores keeps how good the forecasts of a batch were, in the place of what was kept before.
func (s *Store) KeepScores(ctx context.Context, id batch.ID, scores []Score) error {
	return s.derive(ctx, func(ctx context.Context, c *sql.Conn) error {
		if _, err := c.ExecContext(ctx, `DELETE FROM score WHERE cellar = ? AND batch = ?`, s.cellar[:], id[:]); err != nil {
			return err
		}
		for _, x := range scores {
			if _, err := c.ExecContext(ctx, `INSERT INTO score (cellar, batch, what, days, judged, held, scored, sum, seal) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)`,
				s.cellar[:], id[:], x.What, x.Days, x.Judged, x.Held, x.Scored, x.Sum, x.seal()); err != nil {
				return err
			}
		}
		return nil
	})
}

// Scores are how good the forecasts of all batches were that are kept and sound.
func (s *Store) Scores(ctx context.Context) (out []Score, err error) {
	if s.schema < scoreSchema {
		return nil, nil
	}
	err = s.rows(ctx, `SELECT batch, what, days, judged, held, scored, sum, seal FROM score WHERE cellar = ? ORDER BY batch, what`, []any{s.cellar[:]}, func(scan func(...any) error) error {
		var x Score
		var id, sum []byte
		if err := scan(&id, &x.What, &x.Days, &x.Judged, &x.Held, &x.Scored, &x.Sum, &sum); err != nil {
			return err
		}
		if fill(&x.Batch, id) == nil && bytes.Equal(x.seal(), sum) {
			out = append(out, x)
		}
		return nil
	})
	return out, err
}
