package web

import (
	"context"
	"encoding/json"
	"math"
	"net/http"
	"reflect"
	"slices"
	"strings"
	"time"

	"spile/advice"
	"spile/batch"
	"spile/estimate"
	"spile/internal/monitor"
	"spile/internal/store"
	"spile/limit"
	"spile/unit"
	"spile/wording"
)

// written is an entry about something of the cellar, made now; it is kept once however
// often it is sent under one id.
func (s *Site) written(id batch.ID, kind batch.Kind, at time.Time, body any) (batch.Entry, error) {
	e := batch.Entry{ID: id, Kind: kind, At: at, Made: s.watch.Now()}
	if body == nil {
		return e, nil
	}
	var err error
	e.Body, err = batch.EncodeBody(body)
	return e, err
}

// keepUnlessThere keeps entries unless the first of them is there already: a form that was sent twice.
func (s *Site) keepUnlessThere(ctx context.Context, entries ...batch.Entry) error {
	if _, found, err := s.watch.Store().Find(ctx, entries[0].ID); err != nil || found {
		return err
	}
	_, err := s.watch.Keep(ctx, signed(ctx, entries)...)
	return err
}

// onceID is the id that a form brings with it, so that sending it twice is sending it once.
func onceID(r *http.Request) batch.ID {
	if id, err := batch.ParseID(r.PostFormValue("once")); err == nil {
		return id
	}
	return store.NewID()
}

// haveView is the page What I have.
type haveView struct {
	Kinds []haveKind
	Gone  []thing   // no longer there
	Back  []written // their adding was taken back
	Tray  []trayLine
}

// haveKind is a kind of thing with those that are there.
type haveKind struct {
	*kindOfThing
	Things []haveThing
}

// haveThing is a line of the list.
type haveThing struct {
	thing
	Short string
	Alert string // what is due
}

func (s *Site) have(w http.ResponseWriter, r *http.Request) {
	c, err := s.watch.Things(r.Context())
	if err != nil {
		s.fail(w, r, err)
		return
	}
	style, all, v := readTastes(r).Style, allThings(&c), haveView{}
	if v.Back, err = s.unmade(r.Context(), style); err != nil {
		s.fail(w, r, err)
		return
	}
	if v.Tray, err = s.unread(r.Context()); err != nil {
		s.fail(w, r, err)
		return
	}
	for i := range v.Tray {
		v.Tray[i].At = v.Tray[i].At.In(s.zone(style))
	}
	for _, t := range all {
		if t.Gone {
			v.Gone = append(v.Gone, t)
		}
	}
	for i := range kindsOfThing {
		k := haveKind{kindOfThing: &kindsOfThing[i]}
		for _, t := range all {
			if t.Is == k.Is && !t.Gone {
				k.Things = append(k.Things, haveThing{t, t.short(&c, s.zone(style), style), t.due(s.watch.Now(), style)})
			}
		}
		v.Kinds = append(v.Kinds, k)
	}
	s.show(w, r, http.StatusOK, "have", page{Title: "What I have", Here: "/what-i-have", Content: &v})
}

// short is the thing in a line.
func (t *thing) short(c *batch.Cellar, zone *time.Location, style unit.Style) string {
	var out []string
	for i := range t.Kind().Facts {
		f := &t.Kind().Facts[i]
		if said := f.said(t.doc, c, style); said != "" && f.short != "" {
			out = append(out, style.Say(f.short, said))
		}
	}
	for i := range c.Cylinders {
		if x := &c.Cylinders[i]; x.ID == t.ID && x.Facts.Content != nil {
			out = append(out, leftIn(&x.Facts, zone, style))
		}
	}
	return strings.Join(out, ", ")
}

// assumed tells that nobody knew a fact, and that it was taken as usual.
func (t *thing) assumed(key string) bool {
	switch taken := t.doc["assumed"].(type) {
	case bool: // of a place
		return taken && key == "ambient_k"
	case []any:
		return slices.Contains(taken, any(key))
	}
	return false
}

// leftIn is what a cylinder that was weighed held then.
func leftIn(x *batch.CylinderFacts, zone *time.Location, style unit.Style) string {
	return style.Say("%s left on %s", style.Mass(*x.Content, 0), dayWords(x.Weighed.In(zone), style))
}

// due says that a check or test is overdue, empty where it is not.
func (t *thing) due(now time.Time, style unit.Style) string {
	text, _ := t.doc["due"].(string)
	at, err := time.Parse(time.RFC3339, text)
	switch {
	case err != nil || !now.After(at):
		return ""
	case t.Is == "vessel":
		return limit.Say(style, "c.age", "date", dayWords(at, style))
	}
	return style.Say("This is due for its test (%s). Have it tested before it is filled again.", dayWords(at, style))
}

