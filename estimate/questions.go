package estimate

import (
	"math"
	"sort"
	"time"

	"spile/batch"
	"spile/co2"
	"spile/limit"
	"spile/unit"
	"spile/vessel"
)

// Questions are what a belief answers beyond the forecast of the plan.
type Questions struct {
	Chill *Rehearsal // what cold would do to the vessel as it is now
	Own   *Keeping   // nil: no gas is wished for, or nothing is left to make it
	Quiet *Proposal  // nil: no working valve is set, or the beer is cold
	Proof []Proof    // quiet-gauge runs that the log holds, oldest first
	Leak  Leaking    // whether the vessel loses gas
	Next  []Settles  // by question, the reading that narrows it most
	Turns []Turned   // changes of the temperature that were not written down, oldest first
}

// Rehearsal is a chill before it happens: shut, no gas, beer and gas at rest.
type Rehearsal struct {
	To       unit.Temperature
	Pressure Band    // Pa gauge at the end
	Volumes  Band    // of CO2 in the beer then
	PullsIn  float64 // probability of ending below the air outside
	ToStay   Band    // kg of CO2 that keep it from that; 0 where none is needed
	ToWish   Band    // kg of CO2 for the gas wished for; all zero where none is named
	Hold     Band    // Pa gauge at rest, cold, with the gas wished for
}

// Keeping is the gas that the last points of gravity leave under a working valve that stays free.
type Keeping struct {
	Setting unit.Gauge
	Needed  unit.Gauge // the setting that the whole wish would need
	Capped  bool       // Setting is what rating and safety valve allow, not what the wish needs
	Advised bool       // a safety valve within a known rating stands against it; else Setting is no advice
	Volumes Band       // of CO2 in the beer, cold, once it is done
	Enough  float64    // probability that the last points suffice for Setting
	Saves   Band       // kg of cylinder gas beside the setting in force
}

// Proposal is a quiet-gauge test that could be made now.
type Proposal struct {
	From, To unit.Gauge
	Times    int // 0: it need not be let down; -1: no letting down suffices
	Rebound  Band
	Hours    float64 // between the readings
	Limit    float64 // the least fall found in four cases of five, points a day
	Expected Band    // points a day
}

// Proof is a quiet-gauge run found in the log.
type Proof struct {
	First, Second time.Time
	vessel.Quiet
	Opened bool          // the valve may have let gas out before the second reading: it is not finished
	Leak   unit.MassRate // that the vessel is known to have lost meanwhile, counted in; 0: not known, the points are net of it
}

// questions answers from the futures, and from what was found amiss, what the vessel as it is now would do.
func (bl *Belief) questions(grid []float64, fs []future, found []Finding) Questions {
	now := make([]contents, len(fs))
	for i := range fs {
		now[i] = bl.contents(&fs[i])
	}
	return Questions{Chill: bl.rehearse(now), Own: bl.keeping(fs, now), Quiet: bl.proposal(fs, now), Proof: bl.proofs(grid, fs), Leak: bl.leaking(fs, found), Next: bl.settles(grid, fs), Turns: bl.turned()}
}

// contents is one member's beer and gas now.
type contents struct {
	vessel.Gas
	mol  float64 // of CO2
	air  float64 // Pa of air above the beer, at the temperature now
	warm unit.Temperature
}

func (bl *Belief) contents(f *future) contents {
	beer := unit.Volume(f.now.liquid)
	head := max(bl.batch.Vessel.Capacity-beer, bl.batch.Vessel.Capacity/200)
	z := func(u Unknown) float64 { return bl.prior.value(u, f.z[u]) }
	c := contents{warm: unit.Temperature(f.now.kelvin)}
	c.Gas = vessel.Gas{Beer: beer, Head: head, Factor: co2.BeerFactor{Level: z(BeerLevel), Slope: z(BeerSlope)}}
	c.mol = float64(f.now.ledger.Dissolved+f.now.ledger.Headspace) / co2.MolarMass
	above := co2.PressureKernel(float64(f.now.ledger.Headspace)/co2.MolarMass/float64(head), f.now.kelvin)
	p := float64(unit.Gauge(f.now.gauge).Absolute(atmosphere(bl.batch)))
	c.air = math.Max(p-above-float64(co2.VapourPressure(c.warm)), 0)
	return c
}

