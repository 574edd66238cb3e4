package monitor

import (
	"context"
	"math"
	"slices"
	"time"

	"spile/batch"
	"spile/bayes"
	"spile/estimate"
	"spile/internal/store"
)

// The first forecast of each day is kept; once a batch has ended it is held against what came, as it
// was known at the end from all readings. Where that is not known well, nothing is judged by it.

const (
	knownTo   = 48 * time.Hour // the band of a time, at most, for it to count as known
	knownToSG = 0.004          // the same of a gravity
)

// What is scored.
const (
	ScoredFinish  = "finished"
	ScoredGravity = "gravity"
	ScoredReady   = "ready"
)

// score holds the forecasts of days against the last forecast of a batch that has ended.
func (w *Watch) score(ctx context.Context, id batch.ID, last *estimate.Forecast) error {
	made, told, err := w.store.Days(ctx, id)
	if err != nil {
		return err
	}
	days := make([]*estimate.Forecast, 0, len(told))
	for i, raw := range told {
		var f estimate.Forecast
		if err := unpack(raw, &f); err != nil {
			w.log.Warn("a forecast of a day does not read; it is not judged", "batch", id.String(), "made", made[i], "err", err)
			continue
		}
		days = append(days, &f)
	}
	scores := scoresOf(id, days, last)
	for i := range scores {
		scores[i].Days = int64(len(told))
	}
	return w.store.KeepScores(ctx, id, scores)
}

// scoresOf judges forecasts by the last one. Of a forecast that was made when what it tells of had come, nothing is judged.
func scoresOf(id batch.ID, days []*estimate.Forecast, last *estimate.Forecast) []store.Score {
	m := &last.Milestones
	fell := last.TerminalGravity
	fermented := last.Now.Finished >= 0.9
	out := []store.Score{{Batch: id, What: ScoredFinish}, {Batch: id, What: ScoredGravity}, {Batch: id, What: ScoredReady}}
	for _, f := range days {
		if fermented && came(&m.Finished, last.At) && f.At.Before(m.Finished.P50) {
			judge(&out[0], timesOf(&f.Milestones.Finished), seconds(m.Finished.P50))
			if fell.P95-fell.P05 <= knownToSG {
				judge(&out[1], &f.TerminalGravity, fell.P50)
			}
		}
		if came(&m.Ready, last.At) && f.At.Before(m.Ready.P50) {
			judge(&out[2], timesOf(&f.Milestones.Ready), seconds(m.Ready.P50))
		}
	}
	return out
}

// came tells whether a milestone has come, and when is known well.
func came(m *estimate.Milestone, at time.Time) bool {
	return !m.P05.IsZero() && !m.P95.IsZero() && !m.P95.After(at) && m.P95.Sub(m.P05) <= knownTo
}

func seconds(t time.Time) float64 { return float64(t.UnixNano()) / 1e9 }

// never is a time beyond all that is looked at.
var never = math.Inf(1)

// timesOf is the band of a time, in seconds since 1970; an end beyond what was looked at lies at infinity.
func timesOf(m *estimate.Milestone) *estimate.Band {
	b := &estimate.Band{P05: never, P50: never, P95: never}
	for _, x := range []struct {
		to *float64
		at time.Time
	}{{&b.P05, m.P05}, {&b.P50, m.P50}, {&b.P95, m.P95}} {
		if !x.at.IsZero() {
			*x.to = seconds(x.at)
		}
	}
	return b
}

// judge counts one forecast.
func judge(s *store.Score, b *estimate.Band, truth float64) {
	s.Judged++
	if b.P05 <= truth && truth <= b.P95 {
		s.Held++
	}
	if b.P95 < never {
		s.Scored++
		s.Sum += bayes.IntervalScore(b.P05, b.P95, 0.1, truth) // nine times in ten
	}
}

// TrackRecord is how good the forecasts of days were about one thing, over some batches.
type TrackRecord struct {
	What          string // see the Scored words
	Batches, Days int    // that ended, and the forecasts kept of them
	Judged, Held  int    // of the forecasts
	Scored        int    // of the judged, whose band had two ends
	Mean          float64
}

// TrackRecords are the records of the finish, of the final gravity and of the day it is ready; of one batch, or of all
// that have ended (zero id).
func (w *Watch) TrackRecords(ctx context.Context, of batch.ID) ([]TrackRecord, error) {
	scores, err := w.endedScores(ctx)
	if err != nil {
		return nil, err
	}
	return summed(slices.DeleteFunc(scores, func(s store.Score) bool { return !of.IsZero() && s.Batch != of })), nil
}

// TrackRecordsByBatch are those of each batch that has ended and was judged.
func (w *Watch) TrackRecordsByBatch(ctx context.Context) (map[batch.ID][]TrackRecord, error) {
	scores, err := w.endedScores(ctx)
	if err != nil {
		return nil, err
	}
	each, out := map[batch.ID][]store.Score{}, map[batch.ID][]TrackRecord{}
	for _, s := range scores {
		each[s.Batch] = append(each[s.Batch], s)
	}
	for id, of := range each {
		out[id] = summed(of)
	}
	return out, nil
}

// endedScores are the scores of the batches that have ended: one whose end was taken back is judged when it ends again.
func (w *Watch) endedScores(ctx context.Context) ([]store.Score, error) {
	_, briefs, err := w.inShort(ctx)
	if err != nil {
		return nil, err
	}
	ended := map[batch.ID]bool{}
	for _, b := range briefs {
		ended[b.Batch] = !b.Ended.IsZero()
	}
	scores, err := w.store.Scores(ctx)
	return slices.DeleteFunc(scores, func(s store.Score) bool { return !ended[s.Batch] }), err
}

// summed adds scores up, by what they are of.
func summed(scores []store.Score) []TrackRecord {
	out := []TrackRecord{{What: ScoredFinish}, {What: ScoredGravity}, {What: ScoredReady}}
	for i := range out {
		r := &out[i]
		for _, s := range scores {
			if s.What != r.What {
				continue
			}
			r.Batches++
			r.Days, r.Judged, r.Held, r.Scored = r.Days+int(s.Days), r.Judged+int(s.Judged), r.Held+int(s.Held), r.Scored+int(s.Scored)
			r.Mean += s.Sum
		}
		if r.Scored > 0 {
			r.Mean /= float64(r.Scored)
		}
	}
	return out
}