// thingForm is the form of a thing, new or to be changed.
type thingForm struct {
	sheet
	Thing    thing // without an id: a new one
	Once     batch.ID
	Cautions []string
}

const nameField = "name"

// newThingForm asks for the facts of t.
func newThingForm(t thing, c *batch.Cellar, style unit.Style) *thingForm {
	f := &thingForm{Thing: t, Once: store.NewID()}
	f.Fields = []*asking{{Name: nameField, Label: style.Word("What do you call it?"), Hint: style.Word("A short name, unlike the others by ear."), Typed: t.Name}}
	for i := range t.Kind().Facts {
		fact := &t.Kind().Facts[i]
		a := fact.ask(t.doc, c, style)
		if a == nil {
			continue
		}
		a.Typed = fact.typedAs(t.doc, style)
		if fact.figOf == nil { // its unit stands behind the field
			a.Typed = strings.TrimSuffix(a.Typed, " "+a.Unit)
		}
		if a.Typed == "" && !t.ID.IsZero() {
			for i := range a.Others {
				a.Others[i].Chosen = true
			}
		}
		f.Fields = append(f.Fields, a)
	}
	for _, key := range t.Kind().Care {
		f.Cautions = append(f.Cautions, limit.Say(style, key))
	}
	return f
}

// record is the record that the form tells; what is wrong stands beside its fields.
func (f *thingForm) record(style unit.Style) map[string]any {
	f.missing(style.Tongue)
	doc := map[string]any{"is": f.Thing.Is, "name": f.field(nameField).Typed, "assumed": nil} // who keeps the form has seen what was assumed
	for i := range f.Thing.Kind().Facts {
		fact := &f.Thing.Kind().Facts[i]
		if j := slices.IndexFunc(f.Fields, func(a *asking) bool { return a.Name == fact.key }); j >= 0 && f.Fields[j].Error == "" {
			fact.answer(f.Fields[j], doc, style)
		}
	}
	return doc
}

// addThing shows the form of a new thing, and keeps what it brings.
func (s *Site) addThing(w http.ResponseWriter, r *http.Request) {
	k := kindNamed(r.PathValue("kind"))
	if k == nil {
		s.missing(w, r)
		return
	}
	s.thingPage(w, r, thing{Is: k.Is, doc: map[string]any{}}, tongueOf(r).Say("Add %s", k.One))
}

// changeThing shows the form of a thing that is there, and keeps what it changes.
func (s *Site) changeThing(w http.ResponseWriter, r *http.Request) {
	if t, _ := s.thingAsked(w, r); t != nil {
		s.thingPage(w, r, *t, tongueOf(r).Say("Change %s", t.Name))
	}
}

func (s *Site) thingPage(w http.ResponseWriter, r *http.Request, t thing, title string) {
	c, err := s.watch.Things(r.Context())
	if err != nil {
		s.fail(w, r, err)
		return
	}
	style := readTastes(r).Style
	f := newThingForm(t, &c, style)
	p := page{Said: title, Here: "/what-i-have", Cautious: len(f.Cautions) > 0, Content: f}
	if r.Method != http.MethodPost {
		s.show(w, r, http.StatusOK, "thing-form", p)
		return
	}
	if err := f.sheet.read(r); err != nil {
		s.unreadable(w, r)
		return
	}
	f.Once = onceID(r)
	doc := f.record(style)
	if f.Bad() {
		p.Bad = true
		s.show(w, r, http.StatusUnprocessableEntity, "thing-form", p)
		return
	}
	id, err := s.keepThing(r.Context(), f, doc)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	http.Redirect(w, r, thingPath(id)+"?kept", http.StatusSeeOther)
}

// unreadable answers a form that came broken.
func (s *Site) unreadable(w http.ResponseWriter, r *http.Request) {
	s.show(w, r, http.StatusBadRequest, "error", page{Title: "The form could not be read", Content: wording.Text("Nothing was changed. Go back and send it once more.")})
}

// keepThing keeps a new thing, or what the form changes of one.
func (s *Site) keepThing(ctx context.Context, f *thingForm, doc map[string]any) (batch.ID, error) {
	id, body := f.Once, doc
	if !f.Thing.ID.IsZero() {
		id, body = f.Thing.ID, changesOf(&f.Thing, doc)
		if len(body) == 0 {
			return id, nil
		}
	}
	e, err := s.written(f.Once, batch.KindThing, s.watch.Now(), withoutNothing(body, f.Thing.ID.IsZero()))
	if err != nil {
		return id, err
	}
	e.Thing = f.Thing.ID
	return id, s.keepUnlessThere(ctx, e)
}

