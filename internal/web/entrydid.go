package web

import (
	"net/http"
	"net/url"
	"slices"
	"strings"

	"spile/advice"
	"spile/batch"
	"spile/calc"
	"spile/estimate"
	"spile/internal/batchfile"
	"spile/limit"
	"spile/unit"
	"spile/wording"
)

// deed is something that people do at a vessel: one button, and the few questions it needs.
type deed struct {
	Key    string
	Button wording.Text
	Asks   []deedAsk
	Event  string // as it stands in a readings file, with the answers in braces; empty: a note
	Note   string // what is written down with it
	Before func(f *didForm) []string
	Ends   bool // the vessel must be empty for it
}

// deedAsk is a question of a deed.
type deedAsk struct {
	Name        string
	Label, Hint wording.Text
	*amount
	Optional bool
}

// settings of a valve, a regulator or a thermostat are no readings: nothing is expected of them.
var (
	setPressure    = &amount{"Pressure", unit.OfPressure, 0, false, inSI(unit.ParseGauge), "10 psi, 0.7 bar or 70 kPa", pressureRead.labels}
	setTemperature = &amount{"Temperature", unit.OfTemperature, batch.Temperature, true, inSI(unit.ParseTemperature), "1 °C or 34 °F", temperatureRead.labels}
)

// deeds are what can be done, in the order of a vessel's life.
var deeds = []deed{
	{Key: "vent", Button: "Let gas out", Event: "vent {from} to {to}", Before: cautions("c.room", "c.fridge"), Asks: []deedAsk{
		{Name: "from", Label: "On the dial before", amount: pressureRead}, {Name: "to", Label: "On the dial after", amount: setPressure}}},
	{Key: "gas-on", Button: "Turned gas on", Event: "gas on {set}", Before: gasCaution, Asks: []deedAsk{
		{Name: "set", Label: "Set to", Hint: "What the regulator is set to.", amount: setPressure}}},
	{Key: "gas-off", Button: "Turned gas off", Event: "gas off"},
	{Key: "valve", Button: "Set the working valve", Event: "relief {set}", Before: valveCaution, Asks: []deedAsk{
		{Name: "set", Label: "Set to", Hint: "Where it opens.", amount: setPressure}}},
	{Key: "sample", Button: "Took a sample", Event: "sample {volume}", Before: cautions("c.minor"), Asks: []deedAsk{
		{Name: "volume", Label: "How much", Hint: "With what ran off before it.", amount: sampleVolume},
		{Name: "gravity", Label: "Its gravity, flat and at room temperature", amount: gravityRead, Optional: true}}},
	{Key: "open", Button: "Opened the lid", Event: "opened", Before: lidOpens("c.open", "c.fridge")},
	{Key: "hops", Button: "Put hops in", Event: "dry hop {mass}", Before: lidOpens("c.open"), Asks: []deedAsk{
		{Name: "mass", Label: "How much", amount: hopsMass}}},
	{Key: "shake", Button: "Shook it", Event: "shaken {for}", Before: liftCaution, Asks: []deedAsk{
		{Name: "for", Label: "For how long", Hint: "Such as “5 min”.", amount: shakenFor}}},
	{Key: "move", Button: "Moved it", Note: "Moved it", Before: liftCaution},
	{Key: "cool", Button: "Started cooling", Event: "hold {set}", Before: coolCaution, Asks: []deedAsk{
		{Name: "set", Label: "Set to", Hint: "What the cold is set to.", amount: setTemperature}}},
	{Key: "warm", Button: "Started warming", Event: "hold {set}", Before: warmCaution, Asks: []deedAsk{
		{Name: "set", Label: "Set to", Hint: "What the warmth is set to.", amount: setTemperature}}},
	{Key: "pour", Button: "Poured", Event: "poured {volume}", Before: cautions("c.drink"), Asks: []deedAsk{
		{Name: "volume", Label: "How much", Hint: "Foam counts as the beer that it becomes.", amount: drawnVolume}}},
	{Key: "keg", Button: "Filled a keg", Event: "poured {volume}", Note: "Filled a keg", Before: cautions("c.room", "c.cylinder"), Asks: []deedAsk{
		{Name: "volume", Label: "How much beer", amount: drawnVolume}}},
	{Key: "clean", Button: "Cleaned", Ends: true, Before: lidOpens("c.open", "c.clean", "c.sealed", "c.eye")},
}

func deedOf(key string) *deed {
	for i := range deeds {
		if deeds[i].Key == key {
			return &deeds[i]
		}
	}
	return nil
}

