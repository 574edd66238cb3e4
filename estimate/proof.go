package estimate

import (
	"math"
	"sort"
	"time"

	"spile/batch"
	"spile/co2"
	"spile/unit"
	"spile/vessel"
)

const (
	settles    = 2 * unit.Hour // that a let-down takes to be given back for the most part (assumption)
	leastApart = 6 * unit.Hour // between the readings of a run
	nearValve  = 1 * psi       // below its setting a valve may already have let gas out
)

// proofs finds the quiet-gauge runs of the log: the pressure let down, then two readings with nothing done between.
func (bl *Belief) proofs(grid []float64, fs []future) []Proof {
	var out []Proof
	for i, it := range bl.tl.items {
		if it.event == nil || it.event.Kind != batch.VentedTo || bl.gasAt(it.at) {
			continue
		}
		if p, ok := bl.proofAfter(i, grid, fs); ok {
			out = append(out, p)
		}
	}
	return out
}

// proofAfter judges the run that begins with the let-down at items[i].
func (bl *Belief) proofAfter(i int, grid []float64, fs []future) (Proof, bool) {
	begin := &bl.tl.items[i]
	first, second := -1, -1
	for _, it := range bl.tl.items[i+1:] {
		if it.at > bl.tl.now || disturbs(&it) {
			break
		}
		if it.reading < 0 || bl.tl.channels[bl.tl.data[it.reading].channel].quantity != batch.Pressure || it.at < begin.at+settles {
			continue
		}
		if first < 0 {
			first = it.reading
		} else if it.at >= bl.tl.data[first].at+leastApart {
			second = it.reading
		}
	}
	if second < 0 {
		return Proof{}, false
	}
	return bl.proof(begin, &bl.tl.data[first], &bl.tl.data[second], grid, fs)
}

// disturbs says whether gas or beer went in or out, so that a run ends.
func disturbs(it *item) bool {
	if s := it.set; s != nil && (s.Gas != nil || s.Relief != nil || s.Hold != nil) {
		return true
	}
	e := it.event
	return e != nil && (e.Kind == batch.VentedTo || e.Kind == batch.SampleTaken || e.Kind == batch.Poured || e.Kind == batch.Opened || e.Kind == batch.DryHopped)
}

func (bl *Belief) proof(begin *item, first, second *datum, grid []float64, fs []future) (Proof, bool) {
	atm := atmosphere(bl.batch)
	c := bl.contents(&fs[middle(fs)])
	state := func(d *datum) co2.State {
		return co2.State{At: unit.Duration(d.at), Temperature: bl.temperatureAt(d.at), Pressure: unit.Gauge(d.value).Absolute(atm)}
	}
	q := vessel.QuietGauge{Gas: c.Gas, Original: bl.batch.Wort.Gravity, Gauges: bl.gauges(), First: state(first), Second: state(second)}
	if bl.tl.track.end() < first.at {
		q.Gauges.Temperature = unmeasuredSD
	}
	q.Rebound = c.GivesBack(bl.temperatureAt(begin.at), begin.event.From.Absolute(atm), begin.event.To.Absolute(atm), max(1, bl.overfull(begin.at, grid, fs)))
	r, leak, err := bl.points(q, (first.value+second.value)/2)
	if err != nil {
		return Proof{}, false
	}
	when := func(d *datum) time.Time { return bl.time(d.at) }
	return Proof{First: when(first), Second: when(second), Quiet: r, Opened: unit.Gauge(second.value) > bl.reliefNow()-nearValve, Leak: leak}, true
}

// overfull is how many times what it would hold at rest the beer held shortly before a time, s since pitching, the middle future: beer that
// worked a day ago, or was let down just before, still gives gas back that the gauge above it does not show.
func (bl *Belief) overfull(at float64, grid []float64, fs []future) float64 {
	i := max(sort.SearchFloat64s(grid, at)-1, 0)
	atm := atmosphere(bl.batch)
	times := over(fs, func(f *future) float64 {
		rest := co2.Equilibrium(unit.Temperature(f.kelvin[i]), unit.Gauge(f.gauge[i]).Absolute(atm), bl.contents(f).Factor, nil)
		return f.volumes[i] / float64(rest)
	})
	return bandOf(times).P50
}

// points is what a run says once the leak that past batches taught of the vessel is taken into account, at a middle gauge
// pressure, Pa, with how well it is known; and that leak, 0 where it is not known.
func (bl *Belief) points(q vessel.QuietGauge, gauge float64) (vessel.Quiet, unit.MassRate, error) {
	leak, known := bl.knownLeak()
	if !known {
		r, err := q.Points(nil)
		return r, 0, err
	}
	at := func(grams float64) co2.LeakRate { return co2.LeakRate(leakConductance(grams) * math.Max(gauge, 0)) }
	q.Leak = at(leak.P95)
	most, err := q.Points(nil)
	if err != nil {
		return most, 0, err
	}
	q.Leak = at(leak.P50)
	r, err := q.Points(nil)
	sd := math.Hypot(r.SD, (most.Points-r.Points)/NineInTen)
	r.SD, r.Limit = sd, r.Limit*sd/r.SD
	return r, q.Leak.Mass(), err
}

// knownLeak is the leak of this vessel, g/day at 1 bar, where finished batches have taught it.
func (bl *Belief) knownLeak() (leak Band, known bool) {
	usual := GenericPrior(bl.batch.Yeast.Kind)
	leak, before := bl.prior.band(Leak), usual.band(Leak)
	return leak, bl.prior[Leak].SD < toldBy*usual[Leak].SD || leak.P95 < boundBy*before.P95
}

// unmeasuredSD is how far the temperature of a vessel without a thermometer may have moved, K (assumption).
const unmeasuredSD unit.TemperatureDifference = 1.5

// temperatureAt is the measured temperature of the beer, or what was to be kept.
func (bl *Belief) temperatureAt(at float64) unit.Temperature {
	if bl.tl.track.end() >= 0 {
		return unit.Temperature(bl.tl.track.value(at))
	}
	if bl.tl.hold > 0 {
		return bl.tl.hold
	}
	return bl.batch.Place.Ambient
}
