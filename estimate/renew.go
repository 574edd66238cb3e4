package estimate

import (
	"errors"
	"math"
	"math/rand/v2"
	"time"

	"spile/batch"
	"spile/bayes"
)

// ErrRefit says that what came in cannot be taken in by weighing the members anew: condition again.
var ErrRefit = errors.New("the members in hand no longer stand for the readings: condition again")

// keepsHalf is the share of the members that must still count after all that was taken in since they were conditioned.
const keepsHalf = 0.5

// Renew takes in what was read and done since the members were brought to now: each goes on to at, is weighed by the new
// readings, and is kept as often as it deserves. log is the whole log. It returns ErrRefit where less than half of the
// members still count since they were conditioned, where something was added before now, or where an instrument is new.
func (s *Standing) Renew(log batch.Log, at time.Time) (*Standing, error) {
	bl := *s.bl
	tl := newTimeline(bl.batch, log, at, bl.options.Tools)
	if tl.now < bl.tl.now || !sameUpTo(bl.tl, tl) {
		return nil, ErrRefit
	}
	bl.tl, bl.at = tl, at
	if tl.last > 0 {
		bl.lastTime = bl.time(tl.last)
	}
	out := &Standing{bl: &bl, from: fromNow(tl)}
	worlds, logs := make([]*world, len(s.members)), make([]float64, len(s.members))
	bl.each(len(worlds), func(_ *world, i int) { worlds[i], logs[i] = s.goOn(&bl, i) })
	weights := bayes.Normalise(logs)
	if bl.kept *= bayes.EffectiveSamples(weights) / float64(len(weights)); bl.kept < keepsHalf {
		return nil, ErrRefit
	}
	rng := rand.New(rand.NewPCG(bl.options.Seed, uint64(len(tl.items))))
	for _, i := range bayes.Systematic(weights, len(weights), rng) {
		out.members, out.presents = append(out.members, worlds[i].z), append(out.presents, worlds[i])
	}
	post := *bl.posterior
	post.Z, post.Weight, post.LogLik = out.members, make([]float64, len(out.members)), make([]float64, len(out.members))
	for i := range post.Weight {
		post.Weight[i] = 1 / float64(len(post.Weight))
	}
	post.EffectiveSamples = math.Min(post.EffectiveSamples, bayes.EffectiveSamples(weights))
	bl.posterior = &post
	return out, nil
}

// Belief is what the members stand for.
func (s *Standing) Belief() *Belief { return s.bl }

// goOn brings one member from where it stands to the new now, and gives the log likelihood of what was read on the way.
func (s *Standing) goOn(bl *Belief, member int) (*world, float64) {
	w := newWorld(bl.batch, bl.tl, bl.prior)
	w.resume(s.presents[member])
	w.z = bl.tl.track.carried(&s.bl.tl.track, w.z)
	w.course = bl.tl.track.course(w.z, w.course)
	w.predicted = make([]float64, len(bl.tl.data))
	w.heard = nil
	var sum float64
	for i := range bl.tl.items {
		it := &bl.tl.items[i]
		if it.at <= s.bl.tl.now {
			continue
		}
		if it.at > bl.tl.now {
			break
		}
		w.apply(it)
		if it.reading >= 0 {
			d := &bl.tl.data[it.reading]
			sum += logStudent((w.predicted[it.reading] - d.value) / d.scatter)
		}
	}
	for _, r := range w.heard {
		sum += logStudent(r)
	}
	w.advance(bl.tl.now)
	if w.failed || math.IsNaN(sum) {
		sum = math.Inf(-1)
	}
	return w, sum
}

// logStudent is the log density of a residual in its scatter, up to a constant.
func logStudent(r float64) float64 {
	return -(studentNu + 1) / 2.0 * math.Log1p(r*r/studentNu)
}

// sameUpTo says that to tells the same of the time up to from's now, with the same instruments.
func sameUpTo(from, to *timeline) bool {
	if len(from.channels) != len(to.channels) || from.loose != to.loose || len(from.forced) != len(to.forced) || len(from.saws) != len(to.saws) ||
		from.track.modes+to.track.modes > 0 && len(from.track.looks) != len(to.track.looks) {
		return false
	}
	n := 0
	for i := range to.data {
		if to.data[i].at <= from.now {
			n++
		}
	}
	done := func(tl *timeline) (k int) {
		for i := range tl.items {
			if tl.items[i].at <= from.now && tl.items[i].event != nil {
				k++
			}
		}
		return k
	}
	return n == len(from.data) && done(from) == done(to)
}
