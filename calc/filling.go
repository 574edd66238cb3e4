package calc

import (
	"math"

	"spile/co2"
	"spile/unit"
	"spile/wording"
	"spile/working"
	"spile/wort"
)

var altitudeFlag = Flag{Name: "altitude", Kind: altitudeKind, Label: "height above the sea", Default: "0 m"}

var ratingFlag = Flag{Name: "rating", Kind: ratingKind, Label: "pressure rating of the weakest part", Hint: "From the plate, a moulded mark or the maker's sheet. It is never guessed: without it there is no pressure advice."}

var fillingRows = []*Calculation{
	{
		Name: "dilution", Stage: Filling, Question: "How much water?",
		About: "Mixes wort and water by mass. Give --water, or the gravity or the volume you want.",
		Flags: []Flag{
			{Name: "volume", Kind: volumeKind, Label: "wort there is", Required: true},
			{Name: "gravity", Kind: gravityKind, Label: "gravity of the wort", Beside: "its gravity", Required: true},
			{Name: "water", Kind: volumeKind, Label: "water that goes in"},
			{Name: "target-gravity", Kind: gravityKind, Label: "gravity wanted"},
			{Name: "target-volume", Kind: volumeKind, Label: "volume wanted"},
		},
		Example: []string{"volume", "17 L", "gravity", "1.054", "target-gravity", "1.046"},
		Plot:    Plot{"target-gravity=1.030:1.053:46", "water_l"},
		run:     dilution,
	},
	pitchRow,
	{
		Name: "sanitiser", Stage: Filling, Question: "How much sanitiser?",
		About: "One part of sanitiser to so many parts of water. Or the strength wanted of a product of known strength. The label rules.",
		Flags: []Flag{
			{Name: "volume", Kind: volumeKind, Label: "how much water", Beside: "water", Required: true},
			{Name: "ratio", Kind: dilutionKind, Label: "ratio on the label", Beside: "as on the label"},
			{Name: "strength", Kind: strengthKind, Label: "strength wanted in the water", Beside: "of what it is to do the work, in the water", Hint: "Of what it is to do the work."},
			{Name: "product", Kind: shareKind, Label: "strength of the product", Beside: "strength of the product, by mass", Hint: "By mass.", Sample: "15 %"},
			{Name: "density", Kind: densityKind, Label: "density of the product", Beside: "of the product", Default: "1.0 kg/L"},
		},
		Example: []string{"volume", "5 L", "ratio", "1:400"},
		Plot:    Plot{"volume=1 L:20 L:38", ""},
		run:     sanitiser,
	},
	foamRoomRow,
	{
		Name: "leak", Stage: Filling, Question: "Does it hold gas?",
		About: "What a shut vessel lost between two readings of the dial, with temperature taken out.",
		Flags: []Flag{
			{Name: "volume", Kind: volumeKind, Label: "room for gas in the vessel", Beside: "of gas, not of water or beer", Hint: "Of gas, not of water or beer.", Required: true},
			{Name: "from-pressure", Kind: gaugeKind, Label: "pressure at the first reading", Beside: "first reading", Required: true},
			{Name: "to-pressure", Kind: gaugeKind, Label: "pressure at the second reading", Beside: "second reading", Required: true},
			{Name: "from-temperature", Kind: temperatureKind, Label: "temperature at the first reading", Beside: "at the first reading", Required: true},
			{Name: "to-temperature", Kind: temperatureKind, Label: "temperature at the second reading", Beside: "at the second reading", Required: true},
			{Name: "time", Kind: durationKind, Label: "time between the readings", Beside: "between the readings", Required: true},
			instrumentsFlag, altitudeFlag,
		},
		Example: []string{"volume", "5 L", "from-pressure", "10 psi", "to-pressure", "9 psi", "from-temperature", "20 C", "to-temperature", "20 C", "time", "1 h"},
		Plot:    Plot{"to-pressure=5 psi:10 psi:40", ""},
		run:     leak,
	},
	{
		Name: "room-air", Stage: Filling, Question: "Will the air be safe here?",
		About: "Carbon dioxide in a room that is aired so often an hour, the gas mixed evenly. Give --released for a cylinder or vessel that lets go at once.",
		Flags: []Flag{
			{Name: "room", Kind: volumeKind, Label: "size of the room", Required: true},
			{Name: "rate", Kind: massRateKind, Label: "gas let out", Beside: "gas let out; 20 L of brisk ferment give 13 g/h", Hint: "20 L of brisk ferment give 13 g/h."},
			{Name: "released", Kind: massKind, Label: "gas let out at once", Beside: "gas let out at once, at the start", Hint: "At the start.", Sample: "2.6 kg"},
			{Name: "air-changes", Kind: frequencyKind, Label: "how often the air changes", Required: true},
			{Name: "time", Kind: timeKind, Label: "time", Beside: "for how long", Required: true},
		},
		Example: []string{"room", "10 m3", "rate", "13 g/h", "air-changes", "0.3 per h", "time", "24 h"},
		Plot:    Plot{"time=0.5 h:24 h:47", "co2_ppm"},
		run:     roomAir,
	},
}

// What is not known of volumes and gravities measured at home (assumptions): a
// hundredth of the volume, and 0.7 point of a glass hydrometer, as standard deviations.
const (
	volumeSD  = 0.01
	gravitySD = 0.0007
)

var errOneOfThree = wording.Unsaid("give one of --water, --target-gravity and --target-volume")

