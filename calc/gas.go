package calc

import (
	"fmt"
	"math"

	"spile/co2"
	"spile/unit"
	"spile/vessel"
	"spile/working"
)

// absorption follows still beer under gas: the layer that takes gas up grows heavier and
// sinks, so that the film velocity goes with the cube root of the gap, and the gap left is
// (1 + t/(3 tau))^-3. Times are known to half.
func absorption(in Inputs, out *Answer) error {
	air := in.atmosphere(out.Sheet)
	t, p, from := in.temperature("temperature"), in.gauge("pressure").Absolute(air), in.volumes("from-volumes")
	if p <= co2.VapourPressure(t) {
		return fmt.Errorf("at %s there is only water vapour left above the beer; accepted is a dial reading such as 10 psi", gaugeWords(in.gauge("pressure"), 0))
	}
	equilibrium := co2.Equilibrium(t, p, co2.BeerFactor{}, out.Sheet)
	gap := equilibrium - from
	if gap <= 0 {
		return fmt.Errorf("beer with %.1f volumes takes up nothing there: at rest it holds %.1f; ask overcarbonated, or set more pressure", float64(from), float64(equilibrium))
	}
	diameter := in.number("diameter")
	tau := in.number("volume") / (vessel.FilmVelocity(gap, t) * math.Pi / 4 * diameter * diameter)
	reached := func(pace float64) unit.Volumes {
		return equilibrium - gap*unit.Volumes(math.Pow(1+pace*in.number("time")/(3*tau), -3))
	}
	w := out.Sheet
	w.Input("V0", "gas in the beer at the start", float64(from), "volumes", working.Given)
	w.Step("tau", "time constant at the start", "tau = volume/(kL · pi/4 d²)", tau/unit.Day, "days", "")
	w.Step("Vt", "gas in the beer then", "Vt = V - (V - V0) (1 + t/(3 tau))^-3", float64(reached(1)), "volumes", "")
	w.Error(float64(reached(0.5)), float64(reached(2)), "no still beer was measured over time: twice as slow or twice as quick")
	out.band("co2_volumes", 0)
	out.add("co2_volumes", "Gas in the beer then", float64(reached(1)), unit.FormatVolumes(reached(1), 0))
	out.add("equilibrium_volumes", "If it stands long enough", float64(equilibrium), unit.FormatVolumes(equilibrium, 0))
	out.rate(in, in.gauge("pressure"))
	return nil
}

// mostCycles is how often letting down is tried before it is called hopeless.
const mostCycles = 500

// overcarbonated counts how often the gas above is let out and given back by the beer.
func overcarbonated(in Inputs, out *Answer) error {
	air, t := in.atmosphere(out.Sheet), in.temperature("temperature")
	now, target := in.volumes("volumes"), in.volumes("target")
	volume, head := in.number("volume"), in.number("capacity")-in.number("volume")
	if head <= 0 {
		return fmt.Errorf("%s of beer does not fit into %s with any gas above it", unit.FormatVolume(in.volume("volume"), 0), unit.FormatVolume(in.volume("capacity"), 0))
	}
	if _, err := co2.EquilibriumPressure(t, now, co2.BeerFactor{}, nil); err != nil {
		return err
	}
	if least := co2.Equilibrium(t, air, co2.BeerFactor{}, nil); target <= least || target >= now {
		return fmt.Errorf("target %.2f volumes: letting down brings it from %.2f to above %.2f at that temperature", float64(target), float64(now), float64(least))
	}
	w := out.Sheet
	w.Input("V0", "gas in the beer", float64(now), "volumes", working.Given)
	w.Input("Vt", "gas wanted", float64(target), "volumes", working.Given)
	w.Input("VG", "gas space", head/unit.Litre, "L", working.Given)
	n := 0
	for ; now > target && n < mostCycles; n++ {
		now = letDown(t, air, now, volume, head)
	}
	if now > target {
		return fmt.Errorf("with %s of gas space it takes more than %d times; shake it gently and let gas out little by little", unit.FormatVolume(unit.Volume(head), 0), mostCycles)
	}
	w.Step("n", "times", "each time: dissolved + gas space at pa = dissolved + gas space at rest", float64(n), "", "Weiss1974")
	w.Step("V", "gas in the beer after them", "what is dissolved at rest", float64(now), "volumes", "Weiss1974")
	out.add("cycles", "Let it down", float64(n), fmt.Sprintf("%d times; stop each time before foam reaches the valve", n))
	return nil
}

// letDown is the carbonation at rest after the gas space was let out to the air outside:
// the pressure is found at which dissolved gas and gas space hold what was left.
func letDown(t unit.Temperature, air unit.Pressure, now unit.Volumes, volume, head float64) unit.Volumes {
	moles := func(v unit.Volumes, p unit.Pressure) float64 {
		return float64(v)*volume/co2.IdealMolarVolume + co2.GasDensity(t, p)/co2.MolarMass*head
	}
	total := moles(now, air)
	low, high := air, unit.Pressure(highestAtRest)
	for range 60 {
		p := (low + high) / 2
		if moles(co2.Equilibrium(t, p, co2.BeerFactor{}, nil), p) < total {
			low = p
		} else {
			high = p
		}
	}
	return co2.Equilibrium(t, high, co2.BeerFactor{}, nil)
}

// highestAtRest is the pressure up to which the solubility holds, Pa absolute.
const highestAtRest = 6 * unit.Bar

func cylinder(in Inputs, out *Answer) error {
	from, to := in.volumes("from-volumes"), in.volumes("to-volumes")
	if to < from {
		return fmt.Errorf("%.1f volumes are wanted and %.1f are there; ask overcarbonated", float64(to), float64(from))
	}
	air := in.atmosphere(out.Sheet)
	carbonate := co2.Carbonate(from, to, in.volume("volume"), out.Sheet)
	push := co2.Push(in.volume("push"), in.temperature("temperature"), in.gauge("pressure").Absolute(air), out.Sheet)
	out.add("carbonate_g", "To carbonate", carbonate.Grams(), unit.FormatMass(carbonate, 0))
	out.add("push_g", "To push", push.Grams(), unit.FormatMass(push, 0))
	out.caution("c.cylinder")
	return nil
}
