package web

import (
	"net/http"
	"net/url"
	"strings"

	"spile/batch"
	"spile/estimate"
	"spile/unit"
	"spile/wort"
)

// Where a temperature was read.
const (
	onVessel = "vessel"
	inBeer   = "beer"
	ofTheAir = "air"
)

// How a sample was read.
const (
	isFlat    = "flat"
	isBubbly  = "bubbly"
	roomWarm  = "room"
	beerWarm  = "beer"
	bubblyKey = "bubbly sample" // the instrument of a sample that was not shaken out
)

// lookForm is "I read".
type lookForm struct {
	*entryForm
	Vessel                        *stood
	Pressure, Temperature         *gauged
	Gravity, Weight, Cylinder     *gauged
	Ring, Where, Gas, How, Warmth *asking
	Line                          *asking
	card                          func(number string) (says string, err error) // of another beer
	hangsOn                       batch.ID                                     // a cylinder of the cellar, whose weighings stand in the cellar's log; zero: none
}

// newLookForm asks what was read at a vessel.
func newLookForm(v *stood, t tastes) *lookForm {
	f := &lookForm{entryForm: newEntryForm(v.Now.In(v.zone()), t.Style), Vessel: v}
	f.Pressure = f.gauge("pressure", f.Style.Word("Pressure on the dial"), pressureRead)
	f.Pressure.First = true
	f.Ring = f.ask(&asking{Name: "ring", Label: f.Style.Word("Which ring of your dial do you read?"), Optional: true,
		Options: options(f.Style.Tongue, choice{"psi", "psi"}, choice{"bar", "bar"}, choice{"kPa", "kPa"})})
	f.Ring.Typed = f.Pressure.Unit
	f.Temperature = f.gauge("temperature", f.Style.Word("Temperature"), temperatureRead)
	f.Where = f.ask(&asking{Name: "where", Label: f.Style.Word("The temperature is"), Optional: true,
		Options: options(f.Style.Tongue, choice{onVessel, "on the vessel"}, choice{inBeer, "in the beer"}, choice{ofTheAir, "of the air"}), Typed: onVessel})
	f.Gas = f.ask(&asking{Name: "gas", Label: f.Style.Word("Is the gas open to this vessel?"), Optional: true, Options: options(f.Style.Tongue, choice{"yes", "Yes"}, choice{"no", "No"})})
	f.Gravity = f.gauge("gravity", f.Style.Word("Gravity of a sample"), gravityRead)
	f.Gravity.Word = "gravity"
	f.How = f.ask(&asking{Name: "how", Label: f.Style.Word("The sample was"), Optional: true, Options: options(f.Style.Tongue, choice{isFlat, "flat"}, choice{isBubbly, "still bubbly"}), Typed: isFlat})
	f.Warmth = f.ask(&asking{Name: "warmth", Label: f.Style.Word("and"), Optional: true, Typed: roomWarm,
		Options: []option{{roomWarm, f.Style.Say("at about %s", f.Style.Temperature(unit.Celsius(20), 0))}, {beerWarm, f.Style.Word("as warm or cold as the beer")}}})
	f.Weight = f.gauge("vessel", f.Style.Word("Weight of the vessel"), vesselWeight)
	f.Cylinder = f.gauge("cylinder", f.Style.Word("Weight of the cylinder"), cylinderWeight)
	f.Line = f.ask(&asking{Name: "line", Label: f.Style.Word("Type or say it"), Hint: f.Style.Word("Such as “12 psi, 19 C”. Each number with its unit."), Optional: true})
	f.expect()
	return f
}

// AskRing tells that nobody has said yet in which unit the dial is read.
func (f *lookForm) AskRing() bool { return f.Style.Chosen(unit.OfPressure) == "" }

// Sampled and Weighed tell which of the questions that are folded away have something in them.
func (f *lookForm) Sampled() bool {
	return f.Gravity.Typed != "" || f.Gravity.instead(just) || f.Gravity.Error+f.Warmth.Error != ""
}

// Weighed tells that of the weights.
func (f *lookForm) Weighed() bool {
	return f.Weight.Typed+f.Cylinder.Typed != "" || f.Weight.Error+f.Cylinder.Error != ""
}

// expect fills in what the last forecast expects at this moment.
func (f *lookForm) expect() {
	for _, g := range []*gauged{f.Pressure, f.Temperature, f.Gravity} {
		if band, known := f.Vessel.expected(g.amount.reads); known {
			g.expect(band, f.Style)
		}
	}
}

