// Package seeded fills a cellar with as many invented batches and readings as a test of speed asks for. The same seed
// gives the same cellar.
package seeded

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"spile/batch"
	"spile/internal/store"
	"spile/unit"
)

// Cellar says how much is in it.
type Cellar struct {
	Seed     uint64
	Vessels  int // each holds a batch still
	Batches  int // in all; those beyond the vessels have ended
	Readings int // of each batch
	Now      time.Time
}

// Million is a cellar of a million readings in two hundred batches, of which twenty are in their vessels.
func Million(now time.Time) Cellar { return Cellar{1, 20, 200, 5000, now} }

const (
	lasts  = 14 * 24 * time.Hour // a batch that has ended
	atOnce = 500                 // entries in one call
)

// Fill keeps the cellar in s. It gives the ids of the batches, those still in their vessels first.
func (c Cellar) Fill(ctx context.Context, s *store.Store) ([]batch.ID, error) {
	f := filler{c, s, rand.New(rand.NewPCG(c.Seed, 0xce11a)), nil}
	vessels := make([]batch.ID, c.Vessels)
	for i := range vessels {
		at := c.Now.Add(-3 * 365 * 24 * time.Hour)
		e, err := f.entry(batch.ID{}, batch.KindThing, at, map[string]any{"is": "vessel", "name": fmt.Sprintf("Vessel %02d", i+1), "capacity_m3": 0.025, "diameter_m": 0.3, "rating_pa": 250e3, "safety_relief_pa": 240e3})
		if err != nil {
			return nil, err
		}
		vessels[i] = e.ID
		if err := f.add(ctx, e); err != nil {
			return nil, err
		}
	}
	var ids []batch.ID
	for n := range c.Batches {
		begins, ends := c.Now.Add(-lasts*2/3), time.Time{}
		if back := n / max(c.Vessels, 1); back > 0 {
			begins = c.Now.Add(-time.Duration(back+1) * lasts * 11 / 10)
			ends = begins.Add(lasts)
		}
		id, err := f.batch(ctx, fmt.Sprintf("Batch %03d", n+1), vessels[n%len(vessels)], begins, ends)
		if err != nil {
			return nil, err
		}
		ids = append(ids, id)
	}
	return ids, f.flush(ctx)
}

type filler struct {
	Cellar
	store *store.Store
	rng   *rand.Rand
	wait  []batch.Entry
}

func (f *filler) entry(id batch.ID, kind batch.Kind, at time.Time, says any) (batch.Entry, error) {
	var chance [10]byte
	for i := range chance {
		chance[i] = byte(f.rng.Uint32())
	}
	body, err := batch.EncodeBody(says)
	return batch.Entry{ID: batch.NewID(at, chance), Batch: id, Kind: kind, At: at, Made: at, By: "seeded", Body: body}, err
}

func (f *filler) add(ctx context.Context, e batch.Entry) error {
	if f.wait = append(f.wait, e); len(f.wait) < atOnce {
		return nil
	}
	return f.flush(ctx)
}

func (f *filler) flush(ctx context.Context) error {
	_, err := f.store.Append(ctx, f.wait...)
	f.wait = f.wait[:0]
	return err
}

// batch keeps a batch with its readings, and its end where it has one.
func (f *filler) batch(ctx context.Context, name string, vessel batch.ID, begins, ends time.Time) (batch.ID, error) {
	rating, relief := unit.Gauge(250e3), unit.Gauge(240e3)
	made, err := f.entry(batch.ID{}, batch.KindBatch, begins, batch.Record{
		Batch: batch.Batch{Name: name, Pitched: begins, Yeast: batch.Yeast{Kind: "ale"}, Wort: batch.Wort{Volume: 0.021, Gravity: 1.046},
			Vessel: batch.Vessel{Capacity: 0.025, Diameter: 0.3, Rating: &rating, SafetyRelief: &relief}, Place: batch.Place{Ambient: 293.15}},
		Uses: batch.Uses{Vessel: vessel},
	})
	if err != nil {
		return made.ID, err
	}
	made.Batch = made.ID
	if err := f.add(ctx, made); err != nil {
		return made.ID, err
	}
	last := ends
	if last.IsZero() {
		last = f.Now
	}
	for i := range f.Readings {
		at := begins.Add(last.Sub(begins) * time.Duration(i+1) / time.Duration(f.Readings+1)).Truncate(time.Second)
		said := f.reading(i, at.Sub(begins).Hours())
		e, err := f.entry(made.ID, batch.KindReading, at, said)
		if err != nil {
			return made.ID, err
		}
		if said.Instrument != "" {
			e.By = batch.DeviceBy(said.Instrument)
		}
		if err := f.add(ctx, e); err != nil {
			return made.ID, err
		}
	}
	if ends.IsZero() {
		return made.ID, nil
	}
	e, err := f.entry(made.ID, batch.KindJudgement, ends, &batch.Judgement{Verdict: batch.Emptied})
	if err != nil {
		return made.ID, err
	}
	return made.ID, f.add(ctx, e)
}

// reading is the i-th of a batch, so many hours after pitching: mostly of a gauge and a probe, now and then of a hydrometer.
func (f *filler) reading(i int, hours float64) *batch.Said {
	said := &batch.Said{}
	done := 1 / (1 + math.Exp(-(hours-40)/12))
	switch {
	case i%500 == 250:
		said.Put(batch.Gravity, math.Round((1.046-0.035*done+0.0007*f.rng.NormFloat64())*1e4)/1e4)
	case i%2 == 0:
		said.Put(batch.Pressure, math.Round(70e3*math.Min(2*done, 1)+350*f.rng.NormFloat64()))
		said.Instrument = "transducer"
	default:
		said.Put(batch.Temperature, math.Round((293.15+0.1*f.rng.NormFloat64())*100)/100)
		said.Instrument = "probe"
	}
	return said
}
