package advice

import (
	"slices"

	"spile/batch"
	"spile/co2"
	"spile/estimate"
	"spile/unit"
	"spile/vessel"
	"spile/wording"
)

// muchMore is how far above the wish gas must surely stand to be let down, volumes.
const muchMore = 0.2

// overdone: the beer surely holds more gas than is wished, cold as it is.
func (v *view) overdone() bool {
	t := v.batch.Target
	return t != nil && t.CO2 > 0 && v.isCold() && v.f.Now.Volumes.P05 > float64(t.CO2)+muchMore
}

// mostDowns is how often letting down is worth the trouble.
const mostDowns = 20

func overdone(v *view) Action {
	n, atm := &v.f.Now, unit.StandardAtmosphere(v.batch.Place.Altitude)
	beer, t := unit.Volume(n.Liquid.P50), unit.Temperature(n.Temperature.P50)
	gas := vessel.Gas{Beer: beer, Head: v.batch.Vessel.Capacity - beer}
	times := 0
	if p, err := co2.EquilibriumPressure(t, unit.Volumes(n.Volumes.P50), gas.Factor, nil); err == nil && gas.Head > 0 {
		for ; times < mostDowns && co2.Equilibrium(t, p, gas.Factor, nil) > v.batch.Target.CO2; times++ {
			p = gas.LetDown(t, p, atm)
		}
	}
	a := Action{Do: v.say("too much gas some"), When: v.style.Word("When you can."), Urgency: WhenYouCan, Caution: v.caution("c.room"),
		Why: v.say("why too much", "volumes", inBand(v.style.BareGas, n.Volumes), "wish", v.style.BareGas(v.batch.Target.CO2, 0))}
	if times > 0 && times < mostDowns {
		a.Do = v.say("too much gas", "times", v.times(times))
	}
	return a
}

// times counts: once, 3 times.
func (v *view) times(n int) string {
	if n == 1 {
		return v.style.Word("once")
	}
	return v.style.Tongue.Many(n, "%d time", "%d times", n)
}

// gasWanted is what the beer may still take from the cylinder: its carbonation, and pushing it all out.
func (v *view) gasWanted() (unit.Mass, bool) {
	c := v.f.Questions.Chill
	if c == nil || v.batch.Gas == nil || v.batch.Target == nil || v.batch.Target.CO2 <= 0 {
		return 0, false
	}
	atm := unit.StandardAtmosphere(v.batch.Place.Altitude)
	push := co2.Push(unit.Volume(v.f.Now.Liquid.P50), c.To, unit.Gauge(c.Hold.P50).Absolute(atm), nil)
	return unit.Mass(c.ToWish.P50) + push, true
}

// short: the cylinder is likely to run out before the beer does.
func (v *view) short() bool {
	wanted, ok := v.gasWanted()
	return ok && v.state != Empty && unit.Mass(v.f.Now.CylinderLeft.P50) < wanted
}

func short(v *view) Action {
	wanted, _ := v.gasWanted()
	left := unit.Mass(max(v.f.Now.CylinderLeft.P50, 0))
	return Action{
		Do: v.say("gas short", "left", v.style.Mass(left, unit.Mass(width(v.f.Now.CylinderLeft))), "wanted", v.style.Mass(wanted, 0)), When: v.style.Word("Before it is cold."),
		Why: v.say("why short"), Caution: v.caution("c.cylinder"), Urgency: WhenYouCan,
	}
}

// leastFall is how far a gauge must fall to be asked about: twice what a dial scatters by.
const leastFall = 1 * unit.PSI

// fell are the last two readings of the gauge, where it fell from one to the other, cold, with nothing done meanwhile.
func (v *view) fell() (from, to *batch.Reading, ok bool) {
	for i := len(v.log.Readings) - 1; i >= 0 && from == nil; i-- {
		switch r := &v.log.Readings[i]; {
		case r.Quantity != batch.Pressure:
		case to == nil:
			to = r
		default:
			from = r
		}
	}
	if from == nil || from.Value-to.Value < float64(leastFall) || v.now.Sub(to.Time).Hours() > oldHours || v.now.Sub(from.Time).Hours() > v.f.CooledHours+24 {
		return nil, nil, false
	}
	done := slices.ContainsFunc(v.log.Events, func(e batch.Event) bool {
		return e.Time.After(from.Time) && !e.Time.After(to.Time) && e.Kind != batch.Noticed && e.Kind != batch.HoldAt && e.Kind != batch.GasOff
	})
	return from, to, !done
}

// drinks: the gauge falls over cold beer without a cylinder that can take up more gas than it holds, and no leak is likely.
func (v *view) drinks() bool {
	l := &v.f.Questions.Leak
	if _, _, ok := v.fell(); !ok || v.set.gasOn || !v.wantsCold() || !v.chilled() || l.Verdict == "" || l.Verdict == estimate.Yes || l.Probability >= 1-leakOdds {
		return false
	}
	n := &v.f.Now
	p := unit.Gauge(n.Pressure.P50).Absolute(unit.StandardAtmosphere(v.batch.Place.Altitude))
	return float64(co2.Equilibrium(unit.Temperature(n.Temperature.P50), p, co2.BeerFactor{}, nil)) > n.Volumes.P95
}

func falling(v *view) Action {
	from, to, _ := v.fell()
	return Action{
		Do:   wording.Capital(v.say("falling", "odds", v.odds(1-v.f.Questions.Leak.Probability))),
		When: v.style.Word("Nothing to do."), Urgency: NothingToDo, Caution: v.caution("c.fridge"),
		Why: v.say("why falling", "from", v.style.Pressure(unit.Gauge(from.Value), 0), "to", v.style.Pressure(unit.Gauge(to.Value), 0)),
	}
}
