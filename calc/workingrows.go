package calc

import (
	"errors"
	"fmt"

	"spile/co2"
	"spile/unit"
	"spile/wort"
)

var workingRows = []*Calculation{
	{
		Name: "relief", Stage: Working, Question: "What should the working valve be set to?",
		About: "The setting that keeps so much gas in the beer at its temperature (--temperature, --volumes); or the free area a safety valve needs if the regulator fails open (--seat, --supply, --set).",
		Flags: []Flag{
			{Name: "temperature", Kind: temperatureKind, Help: "of the beer"},
			{Name: "volumes", Kind: volumesKind, Help: "gas to keep in the beer"},
			{Name: "seat", Kind: lengthKind, Help: "bore of the regulator's seat", Sample: "1 mm"},
			{Name: "supply", Kind: supplyKind, Help: "pressure in the cylinder"},
			{Name: "set", Kind: ratingKind, Help: "setting of the safety valve"},
			altitudeFlag, ratingFlag,
		},
		Example: []string{"temperature", "20 C", "volumes", "1.4 volumes", "rating", "2.5 bar"},
		Plot:    Plot{"temperature=10 C:25 C:60", "pressure_kpa"},
		Card:    Card{"temperature=12 C:24 C:6", "volumes=1.2 volumes:2.4 volumes:6", "pressure_kpa"},
		run:     relief,
	},
	{
		Name: "hydrometer", Stage: Working, Question: "What is the true gravity?",
		About: "Takes the temperature of the sample out of a hydrometer reading. Give --og for beer, whose alcohol expands more than sugar.",
		Flags: []Flag{
			{Name: "reading", Kind: gravityKind, Help: "what the hydrometer shows", Required: true},
			{Name: "temperature", Kind: temperatureKind, Help: "of the sample", Required: true},
			{Name: "calibration", Kind: temperatureKind, Help: "temperature printed on the scale", Default: "20 C"},
			{Name: "og", Kind: gravityKind, Help: "original gravity, if it has fermented"},
		},
		Example: []string{"reading", "1.044", "temperature", "27 C"},
		Plot:    Plot{"temperature=0 C:40 C:80", ""},
		run:     hydrometer,
	},
	{
		Name: "alcohol", Stage: Working, Question: "How strong is it?",
		About: "Alcohol from the gravity before and after, by the balance of what yeast takes up and gives off.",
		Flags: []Flag{
			{Name: "og", Kind: gravityKind, Help: "original gravity", Required: true},
			{Name: "fg", Kind: gravityKind, Help: "gravity now", Required: true},
		},
		Example: []string{"og", "1.046", "fg", "1.010"},
		Plot:    Plot{"fg=1.000:1.046:46", ""},
		run:     alcohol,
	},
	quietGaugeRow,
	ownGasRow,
	heatingRow,
	ventRow,
	scaleRow,
	differenceRow,
}

// checkFall refuses a final gravity above the original one.
func checkFall(og, fg unit.Gravity) error {
	if fg > og {
		return fmt.Errorf("gravity now %s is above the original %s; it falls while beer ferments, for example from 1.046 to 1.010",
			unit.FormatGravity(fg, 0), unit.FormatGravity(og, 0))
	}
	return nil
}

func alcohol(in Inputs, out *Answer) error {
	og, fg := in.gravity("og"), in.gravity("fg")
	if err := checkFall(og, fg); err != nil {
		return err
	}
	if og <= 1 {
		return fmt.Errorf("original gravity %s: wort is heavier than water, for example 1.046", unit.FormatGravity(og, 0))
	}
	abv, abw := wort.Alcohol(og, fg, out.Sheet)
	attenuation := wort.ApparentAttenuation(og, fg)
	out.Sheet.Step("AA", "apparent attenuation", "AA = 1 - AE/p0", attenuation.Percent(), "%", "")
	out.band("abv_percent", 0)
	if b := out.Band; b != nil {
		b.Low = max(b.Low, 0)
	}
	out.add("abv_percent", "Alcohol by volume", abv.Percent(), unit.FormatABV(abv, unit.ABV(out.width()/100)))
	out.add("abw_percent", "Alcohol by mass", abw.Percent(), compact(abw.Percent(), 2)+" %")
	out.add("apparent_attenuation_percent", "Apparent attenuation", attenuation.Percent(), fmt.Sprintf("%.0f %%", attenuation.Percent()))
	out.caution("c.drink")
	return nil
}

func hydrometer(in Inputs, out *Answer) error {
	h := wort.Hydrometer{Calibrated: in.temperature("calibration")}
	g, err := h.True(in.gravity("reading"), in.temperature("temperature"), in.gravity("og"), out.Sheet)
	if err != nil {
		return err
	}
	out.band("gravity_sg", 0)
	out.add("gravity_sg", "True gravity", float64(g), unit.FormatGravity(g, unit.Gravity(out.width())))
	return nil
}

var errRelief = errors.New("give --temperature and --volumes for a setting, or --seat, --supply and --set for an area, or all five")

func relief(in Inputs, out *Answer) error {
	setting := in.Has("temperature") || in.Has("volumes")
	area := in.Has("seat") || in.Has("supply") || in.Has("set")
	if !setting && !area || setting && !(in.Has("temperature") && in.Has("volumes")) || area && !(in.Has("seat") && in.Has("supply") && in.Has("set")) {
		return errRelief
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
	p, err := co2.EquilibriumPressure(in.temperature("temperature"), in.volumes("volumes"), co2.BeerFactor{}, out.Sheet)
	if err != nil {
		return err
	}
	set := p.Gauge(air)
	out.Sheet.Step("pg", "setting", "pg = p - pa", set.Kilopascals(), "kPa", "")
	if set < 0 {
		return fmt.Errorf("beer at %s holds that much with the valve open; ask for more than %.1f volumes",
			unit.FormatCelsius(in.temperature("temperature"), 0), float64(co2.Equilibrium(in.temperature("temperature"), air, co2.BeerFactor{}, nil)))
	}
	out.band("pressure_kpa", -float64(air)/unit.Kilopascal)
	out.addGauge("pressure_kpa", "Set the working valve to", set, 0)
	out.rate(in, set)
	return nil
}

func valveArea(in Inputs, air unit.Pressure, out *Answer) {
	area := ReliefArea(unit.Length(in.number("seat")), in.gauge("supply").Absolute(air), in.gauge("set"), air, out.Sheet)
	if out.Band == nil {
		out.band("area_mm2", 0)
	}
	out.add("area_mm2", "Free area the safety valve needs", float64(area)/squareMillimetre, compact(float64(area)/squareMillimetre, 2)+" mm²")
	out.caution("c.regulator")
	out.rate(in, in.gauge("set"))
}
