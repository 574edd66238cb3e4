package estimate

import (
	"math"
	"sort"

	"spile/batch"
	"spile/unit"
)

// suspicion is one thing that may be amiss, judged on the posterior: how likely
// it is, and how likely it was before any reading.
type suspicion struct {
	kind  FindingKind
	amiss func(w *world, f *future) bool
	size  func(w *world, f *future) float64 // SI
	needs []batch.Quantity                  // without a reading of one of these nothing can be said
}

// A leak above this is worth a search: a full 2.6 kg cylinder lasts two years and a half beside it, a full keg's gas a month.
const leakWorthIt = 3.0 // g/day at 1 bar

var suspicions = []suspicion{
	{
		kind:  FindingLeak,
		amiss: func(w *world, _ *future) bool { return w.unknown(Leak) > leakWorthIt },
		size:  func(w *world, _ *future) float64 { return w.unknown(Leak) * unit.Gram / unit.Day },
		needs: []batch.Quantity{batch.Pressure, batch.CylinderMass, batch.VesselMass},
	},
	{
		kind:  FindingReliefStuck,
		amiss: func(w *world, _ *future) bool { return w.unknown(ReliefOffset) > 3*psi },
		size:  func(w *world, _ *future) float64 { return w.unknown(ReliefOffset) },
		needs: []batch.Quantity{batch.Pressure},
	},
	{
		kind: FindingHydrometerOffset,
		amiss: func(w *world, _ *future) bool {
			return math.Abs(w.channelOffset(batch.Gravity)) > 2*gravityPoint
		},
		size:  func(w *world, _ *future) float64 { return w.channelOffset(batch.Gravity) },
		needs: []batch.Quantity{batch.Gravity},
	},
	{
		kind:  FindingDialOffset,
		amiss: func(w *world, _ *future) bool { return math.Abs(w.channelOffset(batch.Pressure)) > 1.5*psi },
		size:  func(w *world, _ *future) float64 { return w.channelOffset(batch.Pressure) },
		needs: []batch.Quantity{batch.Pressure},
	},
	{
		kind:  FindingTiredYeast,
		amiss: tired,
		size: func(w *world, _ *future) float64 {
			return (w.prior[AttenuationLimit].Mean - w.unknown(AttenuationLimit)) * (float64(w.original()) - 1)
		},
		needs: []batch.Quantity{batch.Gravity, batch.VesselMass, batch.VentedGas},
	},
	{
		kind:  FindingColdStall,
		amiss: coldStalled,
		size:  func(_ *world, f *future) float64 { return f.now.kelvin },
		needs: []batch.Quantity{batch.Gravity, batch.Pressure, batch.VesselMass, batch.VentedGas},
	},
}

// cannotTell: the gravity stands still, and whether that is the end or a pause is as open as it was.
func (bl *Belief) cannotTell(f *Forecast) bool {
	n := &f.Now
	return n.PointsPerDay.P50 < 0.3 && n.PointsLeft.P95 > 3 && n.Finished > 0.1 && n.Finished < 0.9 && bl.levelFor(batch.Gravity) >= unit.Day
}

// levelFor is how long, s, the last readings of q have not differed by more than two scatters.
func (bl *Belief) levelFor(q batch.Quantity) float64 {
	last, since := math.NaN(), math.NaN()
	for i := len(bl.tl.data) - 1; i >= 0; i-- {
		d := &bl.tl.data[i]
		c := &bl.tl.channels[d.channel]
		if c.quantity != q {
			continue
		}
		if math.IsNaN(last) {
			last, since = d.value, d.at
		}
		if math.Abs(d.value-last) > 2*c.spread() {
			break
		}
		since = d.at
	}
	if math.IsNaN(since) {
		return 0
	}
	return bl.tl.now - since
}

// tired: the gravity that this ferment heads for lies points above what its yeast reaches in an ordinary wort, and it is not the cold.
func tired(w *world, f *future) bool {
	short, left := w.short(), f.now.left
	if n := len(w.tl.forced); n > 0 { // what a sample of the same wort reached in the warm
		left = math.Max(left, (f.now.gravity+w.channelOffset(batch.Gravity)-w.tl.forced[n-1])/gravityPoint)
	}
	gaveUp := left > tiredLeft && f.now.perDay < 1 && w.tl.now > lateEnough
	return (short > tiredPoints && f.now.perDay < 1 || gaveUp) && !coldStalled(w, f)
}

const (
	// tiredLeft is what a yeast leaves that has given up, points, and lateEnough when it is not waking any more, s.
	tiredLeft  = 3
	lateEnough = 5 * unit.Day
	// labelApart is by how much label and first sample differ before one of them is doubted, SG: half as much again as both err
	// by, since a float in clean water settles it and a hydrometer points off misleads to the end.
	labelApart = 0.0025
)

