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

var ventRow = &Calculation{
	Name: "vent", Stage: Working, Question: "What comes out when I let the gas down?",
	About: "Before dry hops, a sample or an opened lid: the gas that leaves at once. Then the gas that the beer gives off if it stays open. And where the gauge climbs if it does not. A gauge that climbs after letting down proves nothing about yeast.",
	Flags: []Flag{
		{Name: "from-pressure", Kind: gaugeKind, Label: "pressure on the dial", Beside: "on the dial, the beer at rest", Hint: "The beer at rest.", Required: true},
		{Name: "to-pressure", Kind: gaugeKind, Label: "pressure you let it down to", Beside: "let down to", Default: "0 psi"},
		{Name: "temperature", Kind: temperatureKind, Label: "temperature of the beer", Beside: "of the beer", Required: true},
		{Name: "volume", Kind: volumeKind, Label: "how much beer", Beside: "beer", Required: true},
		{Name: "capacity", Kind: volumeKind, Label: "size of the vessel to the brim", Beside: "of the vessel to the brim", Required: true},
		altitudeFlag,
	},
	Example: []string{"from-pressure", "10 psi", "to-pressure", "0 psi", "temperature", "20 C", "volume", "20 L", "capacity", "27 L"},
	Plot:    Plot{Sweep: "from-pressure=1 psi:30 psi:58", Of: "beer_g"},
	run:     vent,
}

// letSlowly stands wherever gas is let out.
const letSlowly wording.Text = "Let it down slowly, faces away, and stop before foam reaches the valve."

func vent(in Inputs, out *Answer) error {
	gas, err := in.gas()
	if err != nil {
		return err
	}
	t, air := in.temperature("temperature"), in.atmosphere(out.Sheet)
	from, to := in.gauge("from-pressure").Absolute(air), in.gauge("to-pressure").Absolute(air)
	if to >= from || to <= co2.VapourPressure(t) {
		return wording.Unsaid("from %s to %s lets nothing down; accepted is for example from 10 psi to 0 psi", out.style.Dials(in.gauge("from-pressure"), 0), out.style.Dials(in.gauge("to-pressure"), 0))
	}
	grams := func(v unit.Volumes) float64 { return v.GramsPerLitre() * in.volume("volume").Litres() }
	above := func(p unit.Pressure) float64 {
		return co2.GasDensity(t, p-co2.VapourPressure(t)) * float64(gas.Head) / unit.Gram
	}
	held, keeps := grams(co2.Equilibrium(t, from, co2.BeerFactor{}, out.Sheet)), grams(co2.Equilibrium(t, to, co2.BeerFactor{}, nil))
	atOnce, after := above(from)-above(to), held-keeps
	rebound := gas.LetDown(t, from, to)
	w := out.Sheet
	w.Step("mh", "gas that leaves at once", "mh = (density at p1 - density at p2) · gas space", atOnce, "g", "")
	w.Step("mb", "gas that the beer gives off if it stays open", "mb = dissolved at p1 - dissolved at p2", after, "g", "Weiss1974")
	w.Step("pr", "pressure to which it climbs again, absolute", "dissolved at p1 + gas left above = both at rest", float64(rebound)/unit.Kilopascal, "kPa", "Weiss1974")
	litres := (atOnce + after) / (co2.GasDensity(unit.Celsius(20), unit.Atmosphere))
	out.add("vented_g", "Leaves at once", atOnce, out.style.With(compact(atOnce, 2), "g"))
	out.add("beer_g", "The beer gives off after that, if it stays open", after, out.style.With(compact(after, 2), "g"))
	out.add("gas_l", "Together, as gas", litres, out.style.With(compact(litres, 2), "L"))
	out.addGauge("rebound_kpa", "Shut off again, the gauge climbs to", rebound.Gauge(air))
	if after > 0 {
		out.note("Anything rough that falls into beer with gas in it makes a fountain: dry hops go in slowly, cold, or before there is gas.")
	}
	out.warn(letSlowly)
	out.open(in.gauge("from-pressure"))
	out.caution("c.room")
	return nil
}

