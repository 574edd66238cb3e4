package estimate

import (
	"math"
	"slices"
	"time"

	"spile/unit"
)

// Turned is a temperature that did not follow what was written down: the beer became warmer or colder and nobody wrote why, or it
// was to become so and did not.
type Turned struct {
	Since, Seen time.Time // the readings between which it began
	By          Band      // K by which the beer became warmer, or stands warmer than written; colder below zero
	Kept        bool      // a change was written down, and the beer does not stand there
}

// turn is a Turned on a timeline.
type turn struct {
	since, seen float64 // s since pitching
	by, sd      float64 // K
	kept        bool
}

// aside is where the beer stood off what was written down when a thermometer was read, its offset taken out, K.
type aside struct{ at, by, scatter float64 }

// asides are those of the readings that do not stand alone.
func (k *knowledge) asides(written *process) []aside {
	var out []aside
	t := &k.tl.track
	for i, l := range t.looks {
		if !k.alone(i) {
			out = append(out, aside{l.at, t.value(l.at) - written.mean(l.at), l.scatter})
		}
	}
	return out
}

const (
	leastTurn  = 3.0 // K, less than which nobody is asked about
	turnsAtSDs = 4   // by which more than a vessel strays by itself is a turn
	turnLasts  = 2 * unit.Day
	comesLate  = 4 * unit.Day // by which a slow vessel may be late where it was to be
)

// change is by how much the temperature was to change between two times, K; 0 where that is less than leastTurn.
func (p *process) change(from, to float64) float64 {
	if d := p.mean(to) - p.mean(from); math.Abs(d) >= leastTurn {
		return d
	}
	return 0
}

// turns are the changes that are more than the vessel strays by itself, over a day or, where what was written was slow to
// come, over three; oldest first. What ends where the record has the beer is no news: it is told of what began it.
func (k *knowledge) turns(written *process) []turn {
	all, first := k.asides(written), 0
	var out []turn
	for j := 1; j < len(all); j++ {
		for _, over := range []float64{unit.Day, 3 * unit.Day} {
			i := j - 1
			for i > first && all[i].at > all[j].at-over {
				i--
			}
			if c, last, ok := turnBetween(written, all, i, j); ok {
				out, first, j = append(out, c), last, last
				break
			}
		}
	}
	return slices.DeleteFunc(out, func(c turn) bool { return c.by == 0 })
}

// turnBetween is the turn between two readings, if there is one, and the reading with which it is complete.
func turnBetween(written *process, all []aside, i, j int) (c turn, last int, ok bool) {
	if i >= j {
		return c, j, false
	}
	s, t := all[i].at, all[j].at
	strays := written.covariance(s, s) + written.covariance(t, t) - 2*written.covariance(s, t)
	c.sd = math.Hypot(all[i].scatter, all[j].scatter)
	moved := func(n int) float64 { return all[n].by - all[i].by }
	if math.Abs(moved(j)) < max(leastTurn, turnsAtSDs*math.Sqrt(max(strays, 0)+c.sd*c.sd)) {
		return c, j, false
	}
	from := i
	for from+1 < j && math.Abs(moved(from+1)) < math.Abs(moved(j))/3 {
		from++
	}
	last = j
	for last+1 < len(all) && all[last+1].at < t+turnLasts && math.Abs(moved(last+1)) > math.Abs(moved(last)) {
		last++
	}
	c.since, c.seen, c.by = all[from].at, all[from+1].at, moved(last)
	switch to, since := all[last].by, written.change(s, all[last].at); {
	case written.change(s-comesLate, all[last].at) != 0 && math.Abs(to) < math.Abs(all[i].by): // late, it comes to where it was to be
		c.by = 0
	case since == 0:
	case math.Abs(to) < max(leastTurn, math.Abs(since)/3, turnsAtSDs*math.Sqrt(written.covariance(all[last].at, all[last].at))):
		c.by = 0 // it stands where it was to be
	default:
		c.by, c.kept = to, true
	}
	return c, last, true
}

// turned is what became of the temperature that was not written down, oldest first.
func (bl *Belief) turned() []Turned {
	var out []Turned
	for _, c := range bl.tl.track.turns {
		half := NineInTen * c.sd
		out = append(out, Turned{bl.time(c.since), bl.time(c.seen), Band{c.by - half, c.by, c.by + half}, c.kept})
	}
	return out
}
