package web

import (
	"encoding/json"
	"math"
	"time"

	"spile/advice"
	"spile/batch"
	"spile/estimate"
	"spile/unit"
	"spile/wording"
	"spile/wort"
	"spile/yeast"
)

// What is taken where nobody knows (assumptions; the last two are common practice, no source).
const (
	takenVolume   = 20 * unit.Litre
	takenRoom     = 1.25  // capacity over wort
	takenShape    = 1.23  // height over width of a vessel of 26 L and 0.30 m
	takenGravity  = 1.048 // most packs make 1.040 to 1.055
	takenAir      = unit.Temperature(273.15 + 18)
	takenServed   = unit.Temperature(273.15 + 4)
	takenTare     = 5 * unit.Kilogram
	takenGas      = unit.Volumes(2.4)
	takenCylinder = 2.6 * unit.Kilogram
)

// filling is what the form tells, ready to be looked at and kept.
type filling struct {
	Record   batch.Record
	Docs     map[string]map[string]any // of things to be made
	Tare     unit.Mass                 // 0: not known
	Sleeper  *bool                     // nil: not known
	RoomTold bool                      // the size of the vessel is known
	Water    unit.Volume               // to add; 0: none
	Thick    wort.Portion              // the wort without it
	Unknown  map[string]bool           // what nobody knew, by the name of its field
}

// as reads a record as the facts it holds.
func as[T any](doc map[string]any) T {
	var v T
	text, err := json.Marshal(doc)
	if err == nil {
		err = json.Unmarshal(text, &v)
	}
	if err != nil {
		panic(err) // it was made by the same keys
	}
	return v
}

// filling gathers the answers; where it is not Bad afterwards it can be looked at.
func (f *fillForm) filling() *filling {
	docs := f.docs()
	out := &filling{Docs: docs, Unknown: map[string]bool{}}
	for _, a := range f.Fields {
		out.Unknown[a.Name] = a.instead(unknown)
	}
	b := &out.Record.Batch
	out.wortAndYeast(f, docs)
	place := as[batch.PlaceFacts](docs["place"])
	b.Place, out.Sleeper = place.Place, place.Sleeper
	if b.Place.Ambient == 0 {
		b.Place.Ambient, b.Place.Assumed = takenAir, true
		docs["place"]["ambient_k"], docs["place"]["assumed"] = float64(takenAir), true
	}
	out.gas(docs["cylinder"])
	out.wishes(f)
	out.vessel(docs["vessel"])
	f.agree(out)
	if !f.Bad() {
		out.uses(f)
		b.Programme = advice.Propose(b).Programme(b)
	}
	return out
}

func (out *filling) wortAndYeast(f *fillForm, docs map[string]map[string]any) {
	b := &out.Record.Batch
	b.Wort = as[batch.WortPackFacts](docs["wort pack"]).Wort
	if b.Wort.Gravity == 0 {
		b.Wort.Gravity, b.Wort.Assumed = takenGravity, true
	}
	if b.Wort.Volume == 0 {
		b.Wort.Volume = takenVolume
		if size, told := f.vesselSize(docs); told {
			b.Wort.Volume = size / takenRoom
		}
	}
	y := as[batch.YeastPackFacts](docs["yeast pack"])
	b.Yeast = batch.Yeast{Kind: y.Kind, Form: y.Form, Mass: y.Mass, Attenuation: y.Attenuation}
	if b.Yeast.Kind == "" {
		b.Yeast.Kind = yeast.Ale
	}
}

// vesselSize is the capacity that was told.
func (f *fillForm) vesselSize(docs map[string]map[string]any) (unit.Volume, bool) {
	size, told := docs["vessel"]["capacity_m3"].(float64)
	return unit.Volume(size), told
}

// gas takes a cylinder as full where nobody knows what is in it.
func (out *filling) gas(doc map[string]any) {
	size, told := doc["capacity_kg"].(float64)
	if !told {
		return
	}
	content, weighed := doc["content_kg"].(float64)
	if !weighed {
		content = size
	}
	out.Record.Gas = &batch.Gas{Cylinder: unit.Mass(size), Content: unit.Mass(content)}
}

