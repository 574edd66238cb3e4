package advice

import (
	"spile/batch"
	"spile/dispense"
	"spile/limit"
	"spile/unit"
	"spile/wording"
)

// Pourable tells whether beer in a state is for pouring.
func (s State) Pourable() bool { return s == TakingGas || s == Ready || s == Pouring }

// glassFoams: somebody noticed mostly foam in the glass of a beer that can be poured.
func (v *view) glassFoams() bool {
	return v.state.Pourable() && v.noticedLately(batch.FoamInGlass)
}

// foamInGlass says why it foams as far as the vessel alone tells. Where that holds its gas, the line is to blame, which
// nobody described here.
func foamInGlass(v *view) Action {
	n := &v.f.Now
	t, gas, p := unit.Temperature(n.Temperature.P50), unit.Volumes(n.Volumes.P50), unit.Gauge(n.Pressure.P50)
	a := Action{Do: v.say("foam line"), When: v.style.Word("With the next glass."), Why: v.say("why foam line"), Caution: v.caution("c.drink"), Urgency: WhenYouCan}
	d, found, err := dispense.Pour{Pressure: p, Beer: t, Warmest: t, Volumes: gas, Air: unit.StandardAtmosphere(v.batch.Place.Altitude)}.FoamInVessel()
	if err != nil || !found {
		return a
	}
	fix := v.style.Say("letting it down to about %s", v.style.BareGas(d.Rests, 0))
	cause := wording.Text("it holds too much gas")
	a.Why = v.say("why foam gas", "volumes", v.style.BareGas(gas, 0), "most", v.style.BareGas(dispense.MostGas, 0))
	if d.Cause == dispense.OutInVessel {
		cause = "gas comes out in the vessel"
		a.Why = v.say("why foam out", "temp", v.style.Temperature(t, 0), "volumes", v.style.BareGas(gas, 0), "hold", v.style.Dials(d.Hold, 0), "p", v.style.Dials(p, 0))
	}
	care := limit.Key("c.room")
	if d.Cools > 0 {
		fix, care = v.style.Say("cooling it to %s", v.style.Temperature(d.Cools, 0)), "c.fridge"
	}
	a.Do, a.Caution = v.say("foam glass", "cause", v.style.Word(cause), "fix", fix), join(v.caution(care), a.Caution)
	return a
}