// changesOf is the merge patch from what t is to what it shall be.
func changesOf(t *thing, doc map[string]any) map[string]any {
	patch := map[string]any{}
	for key, v := range doc {
		before := t.doc[key]
		if key == "name" {
			before = t.Name
		}
		if key != "is" && !sameJSON(before, v) && (before != nil || v != nil) {
			patch[key] = v
		}
	}
	return patch
}

// sameJSON compares values as they are written; false and nothing are one, for both are left out.
func sameJSON(a, b any) bool {
	if x, ok := b.(bool); ok && !x && a == nil {
		return true
	}
	if x, ok := a.(float64); ok {
		y, ok := b.(float64)
		return ok && math.Abs(x-y) <= 1e-4*math.Abs(x) // as finely as it stands in its field
	}
	if x, ok := b.([]string); ok && len(x) == 0 && a == nil {
		return true
	}
	text, err := json.Marshal(b)
	var plain any
	if err == nil {
		err = json.Unmarshal(text, &plain)
	}
	return err == nil && reflect.DeepEqual(a, plain)
}

// withoutNothing leaves out of a new record what nobody told.
func withoutNothing(doc map[string]any, fresh bool) map[string]any {
	out := map[string]any{}
	for key, v := range doc {
		if v != nil || !fresh {
			out[key] = v
		}
	}
	return out
}

// thingAsked is the thing whose page is asked for; nil without a word was answered already.
func (s *Site) thingAsked(w http.ResponseWriter, r *http.Request) (*thing, *batch.Cellar) {
	c, err := s.watch.Things(r.Context())
	if err != nil {
		s.fail(w, r, err)
		return nil, nil
	}
	if id, err := batch.ParseID(r.PathValue("id")); err == nil {
		if t := thingOf(&c, id); t != nil {
			return t, &c
		}
	}
	s.missing(w, r)
	return nil, nil
}

// thingView is the page of one thing.
type thingView struct {
	thing
	Known    []given
	Passport []advice.Taught
	Batches  int   // that taught it
	Left     *rest // of a cylinder that was weighed
	Alert    string
	Kept     bool
	History  []written
	Weigh    *sheet // of a cylinder with a tare
	Once     batch.ID
	Holding  string       // what is in the vessel
	Past     *pastBatches // that were in it; nil: it is no vessel
}

func (s *Site) oneThing(w http.ResponseWriter, r *http.Request) {
	if t, c := s.thingAsked(w, r); t != nil {
		s.showThing(w, r, t, c, http.StatusOK, weighForm(readTastes(r).Style))
	}
}

