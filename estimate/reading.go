package estimate

import (
	"math"

	"spile/batch"
	"spile/unit"
)

// Question is what one more reading is hoped to settle.
type Question string

// The questions, in the order in which they are asked.
const (
	toFinish Question = "finished" // when it is finished
	toLimit  Question = "limit"    // where its gravity ends
	toGas    Question = "gas"      // how much gas the beer will hold in three days
	toLeak   Question = "leak"     // whether the vessel loses gas
)

// Settles is the reading that narrows a question most.
type Settles struct {
	Question Question
	Next     NextReading
}

// answers is the question as one number per future.
func (bl *Belief) answers(q Question, grid []float64, fs []future) []float64 {
	last := len(grid) - 1
	for i, t := range grid {
		if t >= bl.tl.now+3*unit.Day {
			last = i
			break
		}
	}
	return over(fs, func(f *future) float64 {
		switch q {
		case toLimit:
			return f.terminal
		case toGas:
			return f.volumes[last]
		case toLeak:
			return math.Log(bl.prior.value(Leak, f.z[Leak]))
		}
		return math.Min(f.reach[reachFinished], grid[len(grid)-1])
	})
}

// enough is the standard deviation of an answer with which nobody asks on: s, SG, volumes, of a logarithm.
var enough = map[Question]float64{toFinish: unit.Hour, toLimit: 0.3 * gravityPoint, toGas: 0.03, toLeak: 0.2}

// worthNarrowing is the least share of the band that a reading must take off to be worth the walk.
const worthNarrowing = 0.10

// fermentedOut is how long a small warm sample takes to ferment out (common practice, no source).
const fermentedOut = 2 * unit.Day

// nextReading weighs a sample for gravity, a look at the gauge, a weighing where the vessel is weighed, and a sample
// fermented out warm: by how much would the spread of the answers shrink, were it read? By linear regression over the
// futures, reading errors added. A later time, or another instrument, must be better by a quarter.
func (bl *Belief) nextReading(grid []float64, fs []future, q Question) NextReading {
	y := bl.answers(q, grid, fs)
	best := NextReading{None: true, At: bl.time(bl.tl.now + 2*unit.Day)}
	if sd := spread(y); sd < enough[q] {
		return best
	}
	offer := func(at float64, n NextReading) {
		if n.Narrows > best.Narrows*1.25 && n.Narrows > worthNarrowing {
			n.At = bl.time(at)
			best = n
		}
	}
	forced := len(bl.tl.forced) == 0 && q != toLeak
	for i, t := range grid {
		if t < bl.tl.now+6*unit.Hour || t > bl.tl.now+5*unit.Day {
			continue
		}
		if forced && t >= bl.tl.now+fermentedOut {
			forced = false
			x := over(fs, func(f *future) float64 { return f.terminal })
			offer(t, NextReading{Instrument: batch.Gravity, Forced: true, Narrows: narrowing(x, y, forcedScatter*forcedScatter)})
		}
		for _, c := range bl.readable() {
			x := over(fs, func(f *future) float64 { return f.read(c, i) })
			offer(t, NextReading{Instrument: c, Narrows: narrowing(x, y, bl.readingVariance(c))})
		}
	}
	return best
}

// readable are the quantities that could be read: gravity and pressure always, a weight where one was taken before.
func (bl *Belief) readable() []batch.Quantity {
	out := []batch.Quantity{batch.Gravity, batch.Pressure}
	if bl.hasAny([]batch.Quantity{batch.VesselMass}) {
		out = append(out, batch.VesselMass)
	}
	return out
}

// read is what a future holds of a quantity at grid time i, SI.
func (f *future) read(c batch.Quantity, i int) float64 {
	switch c {
	case batch.Pressure:
		return f.gauge[i]
	case batch.VesselMass:
		return f.mass[i]
	}
	return f.gravity[i]
}

// readingVariance is that of one more reading with the surest instrument at hand: of one read before, whose offset the futures
// know, its scatter alone. What swims in the beer reads by itself and is no reading to take.
func (bl *Belief) readingVariance(c batch.Quantity) float64 {
	_, ins := lookup(c, "")
	least := ins.Scatter*ins.Scatter + ins.Offset*ins.Offset
	for i := range bl.tl.channels {
		if ch := &bl.tl.channels[i]; ch.quantity == c && !ch.InBeer {
			least = math.Min(least, ch.Scatter*ch.Scatter)
		}
	}
	return least
}

// narrowing is 1 - sqrt(1 - r2) with r2 the share of the variance of y that a reading of x, with a variance of its own, explains.
func narrowing(x, y []float64, own float64) float64 {
	var n, sx, sy, sxx, syy, sxy float64
	for k := range x {
		n, sx, sy, sxx, syy, sxy = n+1, sx+x[k], sy+y[k], sxx+x[k]*x[k], syy+y[k]*y[k], sxy+x[k]*y[k]
	}
	vx := sxx/n - sx/n*sx/n + own
	vy, cxy := syy/n-sy/n*sy/n, sxy/n-sx/n*sy/n
	if vx <= 0 || vy <= 0 {
		return 0
	}
	r2 := math.Min(cxy*cxy/(vx*vy), 1)
	return 1 - math.Sqrt(1-r2)
}

// spread is the standard deviation of x.
func spread(x []float64) float64 {
	n, sum, squares := float64(len(x)), 0.0, 0.0
	for _, v := range x {
		sum += v
	}
	for _, v := range x {
		squares += (v - sum/n) * (v - sum/n)
	}
	return math.Sqrt(squares / n)
}

// settles is, for every question, the reading that narrows it most.
func (bl *Belief) settles(grid []float64, fs []future) []Settles {
	var out []Settles
	for _, q := range []Question{toFinish, toLimit, toGas, toLeak} {
		out = append(out, Settles{q, bl.nextReading(grid, fs, q)})
	}
	return out
}