// expected is what the usual instrument of q should show now by the last forecast.
func (v *stood) expected(q batch.Quantity) (estimate.Band, bool) {
	if v.Seen == nil || v.Seen.Told == nil {
		return estimate.Band{}, false
	}
	s := &v.Seen.Told.Forecast.Series
	bands := map[batch.Quantity][]estimate.Band{batch.Pressure: s.Pressure, batch.Temperature: s.Temperature, batch.Gravity: s.Gravity}[q]
	b, known := s.At(bands, v.Now.Sub(v.Seen.State.Record.Pitched).Hours())
	if !known {
		return b, false
	}
	return estimate.Shown(batch.Reading{Quantity: q}, b), true
}

// iRead asks what was read, and keeps it.
func (s *Site) iRead(w http.ResponseWriter, r *http.Request) {
	v := s.findFilled(w, r)
	if v == nil {
		return
	}
	f := newLookForm(v, readTastes(r))
	f.card = func(number string) (string, error) { return s.cardOf(r.Context(), number, f.Style) }
	var err error
	if f.hangsOn, err = s.cylinderOf(r.Context(), v); err != nil {
		s.fail(w, r, err)
		return
	}
	if s.takeEntries(w, r, f, "entry-read", "I read") {
		f.remember(w, r)
		s.goBack(w, r, v, f.kept)
	}
}

// remember keeps the ring of the dial as the unit of pressure, where none was chosen.
func (f *lookForm) remember(w http.ResponseWriter, r *http.Request) {
	if f.AskRing() && f.Pressure.Typed != "" && f.Ring.Typed != "" {
		keep(w, r, unitsCookie, url.QueryEscape(strings.Join(append(readTastes(r).Words, strings.ToLower(f.Ring.Typed)), ",")))
	}
}

// entries are what was read: one entry for each instrument that needs a name.
func (f *lookForm) entries() ([]batch.Entry, error) {
	line, err := f.offCard()
	if err != nil {
		return nil, err
	}
	f.takeLine(line)
	if f.Ring.Typed != "" && numberAlone.MatchString(f.Pressure.Typed) {
		f.Pressure.Unit = f.Ring.Typed
	}
	when := f.moment()
	plain := &batch.Said{}
	var named []*batch.Said
	if p, given := f.value(f.Pressure); given {
		plain.Put(batch.Pressure, p)
	}
	if t, given := f.value(f.Temperature); given {
		named = append(named, f.warmth(plain, t)...)
	}
	if g, given := f.value(f.Gravity); given {
		named = append(named, f.sample(plain, g)...)
	}
	if m, given := f.value(f.Weight); given {
		plain.Put(batch.VesselMass, m)
	}
	if m, given := f.value(f.Cylinder); given && f.hangsOn.IsZero() {
		plain.Put(batch.CylinderMass, m)
	} else if given {
		weighed := &batch.Said{}
		weighed.Put(batch.CylinderMass, m)
		named = append(named, weighed)
	}
	f.gasLine(plain)
	if !f.Bad() && kindOf(plain) == "" && len(named) == 0 {
		f.Beside = f.Style.Word("Nothing new was read yet. Type what an instrument shows, or tick “It shows just that”.")
	}
	if f.Bad() {
		return nil, nil
	}
	return f.made(when, plain, named)
}

// made puts what was read into entries.
func (f *lookForm) made(when moment, plain *batch.Said, named []*batch.Said) (out []batch.Entry, err error) {
	all := named
	if kindOf(plain) != "" {
		all = append([]*batch.Said{plain}, named...)
	}
	all[0].Written = strings.Join(f.written, "; ")
	for i, said := range all {
		e, err := f.entry(f.Vessel.Seen.ID, kindOf(said), when, byte(i), said)
		if err != nil {
			return nil, err
		}
		if _, weighed := said.Value(batch.CylinderMass); weighed && !f.hangsOn.IsZero() {
			e.Batch, e.Thing = batch.ID{}, f.hangsOn
		}
		out = append(out, e)
	}
	return out, nil
}

// kindOf is the kind of entry that says this; empty where it says nothing.
func kindOf(said *batch.Said) batch.Kind {
	for q := range batch.Quantities {
		if _, given := said.Value(q); given {
			return batch.KindReading
		}
	}
	switch {
	case said.Event != nil:
		return batch.KindAction
	case said.Words != "":
		return batch.KindNote
	}
	return ""
}

