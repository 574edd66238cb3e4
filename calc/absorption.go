package calc

import (
	"errors"
	"math"

	"spile/co2"
	"spile/portable"
	"spile/unit"
	"spile/vessel"
	"spile/wording"
	"spile/working"
)

// highestAtRest is the pressure up to which the solubility holds, Pa absolute.
const highestAtRest = 6 * unit.Bar

var (
	errAbsorption = wording.Unsaid("give two of --pressure, --time and --to-volumes")
	errNotInReach = wording.Unsaid("no pressure up to 6 bar absolute gets there in that time; give it longer")
)

// still is still beer under gas: the layer that takes gas up grows heavier and sinks, so that the film velocity goes with
// the cube root of the gap, and the gap left is (1 + t/(3 tau))^-3. Times are known to half. Where the uptake is known,
// as of a vessel that was watched or of beer that is shaken, the gap left is exp(-t/tau).
type still struct {
	t        unit.Temperature
	p        unit.Pressure
	from     unit.Volumes
	volume   float64
	diameter float64
	uptake   float64 // share of the gap an s, where it is known or the beer is shaken; 0: still
}

// ends is the gas in the beer once at rest, and how much is missing now.
func (s still) ends() (equilibrium, gap unit.Volumes) {
	equilibrium = co2.Equilibrium(s.t, s.p, co2.BeerFactor{}, nil)
	return equilibrium, equilibrium - s.from
}

// tau is the time constant at the start, s.
func (s still) tau() float64 {
	if s.uptake > 0 {
		return 1 / s.uptake
	}
	_, gap := s.ends()
	return s.volume / (vessel.FilmVelocity(gap, s.t) * math.Pi / 4 * s.diameter * s.diameter)
}

// after is the gas in the beer after a time at a pace beside that expected.
func (s still) after(time, pace float64) unit.Volumes {
	equilibrium, gap := s.ends()
	return equilibrium - gap*unit.Volumes(s.left(pace*time/s.tau()))
}

// left is the share of the gap left after so many time constants.
func (s still) left(x float64) float64 {
	if s.uptake > 0 {
		return portable.Exp(-x)
	}
	return portable.Pow(1+x/3, -3)
}

// until is the time to reach so much gas, s.
func (s still) until(target unit.Volumes) float64 {
	equilibrium, gap := s.ends()
	over := float64(gap / (equilibrium - target))
	if s.uptake > 0 {
		return s.tau() * math.Log(over)
	}
	return 3 * s.tau() * (math.Cbrt(over) - 1)
}

func absorption(in Inputs, out *Answer) error {
	if !in.exactly(2, "pressure", "time", "to-volumes") {
		return errAbsorption
	}
	air := in.atmosphere(out.Sheet)
	s := still{t: in.temperature("temperature"), from: in.volumes("from-volumes"), volume: in.number("volume"), diameter: in.number("diameter"), uptake: in.number("uptake")}
	time, target := in.number("time"), in.volumes("to-volumes")
	var err error
	if in.Has("pressure") {
		if s.p = in.gauge("pressure").Absolute(air); s.p <= co2.VapourPressure(s.t) {
			return in.onlyVapour(in.gauge("pressure"))
		}
	} else {
		if s.p, err = s.pressureFor(target, time); err != nil {
			return err
		}
		out.Sheet.Step("p", "pressure under which it gets there, absolute", "found by trial", float64(s.p)/unit.Kilopascal, "kPa", "")
	}
	equilibrium := co2.Equilibrium(s.t, s.p, co2.BeerFactor{}, out.Sheet)
	if equilibrium <= s.from {
		return wording.Unsaid("beer with %.1f volumes takes up nothing there: at rest it holds %.1f; see spile calc overcarbonated, or set more pressure", float64(s.from), float64(equilibrium))
	}
	if !in.Has("time") {
		if target >= equilibrium || target <= s.from {
			return wording.Unsaid("%.2f volumes are never reached from %.2f under that pressure: at rest it holds %.2f", float64(target), float64(s.from), float64(equilibrium))
		}
		time = s.until(target)
	}
	s.answer(in, out, time, air)
	return nil
}

