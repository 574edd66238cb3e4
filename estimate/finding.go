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

// A leak above this is worth a search: a 2.6 kg cylinder in nine months.
const leakWorthIt = 10.0 // g/day at 1 bar

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
		kind:  FindingColdStall,
		amiss: coldStalled,
		size:  func(_ *world, f *future) float64 { return f.now.kelvin },
		needs: []batch.Quantity{batch.Gravity, batch.Pressure, batch.VesselMass, batch.VentedGas},
	},
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
			return c.Offset * w.z[c.offset]
		}
	}
	return 0
}

// findings lists suspicions that the readings raised to better than even, most likely first.
func (bl *Belief) findings(fs []future, f *Forecast) []Finding {
	var out []Finding
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
		if p := float64(n) / float64(len(fs)); p > 0.5 {
			out = append(out, Finding{Kind: s.kind, Probability: p, Size: bandOf(x)})
		}
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].Probability > out[j].Probability })
	return out
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
