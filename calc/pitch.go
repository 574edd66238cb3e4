package calc

import (
	"spile/limit"
	"spile/unit"
	"spile/wording"
	"spile/working"
	"spile/wort"
	"spile/yeast"
)

// kindKind is a kind of yeast, a word of the labels.
var kindKind = func() *Kind {
	words := make([]wording.Text, len(yeast.Kinds))
	for i, k := range yeast.Kinds {
		words[i] = wording.Text(k)
	}
	return choice("kind of yeast", words...)
}()

var kindFlag = Flag{Name: "kind", Kind: kindKind, Label: "kind of yeast", Default: string(yeast.Ale)}

func (in Inputs) yeast() yeast.Kind { return yeast.Kinds[int(in.number("kind"))] }

// forms of yeast, and where a pack was kept: the temperatures are common practice, no source.
var (
	forms    = []yeast.Form{yeast.Dry, yeast.Slurry}
	formKind = choice("form", wording.Text(yeast.Dry), wording.Text(yeast.Slurry))
	massKind = &Kind{Name: "mass", Example: "11.5 g", Suffix: "g", Scale: unit.Gram, parse: positive(number(unit.ParseMass)),
		Words: func(s unit.Style, v float64) string { return s.Mass(unit.Mass(v), 0) }}
	timeKind = &Kind{Name: "time", Example: "24 h", Suffix: "h", Scale: unit.Hour, parse: notNegative(number(unit.ParseDuration)),
		Words: func(s unit.Style, v float64) string { return s.Duration(unit.Duration(v), 0) }}
)

// notNegative refuses what is below zero.
func notNegative(parse func(string) (float64, error)) func(string) (float64, error) {
	return func(s string) (float64, error) {
		v, err := parse(s)
		if err == nil && v < 0 {
			err = wording.Unsaid("read %q; it must not be below zero", s)
		}
		return v, err
	}
}

var pitchRow = &Calculation{
	Name: "pitch", Stage: Filling, Question: "How much yeast?",
	About: "Living cells in a pack of so much mass, age and storage, beside what the wort wants. Cells are never counted at home: the band is wide. A spoonful in a warm jar of wort that foams within a day proves it alive.",
	Flags: []Flag{
		{Name: "volume", Kind: volumeKind, Label: "how much wort", Beside: "wort", Required: true},
		{Name: "gravity", Kind: gravityKind, Label: "gravity of the wort", Beside: "its gravity", Required: true},
		kindFlag,
		{Name: "mass", Kind: massKind, Label: "yeast there is", Required: true},
		{Name: "age", Kind: timeKind, Label: "age of the pack or slurry", Beside: "since the pack was made or the slurry was taken", Hint: "Since the pack was made or the slurry was taken.", Sample: "6 months", Default: "6 months"},
		{Name: "storage", Kind: temperatureKind, Label: "temperature at which it was kept", Sample: "4 C", Default: "4 C"},
		{Name: "form", Kind: formKind, Label: "how the yeast comes", Beside: "how it comes", Default: string(yeast.Dry)},
	},
	Example: []string{"volume", "20 L", "gravity", "1.046", "kind", "ale", "mass", "11.5 g", "age", "6 months", "storage", "4 C"},
	Plot:    Plot{Sweep: "age=0 months:24 months:48", Of: "cells_e9"},
	run:     pitch,
}

func pitch(in Inputs, out *Answer) error {
	og, kind := in.gravity("gravity"), in.yeast()
	if err := in.checkWort("gravity", og); err != nil {
		return err
	}
	pack := yeast.Pack{Kind: kind, Form: forms[int(in.number("form"))], Mass: unit.Mass(in.number("mass")), Age: unit.Duration(in.number("age")), Storage: in.temperature("storage")}
	alive, err := pack.Viable(out.Sheet)
	if err != nil {
		return err
	}
	in.from(out.Sheet, map[string]string{"age": "age", "t": "storage"})
	out.band("cells_e9", 0)
	needed := kind.Needed(in.volume("volume"), wort.ExtractFromGravity(og), out.Sheet)
	mass := float64(pack.Mass) * needed / alive.P50
	out.Sheet.Step("m", "yeast of this pack that holds them", "m = mass · N/n", mass/unit.Gram, "g", "")
	out.add("cells_e9", "Living cells there are", alive.P50/1e9, out.words("cells_e9", alive.P50/1e9))
	out.add("needed_e9", "Living cells wanted", needed/1e9, out.style.With(compact(needed/1e9, 2), "thousand million"))
	out.add("mass_g", "Of this pack that takes", mass/unit.Gram, out.style.With(compact(mass/unit.Gram, 2), "g"))
	switch {
	case alive.P05 >= needed/2:
		out.note("Enough, even at the low end: half of what is wanted still ferments well.")
	case alive.P50 >= needed/2:
		out.note("Likely enough, but not surely. Prove it in a warm jar first, or add a second pack.")
	default:
		out.note("Likely too little. Take a fresh pack.")
	}
	out.caution("c.today")
	out.caution("c.wort")
	return nil
}