// shut is the gauge pressure at rest at t with mol of CO2 in the vessel.
func (c contents) shut(t unit.Temperature, mol float64, atm unit.Pressure) float64 {
	return float64(c.AtRest(t, mol)) + c.air*float64(t/c.warm) - float64(atm)
}

// over collects a number over the futures.
func over(fs []future, get func(f *future) float64) []float64 {
	x := make([]float64, len(fs))
	for i := range fs {
		x[i] = get(&fs[i])
	}
	return x
}

// rehearse chills the vessel as it is now, shut, to the temperature it is meant to be served at.
func (bl *Belief) rehearse(now []contents) *Rehearsal {
	atm, to := atmosphere(bl.batch), bl.coldest()
	r := &Rehearsal{To: to}
	var target unit.Volumes
	if bl.batch.Target != nil {
		target = bl.batch.Target.CO2
	}
	n := len(now)
	pressure, volumes, stay, wish, hold := make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
	for i, c := range now {
		pressure[i] = c.shut(to, c.mol, atm)
		volumes[i] = float64(co2.Equilibrium(to, c.AtRest(to, c.mol), c.Factor, nil))
		if pressure[i] < 0 {
			r.PullsIn += 1 / float64(n)
			stay[i] = math.Max(c.Content(to, atm-unit.Pressure(c.air*float64(to/c.warm)))-c.mol, 0) * co2.MolarMass
		}
		if p, err := co2.EquilibriumPressure(to, target, c.Factor, nil); err == nil && target > 0 {
			wish[i] = math.Max(c.Content(to, p)-c.mol, 0) * co2.MolarMass
			hold[i] = float64(p.Gauge(atm))
		}
	}
	r.Pressure, r.Volumes, r.ToStay, r.ToWish, r.Hold = bandOf(pressure), bandOf(volumes), bandOf(stay), bandOf(wish), bandOf(hold)
	return r
}

// coldest is where the beer is meant to be served, or where most is.
func (bl *Belief) coldest() unit.Temperature {
	if t := bl.batch.Target; t != nil && t.Temperature > 0 {
		return t.Temperature
	}
	for _, s := range bl.batch.Programme {
		if s.Set.Hold != nil && *s.Set.Hold <= ServedCold+coldEnough {
			return *s.Set.Hold
		}
	}
	return ServedCold
}

// leastOwn is how much must be left to ferment for own gas to be worth a setting, points.
const leastOwn = 0.5

// keeping is the valve setting that keeps enough of the last points for the gas wished for.
func (bl *Belief) keeping(fs []future, now []contents) *Keeping {
	t := bl.batch.Target
	left := bandOf(over(fs, func(f *future) float64 { return f.now.left }))
	if t == nil || t.CO2 <= 0 || left.P95 < leastOwn || bl.cold(fs) {
		return nil
	}
	atm, k := atmosphere(bl.batch), &Keeping{}
	own := make([]vessel.OwnGas, len(fs))
	needed := make([]float64, len(fs))
	for i, c := range now {
		made := math.Max(fs[i].now.left, 0) * vessel.GasPerPoint(bl.batch.Wort.Gravity) * float64(c.Beer) / co2.MolarMass
		own[i] = vessel.OwnGas{Gas: c.Gas, Warm: c.warm, Wish: bl.coldest(), Now: c.mol, Made: made}
		p, err := own[i].Setting(t.CO2, nil)
		if err != nil {
			return nil
		}
		needed[i] = float64(p.Gauge(atm))
	}
	k.Needed = unit.Gauge(bandOf(needed).P50)
	k.Setting = k.Needed
	plate := &bl.batch.Vessel
	k.Advised = limit.Guarded(plate.Rating, plate.SafetyRelief)
	if most, rated := vessel.HighestValve(plate.Rating, plate.SafetyRelief); rated && k.Setting > most {
		k.Setting, k.Capped = most, true
	}
	bl.keeps(k, own)
	return k
}

