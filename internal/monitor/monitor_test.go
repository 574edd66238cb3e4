package monitor

import (
	"context"
	"errors"
	"log/slog"
	"testing"
	"time"

	"spile/batch"
	"spile/internal/store"
)

// pitched is when the batches of these tests begin.
var pitched = time.Date(2026, 3, 2, 18, 0, 0, 0, time.UTC)

func hours(h float64) time.Time { return pitched.Add(time.Duration(h * float64(time.Hour))) }

// watching is a watch over an empty cellar in memory, with a clock that stands.
func watching(t testing.TB, now *time.Time) *Watch {
	t.Helper()
	s, err := store.OpenMemory()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return New(s, slog.New(slog.DiscardHandler), func() time.Time { return *now })
}

func body(t testing.TB, v any) []byte {
	t.Helper()
	b, err := batch.EncodeBody(v)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func entry(t testing.TB, id batch.ID, kind batch.Kind, at time.Time, says any) batch.Entry {
	t.Helper()
	return batch.Entry{ID: store.NewID(), Batch: id, Kind: kind, At: at, Made: at, By: "test", Body: body(t, says)}
}

// pale is an ordinary batch of these tests (invented).
func pale(name string, vessel batch.ID) batch.Record {
	return batch.Record{
		Batch: batch.Batch{
			Name: name, Pitched: pitched,
			Wort: batch.Wort{Volume: 0.021, Gravity: 1.046}, Vessel: batch.Vessel{Capacity: 0.025, Diameter: 0.3},
			Place: batch.Place{Ambient: 293.15},
		},
		Uses: batch.Uses{Vessel: vessel},
	}
}

func begin(t testing.TB, w *Watch, r batch.Record) batch.ID {
	t.Helper()
	id := store.NewID()
	e := entry(t, id, batch.KindBatch, r.Pitched, r)
	e.ID = id
	keep(t, w, e)
	return id
}

func keep(t testing.TB, w *Watch, entries ...batch.Entry) {
	t.Helper()
	if _, err := w.Keep(context.Background(), entries...); err != nil {
		t.Fatal(err)
	}
}

func read(t testing.TB, id batch.ID, at time.Time, q batch.Quantity, v float64) batch.Entry {
	t.Helper()
	var s batch.Said
	s.Put(q, v)
	return entry(t, id, batch.KindReading, at, &s)
}

func TestAReadingIsTakenInAndTold(t *testing.T) {
	now := hours(50)
	w := watching(t, &now)
	ctx, end := context.WithCancel(context.Background())
	done := make(chan error)
	go func() { done <- w.Run(ctx) }()
	defer func() { end(); <-done }()
	id := begin(t, w, pale("Sluice Gate Pale", batch.ID{}))
	changes, stop := w.Follow()
	defer stop()
	keep(t, w, read(t, id, hours(48), batch.Gravity, 1.030))
	s, err := w.Settle(ctx, id, time.Minute)
	if err != nil || !s.Fresh() || s.Failed != "" {
		t.Fatal(s, err)
	}
	if b := s.Told.Forecast.Now.Gravity; b.P05 < 1.02 || b.P95 > 1.034 {
		t.Errorf("gravity two hours after a reading of 1.030: got %+v", b)
	}
	if c := <-changes; c.Batch != id || c.Position != 2 {
		t.Errorf("told %+v, want the reading at position 2", c)
	}
	round, err := w.Round(ctx)
	if err != nil || len(round) != 1 || round[0].Seen.ID != id {
		t.Errorf("round: %v, %v", round, err)
	}
	if _, err := w.See(ctx, store.NewID()); !errors.Is(err, ErrNoBatch) {
		t.Errorf("a batch that is not there: %v", err)
	}
	if a, err := w.Try(ctx, id, nil, 3*24*3600); err != nil || len(a.Series.Hours) < 30 {
		t.Errorf("try: %v, %v", a, err)
	}
}
