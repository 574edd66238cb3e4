package calc

import (
	"spile/co2"
	"spile/limit"
	"spile/unit"
	"spile/vessel"
	"spile/working"
	"spile/wort"
)

// hydrometerOff is how far a hydrometer may be off, in gravity: what must not matter.
const hydrometerOff = 0.004

// highestTested is the pressure up to which the solubility of gas was measured.
const highestTested = unit.Gauge(highestAtRest - unit.Atmosphere)

var ownGasRow = &Calculation{
	Name: "own-gas", Stage: Working, Question: "Can it make its own gas?",
	About: "Whether the last points of gravity give the gas wished for. And the setting of the working valve that keeps it. The valve stays free: what is too much goes out through it. Give --cold for gas wished in chilled beer, which takes up part of what stands above it. Where sugar is wanted, give --sugar.",
	Flags: []Flag{
		{Name: "gravity", Kind: gravityKind, Label: "gravity now", Required: true},
		{Name: "final", Kind: gravityKind, Label: "gravity where it will end", Required: true},
		{Name: "temperature", Kind: temperatureKind, Label: "temperature of the beer", Beside: "of the beer", Required: true},
		{Name: "volume", Kind: volumeKind, Label: "how much beer", Beside: "beer", Required: true},
		{Name: "capacity", Kind: volumeKind, Label: "size of the vessel to the brim", Beside: "of the vessel to the brim", Required: true},
		{Name: "target", Kind: volumesKind, Label: "gas wished for in the beer", Required: true},
		ratingFlag, safetyFlag,
		{Name: "pressure", Kind: gaugeKind, Label: "pressure on the dial now", Beside: "on the dial now", Default: "0 psi"},
		{Name: "cold", Kind: temperatureKind, Label: "temperature at which the gas is wished for", Sample: "3 C"},
		{Name: "sugar", Kind: massKind, Label: "sugar that goes in", Sample: "40 g"},
		{Name: "og", Kind: gravityKind, Label: "original gravity", Default: "1.046"},
		altitudeFlag,
	},
	Example: []string{"gravity", "1.014", "final", "1.010", "temperature", "20 C", "volume", "20 L", "capacity", "27 L", "target", "2.4 volumes", "rating", "2.5 bar", "safety-relief", "2.4 bar", "pressure", "10 psi"},
	Plot:    Plot{Sweep: "gravity=1.010:1.020:50", Of: "co2_volumes"},
	run:     ownGas,
}

// own is one sum of own gas, the air outside, and the setting that keeps the gas wished for.
type own struct {
	vessel.OwnGas
	air, needed unit.Pressure
}

func ownGas(in Inputs, out *Answer) error {
	if err := in.checkFall(in.gravity("gravity"), in.gravity("final")); err != nil {
		return err
	}
	if err := in.checkFall(in.gravity("og"), in.gravity("gravity")); err != nil {
		return err
	}
	gas, warm, now, air, err := in.atRest(out.Sheet)
	if err != nil {
		return err
	}
	o := own{OwnGas: vessel.OwnGas{Gas: gas, Warm: warm, Wish: warm, Now: gas.Content(warm, now)}, air: air}
	if in.Has("cold") {
		o.Wish = in.temperature("cold")
	}
	perPoint := vessel.MadeBetween(in.gravity("og"), in.gravity("gravity"), in.gravity("final"))
	o.Made = (perPoint*float64(gas.Beer) + in.number("sugar")*wort.CO2PerExtract) / co2.MolarMass
	if o.needed, err = o.Setting(in.volumes("target"), out.Sheet); err != nil {
		return err
	}
	o.answer(in, out)
	return nil
}

