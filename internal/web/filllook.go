package web

import (
	"fmt"
	"math"
	"net/url"
	"slices"
	"strings"

	"spile/advice"
	"spile/batch"
	"spile/calc"
	"spile/co2"
	"spile/estimate"
	"spile/limit"
	"spile/unit"
	"spile/wording"
	"spile/wort"
	"spile/yeast"
)

// lookView is what is said before anything is poured.
type lookView struct {
	Name     string
	Vessel   string
	Waiting  bool // the wort is in, the yeast is not
	Ahead    []advice.Ahead
	Dots     []dotted
	Rows     []takes // room, weight, gas, water
	Notes    []string
	Costs    []string // of what nobody knew
	Steps    []advice.StepSaid
	NoRating string
	Worst    string
	Limits   []string
	Passed   bool
	Cautions []string
	Due      string // that the check of the vessel is overdue
	Asleep   string // that it is not known whether someone sleeps there
	Turn     string // what is missing of the turnaround, empty where it is passed
	TurnPath string
	upkeep   batch.Upkeep // of the vessel
	Plan     *planForm
	Start    *sheet
	Hidden   []hidden
	Back     string // to the answers; empty where they are kept already
	Once     batch.ID
	Action   string
}

// takes is one thing that a filling takes, with its working where it has one.
type takes struct {
	result
	Link *door
}

// take adds a row.
func (v *lookView) take(r result, link *door) { v.Rows = append(v.Rows, takes{r, link}) }

// hidden is an answer that a form carries along.
type hidden struct{ Name, Value string }

// lookMembers are enough for dates to the part of a day.
const lookMembers = 200

// outlook is a forecast of a batch that has no reading yet.
func outlook(b *batch.Batch, members int) (*estimate.Forecast, error) {
	belief, err := estimate.Condition(b, batch.Log{}, b.Pitched, estimate.Options{Seed: 1, Members: members})
	if err != nil {
		return nil, err
	}
	return belief.Forecast()
}

// look says what comes of a filling; b.Pitched is when the yeast is thought to go in.
func (v *lookView) look(fl *filling, style unit.Style) error {
	b := &fl.Record.Batch
	f, err := outlook(b, lookMembers)
	if err != nil {
		return err
	}
	said := advice.Say(b, batch.Log{}, v.upkeep, f, f.At, style)
	for _, a := range said.Ahead {
		if a.Key != "attenuated_90" {
			v.Ahead = append(v.Ahead, a)
		}
	}
	v.Name, v.Worst, v.Passed = b.Name, said.Worst, said.Passed
	v.Dots = dotsOf(f, said.Ahead, b.Target, b.Pitched, style)
	v.wish(b, f, style)
	for _, l := range said.Limits {
		if !slices.Contains(v.Limits, l.Sentence) && l.Sentence != v.Due {
			v.Limits = append(v.Limits, l.Sentence)
		}
	}
	v.Steps = advice.SaySteps(b, style)
	if _, rated := advice.Most(&b.Vessel); !rated {
		v.NoRating = style.Word("The plan sets no valve and no gas: for that, rating and safety valve must be known and fit each other.")
	}
	v.room(fl, style)
	v.weight(fl, style)
	v.gas(b, style)
	v.cautions(fl, style)
	return v.costs(fl, f, style)
}

// wish says the odds of being finished by the wished date where nothing but the ferment is
// waited for, and what a plan without cold means.
func (v *lookView) wish(b *batch.Batch, f *estimate.Forecast, style unit.Style) {
	i := slices.IndexFunc(v.Ahead, func(a advice.Ahead) bool { return a.Key == "finished" })
	if p := f.Milestones.Finished.Probability; i >= 0 && len(v.Ahead) == 1 && !b.Target.Ready.IsZero() && !math.IsNaN(p) {
		v.Ahead[i].Odds = wording.Capital(style.Say("%s, by %s", advice.Odds(p, style), style.Time(style.In(b.Target.Ready, b.Pitched.Location()), "Monday 2 January at 15:04")))
	}
	if b.Place.Fridge == nil {
		v.Notes = append(v.Notes, style.Word("There is no fridge, so the plan ends with the ferment. The beer stays as warm as its place."))
	}
}

