package web

import (
	"cmp"
	"math"
	"net/url"
	"slices"
	"strings"
	"time"

	"spile/batch"
	"spile/unit"
	"spile/wording"
)

// fillFact is a fact of a thing that Fill a vessel asks for, with what not knowing it costs there.
type fillFact struct {
	is, key string
	more    bool         // asked among what may be left as it is
	label   wording.Text // empty: that of the fact
	unknown wording.Text // empty: that of the fact
	none    wording.Text
	taken   float64 // what stands for {taken} in unknown, SI
}

// fillFacts are asked in this order. Seven of them stand open where nothing is known yet;
// all but the rating and the safety valve may stay unknown.
var fillFacts = []fillFact{
	{is: "vessel", key: "capacity_m3", unknown: "I do not know: a quarter more than the wort is taken. Foam room stays unknown"},
	{is: "vessel", key: "rating_pa"},
	{is: "vessel", key: "safety_relief_pa"},
	{is: "vessel", key: "diameter_m", more: true, unknown: "I do not know: an ordinary shape is taken, which hardly moves the date"},
	{is: "vessel", key: "tare_kg", more: true, unknown: "I do not know: {taken} is taken. Its weight then tells less", taken: takenTare},
	{is: "wort pack", key: "volume_m3", unknown: "I do not know: {taken} is taken, or what fits", taken: takenVolume},
	{is: "wort pack", key: "gravity_sg", unknown: "I do not know: {taken} is taken, and the end gets less sure. A first sample settles it", taken: takenGravity},
	{is: "yeast pack", key: "kind", unknown: "I do not know: ale is taken"},
	{is: "yeast pack", key: "form", more: true, unknown: "I do not know: the start gets less sure"},
	{is: "yeast pack", key: "mass_kg", more: true, unknown: "I do not know: an ordinary pack is taken"},
	{is: "yeast pack", key: "attenuation", more: true, unknown: "I do not know: what is usual for its kind is taken, and the end gets less sure"},
	{is: "place", key: "ambient_k", label: "How warm is the air where it will stand?", unknown: "I do not know: {taken} is taken, and the date gets less sure", taken: float64(takenAir)},
	{is: "place", key: "someone_sleeps_here", label: "Does someone sleep in that room?", unknown: "I do not know: then its warning stands"},
	{is: "place", key: "fridge.coldest_k", more: true, none: "I do not have one: then it stays as warm as its place"},
	{is: "place", key: "belt_w", more: true, none: "I do not have one: then nothing warms it"},
	{is: "place", key: "altitude_m", more: true},
	{is: "cylinder", key: "capacity_kg", label: "Is there a cylinder of gas? How much does it hold when full?", more: true, none: "I do not have one: then the yeast's own gas carbonates it"},
	{is: "cylinder", key: "content_kg", label: "How much gas is in it now?", more: true, unknown: "I do not know: full is taken. Weigh it before the cold"},
}

// sections are the parts of the form, by the kind of thing.
var sections = []struct {
	is    string
	title wording.Text
}{
	{"vessel", "The vessel"}, {"wort pack", "The wort"}, {"yeast pack", "The yeast"}, {"place", "Its place"}, {"cylinder", "Gas"}, {wishes, "What you wish for"},
}

const (
	wishes  = "wish"
	another = "" // in the place of one of the cellar's
)

// cylinderContent is asked of a cylinder here alone: elsewhere its weighing tells.
var cylinderContent = fact{key: "content_kg", fig: gasMass, what: "Its weight less its tare. The gauge does not tell while there is liquid inside."}

func (f *fillFact) fact() *fact {
	if f.key == cylinderContent.key {
		return &cylinderContent
	}
	k := kindNamed(f.is)
	i := slices.IndexFunc(k.Facts, func(x fact) bool { return x.key == f.key })
	return &k.Facts[i]
}

// name is that of the field.
func (f *fillFact) name() string { return kindNamed(f.is).Slug + "-" + f.key }

// chooser is the name of the field in which one of the cellar's is chosen.
func chooser(is string) string { return "which-" + kindNamed(is).Slug }

// fillForm is the form of Fill a vessel.
type fillForm struct {
	sheet
	Vessel *thing // one of the cellar's, nil: a new one
	cellar *batch.Cellar
	style  unit.Style
	now    time.Time
	zone   *time.Location
}

// part is a section as it stands on the page.
type fillSection struct {
	Title      wording.Text
	Open, More []*asking
	Unfolded   bool // something is wrong within
}