// takeLine puts what one line told into the fields it is about, where the rest is asked.
func (f *lookForm) takeLine(line string) {
	if f.Line.Error != "" {
		return
	}
	told, problem := readLine(f.Style.Tongue, line)
	if f.Line.Error = problem; problem != "" {
		return
	}
	if air, found := told[airField]; found {
		if _, both := told["temperature"]; both || f.Temperature.Typed != "" {
			f.Line.Error = f.Style.Word("Keep the temperature of the air by itself: one thermometer at a time.")
			return
		}
		told["temperature"], f.Where.Typed = air, ofTheAir
	}
	if told[whereField] != "" {
		f.Where.Typed = inBeer
	}
	for _, g := range f.gauges {
		switch text, found := told[g.Name]; {
		case !found:
		case g.Typed != "":
			f.Line.Error = f.Style.Say("The line and the field “%s” both give a number. Leave one of them empty.", g.Label)
		case g.amount.bare(g.amount.plainly(text)) && f.Style.Chosen(g.amount.of) == "":
			f.Line.Error = g.amount.needsUnit(f.Style.Tongue)
		default:
			g.Typed = text
		}
	}
	if f.Line.Error == "" && f.Line.Typed != "" {
		f.written, f.Line.Typed = append(f.written, "“"+f.Line.Typed+"”"), "" // it stands in the fields from now on
	}
}

// warmth puts a temperature where it belongs: on the vessel as usual, of a probe in the
// beer, or of the air around it.
func (f *lookForm) warmth(plain *batch.Said, kelvin float64) (named []*batch.Said) {
	switch f.Where.Typed {
	case inBeer:
		s := &batch.Said{Instrument: "probe"}
		s.Put(batch.Temperature, kelvin)
		return []*batch.Said{s}
	case ofTheAir:
		plain.Put(batch.AirTemperature, kelvin)
	default:
		plain.Put(batch.Temperature, kelvin)
	}
	return nil
}

// sample puts the gravity of a sample, as if it had been read flat and at 20 °C.
func (f *lookForm) sample(plain *batch.Said, read float64) (named []*batch.Said) {
	g := read
	if f.Warmth.Typed == beerWarm {
		at, known := f.beerTemperature()
		if !known {
			f.Warmth.Error = f.Style.Word("Nobody knows yet how warm the beer is. Give its temperature above, or let the sample come to 20 °C.")
			return nil
		}
		original := f.Vessel.Seen.State.Record.Wort.Gravity
		corrected, err := wort.Hydrometer{}.True(unit.Gravity(read), at, original, nil)
		if err != nil {
			f.Gravity.Error = refused(f.Style.Tongue, err)
			return nil
		}
		g = float64(corrected)
		f.written = append(f.written, "read at "+temperatureRead.echo(float64(at), f.Style))
	}
	if f.How.Typed == isBubbly {
		s := &batch.Said{Instrument: bubblyKey}
		s.Put(batch.Gravity, g)
		return []*batch.Said{s}
	}
	plain.Put(batch.Gravity, g)
	return nil
}

// beerTemperature is what was read just now, else what is expected.
func (f *lookForm) beerTemperature() (unit.Temperature, bool) {
	if f.Temperature.Error == "" && f.Temperature.Typed != "" && f.Where.Typed != ofTheAir {
		t, _, problem := f.Temperature.amount.read(f.Style, f.Temperature.Typed, f.Temperature.Unit, nil)
		return unit.Temperature(t), problem == "" && t > 0
	}
	if f.Temperature.band == nil {
		return 0, false
	}
	return unit.Temperature(f.Temperature.band.P50), true
}

// gasLine notes gas that was turned on or off since, where the answer is news.
func (f *lookForm) gasLine(plain *batch.Said) {
	open := f.Vessel.gasOpen()
	switch {
	case f.Gas.Typed == "no" && open:
		plain.Event = &batch.Event{Kind: batch.GasOff}
	case f.Gas.Typed == "yes" && !open:
		p, given := plain.Value(batch.Pressure)
		if !given || p <= 0 {
			f.Gas.Error = f.Style.Word("That is new here. Read the dial as well: with the gas open it shows what the regulator is set to.")
			return
		}
		plain.Event = &batch.Event{Kind: batch.GasOn, Pressure: unit.Gauge(p)}
	}
	if f.Gas.Typed != "" {
		f.written = append(f.written, "gas open: "+f.Gas.Typed)
	}
}

// gasOpen tells whether the log says that gas is open to the vessel.
func (v *stood) gasOpen() bool {
	events := v.Seen.State.Log.Events
	for i := len(events) - 1; i >= 0; i-- {
		if set := events[i].Setting(); set != nil && (set.Gas != nil || set.GasOff) {
			return set.Gas != nil
		}
	}
	return false
}
