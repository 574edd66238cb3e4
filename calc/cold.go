package calc

import (
	"spile/co2"
	"spile/unit"
	"spile/wording"
	"spile/working"
	"spile/wort"
)

var coldRows = []*Calculation{
	{
		Name: "chill", Stage: Cold, Question: "What will cold do to the pressure?",
		About:   "A shut vessel of finished beer, cooled until beer and gas are at rest. Give --pressure or --volumes at the start; or the --end-pressure wanted, and leave out one of the others.",
		Flags:   sealedFlags,
		Example: []string{"from", "20 C", "to", "1 C", "volume", "20 L", "capacity", "25 L", "pressure", "0 psi"},
		Plot:    Plot{"to=0 C:20 C:40", ""},
		Card:    Card{"to=0 C:12 C:6", "pressure=0 psi:30 psi:6", "end_pressure_kpa"},
		run:     sealed,
	},
	{
		Name: "cooldown", Stage: Cold, Question: "How long to cool?",
		About: "From one temperature to another in air that stays at one temperature. Below 4 °C beer mixes slowly: add a third.",
		Flags: []Flag{
			{Name: "volume", Kind: volumeKind, Label: "how much beer", Beside: "beer", Required: true},
			{Name: "from", Kind: temperatureKind, Label: "temperature at the start", Required: true},
			{Name: "to", Kind: temperatureKind, Label: "temperature wanted", Required: true},
			{Name: "air", Kind: temperatureKind, Label: "temperature of the air around it", Required: true},
			lossFlag,
		},
		Example: []string{"volume", "23 L", "from", "20 C", "to", "3 C", "air", "1 C", "ua", "4 W/K"},
		Plot:    Plot{"to=1.5 C:19 C:70", ""},
		run:     cooldown,
	},
	{
		Name: "freezing", Stage: Cold, Question: "Will it freeze?",
		About: "Where the first ice forms, from the gravity before and after.",
		Flags: []Flag{
			{Name: "og", Kind: gravityKind, Label: "original gravity", Required: true},
			{Name: "fg", Kind: gravityKind, Label: "gravity now", Required: true},
		},
		Example: []string{"og", "1.046", "fg", "1.010"},
		Plot:    Plot{"fg=1.000:1.046:46", ""},
		run:     freezing,
	},
	{
		Name: "carbonation", Stage: Cold, Question: "How much gas is in the beer?",
		About: "Beer at rest under its gas: give two of --temperature, --pressure and --volumes, and the third comes out.",
		Flags: []Flag{
			{Name: "temperature", Kind: temperatureKind, Label: "temperature of the beer", Beside: "of the beer"},
			{Name: "pressure", Kind: gaugeKind, Label: "pressure on the dial", Beside: "on the dial"},
			{Name: "volumes", Kind: volumesKind, Label: "gas in the beer"},
			altitudeFlag, ratingFlag,
		},
		Example: []string{"temperature", "1 C", "pressure", "10 psi"},
		Plot:    Plot{"temperature=0 C:25 C:50", ""},
		Card:    Card{"temperature=0 C:20 C:10", "volumes=1.8 volumes:3 volumes:6", "pressure_kpa"},
		run:     carbonation,
	},
	{
		Name: "absorption", Stage: Cold, Question: "How long to take the gas?",
		About: "Still beer under open gas, nothing shaken. Cold beer takes days; the time is known to half only. Give --time for the gas then; or --to-volumes and one of --pressure and --time, and the other comes out.",
		Flags: []Flag{
			{Name: "temperature", Kind: temperatureKind, Label: "temperature of the beer", Beside: "of the beer", Required: true},
			{Name: "pressure", Kind: gaugeKind, Label: "pressure set at the regulator", Beside: "set at the regulator"},
			{Name: "from-volumes", Kind: volumesKind, Label: "gas in the beer at the start", Required: true},
			{Name: "volume", Kind: volumeKind, Label: "how much beer", Beside: "beer", Required: true},
			{Name: "diameter", Kind: lengthKind, Label: "diameter of the vessel inside", Beside: "of the vessel inside", Sample: "0.30 m", Required: true},
			{Name: "time", Kind: durationKind, Label: "time under gas", Beside: "under gas", Sample: "3 days"},
			{Name: "to-volumes", Kind: volumesKind, Label: "gas wanted"},
			{Name: "uptake", Kind: frequencyKind, Label: "share of the gap taken up an hour", Beside: "share of the gap taken up an hour, as learnt; shaken hard 5 to 30 per h (memory)", Hint: "As learnt; shaken hard 5 to 30 per h (memory).", Sample: "0.02 per h"},
			altitudeFlag, ratingFlag,
		},
		Example: []string{"temperature", "1 C", "pressure", "10 psi", "from-volumes", "1.4 volumes", "volume", "23 L", "diameter", "0.30 m", "time", "3 days"},
		Plot:    Plot{"time=0.5 days:14 days:54", ""},
		run:     absorption,
	},
	{
		Name: "overcarbonated", Stage: Cold, Question: "Too much gas: how do I let it down?",
		About: "Let the pressure down to nothing, wait until beer and gas are at rest, and again: how often.",
		Flags: []Flag{
			{Name: "volumes", Kind: volumesKind, Label: "gas in the beer now", Required: true},
			{Name: "target", Kind: volumesKind, Label: "gas wanted", Required: true},
			{Name: "temperature", Kind: temperatureKind, Label: "temperature of the beer", Beside: "of the beer", Required: true},
			{Name: "volume", Kind: volumeKind, Label: "how much beer", Beside: "beer", Required: true},
			{Name: "capacity", Kind: volumeKind, Label: "size of the vessel to the brim", Beside: "of the vessel to the brim", Required: true},
			altitudeFlag,
		},
		Example: []string{"volumes", "3.2 volumes", "target", "2.5 volumes", "temperature", "3 C", "volume", "20 L", "capacity", "26 L"},
		Plot:    Plot{"target=2 volumes:3.1 volumes:44", ""},
		run:     overcarbonated,
	},
	{
		Name: "cylinder", Stage: Cold, Question: "How much gas is left?",
		About: "What it takes from the cylinder to carbonate the beer and to push so much of it out. The cylinder's own gauge does not tell: weigh it.",
		Flags: []Flag{
			{Name: "volume", Kind: volumeKind, Label: "beer to carbonate", Required: true},
			{Name: "from-volumes", Kind: volumesKind, Label: "gas in it now", Required: true},
			{Name: "to-volumes", Kind: volumesKind, Label: "gas wanted", Required: true},
			{Name: "push", Kind: volumeKind, Label: "beer to push out", Required: true},
			{Name: "pressure", Kind: gaugeKind, Label: "pressure while pushing", Beside: "while pushing", Required: true},
			{Name: "temperature", Kind: temperatureKind, Label: "temperature while pushing", Beside: "while pushing", Required: true},
			{Name: "content", Kind: massKind, Label: "gas in the cylinder", Beside: "gas in the cylinder: its weight less the tare stamped on it", Hint: "Its weight less the tare stamped on it.", Sample: "1.9 kg"},
			{Name: "used", Kind: massKind, Label: "what the cylinder has lost in weight for this batch", Sample: "150 g"},
			altitudeFlag,
		},
		Example: []string{"volume", "20 L", "from-volumes", "0.86 volumes", "to-volumes", "2.5 volumes", "push", "20 L", "pressure", "10 psi", "temperature", "3 C"},
		Plot:    Plot{"to-volumes=1 volumes:3.5 volumes:50", ""},
		run:     cylinder,
	},
}