// foamShare is the foam that a kind of yeast raises at most times, as a share of the beer, and at worst.
// From memory and common practice; pressure lowers it.
var foamShare = map[yeast.Kind][2]float64{
	yeast.Ale:           {0.15, 0.30},
	yeast.CleanAle:      {0.10, 0.20},
	yeast.Lager:         {0.07, 0.15},
	yeast.WarmFarmhouse: {0.20, 0.35},
}

var foamRoomRow = &Calculation{
	Name: "foam-room", Stage: Filling, Question: "Is there room for foam?",
	About: "The gas space above the wort beside the foam that a kind of yeast may raise. Foam in a valve can block it.",
	Flags: []Flag{
		{Name: "volume", Kind: volumeKind, Label: "how much wort", Beside: "wort", Required: true},
		{Name: "capacity", Kind: volumeKind, Label: "size of the vessel to the brim", Beside: "of the vessel to the brim", Required: true},
		kindFlag,
	},
	Example: []string{"volume", "20 L", "capacity", "26 L", "kind", "ale"},
	Plot:    Plot{Sweep: "volume=10 L:25 L:30", Of: "headspace_percent"},
	run:     foamRoom,
}

func foamRoom(in Inputs, out *Answer) error {
	gas, err := in.gasOver("wort", in.volume("volume"), in.volume("capacity"))
	if err != nil {
		return err
	}
	volume, capacity, share := in.number("volume"), in.number("capacity"), foamShare[in.yeast()]
	head, foam, worst := float64(gas.Head), share[0]*volume, share[1]*volume
	room := unit.Ratio(head / capacity)
	most := min(capacity/(1+share[1]), capacity*(1-float64(limit.LeastHeadspace)))
	w := out.Sheet
	w.Input("V", "wort", volume/unit.Litre, "L", working.Given)
	w.Input("C", "vessel", capacity/unit.Litre, "L", working.Given)
	w.Input("f", "foam over wort, most times", share[0]*100, "%", working.Constant)
	w.Input("fw", "foam over wort, at worst", share[1]*100, "%", working.Constant)
	w.Step("h", "gas space", "h = 1 - V/C", room.Percent(), "%", "")
	w.Step("F", "foam", "F = f V; memory and common practice", foam/unit.Litre, "L", "")
	w.Step("Vm", "fill to at most", "Vm = C/(1 + fw), gas space at least 5 %% (memory)", most/unit.Litre, "L", "")
	w.Error(foam/unit.Litre/2, worst/unit.Litre, "foam varies with yeast, warmth and pressure; nobody can compute it")
	out.band("foam_l", 0)
	out.add("headspace_percent", "Gas space", room.Percent(), out.style.With(compact(room.Percent(), 2), "%"))
	out.add("foam_l", "Foam, most times", foam/unit.Litre, out.words("foam_l", foam/unit.Litre))
	out.add("fill_to_l", "Fill to at most", most/unit.Litre, out.style.Volume(unit.Volume(most), 0))
	switch {
	case worst <= head:
		out.note("It fits, even at worst.")
	case foam <= head:
		out.note("It fits most times. At worst foam reaches the valve: look after it on the first two days.")
	default:
		out.note("Too full. Foam is likely to reach the valve, and may block it.")
	}
	out.headspace(room)
	out.warn("A valve full of foam lets nothing out. Clean it before gas builds up.")
	out.lift(in.volume("volume"))
	return nil
}
