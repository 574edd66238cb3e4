package estimate

import (
	"math"

	"spile/batch"
	"spile/portable"
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

// asked is a question on its way to an answer.
type asked struct {
	Settles
	answers []float64 // by future
	open    bool      // its answer is not as sure as any reading would make it
	forced  bool      // a sample fermented out would speak of it, and was not weighed yet
}

// offer takes a reading at a time, s, where it narrows the question enough. A later time, or another instrument, must be better
// by a quarter.
func (a *asked) offer(bl *Belief, at float64, n NextReading) {
	if n.Narrows > a.Next.Narrows*1.25 && n.Narrows > worthNarrowing {
		n.At = bl.time(at)
		a.Next = n
	}
}

// settles is, for every question, the reading that narrows it most: by how much would the spread of the answers shrink, were it
// read? By linear regression over the futures, reading errors added.
func (bl *Belief) settles(grid []float64, fs []future) []Settles {
	var questions []asked
	for _, q := range []Question{toFinish, toLimit, toGas, toLeak} {
		a := asked{Settles: Settles{q, NextReading{None: true, At: bl.time(bl.tl.now + 2*unit.Day)}}, answers: bl.answers(q, grid, fs)}
		a.open, a.forced = spread(a.answers) >= enough[q], len(bl.tl.forced) == 0 && q != toLeak
		questions = append(questions, a)
	}
	tools := bl.atHand(fs)
	terminal := over(fs, func(f *future) float64 { return f.terminal })
	steps := firstStep(fs)
	x := make([]float64, len(fs))
	for i, t := range grid {
		if t < bl.tl.now+6*unit.Hour || t > bl.tl.now+5*unit.Day {
			continue
		}
		for k := range questions {
			if a := &questions[k]; a.open && a.forced && t >= bl.tl.now+fermentedOut {
				a.forced = false
				a.offer(bl, t, NextReading{Instrument: batch.Gravity, Forced: true, Narrows: narrowing(terminal, a.answers, forcedScatter*forcedScatter)})
			}
		}
		for _, tool := range tools {
			if tool.quantity == batch.Temperature && t >= steps {
				continue // it would tell what was set, which whoever set it knows
			}
			tool.read(fs, i, x)
			for k := range questions {
				if a := &questions[k]; a.open {
					a.offer(bl, t, NextReading{Instrument: tool.quantity, Narrows: narrowing(x, a.answers, tool.variance)})
				}
			}
		}
	}
	out := make([]Settles, len(questions))
	for k := range questions {
		out[k] = questions[k].Settles
	}
	return out
}

// firstStep is when the first future sets something as its readings tell, s since pitching; +Inf for never.
func firstStep(fs []future) float64 {
	first := math.Inf(1)
	for i := range fs {
		if at := fs[i].stepped; at > 0 {
			first = math.Min(first, at)
		}
	}
	return first
}

// atHand is an instrument that somebody could read.
type atHand struct {
	quantity batch.Quantity
	variance float64   // of one more reading, given its offset
	offset   []float64 // by future, SI; nil where the variance holds it
	scale    []float64 // by future; nil: 1
}

// atHand are the instruments that could be read: for gravity and pressure always, else where one was read before.
func (bl *Belief) atHand(fs []future) []atHand {
	var out []atHand
	for _, q := range []batch.Quantity{batch.Gravity, batch.Pressure, batch.VesselMass, batch.Temperature, batch.CylinderMass, batch.VentedGas} {
		channel, variance := bl.surest(q)
		if channel < 0 && q != batch.Gravity && q != batch.Pressure {
			continue
		}
		tool := atHand{quantity: q, variance: variance}
		if channel >= 0 {
			c := &bl.tl.channels[channel]
			tool.offset = over(fs, func(f *future) float64 { return bl.tl.off(channel, f.z) })
			if c.Scale > 0 {
				tool.scale = over(fs, func(f *future) float64 { return portable.Exp(c.Scale * f.z[c.more]) })
			}
		}
		out = append(out, tool)
	}
	return out
}

// read writes to x what the instrument would show at grid time i of each future, SI.
func (a *atHand) read(fs []future, i int, x []float64) {
	for k := range fs {
		x[k] = fs[k].holds(a.quantity, i)
		if a.scale != nil {
			x[k] *= a.scale[k]
		}
		if a.offset != nil {
			x[k] += a.offset[k]
		}
	}
}

// holds is what a future holds of a quantity at grid time i, SI.
func (f *future) holds(q batch.Quantity, i int) float64 {
	switch q {
	case batch.Pressure:
		return f.gauge[i]
	case batch.Temperature:
		return f.kelvin[i]
	case batch.VesselMass:
		return f.mass[i]
	case batch.CylinderMass:
		return f.cylinder[i]
	case batch.VentedGas:
		return f.vented[i]
	}
	return f.gravity[i]
}

// surest is the surest instrument at hand for q, by its channel, and the variance of one more reading with it: of one read
// before, whose offset the futures know, its scatter alone. The channel is -1 for the usual one, not read yet. What swims in the
// beer reads by itself and is no reading to take.
func (bl *Belief) surest(q batch.Quantity) (channel int, variance float64) {
	_, ins := lookup(q, "")
	own := func(ins *Instrument) float64 { return ins.spread() * ins.spread() }
	channel, variance = -1, own(&ins)+ins.Offset*ins.Offset
	for i := range bl.tl.channels {
		if ch := &bl.tl.channels[i]; ch.quantity == q && !ch.InBeer && (channel < 0 || own(&ch.Instrument) < variance) {
			channel, variance = i, own(&ch.Instrument)
		}
	}
	return channel, variance
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