var gasOffRow = &Calculation{
	Name: "gas-off", Stage: Pouring, Question: "How far can I pour without gas?",
	About: "Cylinder off, so much poured, and the beer at rest again: what the gauge shows, and what gas is left. The gauge does not tell how much beer is left.",
	Flags: []Flag{
		{Name: "volume", Kind: volumeKind, Label: "beer before", Required: true},
		{Name: "capacity", Kind: volumeKind, Label: "size of the vessel to the brim", Beside: "of the vessel to the brim", Required: true},
		{Name: "pressure", Kind: gaugeKind, Label: "pressure on the dial before", Beside: "on the dial before", Required: true},
		{Name: "temperature", Kind: temperatureKind, Label: "temperature of the beer", Beside: "of the beer", Required: true},
		{Name: "poured", Kind: volumeKind, Label: "beer poured", Sample: "5 L", Required: true},
		altitudeFlag,
	},
	Example: []string{"volume", "20 L", "capacity", "27 L", "pressure", "9 psi", "temperature", "1.5 C", "poured", "5 L"},
	Plot:    Plot{Sweep: "poured=0.2 L:15 L:74", Of: "pressure_kpa"},
	run:     gasOff,
}

func gasOff(in Inputs, out *Answer) error {
	gas, t, p, air, err := in.atRest(out.Sheet)
	if err != nil {
		return err
	}
	poured, w := in.volume("poured"), out.Sheet
	w.Input("p0", "pressure before, absolute", float64(p)/unit.Kilopascal, "kPa", working.Given)
	w.Input("Vp", "beer poured", poured.Litres(), "L", working.Given)
	if p, err = gas.Poured(t, p, poured); err != nil {
		return err
	}
	w.Step("p", "absolute pressure after it", "each glass takes its gas along; the rest comes to rest in more room", float64(p)/unit.Kilopascal, "kPa", "Weiss1974")
	v := co2.Equilibrium(t, p, co2.BeerFactor{}, w)
	out.addGauge("pressure_kpa", "Pressure then", p.Gauge(air))
	out.add("co2_volumes", "Gas in the beer then", float64(v), out.style.Gas(v, 0))
	if p < air {
		out.note("The pressure is used up: no more comes out of the tap before that.")
	}
	out.note("Poured faster than the beer gives gas back, the gauge falls lower and climbs again overnight.")
	out.caution("c.drink")
	return nil
}

var scaleRow = &Calculation{
	Name: "scale", Stage: Working, Question: "What does the weight say of the gravity?",
	About: "Gravity without a sample: what a vessel has lost in weight since the yeast went in is gas. Gas kept in the beer and above it is added back. The air that it drove out is taken off. Take samples and pours out of the loss yourself.",
	Flags: []Flag{
		{Name: "lost", Kind: massKind, Label: "weight lost since the yeast went in", Sample: "600 g", Required: true},
		{Name: "og", Kind: gravityKind, Label: "original gravity", Required: true},
		{Name: "volume", Kind: volumeKind, Label: "how much wort", Beside: "wort", Required: true},
		{Name: "capacity", Kind: volumeKind, Label: "size of the vessel to the brim", Beside: "of the vessel to the brim", Required: true},
		{Name: "pressure", Kind: gaugeKind, Label: "pressure on the dial now", Beside: "on the dial now", Default: "0 psi"},
		{Name: "temperature", Kind: temperatureKind, Label: "temperature of the beer now", Beside: "of the beer now", Required: true},
		{Name: "scatter", Kind: massKind, Label: "how far two weighings of the same differ", Default: "20 g"},
		altitudeFlag,
	},
	Example: []string{"lost", "600 g", "og", "1.046", "volume", "20 L", "capacity", "27 L", "pressure", "10 psi", "temperature", "20 C"},
	Plot:    Plot{Sweep: "lost=50 g:650 g:60", Of: "gravity_sg"},
	run:     scale,
}

// airDensity at 20 C and one atmosphere, kg/m3 (dry air, common knowledge).
const airDensity = 1.2