// room is the foam that may rise, beside the room there is.
func (v *lookView) room(fl *filling, style unit.Style) {
	if fl.Water > 0 {
		v.take(result{Name: "Water to add", Words: style.Volume(fl.Water, 0), Band: style.Say("Then it is %s at %s. Mix it well before a sample.", style.Volume(fl.Record.Wort.Volume, 0), style.Gravity(fl.Record.Wort.Gravity, 0))},
			workLink("How much water?", "dilution", "volume", givenVolume(fl.Thick.Volume), "gravity", givenGravity(fl.Thick.Gravity), "water", givenVolume(fl.Water)))
	}
	if !fl.RoomTold {
		v.take(result{Name: "Room for foam", Words: style.Word("not known"), Band: style.Word("Measure what the vessel holds before you fill it.")}, nil)
		return
	}
	row, _ := calc.Find("foam-room")
	a, err := row.In(style).Evaluate(map[string]string{"volume": fl.Record.Wort.Volume.String(), "capacity": fl.Record.Vessel.Capacity.String(), "kind": string(fl.Record.Yeast.Kind)})
	if err != nil {
		return // it has been seen that the wort fits
	}
	for _, r := range a.Results {
		words := r.Words
		if r.Key == "foam_l" || r.Key == "fill_to_l" {
			words = style.Volume(unit.Volume(r.Value*unit.Litre), unit.Volume(bandOf(a, r.Key)*unit.Litre))
		}
		v.take(result{Name: r.Name, Words: words}, nil)
	}
	v.Rows[len(v.Rows)-1].Link = workLink("Is there room for foam?", "foam-room", "volume", fl.Record.Wort.Volume.String(), "capacity", fl.Record.Vessel.Capacity.String(), "kind", string(fl.Record.Yeast.Kind))
	v.Rows[len(v.Rows)-len(a.Results)].Band = strings.Join(a.Notes, " ")
}

// bandOf is the width of the band of a result, 0 where it has none.
func bandOf(a *calc.Answer, key string) float64 {
	if a.Band == nil || a.Band.Key != key {
		return 0
	}
	return a.Band.High - a.Band.Low
}

// kilograms is what the vessel weighs with its wort.
func (fl *filling) kilograms() unit.Mass {
	tare := fl.Tare
	if tare == 0 {
		tare = takenTare
	}
	wortMass := float64(fl.Record.Wort.Volume) * float64(fl.Record.Wort.Gravity) * wort.WaterDensity(unit.Celsius(20))
	return tare + unit.Mass(wortMass)
}

func (v *lookView) weight(fl *filling, style unit.Style) {
	r := result{Name: "Weight to lift", Words: style.Mass(fl.kilograms(), unit.Mass(1))}
	tare, text := fl.Tare, wording.Text("The wort, %s, and the vessel, %s.")
	if tare == 0 {
		tare, text = takenTare, "The wort, %s, and the vessel, assumed to weigh %s."
	}
	r.Band = style.Say(text, style.Mass(fl.kilograms()-tare, unit.Mass(1)), style.Mass(tare, 0))
	v.take(r, nil)
}

// gas is what the plan takes from the cylinder, and what is left of it.
func (v *lookView) gas(b *batch.Batch, style unit.Style) {
	if b.Gas == nil {
		return
	}
	need, link := gasNeeded(b)
	if need <= 0 {
		v.take(result{Name: "Gas it takes", Words: style.Word("not told"), Band: style.Word("The plan sets no gas.")}, nil)
		return
	}
	left := b.Gas.Content - need
	r := result{Name: "Gas it takes", Words: style.Mass(need, need/5), Band: style.Say("To carbonate it and to pour it all. Then about %s is left in the cylinder.", style.Mass(max(left, 0), need/5))}
	if left < 0 {
		r.Band = style.Say("The cylinder holds %s. Have more gas at hand before the cold.", style.Mass(b.Gas.Content, 0))
	}
	v.take(r, link)
}