func dilution(in Inputs, out *Answer) error {
	have := wort.Portion{Volume: in.volume("volume"), VolumeSD: in.volume("volume") * volumeSD, Gravity: in.gravity("gravity"), GravitySD: gravitySD}
	water, err := waterFor(in, have, out.Sheet)
	if err != nil {
		return err
	}
	blend := have
	if water > 0 {
		if blend, err = wort.Blend([]wort.Portion{have, wort.Water(water, water*volumeSD)}, out.Sheet); err != nil {
			return err
		}
	}
	out.band("gravity_sg", 0)
	out.add("gravity_sg", "Gravity after mixing", float64(blend.Gravity), out.style.Gravity(blend.Gravity, unit.Gravity(out.width())))
	out.add("volume_l", "Volume after mixing", blend.Volume.Litres(), out.style.Volume(blend.Volume, 0))
	out.add("water_l", "Water to add", water.Litres(), out.style.Volume(water, 0))
	return nil
}

// waterFor is the water given, or what the wish given asks for.
func waterFor(in Inputs, have wort.Portion, w *working.Sheet) (unit.Volume, error) {
	byWater, byGravity, byVolume := in.Has("water"), in.Has("target-gravity"), in.Has("target-volume")
	switch {
	case byWater && !byGravity && !byVolume:
		return in.volume("water"), nil
	case byGravity && !byWater && !byVolume:
		return wort.WaterToGravity(have, in.gravity("target-gravity"), w)
	case byVolume && !byWater && !byGravity:
		return wort.WaterToVolume(have, in.volume("target-volume"), w)
	}
	return 0, errOneOfThree
}

var errSanitiser = wording.Unsaid("give --ratio, or --strength and --product")

func sanitiser(in Inputs, out *Answer) error {
	w := out.Sheet
	w.Input("V", "water", in.volume("volume").Litres(), "L", working.Given)
	var dose float64
	switch {
	case in.Has("ratio") && !in.Has("strength") && !in.Has("product"):
		dose = in.number("volume") * in.number("ratio")
		w.Input("r", "ratio", in.number("ratio"), "", working.Given)
		w.Step("d", "dose", "d = V r", dose/unit.Millilitre, "mL", "")
	case !in.Has("ratio") && in.Has("strength") && in.Has("product"):
		if in.number("product") <= in.number("strength") {
			return wording.Unsaid("a product of %s cannot make water of %s", compact(in.number("product")*100, 3)+" %", compact(in.number("strength")*1e6, 3)+" ppm")
		}
		const litre = unit.Kilogram / unit.Litre // of water, to 0.2 %
		dose = in.number("volume") * in.number("strength") / in.number("product") * litre / in.number("density")
		w.Input("c", "strength wanted", in.number("strength")*1e6, "ppm", working.Given)
		w.Input("p", "strength of the product", in.number("product")*100, "%", working.Given)
		w.Input("rho", "density of the product", in.number("density")/litre, "kg/L", in.origin("density"))
		w.Step("d", "dose", "d = V c/(p rho)", dose/unit.Millilitre, "mL", "")
	default:
		return errSanitiser
	}
	out.add("dose_ml", "Sanitiser", dose/unit.Millilitre, out.style.With(compact(dose/unit.Millilitre, 3), "mL"))
	out.caution("c.clean")
	out.caution("c.eye")
	return nil
}

func leak(in Inputs, out *Answer) error {
	air := in.atmosphere(out.Sheet)
	first := co2.State{Temperature: in.temperature("from-temperature"), Pressure: in.gauge("from-pressure").Absolute(air)}
	second := co2.State{At: unit.Duration(in.number("time")), Temperature: in.temperature("to-temperature"), Pressure: in.gauge("to-pressure").Absolute(air)}
	if first.Pressure <= 0 || second.Pressure <= 0 {
		return wording.Unsaid("a pressure below vacuum was read; accepted is a dial reading such as 10 psi")
	}
	rate, err := co2.Leak(in.volume("volume"), first, second, out.Sheet)
	if err != nil {
		return err
	}
	perDay := gramsPerDay(rate)
	half, err := in.leakError(first, second, perDay)
	if err != nil {
		return err
	}
	out.Sheet.Error(perDay-half, perDay+half, "how finely dial and thermometer are read")
	out.band("leak_g_per_day", 0)
	out.add("leak_g_per_day", "It loses", perDay, out.words("leak_g_per_day", perDay))
	leakVerdict(out, perDay, half)
	out.caution("c.test")
	return nil
}

func gramsPerDay(rate co2.LeakRate) float64 { return float64(rate.Mass()) / unit.Gram * unit.Day }

// leakError is half the band of a leak, g a day: each reading moved by the scatter of its instrument.
func (in Inputs) leakError(first, second co2.State, perDay float64) (float64, error) {
	scatter, sum := gauges[int(in.number("instruments"))], 0.0
	for _, moved := range []*co2.State{&first, &second} {
		for _, by := range []co2.State{{Pressure: unit.Pressure(scatter.Pressure)}, {Temperature: unit.Temperature(scatter.Temperature)}} {
			was := *moved
			moved.Pressure += by.Pressure
			moved.Temperature += by.Temperature
			rate, err := co2.Leak(in.volume("volume"), first, second, nil)
			if err != nil {
				return 0, err
			}
			*moved, sum = was, math.Hypot(sum, gramsPerDay(rate)-perDay)
		}
	}
	return nineInTen * sum, nil
}

// leakVerdict says whether what was read is more than the reading.
func leakVerdict(out *Answer, perDay, half float64) {
	switch {
	case perDay > half:
		out.note("It leaks. A kilogram of gas is gone in %s. Brush soapy water on the joints and look for bubbles.", out.style.Duration(unit.Duration(1000/perDay*unit.Day), 0))
	case perDay < -half:
		out.note("The gauge rose: gas came in, or the readings do not fit.")
	default:
		out.note("No leak that these readings could show: at most %.2g g a day. Twice the time shows half of that.", perDay+half)
	}
}