// keeps fills in what comes of the setting.
func (bl *Belief) keeps(k *Keeping, own []vessel.OwnGas) {
	atm := atmosphere(bl.batch)
	inForce := bl.reliefNow()
	volumes, saves := make([]float64, len(own)), make([]float64, len(own))
	for i, o := range own {
		opens := max(k.Setting, 0).Absolute(atm)
		volumes[i] = float64(o.Keeps(o.Reaches(o.Made, opens)))
		if o.Lacks(opens) <= 0 {
			k.Enough += 1 / float64(len(own))
		}
		before := o.Reaches(o.Made, max(min(inForce, k.Setting), 0).Absolute(atm))
		saves[i] = math.Max(o.Content(o.Warm, o.Reaches(o.Made, opens))-o.Content(o.Warm, before), 0) * co2.MolarMass
	}
	k.Volumes, k.Saves = bandOf(volumes), bandOf(saves)
}

// reliefNow is the setting of the working valve in force.
func (bl *Belief) reliefNow() unit.Gauge {
	if set := bl.tl.inForce(bl.tl.now); set.relief != nil {
		return *set.relief
	}
	return defaultRelief(bl.tl)
}

// gasAt says whether cylinder gas is open to the vessel then.
func (bl *Belief) gasAt(at float64) bool { return bl.tl.inForce(at).gas != nil }

// cold says that the beer has been cooled for serving.
func (bl *Belief) cold(fs []future) bool {
	return unit.Temperature(bandOf(over(fs, func(f *future) float64 { return f.now.kelvin })).P50) <= ServedCold+coldEnough
}

// proposal is from where to where to let down for a quiet-gauge test now, and what it would find.
func (bl *Belief) proposal(fs []future, now []contents) *Proposal {
	relief := bl.reliefNow()
	if relief <= 0 || bl.cold(fs) || bl.gasAt(bl.tl.now) {
		return nil
	}
	atm := atmosphere(bl.batch)
	gauge := bandOf(over(fs, func(f *future) float64 { return f.now.gauge }))
	c := now[middle(fs)]
	from := unit.Gauge(gauge.P50).Absolute(atm)
	to, times := c.LetDownTo(c.warm, from, relief.Absolute(atm), atm, bl.batch.Wort.Gravity, vessel.QuietRoom)
	p := &Proposal{From: unit.Gauge(gauge.P50), To: to.Gauge(atm), Times: times, Hours: 24}
	p.Expected = bandOf(over(fs, func(f *future) float64 { return f.now.perDay }))
	back := from
	if times > 0 {
		back = c.LetDown(c.warm, from, to)
	}
	rebound := make([]float64, len(now))
	for i, m := range now {
		rebound[i] = float64(m.LetDown(m.warm, from, to).Gauge(atm))
	}
	p.Rebound = bandOf(rebound)
	at := co2.State{Temperature: c.warm, Pressure: back}
	run := vessel.QuietGauge{Gas: c.Gas, Original: bl.batch.Wort.Gravity, Gauges: bl.gauges(), First: at, Second: at}
	run.Second.At = unit.Duration(p.Hours * unit.Hour)
	found, _, err := bl.points(run, float64(back.Gauge(atm)))
	if err != nil {
		return nil
	}
	p.Limit = found.Limit
	return p
}

// middle is the place of the future whose pressure now is the median.
func middle(fs []future) int {
	order := make([]int, len(fs))
	for i := range order {
		order[i] = i
	}
	sort.Slice(order, func(i, j int) bool { return fs[order[i]].now.gauge < fs[order[j]].now.gauge })
	return order[len(order)/2]
}

// gauges is the scatter of the instruments in use: the best that have read pressure and temperature so far.
func (bl *Belief) gauges() vessel.Gauges {
	g := vessel.DialAndStrip
	for _, c := range bl.tl.channels {
		switch c.quantity {
		case batch.Pressure:
			g.Pressure = min(g.Pressure, unit.Gauge(c.spread()))
		case batch.Temperature:
			g.Temperature = min(g.Temperature, unit.TemperatureDifference(c.Scatter))
		}
	}
	return g
}
