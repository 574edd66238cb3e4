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
	return r.reportFinish(calls)
}

// glass draws what a hydrometer shows of ferment i once a day, points.
func (r *run) glass(i, draw int) (hours, shown []float64) {
	f := &r.ferments[i]
	rng := r.rng(streamHydrometer, draw<<16|f.Number)
	offset := glassOffset * rng.NormFloat64()
	for h := 0.0; h <= lastPossible(f); h += 24 {
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

// equalWithin is by how much samples that a rule of equal readings takes for equal may differ from one to the next, points.
const equalWithin = 1.0

// rule calls finished when so many samples on following days are equal, each to the one before.
func rule(hours, shown []float64, equal int) float64 {
	run := 1
	for d := 1; d < len(hours); d++ {
		if run++; math.Abs(shown[d]-shown[d-1]) > equalWithin {
			run = 1
		}
		if run >= equal && shown[0]-shown[d] >= underWay {
			return hours[d]
		}
	}
	return math.Inf(1)
}

// farFrom is how much is truly left, points, where a call is false and not merely early.
const farFrom = 5

// callScore sums up calls over ferments and draws.
type callScore struct {
	calls, early, falsely int
	judged, never         int       // of those that finish: records with enough looks, and never called among them
	left                  []float64 // points truly left at the call
	delay                 []float64 // h from the end to the call; one that never came counts as a day after the last sample
	waited                []float64 // the same from the first look at which the rule allows a call
}

const (
	// leastLooks is how many daily samples that allow a call must follow the end for a call to be
	// asked of a record: as many as two equal readings need.
	leastLooks = 2
	// cooledBy is K within a day that the call counts as having been cooled.
	cooledBy = 2.0
)

// looks are the hours of daily samples after the end of f at which nothing had been cooled for so long that a call is allowed.
func looks(f *ferment.Ferment) (out []float64) {
	cooled := math.Inf(-1)
	for h := 24.0; h <= lastPossible(f); h += step {
		if f.Temperature(h-24)-f.Temperature(h) > cooledBy {
			cooled = h
		}
		if math.Mod(h, 24) == 0 && h >= f.Finished() && h-cooled > uncooled {
			out = append(out, h)
		}
	}
	return out
}

// scoreCalls holds hours of calls, by ferment and draw, against the records.
func (r *run) scoreCalls(hourOf func(i, draw int) float64) callScore {
	var s callScore
	for i := range r.ferments {
		f := &r.ferments[i]
		terminal, _ := f.Terminal()
		at := looks(f)
		for draw := range r.Budget.Noise {
			h := hourOf(i, draw)
			if len(at) >= leastLooks {
				s.follow(h, f.Finished(), at)
			}
			if math.IsInf(h, 1) {
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

// follow counts a ferment that finishes, called at h.
func (s *callScore) follow(h, done float64, looks []float64) {
	s.judged++
	if math.IsInf(h, 1) {
		s.never++
		h = looks[len(looks)-1] + 24
	}
	s.delay, s.waited = append(s.delay, h-done), append(s.waited, h-looks[0])
}

// mostEqual is the most equal samples in a row that are tried.
const mostEqual = 8

// asCareful is the quickest rule of equal samples in a row that calls too early no more often than rate; the most careful where all do.
func (r *run) asCareful(rate float64) (s callScore, equal int) {
	for equal = 2; ; equal++ {
		if s = r.byRule(equal); s.rate() <= rate || equal == mostEqual {
			return s, equal
		}
	}
}

func (r *run) byRule(equal int) callScore {
	return r.scoreCalls(func(i, draw int) float64 {
		hours, shown := r.glass(i, draw)
		return rule(hours, shown, equal)
	})
}

// rate of early calls among all calls.
func (s *callScore) rate() float64 { return float64(s.early) / math.Max(float64(s.calls), 1) }

func (r *run) reportFinish(calls []called) error {
	n := len(r.ferments)
	ours := r.scoreCalls(func(i, draw int) float64 { return float64(calls[draw*n+i].Hour) })
	usual := r.byRule(2)
	equal, samples := r.asCareful(ours.rate())
	r.doc.heading("The finish call")
	r.doc.say("Called when the chance of at most one point left is at least %g, the upper 95 %% rate at most %g point a day, and nothing was cooled for %g h. One sample a day with a hydrometer off by %g and scattering by %g point, %d draws a ferment. A day that the forecast before it held for too early (95 %%) is not looked at. Left is what truly was left, at least, where the record ends while it still falls.", surelyFinished, slowEnough, uncooled, glassOffset, glassScatter, r.Budget.Noise)
	r.doc.say("Whether and how late a call came is asked of records that hold %d or more daily samples after the end at which the rule allows a call, nothing having been cooled for %g h. A call that never came counts as one a day after the last such sample. Against it stand equal samples in a row, each within %g point of the one before: two, and as many as it takes for their early calls to be no more frequent than ours.", leastLooks, uncooled, equalWithin)
	var rows [][]string
	for _, s := range []struct {
		name string
		callScore
	}{{"ours", ours}, {"2 equal samples", usual}, {fmt.Sprintf("%d equal samples", samples), equal}} {
		rows = append(rows, []string{s.name, fmt.Sprint(s.calls), percent(s.rate()), fmt.Sprintf("%.2f", lower(s.left, 0.95)), hoursOf(median(s.delay)), hoursOf(median(s.waited)), fmt.Sprintf("%s of %d", percent(share(s.never, s.judged)), s.judged), fmt.Sprint(s.falsely)})
	}
	r.doc.table([]string{"rule", "calls", "early (over 1 left)", "95 % of left, points", "median delay, h", "of it since a call was allowed, h", "never, of those judged", "false (over 5 left)"}, rows)
	r.reportLooks(calls)
	slow, err := slowBecause()
	if err != nil {
		return err
	}
	r.doc.say("%s", slow)
	r.finishBars(&ours, &equal, samples, r.neverBecause(calls))
	return nil
}

// neverBecause says which ferments were never called, and how much there was to see of each.
func (r *run) neverBecause(calls []called) string {
	var which []string
	others, missed := 0, 0
	for i := range r.ferments {
		f, never := &r.ferments[i], 0
		at := looks(f)
		if len(at) < leastLooks {
			continue
		}
		for draw := range r.Budget.Noise {
			if math.IsInf(float64(calls[draw*len(r.ferments)+i].Hour), 1) {
				never++
			}
		}
		if 2*never > r.Budget.Noise {
			which = append(which, fmt.Sprintf("%s in %d of %d draws, whose record has %d samples at which the rule allows a call, the last %s h after the end", f.Name, never, r.Budget.Noise, len(at), hoursOf(at[len(at)-1]-f.Finished())))
			continue
		}
		others, missed = others+r.Budget.Noise, missed+never
	}
	return fmt.Sprintf("%s; of the others %d of %d were never called. How long the rule must take with one glass is said below the table of the finish call", orElse(strings.Join(which, "; "), "no ferment in most draws"), missed, others)
}

// reportLooks lists the ferments that finish: what there was to see of each, and what came of it.
func (r *run) reportLooks(calls []called) {
	var rows [][]string
	for i := range r.ferments {
		f, n := &r.ferments[i], len(r.ferments)
		done := f.Finished()
		if math.IsInf(done, 1) {
			continue
		}
		at, never := looks(f), 0
		var delays []float64
		for draw := range r.Budget.Noise {
			h := float64(calls[draw*n+i].Hour)
			if math.IsInf(h, 1) {
				never++
			}
			delays = append(delays, h-done)
		}
		judged, first := "no", "–"
		if len(at) >= leastLooks {
			judged = "yes"
		}
		if len(at) > 0 {
			first = hoursOf(at[0] - done)
		}
		rows = append(rows, []string{f.Name, hoursOf(done), hoursOf(f.ChilledAt() - 24), hoursOf(f.Last()), fmt.Sprint(len(at)), first, judged, hoursOf(median(delays)), fmt.Sprintf("%d of %d", never, len(delays))})
	}
	r.doc.say("The ferments that finish, in hours since pitching; the others stall, or their record is cooled or ends while they still fall, and only show whether a call is early.")
	r.doc.table([]string{"ferment", "ended", "cooled from", "record to", "samples that allow a call", "first of them after the end", "judged", "median delay", "never called"}, rows)
}

func hoursOf(h float64) string {
	if math.IsInf(h, 1) {
		return "never"
	}
	return fmt.Sprintf("%.0f", h)
}

func (r *run) finishBars(ours, equal *callScore, samples int, never string) {
	left, inOne := lower(ours.left, 0.95), 0
	for _, l := range ours.left {
		if l <= 1 {
			inOne++
		}
	}
	lo, hi := wilson(inOne, len(ours.left))
	r.doc.bar("finish", "true points left at the call", "at most 1 in 95 %", share(inOne, len(ours.left)) >= 0.95,
		fmt.Sprintf("%d of %d calls, interval %s to %s; 95 %% of calls have at most %.2f left", inOne, len(ours.left), percent(lo), percent(hi), left), "%s", percent(share(inOne, len(ours.left))))
	r.doc.bar("finish", "never called, of those that finish and are followed long enough", "at most 10 %", share(ours.never, ours.judged) <= 0.1,
		never, "%s of %d", percent(share(ours.never, ours.judged)), ours.judged)
	r.doc.bar("finish", fmt.Sprintf("false calls (more than %d points left), stalled ferments among them", farFrom), "none", ours.falsely == 0, "called while it stood still, or too sure of its end", "%d of %d", ours.falsely, r.Budget.Noise*len(r.ferments))
	gain := median(equal.delay) - median(ours.delay)
	r.doc.bar("finish", "earlier than equal samples in a row, at an equal rate of early calls", "24 h on the median", gain >= 24,
		fmt.Sprintf("early calls %s against %s; counted from the first sample at which the rule allows a call, %g h without cooling, the median is %s h; how long the rule must take with one glass is said below its table", percent(ours.rate()), percent(equal.rate()), uncooled, hoursOf(median(ours.waited))), "delay %s h against %s h of %d samples", hoursOf(median(ours.delay)), hoursOf(median(equal.delay)), samples)
}