func scale(in Inputs, out *Answer) error {
	gas, t, p, _, err := in.atRest(out.Sheet)
	if err != nil {
		return err
	}
	og, volume := in.gravity("og"), in.number("volume")
	p0 := float64(wort.ExtractFromGravity(og))
	kept := gas.Content(t, p) * co2.MolarMass
	drivenOut := airDensity * float64(gas.Head)
	made := in.number("lost") + kept - drivenOut
	wortMass := volume * float64(og) * wort.WaterDensity(unit.Celsius(20))
	gravity := func(made, wortMass float64) float64 {
		return wort.GravityKernel(p0, max(made, 0)/wort.CO2PerExtract/wortMass)
	}
	g := gravity(made, wortMass)
	if made < 0 || made/wort.CO2PerExtract/wortMass > 0.86*p0 {
		return wording.Unsaid("%s lost does not fit %s of wort of %s: check weight, samples and volume", out.style.Mass(unit.Mass(in.number("lost")), 0), out.style.Volume(in.volume("volume"), 0), out.style.Gravity(og, 0))
	}
	half := nineInTen * math.Hypot(g-gravity(made+math.Sqrt2*in.number("scatter"), wortMass), g-gravity(made, wortMass*(1+volumeSD)))
	w := out.Sheet
	w.Input("ml", "weight lost", in.number("lost")/unit.Gram, "g", working.Given)
	w.Step("mk", "gas kept in the beer and above it", "at rest at the pressure and temperature", kept/unit.Gram, "g", "Weiss1974")
	w.Step("ma", "air driven out", "ma = 1.2 g/L (memory) · gas space", drivenOut/unit.Gram, "g", "")
	w.Step("m", "gas made", "m = ml + mk - ma", made/unit.Gram, "g", "")
	w.Step("SG", "gravity", "of wort that gave so much gas, 0.463 g for each g of extract", g, "", "Balling1865")
	w.Error(g-half, g+half, "two weighings, and the volume of the wort")
	out.band("gravity_sg", 0)
	out.add("gravity_sg", "Gravity", g, out.style.Gravity(unit.Gravity(g), unit.Gravity(2*half)))
	out.add("made_g", "Gas made", made/unit.Gram, out.style.With(compact(made/unit.Gram, 3), "g"))
	out.add("kept_g", "of which still in the vessel", kept/unit.Gram, out.style.With(compact(kept/unit.Gram, 2), "g"))
	out.lift(in.volume("volume"))
	return nil
}

var differenceRow = &Calculation{
	Name: "difference", Stage: Working, Question: "Is the difference real?",
	About: "Two readings, or two batches, and how far a reading scatters: whether what lies between them is more than that. Plain numbers, all three in the same unit. A glass hydrometer scatters by 0.0007, a dial by 0.5 psi, a strip by 0.7 °C (memory).",
	Flags: []Flag{
		{Name: "first", Kind: plainKind, Label: "the first number", Sample: "1.013", Required: true},
		{Name: "second", Kind: plainKind, Label: "the second number", Beside: "the second", Sample: "1.011", Required: true},
		{Name: "scatter", Kind: plainKind, Label: "how far one reading scatters", Beside: "how far one reading scatters, a standard deviation", Hint: "A standard deviation.", Sample: "0.0007", Required: true},
	},
	Example: []string{"first", "1.013", "second", "1.011", "scatter", "0.0007"},
	Plot:    Plot{Sweep: "second=1.008:1.013:50", Of: "chance_percent"},
	run:     difference,
}

func difference(in Inputs, out *Answer) error {
	d, s := in.number("second")-in.number("first"), in.number("scatter")
	if s <= 0 {
		return wording.Unsaid("--scatter %g: it must be above zero, for example 0.0007", s)
	}
	z := math.Abs(d) / (math.Sqrt2 * s)
	chance := portable.Erfc(z / math.Sqrt2)
	w := out.Sheet
	w.Input("x1", "first", in.number("first"), "", working.Given)
	w.Input("x2", "second", in.number("second"), "", working.Given)
	w.Input("s", "scatter of a reading", s, "", working.Given)
	w.Step("z", "difference over its scatter", "z = |x2 - x1|/(s √2)", z, "", "")
	w.Step("P", "how often readings of the same differ so much", "P = 2 (1 - Φ(z)), Φ the normal distribution", chance*100, "%", "")
	half := nineInTen * math.Sqrt2 * s
	tidy := math.Pow10(int(math.Floor(math.Log10(half))) - 1) // two digits of it
	w.Error(math.Round((d-half)/tidy)*tidy, math.Round((d+half)/tidy)*tidy, "the scatter of both readings")
	out.band("difference_number", 0)
	out.add("difference_number", "Difference", d, compact(d, 3))
	out.add("chance_percent", "Readings of the same differ so much in", chance*100, out.style.Say("%s %% of cases", compact(chance*100, 2)))
	switch {
	case chance < 0.05:
		out.note("The difference is real: readings of the same differ so much in less than one case of 20.")
	default:
		out.note("The difference may be nothing but the reading. Read again, or wait.")
	}
	return nil
}