func (s *Site) showThing(w http.ResponseWriter, r *http.Request, t *thing, c *batch.Cellar, status int, weigh *sheet) {
	style := readTastes(r).Style
	v := thingView{thing: *t, Known: t.known(c, style), Alert: t.due(s.watch.Now(), style), Kept: r.URL.Query().Has("kept"), Once: store.NewID()}
	if t.Is == "cylinder" && !t.Gone {
		v.Weigh = weigh
	}
	var err error
	if v.Holding, err = s.holding(r.Context(), t.ID); err == nil {
		var p *monitor.Passport
		if p, err = s.passport(r.Context(), t); p != nil {
			v.Passport, v.Batches = p.Say(style), p.Batches
		}
	}
	if err == nil && t.Is == "vessel" {
		v.Past, err = s.past(r, t.ID, style)
	}
	if err == nil {
		v.Left, err = s.rest(r.Context(), t, c, style)
	}
	if err == nil {
		v.History, err = s.history(r.Context(), t, c, style)
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	p := page{Said: t.Name, Here: "/what-i-have", Cautious: t.Is == "cylinder" || v.Alert != "", Content: &v}
	if status != http.StatusOK {
		p.Bad = true
	}
	s.show(w, r, status, "thing", p)
}

// known is what is known of the thing, and what of it nobody knows.
func (t *thing) known(c *batch.Cellar, style unit.Style) (out []given) {
	for i := range t.Kind().Facts {
		f := &t.Kind().Facts[i]
		said := f.said(t.doc, c, style)
		if said == "" && (f.cost != "" || f.none != "") {
			said, _, _ = strings.Cut(style.Word(f.cost+f.none), ":")
		}
		if said != "" {
			out = append(out, given{Name: style.Word(f.label), Words: said, Assumed: t.assumed(f.key)})
		}
	}
	return out
}

// holding is the name of the batch that is in a vessel, empty where there is none.
func (s *Site) holding(ctx context.Context, id batch.ID) (string, error) {
	in, err := s.inVessel(ctx, id)
	if err != nil || in == nil || in.Seen == nil {
		return "", err
	}
	return in.Seen.State.Record.Name, nil
}

// inVessel is what is in a vessel of the cellar, nil where it has no such vessel.
func (s *Site) inVessel(ctx context.Context, id batch.ID) (*monitor.InVessel, error) {
	round, err := s.watch.Round(ctx)
	if err != nil {
		return nil, err
	}
	for i := range round {
		if v := round[i].Vessel; v != nil && v.ID == id {
			return &round[i], nil
		}
	}
	return nil, nil
}

// passport is what finished batches taught of a vessel, a yeast or an instrument; nil where
// none did.
func (s *Site) passport(ctx context.Context, t *thing) (*monitor.Passport, error) {
	all, err := s.watch.Passports(ctx)
	if err != nil {
		return nil, err
	}
	for i, p := range all {
		switch {
		case t.Is == "vessel" && p.Vessel == t.ID,
			t.Is == "yeast pack" && p.Of == estimate.OfYeast && p.Name == t.Name,
			t.Is == "instrument" && p.Of == estimate.OfBatch && p.Name == t.Name && p.Name != "":
			return &all[i], nil
		}
	}
	return nil, nil
}

// gone keeps that a thing is no longer there.
func (s *Site) gone(w http.ResponseWriter, r *http.Request) {
	t, _ := s.thingAsked(w, r)
	if t == nil {
		return
	}
	inside, err := s.holding(r.Context(), t.ID)
	if err == nil && inside != "" {
		s.show(w, r, http.StatusConflict, "error", page{Said: tongueOf(r).Say("%s still holds %s", t.Name, inside), Content: wording.Text("Say first that it is empty, on the vessel's page. Then it can go.")})
		return
	}
	var e batch.Entry
	if err == nil {
		e, err = s.written(onceID(r), batch.KindThing, s.watch.Now(), map[string]any{"gone": true})
	}
	e.Thing = t.ID
	if err == nil {
		err = s.keepUnlessThere(r.Context(), e)
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	http.Redirect(w, r, t.Path()+"?kept", http.StatusSeeOther)
}

func weighForm(style unit.Style) *sheet {
	return &sheet{Fields: []*asking{{Name: "weight", Label: style.Word("Weight of the cylinder"), Hint: style.Word("As the scale shows it, with the regulator off. For example 5.3 kg."), Caution: limit.Say(style, "c.unscrew"), Unit: gasMass.behind(style), Numeric: gasMass.digits(style)}}}
}

// weigh keeps a weighing of a cylinder.
func (s *Site) weigh(w http.ResponseWriter, r *http.Request) {
	t, c := s.thingAsked(w, r)
	if t == nil {
		return
	}
	style := readTastes(r).Style
	f := weighForm(style)
	if err := f.read(r); err != nil {
		s.unreadable(w, r)
		return
	}
	f.missing(style.Tongue)
	a, kg := f.Fields[0], 0.0
	if a.Error == "" {
		kg, a.Error = gasMass.read(a.Typed, style)
	}
	if tare, told := t.doc["tare_kg"].(float64); a.Error == "" && told && kg < tare {
		a.Error = style.Say("I read %s, less than its tare of %s. Look once more.", gasMass.write(kg, style), gasMass.write(tare, style))
	}
	if f.Bad() {
		s.showThing(w, r, t, c, http.StatusUnprocessableEntity, f)
		return
	}
	said := batch.Said{Written: a.Typed}
	said.Put(batch.CylinderMass, kg)
	s.led(w, r, t.Path()+"?kept", s.keepWeighing(r.Context(), t.ID, onceID(r), said))
}

// keepWeighing keeps a weighing of a cylinder, in the log of the one batch that uses it too:
// there it tells what went into the beer, or was lost.
func (s *Site) keepWeighing(ctx context.Context, cylinder, once batch.ID, said batch.Said) error {
	e, err := s.written(once, batch.KindReading, s.watch.Now(), said)
	if err != nil {
		return err
	}
	e.Thing = cylinder
	round, err := s.watch.Round(ctx)
	if err != nil {
		return err
	}
	things, err := s.watch.Things(ctx)
	if err != nil {
		return err
	}
	entries := []batch.Entry{e}
	for _, in := range round {
		if in.Seen != nil && in.Seen.State.Record.Uses.Cylinder == cylinder {
			if by, _ := things.HangsOn(in.Seen.State.Record.Uses.Vessel); by == cylinder {
				continue // who hangs on a regulator is told by the cellar's own log
			}
			of := e
			of.ID, of.Batch = nth(once, byte(len(entries))), in.Seen.ID
			entries = append(entries, of)
		}
	}
	if len(entries) > 2 {
		entries = entries[:1] // of several batches on one cylinder no weighing tells which took the gas
	}
	return s.keepUnlessThere(ctx, entries...)
}