// vessel takes an ordinary shape and room for foam where they are not known. A rating or a
// safety valve is never taken.
func (out *filling) vessel(doc map[string]any) {
	facts := as[batch.VesselFacts](doc)
	v := &facts.Vessel
	var taken []string
	if out.RoomTold = v.Capacity > 0; !out.RoomTold {
		v.Capacity = out.Record.Wort.Volume * takenRoom
		doc["capacity_m3"], taken = float64(v.Capacity), append(taken, "capacity_m3")
	}
	if v.Diameter <= 0 {
		v.Diameter = unit.Length(math.Round(math.Cbrt(4*float64(v.Capacity)/(math.Pi*takenShape))/unit.Centimetre)) * unit.Centimetre
		doc["diameter_m"], taken = float64(v.Diameter), append(taken, "diameter_m")
	}
	if taken != nil {
		doc["assumed"] = taken
	}
	out.Record.Vessel, out.Tare = *v, facts.Tare
}

// wishes reads what is wished for, and waters the wort down where that is wished.
func (out *filling) wishes(f *fillForm) {
	b := &out.Record.Batch
	target := batch.Target{CO2: takenGas, Temperature: takenServed, Ready: f.ready()}
	if v, ok := f.wish(wishGas, gasWish); ok {
		target.CO2 = unit.Volumes(v)
	}
	if t, ok := f.wish(wishCold, beerHeat); ok {
		target.Temperature = unit.Temperature(t)
	}
	b.Target = &target
	b.Name = f.field(wishName).Typed
	to, ok := f.wish(wishDilute, wortGravity)
	if !ok {
		return
	}
	a := f.field(wishDilute)
	water, err := wort.WaterToGravity(wort.Portion{Volume: b.Wort.Volume, Gravity: b.Wort.Gravity}, unit.Gravity(to), nil)
	switch {
	case b.Wort.Assumed:
		a.Error = f.style.Word("The gravity of the wort is not known, so the water cannot be told. Take a sample first.")
	case err != nil || water < 0:
		a.Error = f.style.Say("Water thins the wort: give less than its %s.", f.style.Gravity(b.Wort.Gravity, 0))
	default:
		blend, err := wort.Blend([]wort.Portion{{Volume: b.Wort.Volume, Gravity: b.Wort.Gravity}, wort.Water(water, 0)}, nil)
		if err != nil {
			a.Error = refused(f.style.Tongue, err)
			return
		}
		out.Thick = wort.Portion{Volume: b.Wort.Volume, Gravity: b.Wort.Gravity}
		out.Water, b.Wort.Volume, b.Wort.Gravity = water, blend.Volume, blend.Gravity
	}
}

// agree puts beside the fields what does not go together.
func (f *fillForm) agree(out *filling) {
	b := &out.Record.Batch
	if f.Bad() {
		return
	}
	if b.Wort.Volume >= b.Vessel.Capacity {
		field, tooMuch := "wort-pack-volume_m3", wording.Text("%s of wort does not fit into %s with any room for foam.")
		if out.Water > 0 {
			field, tooMuch = wishDilute, "With the water, %s of wort does not fit into %s with any room for foam."
		}
		f.field(field).Error = f.style.Say(tooMuch, f.style.Volume(b.Wort.Volume, 0), f.style.Volume(b.Vessel.Capacity, 0))
	}
	if b.Gas != nil && b.Gas.Content > b.Gas.Cylinder {
		f.field("cylinder-content_kg").Error = f.style.Word("That is more than the cylinder holds.")
	}
}

// uses names the things of the cellar that the batch uses, and the batch itself.
func (out *filling) uses(f *fillForm) {
	r := &out.Record
	for is, to := range map[string]*batch.ID{"place": &r.Uses.Place, "cylinder": &r.Uses.Cylinder, "wort pack": &r.Uses.WortPack, "yeast pack": &r.Uses.YeastPack, "vessel": &r.Uses.Vessel} {
		if t := f.chosen(is); t != nil {
			*to = t.ID
		}
	}
	for _, g := range f.cellar.Regulators {
		for _, v := range g.Facts.Vessels {
			if !g.Gone && v == r.Uses.Vessel && !v.IsZero() {
				r.Uses.Regulator = g.ID
			}
		}
	}
	if r.Name != "" {
		return
	}
	switch pack := f.chosen("wort pack"); {
	case pack != nil:
		r.Name = pack.Name
	default:
		r.Name = f.dated(f.now)
	}
}