// newFillForm asks what is not known yet.
func newFillForm(vessel *thing, c *batch.Cellar, style unit.Style, now time.Time) *fillForm {
	f := &fillForm{Vessel: vessel, cellar: c, style: style, now: now, zone: style.In(now, now.Location()).Location()}
	for _, s := range sections[:5] {
		f.choose(s.is)
	}
	for i := range fillFacts {
		if x := &fillFacts[i]; x.is != "vessel" || vessel == nil {
			f.Fields = append(f.Fields, x.ask(style))
		}
	}
	if vessel == nil {
		f.Fields = append(f.Fields, &asking{Name: vesselName, Label: style.Word("What do you call the vessel?"), Optional: true})
	}
	f.Fields = append(f.Fields, wishFields(style)...)
	return f
}

// choose asks which of the things of the cellar it is, where there are any.
func (f *fillForm) choose(is string) {
	options := namesOf(is)(f.cellar, nil)
	if is == "vessel" || len(options) == 0 {
		return
	}
	titles := map[string]wording.Text{"wort pack": "From a pack on the shelf?", "yeast pack": "From a pack on the shelf?", "place": "Where will it stand?", "cylinder": "Which cylinder?"}
	last := map[string]wording.Text{"wort pack": "Another, told below", "yeast pack": "Another, told below", "place": "Another place, told below", "cylinder": "Another or none, told below"}
	a := &asking{Name: chooser(is), Label: f.style.Word(titles[is]), Hint: f.style.Word("What you leave empty below is then taken from it."), Options: append(options, option{another, f.style.Word(last[is])}), Optional: true}
	if place, _ := f.vesselDoc()["place"].(string); is == "place" && known(options, place) {
		a.Typed = place
	}
	f.Fields = append(f.Fields, a)
}

func (f *fillForm) vesselDoc() map[string]any {
	if f.Vessel == nil {
		return map[string]any{}
	}
	return f.Vessel.doc
}

// ask is the question of the form.
func (x *fillFact) ask(style unit.Style) *asking {
	of := x.fact()
	a := of.ask(nil, &batch.Cellar{}, style)
	a.Name, a.Optional, a.Others = x.name(), false, nil
	if x.label != "" {
		a.Label = style.Word(x.label)
	}
	switch none, words := cmp.Or(x.none, of.none), cmp.Or(x.unknown, of.cost); {
	case none != "":
		a.Others = append(a.Others, otherwise{nothing, style.Word(none), false})
	case x.taken != 0:
		a.Others = append(a.Others, otherwise{unknown, style.Tongue.Fill(words, "taken", of.fig.write(x.taken, style)), false})
	case words != "":
		a.Others = append(a.Others, otherwise{unknown, style.Word(words), false})
	}
	if x.more || of.key == "someone_sleeps_here" { // left as it is, it counts as not known
		a.Others[len(a.Others)-1].Chosen = true
	}
	return a
}

// The names of the wishes.
const (
	wishReady  = "ready"
	wishGas    = "co2"
	wishCold   = "served"
	wishDilute = "dilute"
	wishName   = "name"
)

func wishFields(style unit.Style) []*asking {
	return []*asking{
		{Name: wishReady, Label: style.Word("When do you want to pour?"), Hint: style.Word("For example 12 March 2027, or in 3 weeks."), What: style.Word("The day you want to pour the first glass. With it the odds are told."), Others: []otherwise{{unknown, style.Word("No date: as soon as it is ready"), true}}},
		{Name: wishGas, Label: style.Word("How much gas do you want in the beer?"), Hint: style.Say("For example %s.", gasWish.example(style)), Unit: gasWish.behind(style), Numeric: gasWish.digits(style),
			What:   style.Word("British ales carry about 2 volumes, lagers about 2.6, wheat beers 3 volumes and more. One volume is one litre of gas in a litre of beer."), // common practice, no source
			Others: []otherwise{{unknown, style.Say("I do not know: %s is taken", gasWish.write(float64(takenGas), style)), true}}},
		{Name: wishCold, Label: style.Word("How cold do you want to pour it?"), Hint: style.Say("For example %s.", beerHeat.example(style)), Unit: beerHeat.behind(style), Numeric: beerHeat.digits(style), What: style.Word("The temperature of the beer in the vessel when you pour it. Colder beer keeps its gas better."), Others: []otherwise{{unknown, style.Say("I do not know: %s is taken", beerHeat.write(float64(takenServed), style)), true}}},
		{Name: wishDilute, Label: style.Word("Do you add water? Down to which gravity?"), Hint: style.Word("For example 1.044. The page then says how much water."), Unit: wortGravity.behind(style), Numeric: wortGravity.digits(style), What: style.Word("Some packs are strong and are meant to be thinned. The leaflet of the wort says so."), Others: []otherwise{{nothing, style.Word("No water"), true}}},
		{Name: wishName, Label: style.Word("What do you call this batch?"), Optional: true},
	}
}

// vesselName is the field in which a new vessel is named.
const vesselName = "vessel-name"

