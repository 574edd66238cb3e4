package calc

import (
	"spile/co2"
	"spile/limit"
	"spile/unit"
	"spile/vessel"
	"spile/wording"
)

var reliefRow = &Calculation{
	Name: "relief", Stage: Working, Question: "What should the working valve be set to?",
	About: "The setting that keeps so much gas in the beer at its temperature (--temperature, --volumes). The worst case, with the valve stuck, takes --volume, --capacity, --gravity and --final as well. Or the free area a safety valve needs if the regulator fails open (--seat, --supply, --set).",
	Flags: []Flag{
		{Name: "temperature", Kind: temperatureKind, Label: "temperature of the beer", Beside: "of the beer"},
		{Name: "volumes", Kind: volumesKind, Label: "gas to keep in the beer"},
		{Name: "volume", Kind: volumeKind, Label: "how much beer", Beside: "beer, for the worst case", Hint: "For the worst case."},
		{Name: "capacity", Kind: volumeKind, Label: "size of the vessel to the brim", Beside: "of the vessel to the brim", Sample: "27 L"},
		{Name: "gravity", Kind: gravityKind, Label: "gravity now"},
		{Name: "final", Kind: gravityKind, Label: "gravity where it will end", Sample: "1.010"},
		{Name: "seat", Kind: lengthKind, Label: "bore of the regulator's seat", Sample: "1 mm"},
		{Name: "supply", Kind: supplyKind, Label: "pressure in the cylinder"},
		{Name: "set", Kind: ratingKind, Label: "setting of the safety valve"},
		altitudeFlag, ratingFlag,
	},
	Example: []string{"temperature", "20 C", "volumes", "1.4 volumes", "volume", "20 L", "capacity", "27 L", "gravity", "1.020", "final", "1.010", "set", "2.4 bar", "rating", "2.5 bar"},
	Plot:    Plot{"temperature=10 C:25 C:60", "pressure_kpa"},
	Card:    Card{"temperature=12 C:24 C:6", "volumes=1.2 volumes:2.4 volumes:6", "pressure_kpa"},
	run:     relief,
}

var (
	errRelief = wording.Unsaid("give --temperature and --volumes for a setting, or --seat, --supply and --set for an area, or all five")
	errWorst  = wording.Unsaid("the worst case takes --temperature, --volumes, --volume, --capacity, --gravity and --final; give all or leave the last four out")
)

func relief(in Inputs, out *Answer) error {
	setting, area := in.exactly(2, "temperature", "volumes"), in.exactly(3, "seat", "supply", "set")
	worst := in.exactly(4, "volume", "capacity", "gravity", "final")
	switch {
	case !setting && !area, !setting && !in.exactly(0, "temperature", "volumes"), !area && !in.exactly(0, "seat", "supply"):
		return errRelief
	case !worst && !in.exactly(0, "volume", "capacity", "gravity", "final"), worst && !setting:
		return errWorst
	}
	air := in.atmosphere(out.Sheet)
	if setting {
		if err := valveSetting(in, air, out); err != nil {
			return err
		}
	}
	if area {
		valveArea(in, air, out)
	}
	return nil
}

// valveSetting is the setting at which fermenting beer keeps the gas asked for.
func valveSetting(in Inputs, air unit.Pressure, out *Answer) error {
	t := in.temperature("temperature")
	p, err := co2.EquilibriumPressure(t, in.volumes("volumes"), co2.BeerFactor{}, out.Sheet)
	if err != nil {
		return err
	}
	set := p.Gauge(air)
	out.Sheet.Step("pg", "setting", "pg = p - pa", set.Kilopascals(), "kPa", "")
	if set < 0 {
		return wording.Unsaid("beer at %s holds that much with the valve open; ask for more than %.1f volumes",
			out.style.Temperature(t, 0), float64(co2.Equilibrium(t, air, co2.BeerFactor{}, nil)))
	}
	out.band("pressure_kpa", -float64(air)/unit.Kilopascal)
	out.addGauge("pressure_kpa", in.advised(set, "Set the working valve to", "The setting that keeps so much gas"), set)
	in.valve(out, set)
	if in.Has("gravity") {
		return in.worstSetting(out, p, air)
	}
	if in.Has("rating") {
		out.note("With --volume, --capacity, --gravity and --final it tells the worst case too.")
	}
	return nil
}

// worstSetting is the valve stuck at its setting, all fermented, in the hottest place.
func (in Inputs) worstSetting(out *Answer, p, air unit.Pressure) error {
	og, now, final := max(usualOriginal, in.gravity("gravity")), in.gravity("gravity"), in.gravity("final")
	if err := in.checkFall(now, final); err != nil {
		return err
	}
	gas, err := in.gas()
	if err != nil {
		return err
	}
	made := vessel.MadeBetween(og, now+hydrometerOff, final) * float64(gas.Beer) / co2.MolarMass
	out.worst(in, gas.AtRest(limit.HottestPlace, gas.Content(in.temperature("temperature"), p)+made).Gauge(air))
	return nil
}

// advised names a setting as advice only where the plates are known and allow it.
func (in Inputs) advised(set unit.Gauge, advice, otherwise wording.Text) wording.Text {
	if highest, ok := highestSetting(in); ok && set <= highest {
		return advice
	}
	return otherwise
}

// valve holds a setting of the working valve, off as valves are, against the plates.
func (in Inputs) valve(out *Answer, set unit.Gauge) {
	highest, known := highestSetting(in)
	if !known {
		out.rate(in, set)
	} else {
		if within := vessel.HighestSetting(in.gauge("rating")); set > within {
			out.rate(in, set+in.gauge("rating")-within)
		}
		if safety := in.safety(); safety != nil && set > vessel.HighestSetting(*safety) {
			out.caution("l.working-valve-over-safety-valve", "value", out.style.Dials(set, 0), "limit", out.units().Most(vessel.HighestSetting(*safety)))
			out.Passed = true
		}
		out.caution("c.valve", "limit", out.units().Most(highest))
	}
	out.caution("c.room")
}

func valveArea(in Inputs, air unit.Pressure, out *Answer) {
	area := ReliefArea(unit.Length(in.number("seat")), in.gauge("supply").Absolute(air), in.gauge("set"), air, out.Sheet)
	if out.Band == nil {
		out.band("area_mm2", 0)
	}
	out.add("area_mm2", "Free area the safety valve needs", float64(area)/squareMillimetre, out.style.With(compact(float64(area)/squareMillimetre, 2), "mm²"))
	out.caution("c.regulator")
	out.rate(in, in.gauge("set"))
}
