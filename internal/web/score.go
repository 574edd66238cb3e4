package web

import (
	"context"
	"fmt"
	"time"

	"spile/batch"
	"spile/internal/monitor"
	"spile/unit"
)

// scoreLine is how good the forecasts were about one thing, every one of them counted.
type scoreLine struct{ Name, Says, Besides, Score string }

var scoredNames = map[string][2]string{
	monitor.ScoredFinish: {"The finish", "finish"}, monitor.ScoredGravity: {"The final gravity", "final gravity"}, monitor.ScoredReady: {"Ready to pour", "time"},
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
	names := scoredNames[r.What]
	l := scoreLine{Name: names[0], Score: "nothing is judged yet"}
	switch {
	case r.Judged == 0:
		l.Says = fmt.Sprintf("Of %s, none can be judged: it had come by then, or when it came was never known well.", forecastsOf(r.Days))
	default:
		l.Says = fmt.Sprintf("Of %s, %d held the %s.", forecastsOf(r.Judged), r.Held, names[1])
		if more := r.Days - r.Judged; more > 0 {
			l.Besides = fmt.Sprintf("%d more cannot be judged: it had come by then, or when it came was never known well.", more)
		}
	}
	if r.Scored > 0 {
		l.Score = fmt.Sprintf("%s on average, over %s", scoreWords(r, style), forecastsOf(r.Scored))
	}
	if open := r.Judged - r.Scored; open > 0 {
		l.Score += fmt.Sprintf("; %d more had no late end", open)
	}
	return l
}

func forecastsOf(n int) string {
	if n == 1 {
		return "1 daily forecast"
	}
	return fmt.Sprintf("%d daily forecasts", n)
}

// scoreWords is a mean score: of a time in hours, of a gravity in points.
func scoreWords(r *monitor.TrackRecord, style unit.Style) string {
	if r.What == monitor.ScoredGravity {
		m := style.Falls(0.1)
		return m.With(m.Number(1000*r.Mean, 0))
	}
	return fmt.Sprintf("%.0f hours", r.Mean/time.Hour.Seconds())
}
