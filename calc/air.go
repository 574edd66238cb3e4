package calc

import (
	"math"

	"spile/co2"
	"spile/portable"
	"spile/unit"
	"spile/wording"
	"spile/working"
	"spile/wort"
)

// Limits of exposure to carbon dioxide, ppm. References: [NIOSH1994]
const (
	dayLimit       = 5000  // mean of a working day
	shortLimit     = 30000 // mean of a quarter of an hour
	immediateLimit = 40000 // dangerous at once
)

// outside is the carbon dioxide of outdoor air, ppm (common knowledge).
const outside = 420

var errRoomAir = wording.Unsaid("give --rate, --released or both")

// roomAir mixes the gas evenly into a room that is aired; near the floor or in a shut fridge there is more. What is
// released at once drives out as much of the room's air, mixed: a share 1 - exp(-gas/room) is left.
func roomAir(in Inputs, out *Answer) error {
	if !in.Has("rate") && !in.Has("released") {
		return errRoomAir
	}
	density := co2.GasDensity(unit.Celsius(20), unit.Atmosphere)
	gas, atOnce := in.number("rate")/density, in.number("released")/density // m3/s, m3
	n, t := in.number("air-changes"), in.number("time")
	start := 1e6 - (1e6-outside)*portable.Exp(-atOnce/in.number("room"))
	steady := outside + 1e6*gas/(n*in.number("room"))
	now := steady + (start-steady)*portable.Exp(-n*t)
	w := out.Sheet
	w.Input("V", "room", in.number("room"), "m³", working.Given)
	w.Input("n", "changes of air", n*unit.Hour, "per h", working.Given)
	w.Input("t", "time", t/unit.Hour, "h", working.Given)
	if atOnce > 0 {
		w.Step("c0", "at the start", "c0 = 1 - (1 - 420 ppm) exp(-released/(1.84 g/L · V))", start, "ppm", "")
	} else {
		w.Input("c0", "at the start, outdoor air (memory)", start, "ppm", working.Constant)
	}
	w.Step("G", "gas at 20 °C", "G = rate/1.84 g/L", gas/unit.Litre*unit.Hour, "L/h", "")
	w.Step("cs", "in the long run", "cs = 420 ppm + G/(n V)", steady, "ppm", "")
	w.Step("c", "after that time", "c = cs + (c0 - cs) exp(-n t)", now, "ppm", "")
	if steady > 1e6 {
		return wording.Unsaid("so much gas would fill the room; check the size of the room and the rate")
	}
	if atOnce > 0 {
		out.add("start_ppm", "Carbon dioxide at the start", start, out.style.With(compact(start, 2), "ppm"))
	}
	out.add("co2_ppm", "Carbon dioxide after that time", now, out.style.With(compact(now, 2), "ppm"))
	out.add("steady_ppm", "In the long run", steady, out.style.With(compact(steady, 2), "ppm"))
	airCautions(out, max(start, now), steady)
	return nil
}

// airCautions holds the worst of the air against published limits of exposure; what it says of them stands first.
func airCautions(out *Answer, worst, later float64) {
	switch {
	case worst >= immediateLimit:
		out.warn("That is dangerous at once. Do not go in. Air it from outside first.")
	case worst >= shortLimit:
		out.warn("That is above the limit for a quarter of an hour, 30 000 ppm. Stay out, and air it first.")
	case worst >= dayLimit:
		out.warn("That is above the limit for a day of work, 5000 ppm. Air it before you stay.")
	case later >= dayLimit:
		out.warn("Left longer it goes above the limit for a day of work, 5000 ppm. Air it sooner.")
	default:
		out.note("That is below the limit for a day of work, 5000 ppm. Near the floor and in a fridge there is more.")
	}
	out.Passed = worst >= dayLimit
	out.caution("c.room")
	out.caution("c.fridge")
}

var errCooling = wording.Unsaid("the temperature wanted must lie between the start and the air around it; for example from 20 C to 3 C in air of 1 C")

// cooldown takes an ordinary beer, 4.2 °P of real extract and 3.6 % alcohol by mass;
// what its volume holds of heat varies by 1 % over beers.
func cooldown(in Inputs, out *Answer) error {
	from, to, air := in.number("from"), in.number("to"), in.number("air")
	share := (to - air) / (from - air)
	if !(share > 0 && share <= 1) {
		return errCooling
	}
	extract, middle := unit.Plato(4.2), unit.Temperature((from+to)/2)
	density, capacity := wort.BeerDensity(extract, 0.036, middle), wort.HeatCapacity(extract, middle)
	heat := in.number("volume") * density * capacity
	tau := heat / in.number("ua")
	t := tau * math.Log(1/share)
	w := out.Sheet
	w.Input("V", "beer", in.volume("volume").Litres(), "L", working.Given)
	in.loss(w)
	w.Step("C", "heat held", "C = V · %.4f kg/L · %.3f kJ/(kg K), an ordinary beer in the middle of the way", heat/1e3, "kJ/K", "Llano2005", density/1e3, capacity/1e3)
	w.Step("tau", "time constant", "tau = C/UA", tau/unit.Hour, "h", "")
	w.Step("t", "time", "t = tau ln((from - air)/(to - air))", t/unit.Hour, "h", "")
	w.Error(0.8*t/unit.Hour, 1.4*t/unit.Hour, "the loss of a vessel, and slow mixing below 4 °C")
	out.band("time_h", 0)
	out.add("time_h", "Time to cool", t/unit.Hour, out.style.Duration(unit.Duration(t), unit.Duration(out.width()*unit.Hour)))
	out.caution("l.would-pull-in")
	out.mayFreeze(in.temperature("air")) // left alone it gets as cold as the air
	out.caution("c.mains")
	return nil
}

// ppm reads a share by volume in parts per million.
func ppm(s string) (float64, error) {
	v, err := partsPerMillion(s)
	if err != nil || v >= oxygenInAir {
		return 0, wording.Unsaid("read %q; accepted is oxygen such as 1000 ppm, above 0 and below that of air", s)
	}
	return v, nil
}
