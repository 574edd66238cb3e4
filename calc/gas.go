package calc

import (
	"fmt"

	"spile/co2"
	"spile/unit"
	"spile/wording"
	"spile/working"
)

// mostCycles is how often letting down is tried before it is called hopeless.
const mostCycles = 500

// overcarbonated counts how often the gas above is let out and given back by the beer.
func overcarbonated(in Inputs, out *Answer) error {
	air, t := in.atmosphere(out.Sheet), in.temperature("temperature")
	now, target := in.volumes("volumes"), in.volumes("target")
	gas, err := in.gas()
	if err != nil {
		return err
	}
	p, err := co2.EquilibriumPressure(t, now, co2.BeerFactor{}, nil)
	if err != nil {
		return err
	}
	if least := co2.Equilibrium(t, air, co2.BeerFactor{}, nil); target <= least || target >= now {
		return wording.Unsaid("target %.2f volumes: letting down brings it from %.2f to above %.2f at that temperature", float64(target), float64(now), float64(least))
	}
	w := out.Sheet
	w.Input("V0", "gas in the beer", float64(now), "volumes", working.Given)
	w.Input("Vt", "gas wanted", float64(target), "volumes", working.Given)
	w.Input("VG", "gas space", gas.Head.Litres(), "L", working.Given)
	n := 0
	for ; now > target && n < mostCycles; n++ {
		p = gas.LetDown(t, p, air)
		now = co2.Equilibrium(t, p, co2.BeerFactor{}, nil)
	}
	if now > target {
		return wording.Unsaid("with %s of gas space it takes more than %d times; shake it gently and let gas out little by little", out.style.Volume(gas.Head, 0), mostCycles)
	}
	w.Step("n", "times", "each time: dissolved + gas space at pa = dissolved + gas space at rest", float64(n), "", "Weiss1974")
	w.Step("V", "gas in the beer after them", "what is dissolved at rest", float64(now), "volumes", "Weiss1974")
	out.add("cycles", "Let it down", float64(n), out.style.Tongue.Many(n, "%d time", "%d times", n))
	out.note("Gas off at the cylinder first. Some hours of rest between: the beer gives gas back slowly.")
	if n > 15 {
		out.note("So little gas space takes many times. Pour some beer first, or move it to a larger vessel.")
	}
	out.warn(letSlowly)
	out.caution("c.room")
	return nil
}

func cylinder(in Inputs, out *Answer) error {
	from, to := in.volumes("from-volumes"), in.volumes("to-volumes")
	if to < from {
		return wording.Unsaid("%.1f volumes are wanted and %.1f are there; see spile calc overcarbonated", float64(to), float64(from))
	}
	air := in.atmosphere(out.Sheet)
	carbonate := co2.Carbonate(from, to, in.volume("volume"), out.Sheet)
	push := co2.Push(in.volume("push"), in.temperature("temperature"), in.gauge("pressure").Absolute(air), out.Sheet)
	batch := carbonate + push
	out.add("carbonate_g", "To carbonate", carbonate.Grams(), out.style.Mass(carbonate, 0))
	out.add("push_g", "To push", push.Grams(), out.style.Mass(push, 0))
	out.add("together_g", "Together", batch.Grams(), out.style.Mass(batch, 0))
	if in.Has("content") {
		content := unit.Mass(in.number("content"))
		batches := float64(content / batch)
		out.Sheet.Step("n", "batches", "n = content/(m + mp)", batches, "", "")
		out.add("batches", "Batches that the cylinder still carries", batches, fmt.Sprintf("%.1f", batches))
	}
	if in.Has("used") {
		usedBeside(in, out, batch)
	}
	out.note("Flushing the vessel comes on top: see spile calc purge. The cylinder's own gauge stands still until the liquid in it is gone.")
	out.caution("c.cylinder")
	return nil
}

// useSD is how far the gas for a batch may be off, as a share: volumes and carbonation are known to so much (assumption).
const useSD = 0.08

// usedBeside holds what the cylinder lost beside what the beer took.
func usedBeside(in Inputs, out *Answer, batch unit.Mass) {
	extra := unit.Mass(in.number("used")) - batch
	half := nineInTen * useSD * float64(batch)
	out.Sheet.Step("x", "gas unaccounted for", "x = weight lost - m - mp", extra.Grams(), "g", "")
	out.Sheet.Error((float64(extra)-half)/unit.Gram, (float64(extra)+half)/unit.Gram, "volumes and carbonation are known to some percent")
	out.band("unaccounted_g", 0)
	out.add("unaccounted_g", "Unaccounted for", extra.Grams(), out.style.With(compact(extra.Grams(), 2), "g"))
	switch {
	case float64(extra) > half:
		out.note("More is gone than the beer took: flushing, or a leak. See spile calc leak, with cylinder side and vessel side apart.")
	default:
		out.note("What is gone is what the beer took: no sign of a leak.")
	}
}