// dated is the name of a batch that nobody named, by the day it was filled.
func (f *fillForm) dated(filled time.Time) string {
	return f.style.Say("Batch of %s", dayWords(filled.In(f.zone), f.style))
}

// change puts the settings that were typed in the place of those proposed; what is wrong
// stands beside its field.
func (f *planForm) change(b *batch.Batch, style unit.Style) {
	u := advice.Propose(b)
	most, rated := advice.Most(&b.Vessel)
	within := func(p unit.Gauge, set **unit.Gauge, words func(*batch.Vessel, unit.Style) string) func(float64) string {
		return func(si float64) string {
			g := unit.Gauge(si)
			if !rated || g > p+1 { // a pascal, for what was written and read again
				return words(&b.Vessel, style)
			}
			*set = &g
			return ""
		}
	}
	f.set(planHold, beerHeat, style, func(si float64) string { u.Hold = unit.Temperature(si); return "" })
	f.set(planRelief, knobMark, style, within(most, &u.Relief, advice.ValveCaution))
	f.set(planKeep, knobMark, style, within(most, &u.Keep, advice.ValveCaution))
	f.set(planGas, knobMark, style, within(most-estimate.AboveGas, &u.Gas, advice.GasCaution))
	f.set(planRest, restFor, style, func(si float64) string { u.Rest = unit.Duration(si); return "" })
	f.set(planCold, beerHeat, style, func(si float64) string {
		t := unit.Temperature(si)
		if fridge := b.Place.Fridge; fridge != nil && t < fridge.Coldest {
			return style.Say("The fridge reaches %s at best.", style.Temperature(fridge.Coldest, 0))
		}
		u.Cold = &t
		return ""
	})
	if !f.Bad() {
		b.Programme = u.Programme(b)
	}
}

// set reads a setting where one was typed, and hands it on; to says what is wrong with it.
func (f *planForm) set(name string, fig *figure, style unit.Style, to func(si float64) string) {
	for _, a := range f.Fields {
		if a.Name != name || a.Typed == "" {
			continue
		}
		si, problem := fig.read(a.Typed, style)
		if problem == "" {
			problem = to(si)
		}
		a.Error = problem
	}
}

// planForm is the plan as it can be changed.
type planForm struct{ sheet }

// The names of the settings.
const (
	planHold   = "plan-hold"
	planRelief = "plan-relief"
	planKeep   = "plan-keep"
	planRest   = "plan-rest"
	planCold   = "plan-cold"
	planGas    = "plan-gas"
)

// newPlanForm shows what is proposed for the batch.
func newPlanForm(b *batch.Batch, style unit.Style) *planForm {
	u, f := advice.Propose(b), &planForm{}
	add := func(name string, label wording.Text, hint string, fig *figure, si float64) {
		f.Fields = append(f.Fields, &asking{Name: name, Label: style.Word(label), Hint: hint, Unit: fig.behind(style), Numeric: fig.digits(style), Optional: true, Typed: fig.typed(si, style)})
	}
	if b.Place.Fridge != nil || b.Place.Belt > 0 {
		low, high := b.Yeast.Kind.Range()
		add(planHold, "Temperature while it works", style.Say("This yeast works from %s to %s.", style.Temperature(low, 0), style.Temperature(high, 0)), beerHeat, float64(u.Hold))
	}
	if u.Relief != nil {
		add(planRelief, "The working valve while it works", style.Word("It lets out what is more."), knobMark, float64(*u.Relief))
	}
	if u.Keep != nil {
		add(planKeep, "The working valve for the last points", style.Word("The yeast's own gas then carbonates the beer."), knobMark, float64(*u.Keep))
	}
	if u.Cold != nil {
		add(planRest, "Rest in the warm once it is finished", style.Word("It takes the taste of butter away."), restFor, float64(u.Rest))
		add(planCold, "The cold after that", "", beerHeat, float64(*u.Cold))
	}
	if u.Gas != nil {
		add(planGas, "Gas in the cold", style.Word("It goes on before the cold."), knobMark, float64(*u.Gas))
	}
	return f
}