// againstLabel is how far the first sample with a hydrometer, taken before the yeast had done much, lies from the label.
func (bl *Belief) againstLabel() (float64, bool) {
	for i := range bl.tl.data {
		d := &bl.tl.data[i]
		c := &bl.tl.channels[d.channel]
		if c.quantity != batch.Gravity || d.at > 12*unit.Hour {
			continue
		}
		apart := d.value - float64(bl.batch.Wort.Gravity)
		return apart, math.Abs(apart) > labelApart
	}
	return 0, false
}

// short is by how many points this ferment ends above where its yeast usually does.
func (w *world) short() float64 {
	return (w.prior[AttenuationLimit].Mean - w.unknown(AttenuationLimit)) * (float64(w.original()) - 1) / gravityPoint
}

const (
	// tiredPoints is by how much a ferment must stop short to be called tired, and doubtPoints to be doubted: half as much
	// again as yeasts of one kind differ by.
	tiredPoints = 4
	doubtPoints = 2.5
)

// stopsShort is the probability that gravity stands still well above where this yeast usually ends, with no sample fermented
// out to say where it ends in this wort: such a stand is an end or a pause.
func (bl *Belief) stopsShort(w *world, fs []future) float64 {
	if len(bl.tl.forced) > 0 || bl.levelFor(batch.Gravity) < unit.Day {
		return 0
	}
	n := 0
	for i := range fs {
		if w.z = fs[i].z; fs[i].now.perDay < 1 && w.short() > doubtPoints {
			n++
		}
	}
	return float64(n) / float64(len(fs))
}

// coldStalled: sugar is left, almost nothing happens, and five degrees more would at least double the pace.
func coldStalled(w *world, f *future) bool {
	if f.now.left < 3 || f.now.perDay > 1 {
		return false
	}
	k := w.kinetics()
	here, warmer := k.Pace(f.now.kelvin, 0), k.Pace(f.now.kelvin+5, 0)
	cold := f.now.kelvin < float64(unit.Celsius(13))
	return cold && warmer.Uptake > 1.5*here.Uptake
}

// channelOffset is the offset, SI, of the first instrument of q; 0 where there is none.
func (w *world) channelOffset(q batch.Quantity) float64 {
	for i := range w.tl.channels {
		if c := &w.tl.channels[i]; c.quantity == q {
			return c.off(w.z)
		}
	}
	return 0
}

// perhaps is the chance from which a dial that may be off is worth saying: beforehand it is one in ten, and a look at the
// open vessel settles it.
const perhaps = 0.25

// findings lists suspicions that the readings raised to better than even, most likely first.
func (bl *Belief) findings(fs []future, f *Forecast) ([]Finding, error) {
	out, err := bl.alternatives(fs)
	if err != nil {
		return nil, err
	}
	logged := asLogged(out)
	var doubted []Finding
	w := newWorld(bl.batch, bl.tl, bl.prior)
	for _, s := range suspicions {
		if !bl.hasAny(s.needs) {
			continue
		}
		x, n := make([]float64, 0, len(fs)), 0
		for i := range fs {
			w.z = fs[i].z
			if s.amiss(w, &fs[i]) {
				n++
				x = append(x, s.size(w, &fs[i]))
			}
		}
		switch p := logged * float64(n) / float64(len(fs)); {
		case p > 0.5:
			out = append(out, Finding{Kind: s.kind, Probability: p, Size: bandOf(x)})
		case p > perhaps && s.kind == FindingDialOffset:
			doubted = append(doubted, Finding{Kind: FindingCannotTell, Of: s.kind, Probability: p, Size: bandOf(x)})
		}
	}
	if len(out) == 0 {
		out = bl.unsure(f, bl.stopsShort(w, fs), doubted)
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].Probability > out[j].Probability })
	return out, nil
}

// asLogged is the probability that nothing happened besides the log, on which the belief rests, by what was found.
func asLogged(found []Finding) float64 {
	p := 1.0
	for _, f := range found {
		if f.Kind == FindingMissingVent || f.Kind == FindingSealSlow {
			p -= f.Probability
		}
	}
	return p
}

// unsure is what cannot be told, where nothing else is found: first whether it has finished, then whose error it is that
// label and sample differ, then what else is in doubt. short is the probability that it stops short.
func (bl *Belief) unsure(f *Forecast, short float64, doubted []Finding) []Finding {
	if bl.cannotTell(f) {
		return []Finding{{Kind: FindingCannotTell, Probability: math.Min(f.Now.Finished, 1-f.Now.Finished) * 2}}
	}
	if short > 0.5 {
		return []Finding{{Kind: FindingCannotTell, Probability: short}}
	}
	if d, ok := bl.againstLabel(); ok {
		return []Finding{{Kind: FindingCannotTell, Of: FindingHydrometerOffset, Probability: 0.5, Size: Band{d, d, d}}}
	}
	return doubted
}

func (bl *Belief) hasAny(qs []batch.Quantity) bool {
	for i := range bl.tl.channels {
		for _, q := range qs {
			if bl.tl.channels[i].quantity == q {
				return true
			}
		}
	}
	return false
}