// pressureFor is the pressure, absolute, under which the target is reached in that time.
func (s still) pressureFor(target unit.Volumes, time float64) (unit.Pressure, error) {
	if target <= s.from {
		return 0, wording.Unsaid("%.2f volumes are there and %.2f are wanted; see spile calc overcarbonated", float64(s.from), float64(target))
	}
	low, err := co2.EquilibriumPressure(s.t, target, co2.BeerFactor{}, nil)
	if err != nil {
		return 0, err
	}
	p, err := solve(float64(low), highestAtRest, func(p float64) (float64, error) {
		s.p = unit.Pressure(p)
		return float64(s.after(time, 1) - target), nil
	})
	if errors.Is(err, errNoRoot) {
		err = errNotInReach
	}
	return unit.Pressure(p), err
}

func (s still) answer(in Inputs, out *Answer, time float64, air unit.Pressure) {
	equilibrium, _ := s.ends()
	reached, w := s.after(time, 1), out.Sheet
	w.Input("V0", "gas in the beer at the start", float64(s.from), "volumes", working.Given)
	s.explain(w)
	pace, why := 2.0, wording.Text("no still beer was measured over time: twice as slow or twice as quick")
	if s.uptake > 0 {
		pace, why = 1.3, "the uptake is known to a third"
	}
	switch {
	case !in.Has("time"):
		w.Step("t", "time", "from the law of Vt, turned round", time/unit.Hour, "h", "")
		w.Error(time/unit.Hour/pace, pace*time/unit.Hour, why)
		out.band("time_h", 0)
		out.add("time_h", "It takes", time/unit.Hour, out.style.Duration(unit.Duration(time), unit.Duration(out.width()*unit.Hour)))
	case !in.Has("pressure"):
		out.addGauge("pressure_kpa", in.regulator(s.p.Gauge(air), "Set the regulator to", "The pressure that gets it there"), s.p.Gauge(air))
	}
	w.Step("Vt", "gas in the beer then", s.law(), float64(reached), "volumes", "")
	if in.Has("time") {
		w.Error(float64(s.after(time, 1/pace)), float64(s.after(time, pace)), why)
		out.band("co2_volumes", 0)
	}
	width := 0.0
	if in.Has("time") {
		width = out.width()
	}
	out.add("co2_volumes", "Gas in the beer then", float64(reached), out.style.Gas(reached, unit.Volumes(width)))
	out.add("equilibrium_volumes", "If it stands long enough", float64(equilibrium), out.style.Gas(equilibrium, 0))
	late := float64(s.after(time+unit.Hour, 1) - reached)
	out.add("volumes_per_h", "An hour late adds", late, out.style.With(compact(late, 2), "volumes"))
	s.thenHold(in, out, reached, air)
	out.caution("c.regulator")
	out.rate(in, s.p.Gauge(air))
}

// law is how the gas in the beer goes with time.
func (s still) law() working.Formula {
	if s.uptake > 0 {
		return "Vt = V - (V - V0) exp(-t/tau)"
	}
	return "Vt = V - (V - V0) (1 + t/(3 tau))^-3"
}

func (s still) explain(w *working.Sheet) {
	if s.uptake > 0 {
		w.Input("tau", "time constant, as the uptake given says", s.tau()/unit.Day, "days", working.Given)
		return
	}
	_, gap := s.ends()
	w.Step("kL", "speed at which beer takes gas up through its surface", "kL = 0.14 (g drho D²/mu)^(1/3) at the first gap; the law from memory", vessel.FilmVelocity(gap, s.t)*1e6, "µm/s", "Jahne1987")
	w.Step("tau", "time constant at the start", "tau = volume/(kL · pi/4 d²)", s.tau()/unit.Day, "days", "")
}

// regulator names a setting as advice only where a rating allows it.
func (in Inputs) regulator(set unit.Gauge, advice, otherwise wording.Text) wording.Text {
	if in.Has("rating") && set < in.gauge("rating") {
		return advice
	}
	return otherwise
}

// thenHold says what to set once it is there.
func (s still) thenHold(in Inputs, out *Answer, reached unit.Volumes, air unit.Pressure) {
	hold, err := co2.EquilibriumPressure(s.t, reached, co2.BeerFactor{}, nil)
	if err != nil || !in.Has("to-volumes") {
		return
	}
	out.addGauge("hold_kpa", in.regulator(hold.Gauge(air), "Once it is there, set the regulator to", "Once it is there, it keeps its gas at"), hold.Gauge(air))
	out.note("Stop in time: shut the cylinder, wait until the gauge stands, and read how much gas is in the beer.")
	if s.p.Gauge(air) > hold.Gauge(air)+unit.PSI {
		out.note("Higher pressure than it needs at rest: left too long, it takes up too much.")
	}
}