// wishMore are the wishes that may be left as they are.
var wishMore = []string{wishGas, wishCold, wishDilute, wishName}

// Sections are the questions as they stand on the page.
func (f *fillForm) Sections() (out []fillSection) {
	for _, s := range sections {
		sec := fillSection{Title: s.title}
		for _, a := range f.Fields {
			if is, more := sectionOf(a.Name); is == s.is {
				if more {
					sec.More = append(sec.More, a)
					sec.Unfolded = sec.Unfolded || a.Error != "" || a.Known()
				} else {
					sec.Open = append(sec.Open, a)
				}
			}
		}
		if len(sec.Open)+len(sec.More) > 0 {
			out = append(out, sec)
		}
	}
	return out
}

// sectionOf tells in which section a field stands, and whether it may be left as it is.
func sectionOf(name string) (is string, more bool) {
	for i := range fillFacts {
		switch x := &fillFacts[i]; name {
		case x.name():
			return x.is, x.more
		case chooser(x.is):
			return x.is, false
		}
	}
	if name == vesselName {
		return "vessel", true
	}
	return wishes, slices.Contains(wishMore, name)
}

// take puts in what was typed; what was left empty comes from the thing that was chosen.
func (f *fillForm) take(values url.Values) {
	f.sheet.take(values)
	for i := range fillFacts {
		x := &fillFacts[i]
		chosen := f.chosen(x.is)
		if chosen == nil || x.is == "vessel" {
			continue
		}
		a := f.field(x.name())
		if a.Known() {
			continue
		}
		doc := chosen.doc
		if x.key == cylinderContent.key {
			doc = f.content(chosen.ID)
		}
		a.Typed = x.fact().typedAs(doc, f.style)
		for i := range a.Others {
			a.Others[i].Chosen = a.Typed == ""
		}
	}
}

// content is what was left in a cylinder when it was weighed last.
func (f *fillForm) content(id batch.ID) map[string]any {
	for _, c := range f.cellar.Cylinders {
		if c.ID == id && c.Facts.Content != nil {
			return map[string]any{cylinderContent.key: float64(*c.Facts.Content)}
		}
	}
	return nil
}

// chosen is the thing of the cellar that was chosen, nil for another.
func (f *fillForm) chosen(is string) *thing {
	if is == "vessel" {
		return f.Vessel
	}
	i := slices.IndexFunc(f.Fields, func(a *asking) bool { return a.Name == chooser(is) })
	if i < 0 {
		return nil
	}
	id, err := batch.ParseID(f.Fields[i].Typed)
	if err != nil {
		return nil
	}
	return thingOf(f.cellar, id)
}

// docs are the records of the things as the form tells them; what is wrong stands beside the fields.
func (f *fillForm) docs() map[string]map[string]any {
	f.missing(f.style.Tongue)
	out := map[string]map[string]any{"vessel": f.vesselDoc()}
	for i := range fillFacts {
		x := &fillFacts[i]
		if out[x.is] == nil {
			out[x.is] = map[string]any{}
		}
		if x.is == "vessel" && f.Vessel != nil {
			continue
		}
		if a := f.field(x.name()); a.Error == "" {
			x.fact().answer(a, out[x.is], f.style)
		}
	}
	return out
}

// wish reads one of the wishes; ok is false where it was left open or is wrong.
func (f *fillForm) wish(name string, fig *figure) (si float64, ok bool) {
	a := f.field(name)
	if !a.Known() || a.Error != "" {
		return 0, false
	}
	si, a.Error = fig.read(a.Typed, f.style)
	return si, a.Error == ""
}

// readyHour is the hour of the wished day at which people want to pour.
const readyHour = 18

// ready is the wished date, zero where there is none.
func (f *fillForm) ready() time.Time {
	a := f.field(wishReady)
	if !a.Known() || a.Error != "" {
		return time.Time{}
	}
	day, problem := readAhead(f.style.Tongue, a.Typed, f.now.In(f.zone))
	at := time.Date(day.Year(), day.Month(), day.Day(), readyHour, 0, 0, 0, f.zone)
	if problem == "" && !at.After(f.now) {
		problem = f.style.Say("I read %s, which is past. Give a day to come.", dayWords(day, f.style))
	}
	if a.Error = problem; problem != "" {
		return time.Time{}
	}
	return at
}

// readAhead reads a day to come: of the calendar, or so many days or weeks from now.
func readAhead(t *wording.Tongue, typed string, now time.Time) (time.Time, string) {
	span, err := unit.ParseDuration(strings.TrimPrefix(strings.ToLower(typed), "in "))
	if err == nil && span >= unit.Day && span < 3*365*unit.Day {
		return now.AddDate(0, 0, int(math.Round(span.Days()))), ""
	}
	return readCalendar(t, typed)
}
