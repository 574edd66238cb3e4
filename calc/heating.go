package calc

import (
	"fmt"

	"spile/unit"
	"spile/vessel"
	"spile/wording"
	"spile/working"
	"spile/wort"
)

var heatingRow = &Calculation{
	Name: "heating", Stage: Working, Question: "How much heat keeps it warm?",
	About: "Where a belt or lamp ends when the warmth it gives equals what the vessel loses; or the heat that a temperature takes (--to). Yeast at work warms too: give --volume and --pace. In a shared fridge, set the fridge for the coldest vessel and warm the others.",
	Flags: []Flag{
		{Name: "power", Kind: powerKind, Label: "power of the belt", Beside: "of the belt"},
		{Name: "to", Kind: temperatureKind, Label: "temperature wanted"},
		lossFlag,
		{Name: "ambient", Kind: temperatureKind, Label: "temperature of the room or fridge", Beside: "of the room or fridge", Required: true},
		{Name: "volume", Kind: volumeKind, Label: "beer at work"},
		{Name: "pace", Kind: paceKind, Label: "how fast its gravity falls", Beside: "how fast its gravity falls; brisk is 15 points/day", Hint: "Brisk is 15 points/day."},
	},
	Example: []string{"power", "25 W", "ua", "4 W/K", "ambient", "16 C"},
	Plot:    Plot{Sweep: "power=5 W:60 W:55", Of: "steady_c"},
	run:     heating,
}

// lossFlag is what a vessel loses, with figures for where nobody measured it. They are from memory.
var lossFlag = Flag{Name: "ua", Kind: conductanceKind, Label: "heat that the vessel loses", Beside: "loss of the vessel; 3 to 4.5 W/K for a bare 20 to 23 L (memory)", Hint: "A bare vessel of 20 to 23 L loses 3 to 4.5 W/K.", Default: "3.7 W/K"}

// loss is a line of working for the loss of the vessel.
func (in Inputs) loss(w *working.Sheet) {
	var name wording.Text = "loss of the vessel"
	if in.given["ua"].Default {
		name = "loss of the vessel (memory)"
	}
	w.Input("UA", name, in.number("ua"), "W/K", in.origin("ua"))
}

var (
	errHeating = wording.Unsaid("give --power or --to, one of them; or neither, with --volume and --pace")
	errAtWork  = wording.Unsaid("give both --volume and --pace for beer at work, or neither")
)

func heating(in Inputs, out *Answer) error {
	byPower, byTemperature, atWork := in.Has("power"), in.Has("to"), in.Has("pace")
	switch {
	case in.Has("volume") != atWork:
		return errAtWork
	case byPower && byTemperature || !byPower && !byTemperature && !atWork:
		return errHeating
	}
	ua, ambient, power := in.number("ua"), in.temperature("ambient"), in.number("power")
	yeastHeat := workingHeat(in, out)
	if byTemperature {
		power = ua*float64(in.temperature("to")-ambient) - yeastHeat
		if power < 0 {
			return wording.Unsaid("at %s of air it is warmer than %s by itself: cool it, or ask for more", out.style.Temperature(ambient, 0), out.style.Temperature(in.temperature("to"), 0))
		}
	}
	t := ambient + unit.Temperature((power+yeastHeat)/ua)
	if t > unit.Celsius(100) {
		return wording.Unsaid("that would end at %.0f °C; check the power and the loss", t.Celsius())
	}
	heatingAnswer(in, out, power, yeastHeat, t)
	return nil
}

// workingHeat is the heat of beer at work, W.
func workingHeat(in Inputs, out *Answer) float64 {
	if !in.Has("pace") {
		out.Sheet.Input("Q", "heat of the yeast, as none is told of", 0, "W", working.Default)
		return 0
	}
	perPoint := vessel.GasPerPoint(usualOriginal) / wort.CO2PerExtract * in.number("volume") * wort.HeatOfFermentation
	q := perPoint * in.number("pace") / unit.Day
	out.Sheet.Input("v", "fall of gravity", in.number("pace"), "points a day", working.Given)
	out.Sheet.Step("Q", "heat of the yeast", "Q = extract used a day · 575 kJ/kg", q, "W", "GeeRamirez1988")
	return q
}

func heatingAnswer(in Inputs, out *Answer, power, yeastHeat float64, t unit.Temperature) {
	ua, ambient, w := in.number("ua"), in.temperature("ambient"), out.Sheet
	in.loss(w)
	w.Input("ta", "room", ambient.Celsius(), "°C", working.Given)
	if in.Has("to") {
		w.Step("P", "heat", "P = UA (t - ta) - Q", power, "W", "")
		w.Error(0.8*power, 1.2*power, "the loss of a vessel is known to a fifth")
		out.band("power_w", 0)
		out.add("power_w", "Heat it takes", power, out.words("power_w", power))
	} else {
		w.Input("P", "heat", power, "W", in.origin("power"))
	}
	w.Step("t", "where it ends", "t = ta + (P + Q)/UA", t.Celsius(), "°C", "")
	if !in.Has("to") {
		rise := (t - ambient).Celsius() + 273.15
		w.Error(ambient.Celsius()+rise/1.2, ambient.Celsius()+rise/0.8, "the loss of a vessel is known to a fifth")
		out.band("steady_c", 0)
	}
	out.add("steady_c", "It ends at", t.Celsius(), out.words("steady_c", t.Celsius()))
	if yeastHeat > 0 {
		out.add("yeast_w", "Heat of the yeast", yeastHeat, out.style.With(fmt.Sprintf("%.1f", yeastHeat), "W"))
		out.note("The yeast alone holds it %.1f °C above the air around it.", yeastHeat/ua)
	}
	if t > unit.Celsius(mostForBeer) {
		out.warn("That is too warm for beer and yeast, and heat weakens plastic. Take less heat, and a thermostat.")
	}
	out.warn("Warm beer lets gas go: watch the gauge. See spile calc warming.")
	out.caution("c.mains")
}

// mostForBeer is the temperature above which nobody means to keep beer, °C: the hottest yeasts work below it (memory).
const mostForBeer = 40
