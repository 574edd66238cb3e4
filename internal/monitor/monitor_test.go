package monitor

import (
	"bytes"
	"context"
	"errors"
	"log/slog"
	"strings"
	"sync"
	"testing"
	"time"

	"spile/batch"
	"spile/estimate"
	"spile/internal/store"
	"spile/unit"
)

var ctx = context.Background()

// pitched is when the batches of these tests begin.
var pitched = time.Date(2026, 3, 2, 18, 0, 0, 0, time.UTC)

func hours(h float64) time.Time { return pitched.Add(time.Duration(h * float64(time.Hour))) }

// clock is one that a test turns.
type clock struct {
	mu  sync.Mutex
	now time.Time
}

func (c *clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now
}

func (c *clock) set(t time.Time) { locked(&c.mu, func() { c.now = t }) }

// few members tell what these tests ask for, and are quick.
const few = 60

// over is a watch over a store, with a clock that stands.
func over(s *store.Store, c *clock) *Watch {
	w := New(s, slog.New(slog.DiscardHandler), c.Now)
	w.members = few
	return w
}

// inMemory is a watch over an empty cellar in memory.
func inMemory(t testing.TB, c *clock) *Watch {
	t.Helper()
	s, err := store.OpenMemory()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return over(s, c)
}

// inFile is a watch over the cellar in a folder.
func inFile(t testing.TB, dir string, c *clock) *Watch {
	t.Helper()
	s, err := store.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return over(s, c)
}

// everyStore runs a suite in memory and on a file.
func everyStore(t *testing.T, suite func(t *testing.T, w *Watch, c *clock)) {
	t.Run("memory", func(t *testing.T) { c := &clock{now: pitched}; suite(t, inMemory(t, c), c) })
	t.Run("file", func(t *testing.T) { c := &clock{now: pitched}; suite(t, inFile(t, t.TempDir(), c), c) })
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
	e := batch.Entry{ID: store.NewID(), Batch: id, Kind: kind, At: at, Made: at, By: "test"}
	if says != nil {
		e.Body = body(t, says)
	}
	return e
}

// pale is an ordinary batch (invented).
func pale(name string, vessel batch.ID) batch.Record {
	rating, relief := unit.Gauge(250e3), unit.Gauge(240e3)
	return batch.Record{
		Batch: batch.Batch{
			Name: name, Pitched: pitched, Yeast: batch.Yeast{Kind: "ale"},
			Wort: batch.Wort{Volume: 0.021, Gravity: 1.046}, Vessel: batch.Vessel{Capacity: 0.025, Diameter: 0.3, Rating: &rating, SafetyRelief: &relief},
			Place: batch.Place{Ambient: 293.15},
		},
		Uses: batch.Uses{Vessel: vessel},
	}
}

func making(t testing.TB, r batch.Record) batch.Entry {
	t.Helper()
	e := entry(t, store.NewID(), batch.KindBatch, r.Pitched, r)
	e.ID = e.Batch
	return e
}

func begin(t testing.TB, w *Watch, r batch.Record) batch.ID {
	t.Helper()
	e := making(t, r)
	keep(t, w, e)
	return e.ID
}

func keep(t testing.TB, w *Watch, entries ...batch.Entry) {
	t.Helper()
	if _, err := w.Keep(ctx, entries...); err != nil {
		t.Fatal(err)
	}
}

func read(t testing.TB, id batch.ID, at time.Time, q batch.Quantity, v float64) batch.Entry {
	t.Helper()
	var s batch.Said
	s.Put(q, v)
	return entry(t, id, batch.KindReading, at, &s)
}

func did(t testing.TB, id batch.ID, at time.Time, e batch.Event) batch.Entry {
	t.Helper()
	return entry(t, id, batch.KindAction, at, &batch.Said{Event: &e})
}