// answer chooses the setting within what the plates allow, and says what comes of it.
func (o own) answer(in Inputs, out *Answer) {
	set, capped := o.needed.Gauge(o.air), false
	if highest, ok := highestSetting(in); ok && set > highest {
		set, capped = highest, true
	}
	opens := set.Absolute(o.air)
	p := o.Reaches(o.Made, opens)
	volumes, w := o.Keeps(p), out.Sheet
	off := vessel.MadeBetween(in.gravity("og"), in.gravity("gravity"), in.gravity("gravity")-hydrometerOff) * float64(o.Beer) / co2.MolarMass
	least := o.Keeps(o.Reaches(max(o.Made-off, 0), opens))
	most := o.Keeps(o.Reaches(o.Made+off, opens))
	lacks := o.Lacks(opens)
	w.Input("SG", "gravity now", float64(in.gravity("gravity")), "", working.Given)
	w.Input("FG", "gravity where it will end", float64(in.gravity("final")), "", working.Given)
	w.Step("m", "gas still to be made", "m = 0.9565 g for each g of alcohol, and 0.463 g for each g of sugar", o.Made*co2.MolarMass/unit.Gram, "g", "Balling1865")
	w.Step("pset", "setting that keeps the gas wished for, absolute", "equilibrium of beer and the gas above it; chilled shut where it is wished cold", float64(o.needed)/unit.Kilopascal, "kPa", "Weiss1974")
	w.Step("pe", "pressure in the end, absolute", "what is there and what is made, at rest, at most the setting", float64(p)/unit.Kilopascal, "kPa", "Weiss1974")
	w.Step("Ve", "gas in the beer then", "what is dissolved at rest", float64(volumes), "volumes", "Weiss1974")
	w.Error(float64(least)*0.97, float64(most)*1.03, "a hydrometer 4 points off either way, and the solubility of gas in beer")
	out.band("co2_volumes", 0)
	out.addGauge("pressure_kpa", in.advised(max(set, in.gauge("pressure")), "Set the working valve to", "The setting that would keep so much gas"), set)
	out.add("co2_volumes", "Gas in the beer then", float64(volumes), out.style.Gas(volumes, 0))
	if lacks > 0 && !capped {
		sugar := unit.Mass(lacks * co2.MolarMass / wort.CO2PerExtract)
		out.add("sugar_g", "Sugar that would make up the rest", sugar.Grams(), out.style.Mass(sugar, 0))
	}
	o.notes(in, out, capped, lacks > 0)
	o.cautions(in, out, set, off)
}

// notes says what comes of it.
func (o own) notes(in Inputs, out *Answer, capped, short bool) {
	target := in.volumes("target")
	switch {
	case capped:
		out.note("The gas wished for needs more pressure than the plates allow. This setting is the most. The rest, up to %s, comes from the cylinder once it is cold.", out.style.Gas(target, 0))
	case short:
		out.note("The last points make too little gas. The rest comes from the cylinder once it is cold, or from sugar.")
	default:
		out.note("The last points make enough. The valve lets out what is too much.")
	}
	if most, ok := o.setBy(in); ok && !short {
		out.add("set_by_sg", "Set it while the gravity is at or above", float64(most), out.style.Gravity(most, 0))
	}
}

// setBy is the gravity down to which setting the valve still suffices with a hydrometer that reads 4 points high.
func (o own) setBy(in Inputs) (unit.Gravity, bool) {
	mol := o.Lacks(o.needed) + o.Made - in.number("sugar")*wort.CO2PerExtract/co2.MolarMass
	perGravity := vessel.GasPerPoint(in.gravity("og")) * float64(o.Beer) / co2.MolarMass / 0.001
	g := in.gravity("final") + unit.Gravity(max(mol, 0)/perGravity) + hydrometerOff
	return g, g < in.gravity("og")
}

// highestSetting is what the working valve may be set to at most: below rating and safety valve by its own error.
func highestSetting(in Inputs) (unit.Gauge, bool) {
	return vessel.HighestValve(in.rating(), in.safety())
}

// cautions holds setting and worst case against the plates.
func (o own) cautions(in Inputs, out *Answer, set unit.Gauge, off float64) {
	in.valve(out, set)
	if in.Has("rating") { // else the valve has said so
		out.stood(in, in.gauge("pressure"))
	}
	out.worst(in, o.AtRest(limit.HottestPlace, o.Now+o.Made+off).Gauge(o.air))
}

// worst records what a valve that sticks could bring in the hottest place, and holds it against the rating.
func (a *Answer) worst(in Inputs, worst unit.Gauge) {
	a.Sheet.Step("pw", "worst case, on the dial", "the same sum with the valve stuck, all fermented, at 40 °C", worst.Kilopascals(), "kPa", "Weiss1974")
	a.addGauge("worst_case_kpa", "Worst case: valve stuck, at 40 °C", worst)
	if worst > highestTested {
		a.warn("The worst case lies above all that the sum was tested for: take it as rough.")
	}
	a.stuck(in, worst)
}

// stuck holds what a valve that sticks could bring, at the hottest place, against the rating. With no safety valve
// named it is a caution; one set above the rating passes a limit.
func (a *Answer) stuck(in Inputs, worst unit.Gauge) {
	if !in.Has("rating") {
		return
	}
	safety := in.safety()
	for _, f := range limit.Stuck(worst, in.rating(), safety) {
		a.Cautions = append(a.Cautions, f.Sentence(a.units()))
		a.Passed = a.Passed || safety != nil && f.Severity >= limit.Today
	}
}