var errTwoOfThree = wording.Unsaid("give two of --temperature, --pressure and --volumes")

func carbonation(in Inputs, out *Answer) error {
	byT, byP, byV := in.Has("temperature"), in.Has("pressure"), in.Has("volumes")
	if byT && byP && byV || !(byT && byP || byT && byV || byP && byV) {
		return errTwoOfThree
	}
	air := in.atmosphere(out.Sheet)
	t, p, v := in.temperature("temperature"), in.gauge("pressure").Absolute(air), in.volumes("volumes")
	if byP {
		out.Sheet.Input("pg", "pressure on the dial", in.gauge("pressure").Kilopascals(), "kPa", working.Given)
		out.Sheet.Step("p", "absolute pressure", "p = pg + pa", float64(p)/unit.Kilopascal, "kPa", "")
	}
	var err error
	key, shift := "co2_volumes", 0.0
	switch {
	case !byV:
		if p <= co2.VapourPressure(t) {
			return in.onlyVapour(in.gauge("pressure"))
		}
		v = co2.Equilibrium(t, p, co2.BeerFactor{}, out.Sheet)
	case !byP:
		p, err = co2.EquilibriumPressure(t, v, co2.BeerFactor{}, out.Sheet)
		key, shift = "pressure_kpa", -float64(air)/unit.Kilopascal
	default:
		t, err = co2.EquilibriumTemperature(p, v, co2.BeerFactor{}, out.Sheet)
		key = "temperature_c"
	}
	if err != nil {
		return err
	}
	out.band(key, shift)
	equilibriumResults(in, out, t, p.Gauge(air), v)
	return nil
}

