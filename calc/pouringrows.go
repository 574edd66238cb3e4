package calc

import (
	"fmt"
	"math"

	"spile/co2"
	"spile/unit"
	"spile/wording"
	"spile/working"
)

// ethanolDensity at 20 C, g/mL, as the national standards of drinks reckon it.
const ethanolDensity = 0.789

// countries and the grams of alcohol in a standard drink there, as public lists give them.
var countries = []wording.Text{"Australia", "Canada", "France", "Ireland", "New Zealand", "United Kingdom", "United States"}

var drinkGrams = []float64{10, 13.6, 10, 10, 10, 8, 14}

var pouringRows = []*Calculation{
	lineRow,
	{
		Name: "pour", Stage: Pouring, Question: "How many glasses?",
		About: "A glass holds its foam too, a quarter of which is beer.",
		Flags: []Flag{
			{Name: "volume", Kind: volumeKind, Label: "how much beer", Beside: "beer", Required: true},
			{Name: "glass", Kind: volumeKind, Label: "size of the glass", Required: true},
			{Name: "foam", Kind: shareKind, Label: "share of the glass that is foam", Default: "10 %"},
			{Name: "loss", Kind: shareKind, Label: "share that reaches no glass", Default: "5 %"},
		},
		Example: []string{"volume", "20 L", "glass", "400 mL"},
		Plot:    Plot{"glass=200 mL:600 mL:40", ""},
		run:     pour,
	},
	{
		Name: "drinks", Stage: Pouring, Question: "How many standard drinks?",
		About: "Alcohol in a glass or a keg, in the standard drinks of a country.",
		Flags: []Flag{
			{Name: "volume", Kind: volumeKind, Label: "how much beer", Beside: "beer", Required: true},
			{Name: "abv", Kind: abvKind, Label: "alcohol by volume", Required: true},
			{Name: "country", Kind: choice("country", countries...), Label: "country whose standard drink counts", Beside: "whose standard drink", Required: true},
		},
		Example: []string{"volume", "425 mL", "abv", "4.5 %", "country", "Australia"},
		Plot:    Plot{"abv=1 %:10 %:45", "standard_drinks"},
		run:     drinks,
	},
	{
		Name: "purge", Stage: Pouring, Question: "How do I flush out the air?",
		About: "Fill with gas to --pressure and let it down, again and again. Give --cycles, or the oxygen to get below as --target.",
		Flags: []Flag{
			{Name: "pressure", Kind: setKind, Label: "pressure you fill to", Beside: "filled to", Required: true},
			{Name: "cycles", Kind: countKind, Label: "how many times you fill and let down", Beside: "how often"},
			{Name: "target", Kind: ppmKind, Label: "oxygen to get below"},
			altitudeFlag, ratingFlag,
		},
		Example: []string{"pressure", "15 psi", "cycles", "5"},
		Plot:    Plot{"pressure=5 psi:30 psi:50", "oxygen_ppm"},
		run:     purge,
	},
	transferRow,
	{
		Name: "cost", Stage: Pouring, Question: "What does a glass cost?",
		About: "What went in, over the glasses that come out. Amounts are plain numbers in your currency.",
		Flags: []Flag{
			{Name: "pack", Kind: amountKind, Label: "price of the pack of wort", Required: true},
			{Name: "yeast", Kind: amountKind, Label: "price of the yeast", Default: "0"},
			{Name: "gas", Kind: amountKind, Label: "price of the gas used", Default: "0"},
			{Name: "litres", Kind: volumeKind, Label: "beer poured", Required: true},
			{Name: "glass", Kind: volumeKind, Label: "size of the glass", Sample: "400 mL", Required: true},
		},
		Example: []string{"pack", "38", "yeast", "4.50", "gas", "3", "litres", "19 L", "glass", "400 mL"},
		Plot:    Plot{"litres=5 L:20 L:60", ""},
		run:     cost,
	},
	gasOffRow,
}

