package advice

import (
	"spile/co2"
	"spile/unit"
	"spile/vessel"
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
