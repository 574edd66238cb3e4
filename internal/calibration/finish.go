package calibration

import (
	"fmt"
	"math"
	"strings"

	"spile/batch"
	"spile/estimate"
	"spile/internal/ferment"
)

// The finish call: so sure that at most one point is left, so slow, and so long not cooled.
const (
	surelyFinished = 0.9
	slowEnough     = 0.5  // points a day, upper 95 %
	uncooled       = 48.0 // h
)

// A glass hydrometer, points: sds of its fixed offset and of one reading.
const (
	glassOffset  = 1.0
	glassScatter = 0.7
)

// called is when a ferment was first called finished, h; never where it was not.
type called struct{ Hour number }

// finish scores the finish call on measured ferments, one hydrometer sample a day
// drawn with the errors of a glass, against two equal readings.
func finish(r *run) error {
	n := len(r.ferments)
	part := fmt.Sprintf("finish call, %d ferments", n)
	calls, err := gather(r, part, n*r.Budget.Noise, func(i int) (called, error) { return r.call(i%n, i/n) })
	if err != nil {
		return err
	}
	r.reportFinish(calls)
	return nil
}

// glass draws what a hydrometer shows of ferment i once a day, points.
func (r *run) glass(i, draw int) (hours, shown []float64) {
	f := &r.ferments[i]
	rng := r.rng(streamHydrometer, draw<<16|f.Number)
	offset := glassOffset * rng.NormFloat64()
	for h := 0.0; h <= math.Min(f.Last(), lastDay*24); h += 24 {
		hours = append(hours, h)
		shown = append(shown, points(f.Gravity(h))+offset+glassScatter*rng.NormFloat64())
	}
	return hours, shown
}

// call goes through the days of ferment i until it is called finished. A day that the
// forecast before it held for too early (95 %) is not looked at.
func (r *run) call(i, draw int) (called, error) {
	prior, err := r.priors[i]()
	if err != nil {
		return called{}, err
	}
	f := &r.ferments[i]
	hours, shown := r.glass(i, draw)
	early := ferment.Pitched
	for d := 1; d < len(hours); d++ {
		now := hours[d]
		if ferment.At(now).Before(early) {
			continue
		}
		b, log := f.Records(nil, now)
		for k := range hours[:d+1] {
			log.Readings = append(log.Readings, batch.Reading{Time: ferment.At(hours[k]), Quantity: batch.Gravity, Value: 1 + shown[k]/1000})
		}
		bl, err := estimate.Condition(b, log, ferment.At(now), estimate.Options{Seed: uint64(draw) + 1, Prior: &prior, Members: r.Budget.Members, Workers: 1})
		if err != nil {
			return called{}, err
		}
		fc, err := bl.Forecast()
		if err != nil {
			return called{}, err
		}
		if fc.Now.Finished >= surelyFinished && fc.Now.PointsPerDay.P95 <= slowEnough && fc.CooledHours > uncooled {
			return called{number(now)}, nil
		}
		early = fc.Milestones.Finished.P05
		if fc.Milestones.Finished.Never > 1-0.05 { // no time to wait for
			early = ferment.At(now)
		}
	}
	return called{number(math.Inf(1))}, nil
}

// underWay is how far a sample must have fallen before two equal ones mean the end and not the beginning, points.
const underWay = 5

// rule calls finished when two samples on following days differ by no more than a tolerance, points.
func rule(hours, shown []float64, tolerance float64) float64 {
	for d := 1; d < len(hours); d++ {
		if math.Abs(shown[d]-shown[d-1]) <= tolerance && shown[0]-shown[d] >= underWay {
			return hours[d]
		}
	}
	return math.Inf(1)
}

// farFrom is how much is truly left, points, where a call is false and not merely early.
const farFrom = 5

// callScore sums up calls over ferments and draws.
type callScore struct {
	calls, early, finishing, never, falsely int
	watched, missed                         int       // of those that finish: records that go on long enough, and never called among them
	left, delay                             []float64 // points truly left; h after less than one was
}

// scoreCalls holds hours of calls, by ferment and draw, against the records.
func (r *run) scoreCalls(hourOf func(i, draw int) float64) callScore {
	var s callScore
	for i := range r.ferments {
		f := &r.ferments[i]
		terminal, falls := f.Terminal()
		done := f.Finished()
		for draw := range r.Budget.Noise {
			h := hourOf(i, draw)
			never := math.IsInf(h, 1)
			if !falls {
				s.finishing++
				s.delay = append(s.delay, h-done)
				s.follow(never, f.Last()-done >= watchedFor)
			}
			if never {
				continue
			}
			left := points(f.Gravity(h)) - points(terminal) // at least, where it still fell
			s.calls++
			s.left = append(s.left, left)
			if left > 1 {
				s.early++
			}
			if left > farFrom {
				s.falsely++
			}
		}
	}
	return s
}

// watchedFor is how long a record must go on after the end, h, for a call to be asked of it.
const watchedFor = 72.0

