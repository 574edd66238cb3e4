package estimate

import (
	"math"
	"slices"
	"sort"
	"time"

	"spile/batch"
	"spile/bayes"
	"spile/co2"
	"spile/portable"
	"spile/unit"
	"spile/vessel"
)

// hypothesis is something that may have happened and that no unknown of the model can mimic: gas let out and not logged,
// a lid that sealed late. It is judged by how much better it explains the readings than the log as it stands, over all that
// is not known of it: when, and how far.
type hypothesis struct {
	kind  FindingKind
	odds  float64 // beforehand, against nothing of the kind
	items []item  // what happened, besides the log, the last what is not known exactly
}

const (
	// Odds beforehand (assumptions): people forget a let-down in one batch of thirty; one lid in fifty seals late.
	ventOdds = 1.0 / 30
	sealOdds = 1.0 / 50
	// leastDrop between two readings of the gauge, in their scatter, is more than readings differ by: only then is a let-down
	// thought of; and never for less than a drop that anybody lets out.
	leastDrop   = 5 * math.Sqrt2
	leastLetOut = 1 * psi
	// coolsBy is K by which the beer may cool between the two: more explains a drop.
	coolsBy = 2
	// mostVents is how many drops are looked at, the largest first.
	mostVents = 2
	// hypothesisMembers is enough to compare how well two stories explain the readings.
	hypothesisMembers = 200
)

// alternatives are findings about what may have happened besides the log, each with its probability among all stories.
func (bl *Belief) alternatives(fs []future) ([]Finding, error) {
	hs := append(bl.forgottenVents(), bl.lateSeal()...)
	if len(hs) == 0 {
		return nil, nil
	}
	weights, total := make([]float64, len(hs)), 1.0
	told := make([]*bayes.Approached, len(hs))
	for i, h := range hs {
		p, _ := bl.on(bl.tl.with(h)).problem()
		var err error
		told[i], err = bayes.Approach(p, bl.options.Seed, bayes.Options{Members: hypothesisMembers, Workers: bl.options.Workers})
		if err == bayes.ErrImpossible {
			continue
		}
		if err != nil {
			return nil, err
		}
		weights[i] = h.odds * portable.Exp(min(told[i].LogEvidence()-bl.posterior.LogEvidence, 300))
		total += weights[i]
	}
	var out []Finding
	for i, h := range hs {
		p := weights[i] / total
		if p <= 0.5 {
			continue
		}
		f := Finding{Kind: h.kind, Probability: p}
		if h.kind == FindingMissingVent {
			post, err := told[i].Posterior()
			if err != nil {
				return nil, err
			}
			f.Size, f.Since = bl.missing(h, post, &fs[middle(fs)])
		}
		out = append(out, f)
	}
	return out, nil
}

// missing is how much gas, kg, a let-down took and when, as the readings bear it out.
func (bl *Belief) missing(h hypothesis, post *bayes.Posterior, member *future) (size Band, since time.Time) {
	tl := bl.tl.with(h)
	active := tl.active()
	it := &tl.items[slices.IndexFunc(tl.items, func(it item) bool { return it.depth > 0 })]
	sizes, times, z := make([]float64, len(post.Z)), make([]float64, len(post.Z)), make([]float64, tl.dim())
	for m := range post.Z {
		for i, k := range active {
			z[k] = post.Z[m][i]
		}
		sizes[m], times[m] = bl.letOut(member, it.letDown(z)), it.when(z)
	}
	return weightedBand(sizes, post.Weight), bl.time(weightedBand(times, post.Weight).P50)
}

// with is the timeline if h happened too.
func (tl *timeline) with(h hypothesis) *timeline {
	out := *tl
	happened := slices.Clone(h.items)
	last := &happened[len(happened)-1]
	last.unsure, last.shift = math.Inf(1), out.loosen()
	if h.kind == FindingMissingVent {
		last.depth = out.loosen()
	}
	out.items = append(slices.Clone(tl.items), happened...)
	sort.SliceStable(out.items, func(i, j int) bool { return out.items[i].at < out.items[j].at })
	return &out
}

