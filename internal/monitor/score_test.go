package monitor

import (
	"math"
	"testing"
	"time"

	"spile/batch"
	"spile/estimate"
	"spile/internal/store"
)

// finishedStory is a batch that fell quickly and then stood still, to the end (invented).
func finishedStory(t testing.TB) (all []batch.Entry) {
	t.Helper()
	made := making(t, pale("Sluice Gate Pale", batch.ID{}))
	all = append(all, made)
	for _, x := range [][2]float64{{0.4, 1.046}, {24.2, 1.041}, {44.1, 1.031}, {67.2, 1.019}, {91.3, 1.0125}, {115.1, 1.0105}, {139.2, 1.0103}, {163.3, 1.0102}, {187.4, 1.0102}} {
		all = append(all, read(t, made.ID, hours(x[0]), batch.Gravity, x[1]), read(t, made.ID, hours(x[0]+0.1), batch.Temperature, 293.2))
	}
	return append(all, emptied(t, made.ID, hours(220)))
}

// The forecasts of days are held against what came once a batch has ended, and every one of them is counted.
func TestForecastsAreScored(t *testing.T) {
	c := &clock{now: pitched}
	w := inMemory(t, c)
	all := finishedStory(t)
	for _, e := range all {
		c.set(e.At.Add(10 * time.Second))
		keep(t, w, e)
		renewAll(t, w)
	}
	made, _, err := w.store.Days(ctx, all[0].ID)
	if err != nil {
		t.Fatal(err)
	}
	records, err := w.TrackRecords(ctx, batch.ID{})
	if err != nil || len(records) != 3 {
		t.Fatal(records, err)
	}
	last := see(t, w, all[0].ID).Told.Forecast
	t.Logf("%d days; finished %v..%v, %+v", len(made), last.Milestones.Finished.P05, last.Milestones.Finished.P95, records)
	for _, r := range records[:2] {
		if r.Batches != 1 || r.Days != len(made) || r.Judged < 3 || r.Judged > r.Days || r.Held < r.Judged-1 || r.Scored > r.Judged || r.Scored > 0 && !(r.Mean > 0) {
			t.Errorf("%+v of %d days", r, len(made))
		}
	}
	if r := records[2]; r.Days != len(made) || r.Judged != 0 {
		t.Errorf("never cold, and judged when it was ready: %+v", r)
	}
	again, err := w.TrackRecords(ctx, all[0].ID)
	if err != nil || again[0] != records[0] {
		t.Errorf("of the batch alone: %+v, %v", again, err)
	}
	if none, err := w.TrackRecords(ctx, batch.ID{9}); err != nil || none[0].Batches != 0 {
		t.Errorf("of another batch: %+v, %v", none, err)
	}
}

// What holds is counted as held, what misses costs twenty times the miss, an end that lies open holds what comes
// late and is given no score, and nothing is judged by an end that is not known.
func TestScoresOf(t *testing.T) {
	at := func(h float64) estimate.Milestone {
		return estimate.Milestone{P05: hours(h - 5), P50: hours(h), P95: hours(h + 5)}
	}
	day := func(made, h float64) *estimate.Forecast {
		f := &estimate.Forecast{At: hours(made), TerminalGravity: estimate.Band{P05: 1.009, P50: 1.010, P95: 1.011}}
		f.Milestones.Finished = at(h)
		return f
	}
	open := day(20, 100)
	open.Milestones.Finished.P95 = time.Time{}
	days := []*estimate.Forecast{day(10, 103), day(20, 93), open, day(101, 100)}
	last := day(200, 100)
	last.Now.Finished = 0.95
	got := scoresOf(batch.ID{1}, days, last)
	want := store.Score{Batch: batch.ID{1}, What: ScoredFinish, Judged: 3, Held: 2, Scored: 2, Sum: (10 + 10 + 20*2) * 3600}
	if math.Abs(got[0].Sum-want.Sum) > 0.01 {
		t.Errorf("got %+v, want %+v", got[0], want)
	}
	if got[0].Sum = want.Sum; got[0] != want {
		t.Errorf("got %+v, want %+v", got[0], want)
	}
	if g := got[1]; g.Judged != 3 || g.Held != 3 || math.Abs(g.Sum-3*0.002) > 1e-9 {
		t.Errorf("the gravity: %+v", g)
	}
	for name, spoil := range map[string]func(*estimate.Forecast){
		"not fermented out": func(f *estimate.Forecast) { f.Now.Finished = 0.5 },
		"not known when":    func(f *estimate.Forecast) { f.Milestones.Finished.P05 = hours(20) },
		"yet to come":       func(f *estimate.Forecast) { f.At = hours(101) },
		"beyond the span":   func(f *estimate.Forecast) { f.Milestones.Finished.P95 = time.Time{} },
	} {
		f := *last
		spoil(&f)
		if got := scoresOf(batch.ID{1}, days, &f); got[0].Judged != 0 {
			t.Errorf("%s, and judged: %+v", name, got[0])
		}
	}
}