// cautions are words of the catalogue that hold whatever is in the vessel.
func cautions(keys ...limit.Key) func(*didForm) []string {
	return func(f *didForm) (out []string) {
		for _, k := range keys {
			if k != "c.fridge" || f.Vessel.Seen != nil && f.Vessel.Seen.State.Record.Place.Fridge != nil {
				out = append(out, limit.Say(f.Style, k))
			}
		}
		return out
	}
}

// lidOpens says with what the lid is likely to push, where that was worked out, and then the words of the catalogue.
func lidOpens(keys ...limit.Key) func(*didForm) []string {
	return func(f *didForm) []string {
		out := cautions(keys...)(f)
		if band, known := f.Vessel.expected(batch.Pressure); known {
			if push := calc.LidCaution(unit.Gauge(band.P95), f.Style); push != "" {
				return append([]string{push}, out...)
			}
		}
		return out
	}
}

// valveCaution names the limit of this vessel, or says that nobody knows it.
func valveCaution(f *didForm) []string {
	return []string{advice.ValveCaution(&f.Vessel.Seen.State.Record.Vessel, f.Style)}
}

// gasCaution says besides what stands against gas in this vessel: its state, and that nobody proved it to hold gas.
func gasCaution(f *didForm) []string {
	out := cautions("c.regulator", "c.cylinder")(f)
	if turn := f.Vessel.Turn; turn.Proved.IsZero() || turn.Failed {
		out = append(out, limit.Say(f.Style, "c.unproved"))
	}
	return append(limit.Sentences(f.Vessel.condition(), limit.In(f.Style)), out...)
}

// coolCaution wants the rest in the warm first, unless it is over or the beer is cold already.
func coolCaution(f *didForm) []string {
	out := cautions("l.would-pull-in", "c.mains")(f)
	if slices.Contains([]advice.State{advice.Cooling, advice.TakingGas, advice.Ready, advice.Pouring, advice.Empty}, f.Vessel.State) {
		return out
	}
	var told *estimate.Forecast
	if f.Vessel.Seen.Told != nil {
		told = f.Vessel.Seen.Told.Forecast
	}
	if soon := advice.ColdTooSoon(told, f.Vessel.Now, f.Style); soon != "" {
		out = append(out, soon)
	}
	return out
}

// liftCaution names what the full vessel weighs.
func liftCaution(f *didForm) []string {
	litres := f.Vessel.Seen.State.Record.Wort.Volume
	if told := f.Vessel.Seen.Told; told != nil {
		litres = unit.Volume(told.Forecast.Now.Liquid.P95)
	}
	tare := unit.Mass(0)
	if f.Vessel.Vessel != nil {
		tare = f.Vessel.Vessel.Facts.Tare
	}
	return []string{calc.LiftCaution(litres, tare, f.Style)}
}

// warmCaution names what the warmth can bring, where that was worked out.
func warmCaution(f *didForm) []string {
	out := []string{limit.Say(f.Style, "c.mains")}
	plate, told := f.Vessel.Seen.State.Record.Vessel, f.Vessel.Seen.Told
	if told == nil {
		return out
	}
	weakest := f.Style.Word("not known")
	if w, known := limit.Weakest(plate.Rating, plate.SafetyRelief); known {
		weakest = f.Style.LimitDials(w)
	}
	worst := told.Forecast.Worst
	return append(out, limit.Say(f.Style, "c.warm", "temp", f.Style.Temperature(worst.Hottest, 0), "p", f.Style.Dials(worst.Contents, 0), "limit", weakest))
}

// didForm is "I did", or one deed of it.
type didForm struct {
	*entryForm
	Vessel  *stood
	Deed    *deed // nil: which one is asked
	Asked   []*gauged
	Emptied *asking // whether the beer is out; nil: the vessel is empty, or need not be
	Before  []string
}

// Deeds are the buttons: all of them where beer is in the vessel.
func (f *didForm) Deeds() []deed {
	if f.Vessel.Seen != nil {
		return deeds
	}
	return []deed{*deedOf("clean")}
}