// gasNeeded is what carbonates the beer from where the working valve leaves it, and takes its
// place as it is poured, with its working; 0 where the plan sets no gas.
func gasNeeded(b *batch.Batch) (unit.Mass, *door) {
	air := unit.StandardAtmosphere(b.Place.Altitude)
	var hold, cold unit.Temperature
	var relief, gas unit.Gauge
	for _, s := range b.Programme {
		switch {
		case s.Set.Gas != nil:
			gas, cold = *s.Set.Gas, *s.Set.Hold
		case s.Set.Hold != nil && s.Set.Action == "":
			hold = *s.Set.Hold
		}
		if s.Set.Relief != nil && s.Set.Gas == nil {
			relief = *s.Set.Relief
		}
	}
	if gas <= 0 {
		return 0, nil
	}
	has := co2.Equilibrium(hold, relief.Absolute(air), co2.BeerFactor{}, nil)
	return max(co2.Carbonate(has, b.Target.CO2, b.Wort.Volume, nil), 0) + co2.Push(b.Wort.Volume, cold, gas.Absolute(air), nil),
		workLink("How much gas is left?", "cylinder", "volume", givenVolume(b.Wort.Volume), "from-volumes", givenGas(has), "to-volumes", givenGas(b.Target.CO2),
			"push", givenVolume(b.Wort.Volume), "pressure", givenPressure(gas), "temperature", givenTemperature(cold), "altitude", givenHeight(b.Place.Altitude))
}

// cautions stand where the hazard is: before the pack is opened and anything is lifted.
func (v *lookView) cautions(fl *filling, style unit.Style) {
	b := &fl.Record.Batch
	add := func(text string) { v.Cautions = append(v.Cautions, text) }
	add(limit.Say(style, "c.wort"))
	add(limit.Say(style, "c.today"))
	add(limit.Lift(style, b.Wort.Volume, fl.kilograms()))
	if fl.Sleeper == nil {
		v.Asleep = style.Word("Nobody said whether someone sleeps in the room, so its warning stands.")
	}
	if fl.Sleeper == nil || *fl.Sleeper {
		add(limit.Say(style, "c.sleep"))
	}
	add(limit.Say(style, "c.room"))
	if _, rated := advice.Most(&b.Vessel); rated {
		add(advice.ValveCaution(&b.Vessel, style))
	}
	if b.Gas != nil {
		add(limit.Say(style, "c.cylinder"))
		add(limit.Say(style, "c.regulator"))
	}
	if b.Place.Fridge != nil {
		add(limit.Say(style, "c.fridge"))
	}
	if b.Place.Fridge != nil || b.Place.Belt > 0 {
		add(limit.Say(style, "c.mains"))
	}
}

// costMembers are enough to compare two widths.
const costMembers = 100

// costs says what it costs that something was not known: the same batch is looked at as if it were.
func (v *lookView) costs(fl *filling, f *estimate.Forecast, style unit.Style) error {
	known := []struct {
		what  wording.Text
		unset bool
		tell  func(b *batch.Batch)
	}{
		{"the gravity of the wort", fl.Record.Wort.Assumed, func(b *batch.Batch) { b.Wort.Assumed = false }},
		{"how warm the place is", fl.Record.Place.Assumed, func(b *batch.Batch) { b.Place.Assumed = false }},
		{"the attenuation", fl.Record.Yeast.Attenuation == 0, func(b *batch.Batch) { b.Yeast.Attenuation = unit.Ratio(b.Yeast.Kind.Attenuation().Mean) }},
	}
	base, err := outlook(&fl.Record.Batch, costMembers)
	if err != nil {
		return err
	}
	for _, k := range known {
		if !k.unset {
			continue
		}
		b := fl.Record.Batch
		k.tell(&b)
		other, err := outlook(&b, costMembers)
		if err != nil {
			return err
		}
		v.Costs = append(v.Costs, costWords(style.Word(k.what), spread(base), spread(other), style))
	}
	return v.costOfKind(fl, f, style)
}

