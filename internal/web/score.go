package web

import (
	"context"
	"math"
	"time"

	"spile/batch"
	"spile/internal/monitor"
	"spile/unit"
	"spile/wording"
)

// scoreLine is how good the forecasts were about one thing, every one of them counted.
type scoreLine struct{ Name, Says, Besides, Score string }

var scoredNames = map[string]wording.Text{monitor.ScoredFinish: "The finish", monitor.ScoredGravity: "The final gravity", monitor.ScoredReady: "Ready to pour"}

// heldWords say how many forecasts of those judged held what came.
func heldWords(r *monitor.TrackRecord, t *wording.Tongue) string {
	switch r.What {
	case monitor.ScoredFinish:
		return t.Many(r.Judged, "Of %d daily forecast, %d held the finish.", "Of %d daily forecasts, %d held the finish.", r.Judged, r.Held)
	case monitor.ScoredGravity:
		return t.Many(r.Judged, "Of %d daily forecast, %d held the final gravity.", "Of %d daily forecasts, %d held the final gravity.", r.Judged, r.Held)
	}
	return t.Many(r.Judged, "Of %d daily forecast, %d held the time.", "Of %d daily forecasts, %d held the time.", r.Judged, r.Held)
}

// scores are how good the forecasts were of one batch, or of all that have ended (zero id); nil: none has.
func (s *Site) scores(ctx context.Context, of batch.ID, style unit.Style) (out []scoreLine, err error) {
	records, err := s.watch.TrackRecords(ctx, of)
	if err != nil {
		return nil, err
	}
	for _, r := range records {
		if r.Batches > 0 {
			out = append(out, scoreOf(&r, style))
		}
	}
	return out, nil
}

func scoreOf(r *monitor.TrackRecord, style unit.Style) scoreLine {
	t := style.Tongue
	l := scoreLine{Name: t.Word(scoredNames[r.What]), Score: style.Word("nothing is judged yet")}
	switch {
	case r.Judged == 0:
		l.Says = t.Many(r.Days, "Of %d daily forecast, none can be judged: it had come by then, or when it came was never known well.",
			"Of %d daily forecasts, none can be judged: it had come by then, or when it came was never known well.", r.Days)
	default:
		l.Says = heldWords(r, t)
		if more := r.Days - r.Judged; more > 0 {
			l.Besides = t.Many(more, "%d more cannot be judged: it had come by then, or when it came was never known well.",
				"%d more cannot be judged: it had come by then, or when it came was never known well.", more)
		}
	}
	if r.Scored > 0 {
		l.Score = t.Many(r.Scored, "%s on average, over %d daily forecast", "%s on average, over %d daily forecasts", scoreWords(r, style), r.Scored)
	}
	if open := r.Judged - r.Scored; open > 0 {
		l.Score += "; " + t.Many(open, "%d more had no late end", "%d more had no late end", open)
	}
	return l
}

// scoreWords is a mean score: of a time in hours, of a gravity in points.
func scoreWords(r *monitor.TrackRecord, style unit.Style) string {
	if r.What == monitor.ScoredGravity {
		m := style.Falls(0.1)
		return m.With(m.Number(1000*r.Mean, 0))
	}
	hours := int(math.Round(r.Mean / time.Hour.Seconds()))
	return style.Tongue.Many(hours, "%d hour", "%d hours", hours)
}
