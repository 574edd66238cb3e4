package estimate

import (
	"math"

	"spile/batch"
	"spile/portable"
	"spile/unit"
	"spile/vessel"
	"spile/wort"
)

// Straying is how the temperature of a kept vessel strays from the wanted one, as far as anybody knows before a thermometer is
// read: by a constant, by what is left of the temperature at pitching, and by what comes and goes.
type Straying struct {
	Mean, Constant float64 // K, of the constant: its mean and sd
	Pitched        float64 // K, sd at pitching, about the constant; it fades with Cools
	Cools          float64 // s, the time constant of beer against the air around it
	// Wander is the sd, K, of a disturbance that Passes, s, and that beer follows as slowly: its covariance over a time d is
	// Wander² (1 + d/Passes) exp(-d/Passes), an Ornstein-Uhlenbeck process behind a lag of its own time constant.
	// References: [Rasmussen2006] equation 4.17
	Wander, Passes float64
}

// Of how the temperature strays (assumptions): wort is pitched two degrees off; a thermostat lets pass a third of a degree, a
// room swings with day and night and with the heat of the ferment.
const (
	pitchedOff  = 2.0 // K
	wanderKept  = 0.3 // K
	wanderRoom  = 0.8 // K
	wanderFades = 12 * unit.Hour
	unkeptSD    = 5.0 // K about the room, where nobody named a temperature
	paceDoubt   = 0.5 // of the logarithm of the time in which a new temperature is reached
)

// StrayingOf is what is expected of the vessel of b while it is to be kept at hold.
func StrayingOf(b *batch.Batch, hold unit.Temperature) Straying {
	mass := float64(b.Wort.Volume) * water20 * float64(b.Wort.Gravity)
	k := Straying{
		Constant: GenericPrior(b.Yeast.Kind).forBatch(b)[HoldOffset].SD, Pitched: pitchedOff, Wander: wanderRoom, Passes: wanderFades,
		Cools: mass * wort.HeatCapacity(wort.ExtractFromGravity(b.Wort.Gravity), hold) / float64(vessel.UsualUA(b.Vessel.Capacity)),
	}
	if thermostat(b) {
		k.Wander = wanderKept
	} else if hold > warmHold {
		k.Mean = fermentWarmth
	}
	return k
}

// part is one way in which the temperature may be off: an amount with that sd, K, in the shape of.
type part struct {
	sd float64
	of func(t float64) float64
}

// process is the temperature of the beer as a normal process, before any thermometer is read.
type process struct {
	level          float64 // K, at pitching
	legs           []leg
	parts          []part
	wander, passes float64 // K, s
}

// leg is a change of the temperature that is to be kept.
type leg struct{ at, by, cools float64 }

// mean is the expected temperature at t, K.
func (p *process) mean(t float64) float64 {
	sum := p.level
	for _, l := range p.legs {
		sum += l.by * l.done(t)
	}
	return sum
}

// done is the share of the change that is made at t.
func (l leg) done(t float64) float64 { return -math.Expm1(-math.Max(t-l.at, 0) / l.cools) }

// covariance of the temperatures at s and t, K².
func (p *process) covariance(s, t float64) float64 {
	d := math.Abs(s-t) / p.passes
	sum := p.wander * p.wander * (1 + d) * portable.Exp(-d)
	for _, q := range p.parts {
		sum += q.sd * q.sd * q.of(s) * q.of(t)
	}
	return sum
}

// expected is the temperature of b by what was set on the timeline up to now. It strays so many times as far as usual.
func (tl *timeline) expected(b *batch.Batch, times float64) *process {
	p := &process{level: float64(b.Place.Ambient)}
	k := StrayingOf(b, b.Place.Ambient)
	first := true
	for i := range tl.items {
		it := &tl.items[i]
		if it.set == nil || it.set.Hold == nil || it.at > tl.now {
			continue
		}
		k = StrayingOf(b, *it.set.Hold)
		to := float64(*it.set.Hold) + k.Mean
		l := leg{it.at, to - p.mean(math.Inf(1)), k.Cools}
		switch {
		case first && it.at <= unit.Hour: // kept from the beginning
			p.level = to
			p.parts = append(p.parts, part{times * k.Constant, always}, part{k.Pitched, func(t float64) float64 { return portable.Exp(-t / k.Cools) }})
		case first:
			p.legs = append(p.legs, l)
			p.parts = append(p.parts, part{unkeptSD, func(t float64) float64 { return 1 - l.done(t) }}, part{times * k.Constant, l.done})
		default:
			p.legs = append(p.legs, l)
			p.parts = append(p.parts, part{paceDoubt * l.by, l.pace})
		}
		first = false
	}
	if first {
		p.parts = append(p.parts, part{unkeptSD, always})
	}
	p.wander, p.passes = times*k.Wander, k.Passes
	return p
}

func always(float64) float64 { return 1 }

// pace is by how much more of a change is made where the time it takes is shorter, by the logarithm of that.
func (l leg) pace(t float64) float64 {
	x := math.Max(t-l.at, 0) / l.cools
	return x * portable.Exp(-x)
}