// costOfKind is how far the finish moves if the yeast is of another kind than was taken.
func (v *lookView) costOfKind(fl *filling, f *estimate.Forecast, style unit.Style) error {
	if !fl.Unknown["yeast-pack-kind"] {
		return nil
	}
	b := fl.Record.Batch
	b.Yeast.Kind = yeast.Lager
	other, err := outlook(&b, costMembers)
	if err != nil {
		return err
	}
	ale, lager := f.Milestones.Finished.P50, other.Milestones.Finished.P50
	if ale.IsZero() || lager.IsZero() {
		v.Costs = append(v.Costs, style.Word("Ale yeast is taken. Lager yeast would take longer than the days looked at."))
		return nil
	}
	says := wording.Text("Ale yeast is taken. Lager yeast would finish about %s sooner.")
	if lager.After(ale) {
		says = "Ale yeast is taken. Lager yeast would finish about %s later."
	}
	v.Costs = append(v.Costs, style.Say(says, days(math.Abs(lager.Sub(ale).Hours()/24), style)))
	return nil
}

// spread is the width of the finish, in days; NaN where its late edge is not in sight.
func spread(f *estimate.Forecast) float64 {
	m := f.Milestones.Finished
	if m.P05.IsZero() || m.P95.IsZero() {
		return math.NaN()
	}
	return m.P95.Sub(m.P05).Hours() / 24
}

// leastCost is the widening that is worth a word, in days: less is the noise of so few members.
const leastCost = 0.25

func costWords(what string, with, without float64, style unit.Style) string {
	switch wider := with - without; {
	case math.IsNaN(with) && !math.IsNaN(without):
		return style.Say("Not knowing %s puts the late edge of the finish out of sight.", what)
	case !(wider >= leastCost):
		return style.Say("Not knowing %s costs next to nothing.", what)
	default:
		return style.Say("Not knowing %s makes the date of the finish about %s wider.", what, days(wider, style))
	}
}

// days writes a number of days to the half.
func days(d float64, style unit.Style) string {
	switch half := math.Max(math.Round(2*d), 1); {
	case half == 1:
		return style.Word("half a day")
	case half == 2:
		return style.Word("one day")
	default:
		return style.Tongue.Many(int(math.Ceil(half/2)), "%s day", "%s days", style.Decimal(fmt.Sprintf("%g", half/2)))
	}
}

// carried are the answers of a form as the next one carries them.
func (f *fillForm) carried(plan *planForm) url.Values {
	out := url.Values{"vessel": {"new"}}
	if f.Vessel != nil {
		out.Set("vessel", f.Vessel.ID.String())
	}
	fields := f.Fields
	if plan != nil {
		fields = slices.Concat(fields, plan.Fields)
	}
	for _, a := range fields {
		switch {
		case a.Known():
			out.Set(a.Name, withUnit(a.Typed, a.Unit))
		case a.Options != nil && a.instead(unknown):
			out.Set(a.Name, unknown)
		default:
			for _, o := range a.Others {
				if o.Chosen {
					out.Add(o.Group, a.Name)
				}
			}
		}
	}
	return out
}

// asHidden are values as hidden fields, in order.
func asHidden(values url.Values) (out []hidden) {
	for name, all := range values {
		for _, v := range all {
			out = append(out, hidden{name, v})
		}
	}
	slices.SortFunc(out, func(a, b hidden) int { return strings.Compare(a.Name+a.Value, b.Name+b.Value) })
	return out
}

// startForm asks when the yeast went in.
func startForm(t *wording.Tongue) *sheet {
	return &sheet{Fields: []*asking{whenAsked(t, "when", "20 minutes ago")}}
}