// forgottenVents proposes a let-down, not logged, for the largest drops of the gauge that nothing explains: at some time
// between the readings, to no more than the second shows.
func (bl *Belief) forgottenVents() []hypothesis {
	type drop struct {
		first, second int
		by            float64
	}
	var drops []drop
	last := -1
	for i := range bl.tl.data {
		d := &bl.tl.data[i]
		if bl.tl.channels[d.channel].quantity != batch.Pressure {
			continue
		}
		if last >= 0 {
			if by := bl.tl.data[last].value - d.value; by > max(leastDrop*bl.tl.channels[d.channel].spread(), leastLetOut) && bl.unexplained(bl.tl.data[last].at, d.at) {
				drops = append(drops, drop{last, i, by})
			}
		}
		last = i
	}
	sort.SliceStable(drops, func(i, j int) bool { return drops[i].by > drops[j].by })
	var out []hypothesis
	for _, d := range drops[:min(len(drops), mostVents)] {
		out = append(out, bl.vented(&bl.tl.data[d.first], &bl.tl.data[d.second]))
	}
	return out
}

// unexplained says whether nothing in the log between two times lets the pressure fall.
func (bl *Belief) unexplained(from, to float64) bool {
	if bl.tl.track.end() >= from && bl.tl.track.value(to) < bl.tl.track.value(from)-coolsBy {
		return false
	}
	for i := range bl.tl.items {
		if it := &bl.tl.items[i]; it.at >= from && it.at <= to && it.reading < 0 && (disturbs(it) || it.set != nil) {
			return false
		}
	}
	return !bl.gasAt(from)
}

// vented is a let-down between two readings: in the longest time between them in which nothing else was looked at.
func (bl *Belief) vented(first, second *datum) hypothesis {
	from, until, before := first.at, first.at, first.at
	for i := range bl.tl.items {
		if at := bl.tl.items[i].at; at > first.at && at <= second.at {
			if at-before > until-from {
				from, until = before, at
			}
			before = at
		}
	}
	e := batch.Event{Kind: batch.VentedTo, From: unit.Gauge(first.value), To: unit.Gauge(max(second.value, 0))}
	return hypothesis{kind: FindingMissingVent, odds: ventOdds, items: []item{{at: (from + until) / 2, from: from, until: until, event: &e, reading: -1}}}
}

// letOut is about how much gas a let-down takes from the headspace, kg.
func (bl *Belief) letOut(member *future, e batch.Event) float64 {
	atm, c := atmosphere(bl.batch), bl.contents(member)
	density := func(p unit.Gauge) float64 {
		return co2.GasDensity(c.warm, max(p.Absolute(atm)-co2.VapourPressure(c.warm), 0))
	}
	return (density(e.From) - density(e.To)) * float64(c.Head)
}

const (
	// A lid that sits loose lets gas out as fast as it comes: kg/s of CO2 at one bar (assumption).
	looseLid unit.MassRate = 1000 * unit.Gram / unit.Day
	seated                 = 5 * psi // what a loose lid does not hold (common practice, no source: lids seat at 5 to 10 psi)
	lateFrom               = 30 * unit.Hour
)

// lateSeal proposes that the lid let gas by until some time between the last reading without much pressure and the first with it.
func (bl *Belief) lateSeal() []hypothesis {
	loose := -1.0
	for i := range bl.tl.data {
		d := &bl.tl.data[i]
		switch {
		case bl.tl.channels[d.channel].quantity != batch.Pressure:
		case d.value < seated:
			loose = d.at
		case loose < lateFrom:
			return nil
		default:
			by := vessel.Fault{Kind: vessel.Leaking, Leak: looseLid}
			tight := vessel.Fault{Kind: vessel.Leaking, Leak: -looseLid}
			return []hypothesis{{kind: FindingSealSlow, odds: sealOdds, items: []item{{at: 0, fault: &by, reading: -1}, {at: (loose + d.at) / 2, from: loose, until: d.at, fault: &tight, reading: -1}}}}
		}
	}
	return nil
}