func newDidForm(v *stood, t tastes, d *deed) *didForm {
	f := &didForm{entryForm: newEntryForm(v.Now.In(v.zone()), t.Style), Vessel: v, Deed: d}
	if d == nil {
		return f
	}
	for _, q := range d.Asks {
		g := f.gauge(q.Name, f.Style.Word(q.Label), q.amount)
		g.Hint, g.Optional = f.Style.Word(q.Hint), q.Optional
		if band, known := v.expected(q.amount.reads); known && q.amount == pressureRead {
			g.expect(band, f.Style)
		}
		f.Asked = append(f.Asked, g)
	}
	if d.Ends && v.Seen != nil {
		f.Emptied = f.ask(&asking{Name: "emptied", Label: f.Style.Word("Is the beer out?"), Hint: f.Style.Word("A batch ends when its vessel is empty."),
			Options: options(f.Style.Tongue, choice{"yes", "Yes, it is empty: this batch ends"}, choice{"no", "No, I cleaned the outside, the tap or a line"})})
	}
	if d.Before != nil {
		f.Before = d.Before(f)
	}
	return f
}

// begin puts in what a page that led here knows already.
func (f *didForm) begin(values url.Values) {
	for _, a := range f.Fields {
		if a.Options == nil && values.Has(a.Name) {
			a.Typed = strings.TrimSpace(values.Get(a.Name))
		}
	}
}

// iDid shows the buttons, asks what one of them needs, and keeps it.
func (s *Site) iDid(w http.ResponseWriter, r *http.Request) {
	v := s.find(w, r)
	if v == nil {
		return
	}
	d := deedOf(r.FormValue("what"))
	if d != nil && !d.Ends && v.Seen == nil {
		s.findFilled(w, r)
		return
	}
	f := newDidForm(v, readTastes(r), d)
	if d != nil && r.Method == http.MethodGet {
		f.begin(r.URL.Query())
	}
	title := wording.Text("I did")
	if d != nil {
		title = d.Button
	}
	if s.takeEntries(w, r, f, "entry-did", title) {
		s.goBack(w, r, v, f.kept)
	}
}

// entries are what was done.
func (f *didForm) entries() ([]batch.Entry, error) {
	if f.Deed == nil {
		f.Beside = f.Style.Word("Choose what you did.")
		return nil, nil
	}
	when := f.moment()
	told := f.said()
	f.missing(f.Style.Tongue)
	if f.Bad() {
		return nil, nil
	}
	if f.Deed.Ends && (f.Emptied == nil || f.Emptied.Typed == "yes") {
		return f.ended(when)
	}
	e, err := f.entry(f.Vessel.Seen.ID, kindOf(told), when, 0, told)
	return []batch.Entry{e}, err
}

// said is what a deed tells, from the answers.
func (f *didForm) said() *batch.Said {
	told := &batch.Said{Words: f.Deed.Note}
	if f.Deed.Ends {
		told.Words = "Cleaned the outside, the tap or a line"
	}
	text, whole := f.Deed.Event, true
	for _, g := range f.Asked {
		si, given := f.value(g)
		switch {
		case g.Name == "gravity" && given:
			told.Put(batch.Gravity, si)
		case g.Name == "volume" && given && si > float64(f.Vessel.Seen.State.Record.Vessel.Capacity):
			g.Error = f.Style.Word("That is more than the vessel holds.")
		case given:
			text = strings.ReplaceAll(text, "{"+g.Name+"}", g.amount.inWords(si))
		default:
			whole = whole && g.Optional
		}
	}
	if text == "" || !whole || f.Bad() {
		return told
	}
	event, err := batchfile.ParseEvent(text)
	if err != nil {
		f.Asked[len(f.Asked)-1].Error = f.beyond(err)
		return told
	}
	told.Event = &event
	return told
}

const notMeant wording.Text = "That cannot be meant. %s"

// beyond says why the answers make no event, which each by itself would.
func (f *didForm) beyond(err error) string {
	if f.Deed.Key == "vent" {
		return f.Style.Word("That is more than before. Letting gas out lowers the dial, and both numbers are zero or more.")
	}
	return f.Style.Say(notMeant, refused(f.Style.Tongue, err))
}

// ended are the entries with which a batch ends and its vessel is clean.
func (f *didForm) ended(when moment) (out []batch.Entry, err error) {
	n := byte(0)
	if f.Vessel.Seen != nil {
		e, err := f.entry(f.Vessel.Seen.ID, batch.KindJudgement, when, n, &batch.Judgement{Verdict: batch.Emptied})
		if err != nil {
			return nil, err
		}
		out, n = append(out, e), n+1
	}
	if f.Vessel.Vessel != nil {
		e, err := f.entry(batch.ID{}, batch.KindJudgement, when, n, &batch.Judgement{Verdict: batch.Cleaned})
		if err != nil {
			return nil, err
		}
		e.Thing = f.Vessel.Vessel.ID
		if n > 0 {
			e.At = e.At.Add(1) // after the end of the batch
		}
		out = append(out, e)
	}
	return out, nil
}
