package monitor

import (
	"bytes"
	"math"
	"testing"

	"spile/batch"
	"spile/estimate"
	"spile/internal/store"
	"spile/unit"
)

// finished is a batch that was followed to a gravity and emptied (invented).
func finished(t testing.TB, w *Watch, name string, vessel batch.ID, since, end float64) batch.ID {
	t.Helper()
	r := pale(name, vessel)
	r.Pitched = hours(since)
	id := begin(t, w, r)
	at := func(h float64) float64 { return since + h }
	keep(t, w, read(t, id, hours(at(1)), batch.Gravity, 1.046), read(t, id, hours(at(48)), batch.Gravity, 1.032), read(t, id, hours(at(96)), batch.Gravity, 1.018),
		read(t, id, hours(at(200)), batch.Gravity, end), read(t, id, hours(at(260)), batch.Gravity, end), emptied(t, id, hours(at(300))))
	return id
}

// What finished batches taught of yeast, vessel and instrument is told, and expected of the next batch: of one that was
// pitched after they ended, and of no other.
func TestLearning(t *testing.T) {
	c := &clock{now: pitched}
	w := inMemory(t, c)
	vessel := entry(t, batch.ID{}, batch.KindThing, hours(-5000), map[string]any{"is": "vessel", "name": "Dunlin", "capacity_m3": 0.025, "diameter_m": 0.3})
	keep(t, w, vessel)
	for i, since := range []float64{-3000, -2000, -1000} {
		finished(t, w, []string{"First", "Second", "Third"}[i], vessel.ID, since, 1.0082)
	}
	c.set(hours(1))
	next, early := pale("Next", vessel.ID), pale("Early", vessel.ID)
	early.Pitched = hours(-2900) // pitched before any of the others ended
	after, before := begin(t, w, next), begin(t, w, early)
	renewAll(t, w)
	passports, err := w.Passports(ctx)
	if err != nil || len(passports) != 3 {
		t.Fatalf("%d passports, want those of yeast, vessel and hydrometer: %v", len(passports), err)
	}
	yeast, dunlin, tool := passports[0], passports[1], passports[2]
	if yeast.Of != estimate.OfYeast || yeast.Name != "ale" || yeast.Batches != 3 || dunlin.Name != "Dunlin" || dunlin.Vessel != vessel.ID || dunlin.Batches != 3 || tool.Batches != 3 {
		t.Errorf("passports: %+v", passports)
	}
	limit := yeast.Lines[0]
	if limit.Unknown != estimate.AttenuationLimit || limit.Band.P50 < limit.Generic.P50+0.008 || limit.Sharpened < -0.1 { // ids, and so seeds, are drawn anew each time
		t.Errorf("three batches went on to 1.0082 of 1.046: limit %+v before, %+v learnt", limit.Generic, limit.Band)
	}
	end := func(id batch.ID) float64 { return see(t, w, id).Told.Forecast.TerminalGravity.P50 }
	if lower := end(before) - end(after); lower < 0.0003 {
		t.Errorf("who learnt expects %.4f, who could not %.4f", end(after), end(before))
	}
}

// A correction in an old batch changes what is expected of the next.
func TestWhatWasLearntFollowsTheRecords(t *testing.T) {
	c := &clock{now: hours(1)}
	w := inMemory(t, c)
	old := finished(t, w, "First", batch.ID{}, -1000, 1.0065)
	id := begin(t, w, pale("Next", batch.ID{}))
	renewAll(t, w)
	first := see(t, w, id).Told
	lesson, err := w.store.Lesson(ctx, old)
	if err != nil || lesson == nil {
		t.Fatal(lesson, err)
	}
	keep(t, w, read(t, old, hours(-705), batch.Gravity, 1.0120))
	renewAll(t, w)
	again, err := w.store.Lesson(ctx, old)
	if err != nil || again == nil || bytes.Equal(again.Evidence, lesson.Evidence) {
		t.Errorf("the lesson is the one before: %v", err)
	}
	if second := see(t, w, id).Told; bytes.Equal(digits(t, first.Forecast), digits(t, second.Forecast)) {
		t.Error("the next batch does not know")
	}
}

// Two packs of one name are one yeast, however it is written; a batch without a pack learns by its kind.
func TestYeastIsLearntByItsName(t *testing.T) {
	w := inMemory(t, &clock{now: hours(0)})
	s := &shed{w: w}
	one, two := s.thing(t, "yeast pack", "Marsh Ale", map[string]any{"kind": "ale"}), s.thing(t, "yeast pack", "marsh ale", map[string]any{"kind": "ale"})
	c, err := w.cellar(ctx)
	if err != nil {
		t.Fatal(err)
	}
	for yeast, want := range map[string]string{one.String(): "marsh ale", two.String(): "marsh ale", "ale": "ale"} {
		if got := c.yeastName(store.Brief{Yeast: yeast}); got != want {
			t.Errorf("%s: learnt as %q, want %q", yeast, got, want)
		}
	}
}

// What somebody wrote down of an instrument counts until batches have taught more.
func TestWrittenDownOfAnInstrument(t *testing.T) {
	c := &cellar{Cellar: batch.Cellar{Instruments: []batch.Thing[batch.InstrumentFacts]{{Name: "Old Dial", Facts: batch.InstrumentFacts{Reads: batch.Pressure, Offset: 2 * float64(unit.PSI), Noise: 700}}}}}
	tool := estimate.Tool{Quantity: batch.Pressure, Name: "old dial"}
	usual, _ := estimate.LearnTool(tool, nil)
	if got := c.instrument(tool, nil); math.Abs(got.Mean-usual.Mean-2*float64(unit.PSI)) > 1e-9 || got.Scatter != 700 || got.Offset != usual.Offset {
		t.Errorf("got %+v; usual %+v", got, usual)
	}
	past := []estimate.Experience{{Offsets: map[estimate.Tool][]float64{tool: {-3000, -3100, -2900}}}}
	if got := c.instrument(tool, past); got.Mean >= 0 {
		t.Errorf("a batch showed that it reads low: got %+v", got)
	}
	if got := c.instrument(estimate.Tool{Quantity: batch.Gravity, Name: "old dial"}, nil); got.Mean != 0 {
		t.Errorf("another quantity: %+v", got)
	}
}