// follow counts a ferment that finishes.
func (s *callScore) follow(never, watched bool) {
	if watched {
		s.watched++
	}
	if never {
		s.never++
	}
	if never && watched {
		s.missed++
	}
}

// tolerances of two equal readings, points, largest and so quickest first.
var tolerances = []float64{3, 2.5, 2, 1.5, 1, 0.7, 0.5, 0.4, 0.3, 0.2, 0.15, 0.1, 0.05}

// asCareful is the quickest rule of two equal readings that calls too early no more often than rate; the most careful where all do.
func (r *run) asCareful(rate float64) (s callScore, tolerance float64) {
	for _, tolerance = range tolerances {
		if s = r.byRule(tolerance); s.rate() <= rate {
			break
		}
	}
	return s, tolerance
}

func (r *run) byRule(tolerance float64) callScore {
	return r.scoreCalls(func(i, draw int) float64 {
		hours, shown := r.glass(i, draw)
		return rule(hours, shown, tolerance)
	})
}

// rate of early calls among all calls.
func (s *callScore) rate() float64 { return float64(s.early) / math.Max(float64(s.calls), 1) }

func (r *run) reportFinish(calls []called) {
	n := len(r.ferments)
	ours := r.scoreCalls(func(i, draw int) float64 { return float64(calls[draw*n+i].Hour) })
	usual := r.byRule(1)
	equal, tolerance := r.asCareful(ours.rate())
	r.doc.heading("The finish call")
	r.doc.say("Called when the chance of at most one point left is at least %g, the upper 95 %% rate at most %g point a day, and nothing was cooled for %g h. One sample a day with a hydrometer off by %g and scattering by %g point, %d draws a ferment. A day that the forecast before it held for too early (95 %%) is not looked at. Left is what truly was left, at least, where the record ends while it still falls.", surelyFinished, slowEnough, uncooled, glassOffset, glassScatter, r.Budget.Noise)
	var rows [][]string
	for _, s := range []struct {
		name string
		callScore
	}{{"ours", ours}, {"two readings within 1 point", usual}, {fmt.Sprintf("two readings within %g point", tolerance), equal}} {
		rows = append(rows, []string{s.name, fmt.Sprint(s.calls), percent(s.rate()), fmt.Sprintf("%.2f", lower(s.left, 0.95)), hoursOf(median(s.delay)), percent(share(s.never, s.finishing)), fmt.Sprint(s.falsely)})
	}
	r.doc.table([]string{"rule", "calls", "early (over 1 left)", "95 % of left, points", "median delay, h", "never, of those that finish", "false (over 5 left)"}, rows)
	r.finishBars(&ours, &equal)
}

func hoursOf(h float64) string {
	if math.IsInf(h, 1) {
		return "never"
	}
	return fmt.Sprintf("%.0f", h)
}

func (r *run) finishBars(ours, equal *callScore) {
	left, inOne := lower(ours.left, 0.95), 0
	for _, l := range ours.left {
		if l <= 1 {
			inOne++
		}
	}
	lo, hi := wilson(inOne, len(ours.left))
	r.doc.bar("finish", "true points left at the call", "at most 1 in 95 %", share(inOne, len(ours.left)) >= 0.95,
		fmt.Sprintf("%d of %d calls, interval %s to %s; 95 %% of calls have at most %.2f left", inOne, len(ours.left), percent(lo), percent(hi), left), "%s", percent(share(inOne, len(ours.left))))
	r.doc.bar("finish", "never called, of those that finish", "at most 10 %", share(ours.never, ours.finishing) <= 0.1, r.calledWhy(ours), "%s of %d", percent(share(ours.never, ours.finishing)), ours.finishing)
	r.doc.bar("finish", fmt.Sprintf("false calls (more than %d points left), stalled ferments among them", farFrom), "none", ours.falsely == 0, "called while it stood still, or too sure of its end", "%d of %d", ours.falsely, r.Budget.Noise*len(r.ferments))
	gain := median(equal.delay) - median(ours.delay)
	r.doc.bar("finish", "earlier than two equal readings, at an equal rate of early calls", "24 h on the median", gain >= 24,
		fmt.Sprintf("early calls %s against %s; median delays %s and %s h", percent(ours.rate()), percent(equal.rate()), hoursOf(median(ours.delay)), hoursOf(median(equal.delay))), "delay %s against %s h", hoursOf(median(ours.delay)), hoursOf(median(equal.delay)))
}

// calledWhy says how much there was to see of the ferments that finish.
func (r *run) calledWhy(s *callScore) string {
	var ends []string
	for i := range r.ferments {
		f := &r.ferments[i]
		if _, falls := f.Terminal(); !falls {
			ends = append(ends, fmt.Sprintf("%s by %.0f h, cooled from %s, to %.0f h", f.Name, f.Finished(), hoursOf(f.ChilledAt()-24), f.Last()))
		}
	}
	return fmt.Sprintf("Of those whose record goes on for %g h after the end, %s of %d were never called; the others' records stop first. The ferments: %s", watchedFor, percent(share(s.missed, s.watched)), s.watched, strings.Join(ends, "; "))
}