// equilibriumResults lists what was asked first; what was given is repeated for machines alone.
func equilibriumResults(in Inputs, out *Answer, t unit.Temperature, p unit.Gauge, v unit.Volumes) {
	pressure := Result{"pressure_kpa", "Pressure on the dial", p.Kilopascals(), out.style.Dials(p, 0)}
	temperature := Result{"temperature_c", "Temperature of the beer", t.Celsius(), out.style.Temperature(t, 0)}
	volumes := Result{"co2_volumes", "Gas in the beer", float64(v), out.style.Gas(v, 0)}
	grams := Result{"co2_g_per_l", "Gas in the beer", v.GramsPerLitre(), ""}
	given := func(r Result) Result { r.Words = ""; return r }
	switch {
	case !in.Has("pressure"):
		out.Results = []Result{pressure, given(temperature), given(volumes), grams}
		out.rate(in, p)
	case !in.Has("temperature"):
		out.Results = []Result{temperature, given(pressure), given(volumes), grams}
	default:
		out.Results = []Result{volumes, grams, given(pressure), given(temperature)}
	}
	if in.Has("pressure") && in.Has("rating") {
		out.rate(in, p)
	}
	if p < 0 {
		out.caution("l.would-pull-in")
	}
}

func freezing(in Inputs, out *Answer) error {
	og, fg := in.gravity("og"), in.gravity("fg")
	if err := in.checkFall(og, fg); err != nil {
		return err
	}
	f := wort.FromApparent(wort.ExtractFromGravity(og), wort.ExtractFromGravity(fg))
	t := wort.FreezingPoint(f.Real, f.Ethanol)
	w := out.Sheet
	w.Input("OG", "original gravity", float64(og), "", working.Given)
	w.Input("FG", "gravity now", float64(fg), "", working.Given)
	w.Step("RE", "real extract", "RE = (q p0 + AE)/(1 + q), q = 0.22 + p0/1000", f.Real.Plato(), "°P", "Rischbieter1977")
	w.Step("A", "alcohol by mass", "A = (p0 - RE)/(2.0665 - 0.010665 p0)", f.Ethanol.Percent(), "%", "Balling1865")
	w.Step("t", "freezing point", "that of water with so much alcohol and extract in it", t.Celsius(), "°C", "Dean1999")
	out.add("freezing_c", "First ice at", t.Celsius(), out.style.Temperature(t, 0))
	out.note("Keep it a degree warmer than that at least: a fridge swings.")
	out.caution("c.frozen")
	return nil
}