func emptied(t testing.TB, id batch.ID, at time.Time) batch.Entry {
	t.Helper()
	return entry(t, id, batch.KindJudgement, at, &batch.Judgement{Verdict: batch.Emptied})
}

// renewAll renews until nothing is stale.
func renewAll(t testing.TB, w *Watch) (n int) {
	t.Helper()
	for range 100 {
		again, err := w.RenewOne(ctx)
		if err != nil {
			t.Fatal(err)
		}
		if !again {
			return n
		}
		n++
	}
	t.Fatal("renewing does not end")
	return n
}

func see(t testing.TB, w *Watch, id batch.ID) *Seen {
	t.Helper()
	s, err := w.See(ctx, id)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// digits are all that a forecast says, to the last bit.
func digits(t testing.TB, f *estimate.Forecast) []byte {
	t.Helper()
	b, err := pack(f)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// same fails where two forecasts differ in any bit.
func same(t testing.TB, what string, got, want *Told) {
	t.Helper()
	switch {
	case got == nil || want == nil:
		t.Errorf("%s: got %v, want %v", what, got, want)
	case !bytes.Equal(digits(t, got.Forecast), digits(t, want.Forecast)):
		t.Errorf("%s: another forecast: gravity %+v, want %+v; finished %v, want %v", what, got.Forecast.Now.Gravity, want.Forecast.Now.Gravity,
			got.Forecast.Milestones.Finished.P50, want.Forecast.Milestones.Finished.P50)
	}
}

func TestAReadingIsTakenInAndTold(t *testing.T) {
	everyStore(t, func(t *testing.T, w *Watch, c *clock) {
		running, end := context.WithCancel(ctx)
		done := make(chan error)
		go func() { done <- w.Run(running) }()
		defer func() { end(); <-done }()
		id := begin(t, w, pale("Sluice Gate Pale", batch.ID{}))
		c.set(hours(50))
		changes, stop := w.Follow()
		defer stop()
		keep(t, w, read(t, id, hours(48), batch.Gravity, 1.030))
		s, err := w.Settle(ctx, id, time.Minute)
		if err != nil || !s.Fresh() || s.Failed != "" {
			t.Fatal(s, err)
		}
		if b := s.Told.Forecast.Now.Gravity; b.P05 < 1.02 || b.P95 > 1.037 {
			t.Errorf("gravity two hours after a reading of 1.030: got %+v", b)
		}
		if got := <-changes; got.Batch != id || got.Position != 2 {
			t.Errorf("told %+v, want the reading at position 2", got)
		}
		if a, err := w.Try(ctx, id, nil, 3*unit.Day); err != nil || len(a.Series.Hours) < 30 {
			t.Errorf("try: %v, %v", a, err)
		}
	})
}

// Ice of the batch before goes with the vessel into the next, until its seals are looked at.
func TestIceStaysWithTheVessel(t *testing.T) {
	everyStore(t, func(t *testing.T, w *Watch, c *clock) {
		vessel := entry(t, batch.ID{}, batch.KindThing, pitched, map[string]any{"is": "vessel", "name": "Dunlin", "capacity_m3": 0.025, "diameter_m": 0.3, "due": "2026-01-01T00:00:00Z"})
		keep(t, w, vessel)
		c.set(hours(400))
		old := begin(t, w, pale("Old", vessel.ID))
		keep(t, w, did(t, old, hours(290), batch.Event{Kind: batch.Noticed, Words: batch.Ice}), emptied(t, old, hours(300)))
		begin(t, w, pale("Next", vessel.ID))
		frozen := func() bool {
			round, err := w.Round(ctx)
			if err != nil || len(round) != 1 || round[0].Seen == nil {
				t.Fatal(round, err)
			}
			if u, err := w.Upkeep(ctx, vessel.ID); err != nil || u != round[0].Upkeep || !u.Overdue(hours(400)) {
				t.Errorf("got %+v and %+v, %v", u, round[0].Upkeep, err)
			}
			return round[0].Upkeep.Frozen(&round[0].Seen.State.Log)
		}
		if !frozen() {
			t.Error("ice of the batch before is forgotten with the next")
		}
		checked := entry(t, batch.ID{}, batch.KindJudgement, hours(350), &batch.Judgement{Verdict: batch.SealsChecked})
		checked.Thing = vessel.ID
		keep(t, w, checked)
		if frozen() {
			t.Error("the seals were looked at since")
		}
	})
}

// Vessels by place and name, the batch that is in each, what was done to an empty one, and what is in none of them.
func TestRound(t *testing.T) {
	everyStore(t, func(t *testing.T, w *Watch, c *clock) {
		thing := func(is, name string, facts map[string]any) batch.ID {
			facts["is"], facts["name"] = is, name
			e := entry(t, batch.ID{}, batch.KindThing, pitched, facts)
			keep(t, w, e)
			return e.ID
		}
		house := thing("place", "Back room", map[string]any{"ambient_k": 291})
		shed := thing("place", "Shed", map[string]any{"ambient_k": 283})
		vessel := func(name string, place batch.ID) batch.ID {
			return thing("vessel", name, map[string]any{"capacity_m3": 0.025, "diameter_m": 0.3, "place": place})
		}
		dunlin, whimbrel, godwit := vessel("Dunlin", shed), vessel("Whimbrel", house), vessel("Godwit", shed)
		c.set(hours(400))
		old := begin(t, w, pale("Old", dunlin))
		keep(t, w, emptied(t, old, hours(300)))
		cleaned := entry(t, batch.ID{}, batch.KindJudgement, hours(301), &batch.Judgement{Verdict: batch.Cleaned})
		cleaned.Thing = dunlin
		keep(t, w, cleaned)
		in, loose := begin(t, w, pale("In", godwit)), begin(t, w, pale("Loose", batch.ID{}))
		round, err := w.Round(ctx)
		if err != nil || len(round) != 4 {
			t.Fatal(round, err)
		}
		for i, want := range []struct{ vessel, batch batch.ID }{{whimbrel, batch.ID{}}, {dunlin, batch.ID{}}, {godwit, in}, {batch.ID{}, loose}} {
			var got struct{ vessel, batch batch.ID }
			if round[i].Vessel != nil {
				got.vessel = round[i].Vessel.ID
			}
			if round[i].Seen != nil {
				got.batch = round[i].Seen.ID
			}
			if got != want {
				t.Errorf("place %d: got %v, want %v", i, got, want)
			}
		}
		if turn := round[1].Turn; !turn.Cleaned.Equal(hours(301)) || !round[0].Turn.Cleaned.IsZero() {
			t.Errorf("Dunlin was cleaned at hour 301: %+v", turn)
		}
		all, err := w.Batches(ctx)
		if err != nil || len(all) != 3 {
			t.Fatal(all, err)
		}
		for _, b := range all {
			if b.ID == old != b.Ended.Equal(hours(300)) {
				t.Errorf("%s ended %v", b.Name, b.Ended)
			}
		}
		if things, err := w.Things(ctx); err != nil || len(things.Vessels) != 3 {
			t.Errorf("things: %+v, %v", things, err)
		}
		if _, err := w.See(ctx, store.NewID()); !errors.Is(err, ErrNoBatch) {
			t.Errorf("a batch that is not there: %v", err)
		}
	})
}

// Nobody waits for one who does not listen, and what it missed stands in the store.
func TestASlowFollowerBlocksNobody(t *testing.T) {
	c := &clock{now: pitched}
	w := inMemory(t, c)
	changes, stop := w.Follow()
	id := begin(t, w, pale("Second Blanket Lager", batch.ID{}))
	for i := range 2 * mostUnread {
		keep(t, w, entry(t, id, batch.KindNote, hours(float64(i)), &batch.Said{Words: "hm"}))
	}
	n := 0
	stop()
	stop() // twice is once
	for range changes {
		n++
	}
	if n != mostUnread {
		t.Errorf("%d changes waited, want %d", n, mostUnread)
	}
}

// A vessel that cannot be simulated says so in a sentence, and what was told before stays.
func TestAForecastThatFailsSaysSo(t *testing.T) {
	c := &clock{now: pitched}
	w := inMemory(t, c)
	id := begin(t, w, pale("Odd Glove Red", batch.ID{}))
	c.set(hours(1))
	renewAll(t, w)
	before := see(t, w, id)
	if before.Told == nil || before.Failed != "" {
		t.Fatal(before)
	}
	keep(t, w, entry(t, id, batch.KindBatch, hours(1), map[string]any{"place": map[string]any{"altitude_m": 1e9}}))
	renewAll(t, w)
	after := see(t, w, id)
	if after.Failed == "" || after.Fresh() {
		t.Errorf("got %q, fresh %v", after.Failed, after.Fresh())
	}
	same(t, "what was told before", after.Told, before.Told)
	if after.Told.Old(c.now) || !after.Told.Old(hours(4.5)) {
		t.Error("a forecast is told as now for three hours, and no longer")
	}
	c.set(hours(1.5))
	if n := renewAll(t, w); n != 0 {
		t.Errorf("tried %d times more", n)
	}
	keep(t, w, entry(t, id, batch.KindBatch, hours(1.2), map[string]any{"place": map[string]any{"altitude_m": 4}}))
	if s := see(t, w, id); s.Failed != "" {
		t.Errorf("mended, and not tried yet: %q", s.Failed)
	}
	renewAll(t, w)
	if s := see(t, w, id); !s.Fresh() || s.Failed != "" {
		t.Errorf("mended: fresh %v, %q", s.Fresh(), s.Failed)
	}
}

// Everybody at once: readings come in, batches are looked at, tried and renewed, and followed (for the race detector).
func TestEverybodyAtOnce(t *testing.T) {
	c := &clock{now: hours(60)}
	w := inFile(t, t.TempDir(), c)
	running, end := context.WithCancel(ctx)
	var all sync.WaitGroup
	for range 2 { // two who renew, also where there is one core
		all.Go(func() { w.keepRenewing(running) })
	}
	var ids []batch.ID
	for i := range 3 {
		ids = append(ids, begin(t, w, pale(string(rune('A'+i)), batch.ID{})))
	}
	changes, stop := w.Follow()
	all.Go(func() {
		for range changes {
		}
	})
	var people sync.WaitGroup
	for i, id := range ids {
		people.Go(func() {
			for h := range 2 {
				keep(t, w, read(t, id, hours(float64(20+20*h+i)), batch.Gravity, 1.040-0.008*float64(h)))
				if s, err := w.Settle(ctx, id, time.Minute); err != nil || !s.Fresh() {
					t.Errorf("not settled: %v", err)
				}
				if _, err := w.Try(ctx, id, nil, unit.Day); err != nil {
					t.Errorf("try: %v", err)
				}
			}
		})
		people.Go(func() {
			for range 50 {
				if _, err := w.Round(ctx); err != nil {
					t.Error(err)
				}
				if _, err := w.Batches(ctx); err != nil {
					t.Error(err)
				}
				if _, err := w.Hours(ctx, id); err != nil {
					t.Error(err)
				}
			}
		})
	}
	people.Wait()
	stop()
	end()
	all.Wait()
}

// A fault of the program in one batch is an error of that batch.
func TestABrokenOffForecast(t *testing.T) {
	w := inMemory(t, &clock{now: pitched})
	c, err := w.cellar(ctx)
	if err != nil {
		t.Fatal(err)
	}
	if err := w.renew(ctx, c, &Seen{ID: store.NewID()}, nil); err == nil || !strings.Contains(err.Error(), "a fault of the program") {
		t.Errorf("a batch without a record: %v", err)
	}
}