func cost(in Inputs, out *Answer) error {
	total := in.number("pack") + in.number("yeast") + in.number("gas")
	perGlass := total * in.number("glass") / in.number("litres")
	w := out.Sheet
	w.Input("G", "glass", in.volume("glass").Litres(), "L", working.Given)
	w.Input("V", "beer", in.volume("litres").Litres(), "L", working.Given)
	w.Step("C", "all together", "C = pack + yeast + gas", total, "", "")
	w.Step("c", "a glass", "c = C · G/V", perGlass, "", "")
	out.add("per_glass", "A glass costs", perGlass, fmt.Sprintf("%.2f", perGlass))
	return nil
}

func pour(in Inputs, out *Answer) error {
	const beerInFoam = 0.25 // common practice, no source
	foam := in.number("foam")
	perGlass := in.number("glass") * (1 - foam + beerInFoam*foam)
	n := in.number("volume") * (1 - in.number("loss")) / perGlass
	w := out.Sheet
	w.Input("V", "beer", in.volume("volume").Litres(), "L", working.Given)
	w.Input("G", "glass", in.volume("glass").Litres(), "L", working.Given)
	w.Input("f", "foam", foam*100, "%", in.origin("foam"))
	w.Input("l", "loss", in.number("loss")*100, "%", in.origin("loss"))
	w.Step("n", "glasses", "n = V (1 - l)/(G (1 - f + f/4)); a quarter of foam is beer (common practice, no source)", n, "", "")
	out.add("glasses", "Glasses", n, out.style.Say("about %.0f", math.Floor(n)))
	out.caution("c.drink")
	return nil
}

func drinks(in Inputs, out *Answer) error {
	grams := in.number("volume") / unit.Millilitre * in.number("abv") * ethanolDensity
	size := drinkGrams[int(in.number("country"))]
	w := out.Sheet
	w.Input("V", "beer", in.number("volume")/unit.Millilitre, "mL", working.Given)
	w.Input("ABV", "alcohol by volume", in.number("abv")*100, "%", working.Given)
	w.Step("m", "alcohol", "m = V · ABV · 0.789 g/mL", grams, "g", "OIML1975")
	w.Step("n", "standard drinks", "n = m/%g g (%s)", grams/size, "", "", size, countries[int(in.number("country"))])
	out.add("alcohol_g", "Alcohol", grams, out.style.With(compact(grams, 3), "g"))
	out.add("standard_drinks", "Standard drinks", grams/size, fmt.Sprintf("%.1f", grams/size))
	out.caution("c.drink")
	return nil
}

// oxygenInAir as a share by volume (dry air, common knowledge).
const oxygenInAir = 0.2095

var ppmKind = &Kind{Name: "oxygen", Example: "1000 ppm", Suffix: "ppm", Scale: 1e-6, parse: ppm,
	Words: func(s unit.Style, v float64) string { return s.With(compact(v*1e6, 3), "ppm") }}

var errCyclesOrTarget = wording.Unsaid("give --cycles or --target, one of them")

func purge(in Inputs, out *Answer) error {
	if in.Has("cycles") == in.Has("target") {
		return errCyclesOrTarget
	}
	air := in.atmosphere(out.Sheet)
	high := in.gauge("pressure").Absolute(air)
	n := int(in.number("cycles"))
	if in.Has("target") {
		var err error
		if n, err = co2.PurgeCycles(air, high, unit.Ratio(in.number("target")/oxygenInAir)); err != nil {
			return err
		}
	}
	left, err := co2.PurgeResidual(air, high, n)
	if err != nil {
		return err
	}
	oxygen := float64(left) * oxygenInAir * 1e6
	out.Sheet.Input("p", "filled to, absolute", float64(high)/unit.Kilopascal, "kPa", working.Given)
	out.Sheet.Input("n", "cycles", float64(n), "", in.origin("cycles"))
	out.Sheet.Step("y", "oxygen", "y = 209 500 ppm (pa/p)^n", oxygen, "ppm", "Kinsley2001")
	out.add("cycles", "Cycles", float64(n), fmt.Sprint(n))
	out.add("oxygen_ppm", "Oxygen left", oxygen, out.style.With(compact(oxygen, 2), "ppm"))
	out.caution("c.regulator")
	out.caution("c.room")
	out.rate(in, in.gauge("pressure"))
	return nil
}
