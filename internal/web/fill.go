package web

import (
	"context"
	"net/http"
	"net/url"
	"strings"
	"time"

	"spile/batch"
	"spile/internal/monitor"
	"spile/internal/store"
	"spile/unit"
	"spile/wording"
)

// fillView is the page on which a batch is put together.
type fillView struct {
	*fillForm
	Named   string // the vessel that is filled, empty: a new one
	Summary string
	Vessel  string // its id, or new
	Turn    string
	Path    string // of its turnaround
	Shelf   bool   // nothing is there yet: a first batch
}

// Values that say which vessel is filled.
const newVessel = "new"

// free are the vessels that can be filled, and those whose wort waits for its yeast.
type freeVessel struct {
	Name, Short, Turn string
	Path, TurnPath    string
	Waiting           bool
}

// fill asks which vessel, then what is put into it.
func (s *Site) fill(w http.ResponseWriter, r *http.Request) {
	if !r.URL.Query().Has("vessel") {
		free, err := s.freeVessels(r)
		if err != nil {
			s.fail(w, r, err)
			return
		}
		if len(free) > 0 {
			s.show(w, r, http.StatusOK, "fill-which", page{Title: "Fill a vessel", Here: fillPath, Content: free})
			return
		}
	}
	f := s.fillAsked(w, r, r.URL.Query())
	if f == nil {
		return
	}
	if len(r.URL.Query()) > 1 { // an answer is to be changed
		f.take(r.URL.Query())
	}
	s.showFill(w, r, f, http.StatusOK)
}

const fillPath = "/fill"

// freeVessels are those that nothing is in.
func (s *Site) freeVessels(r *http.Request) (out []freeVessel, err error) {
	round, err := s.watch.Round(r.Context())
	if err != nil {
		return nil, err
	}
	c, err := s.watch.Things(r.Context())
	if err != nil {
		return nil, err
	}
	for _, in := range round {
		if in.Vessel == nil || in.Seen != nil {
			continue
		}
		id := in.Vessel.ID.String()
		v := freeVessel{Name: in.Vessel.Name, Short: thingOf(&c, in.Vessel.ID).short(&c, s.zone(readTastes(r).Style), readTastes(r).Style), Turn: turnMissing(in.Turn, tongueOf(r)),
			Path: fillPath + "?vessel=" + id, TurnPath: "/vessels/" + id + "/turnaround"}
		if in.Vessel.Facts.Filled != nil {
			v.Waiting, v.Path, v.Turn = true, "/fill/yeast/"+id, ""
		}
		out = append(out, v)
	}
	return out, nil
}

// fillAsked is the form for the vessel that is asked for; nil was answered already.
func (s *Site) fillAsked(w http.ResponseWriter, r *http.Request, values url.Values) *fillForm {
	c, err := s.watch.Things(r.Context())
	if err != nil {
		s.fail(w, r, err)
		return nil
	}
	var vessel *thing
	if which := values.Get("vessel"); which != "" && which != newVessel {
		id, err := batch.ParseID(which)
		if err == nil {
			vessel = thingOf(&c, id)
		}
		if vessel == nil || vessel.Is != "vessel" || vessel.Gone {
			s.show(w, r, http.StatusNotFound, "error", page{Title: "That vessel is not here", Content: wording.Text("It may have been taken back meanwhile. Start again from Vessels.")})
			return nil
		}
		inside, err := s.holding(r.Context(), vessel.ID)
		if err != nil {
			s.fail(w, r, err)
			return nil
		}
		if inside != "" {
			s.show(w, r, http.StatusConflict, "error", page{Said: tongueOf(r).Say("%s still holds %s", vessel.Name, inside), Content: wording.Text("Say first that it is empty, on the vessel's page. Then it can be filled again.")})
			return nil
		}
	}
	return newFillForm(vessel, &c, readTastes(r).Style, s.watch.Now())
}

func (s *Site) showFill(w http.ResponseWriter, r *http.Request, f *fillForm, status int) {
	v := fillView{fillForm: f, Vessel: newVessel, Shelf: len(f.cellar.Vessels) == 0}
	if f.Vessel != nil {
		in, err := s.inVessel(r.Context(), f.Vessel.ID)
		if err != nil {
			s.fail(w, r, err)
			return
		}
		v.Named, v.Vessel, v.Summary = f.Vessel.Name, f.Vessel.ID.String(), f.Vessel.short(f.cellar, s.zone(f.style), f.style)
		if in != nil {
			v.Turn, v.Path = turnMissing(in.Turn, tongueOf(r)), "/vessels/"+v.Vessel+"/turnaround"
		}
	}
	p := page{Title: "Fill a vessel", Here: fillPath, Content: &v}
	if status != http.StatusOK {
		p.Bad = true
	}
	s.show(w, r, status, "fill", p)
}

// turnMissing says what is not done yet since the last batch, empty where all is.
func turnMissing(t batch.Turn, tongue *wording.Tongue) string {
	if t.Passed() {
		return ""
	}
	if t.Failed {
		return tongue.Word("Its last leak test did not pass. Find the leak before you fill it.")
	}
	var left []string
	for _, step := range []struct {
		name wording.Text
		at   time.Time
	}{{"cleaned", t.Cleaned}, {"its seals looked at", t.Seals}, {"proved to hold gas", t.Proved}, {"sanitised", t.Sanitised}} {
		if step.at.IsZero() {
			left = append(left, tongue.Word(step.name))
		}
	}
	return tongue.Say("Not written down yet: %s.", strings.Join(left, ", "))
}

// sendFill takes the answers and leads to what comes of them.
func (s *Site) sendFill(w http.ResponseWriter, r *http.Request) {
	if err := r.ParseForm(); err != nil {
		s.unreadable(w, r)
		return
	}
	f := s.fillAsked(w, r, r.PostForm)
	if f == nil {
		return
	}
	f.take(r.PostForm)
	if f.filling(); f.Bad() {
		s.showFill(w, r, f, http.StatusUnprocessableEntity)
		return
	}
	http.Redirect(w, r, "/fill/look?"+f.carried(nil).Encode(), http.StatusSeeOther)
}

// lookFill shows what comes of the answers, before anything is poured.
func (s *Site) lookFill(w http.ResponseWriter, r *http.Request) {
	f := s.fillAsked(w, r, r.URL.Query())
	if f == nil {
		return
	}
	f.take(r.URL.Query())
	fl := f.filling()
	if f.Bad() {
		s.showFill(w, r, f, http.StatusUnprocessableEntity)
		return
	}
	plan := f.planned(fl, r.URL.Query())
	s.showLook(w, r, f, fl, plan, startForm(tongueOf(r)), http.StatusOK)
}

// planned puts the settings that were typed into the plan of the filling.
func (f *fillForm) planned(fl *filling, values url.Values) *planForm {
	fl.Record.Pitched = f.now.In(f.zone)
	plan := newPlanForm(&fl.Record.Batch, f.style)
	for _, a := range plan.Fields {
		if values.Has(a.Name) {
			a.Typed = strings.TrimSpace(values.Get(a.Name))
		}
	}
	plan.change(&fl.Record.Batch, f.style)
	return plan
}

func (s *Site) showLook(w http.ResponseWriter, r *http.Request, f *fillForm, fl *filling, plan *planForm, start *sheet, status int) {
	values := f.carried(nil)
	v := lookView{Plan: plan, Due: f.vesselDue(), Start: start, Hidden: asHidden(values), Back: fillPath + "?" + values.Encode(), Once: store.NewID(), Action: "/fill/start", Vessel: f.field2(vesselName)}
	if f.Vessel != nil {
		v.Vessel = f.Vessel.Name
		in, err := s.inVessel(r.Context(), f.Vessel.ID)
		if err != nil {
			s.fail(w, r, err)
			return
		}
		if in != nil {
			v.upkeep = in.Upkeep
			v.Turn, v.TurnPath = turnMissing(in.Turn, tongueOf(r)), "/vessels/"+f.Vessel.ID.String()+"/turnaround"
		}
	}
	s.finishLook(w, r, &v, fl, f.style, status)
}

// vesselDue says that the check of the vessel is overdue, empty where it is not.
func (f *fillForm) vesselDue() string {
	if f.Vessel == nil {
		return ""
	}
	return f.Vessel.due(f.now, f.style)
}

// finishLook works out what is to be said, and shows it.
func (s *Site) finishLook(w http.ResponseWriter, r *http.Request, v *lookView, fl *filling, style unit.Style, status int) {
	if err := v.look(fl, style); err != nil {
		s.fail(w, r, err)
		return
	}
	p := page{Title: "Before anything is poured", Here: fillPath, Cautious: true, Content: v}
	if v.Waiting {
		p.Title = "Add the yeast"
	}
	if v.Plan != nil && v.Plan.Bad() || v.Start.Bad() {
		p.Bad, status = true, http.StatusUnprocessableEntity
	}
	s.show(w, r, status, "fill-look", p)
}

// field2 is what was typed into a field that may not be there.
func (f *fillForm) field2(name string) string {
	for _, a := range f.Fields {
		if a.Name == name {
			return a.Typed
		}
	}
	return ""
}

// startFill keeps the filling: with its wort alone, or with its yeast.
func (s *Site) startFill(w http.ResponseWriter, r *http.Request) {
	if err := r.ParseForm(); err != nil {
		s.unreadable(w, r)
		return
	}
	once := onceID(r)
	if done, err := s.startedAlready(r.Context(), once); err != nil || done != "" {
		s.led(w, r, done, err)
		return
	}
	f := s.fillAsked(w, r, r.PostForm)
	if f == nil {
		return
	}
	f.take(r.PostForm)
	fl := f.filling()
	if f.Bad() {
		s.showFill(w, r, f, http.StatusUnprocessableEntity)
		return
	}
	plan, start := f.planned(fl, r.PostForm), startForm(tongueOf(r))
	start.take(r.PostForm)
	at := start.field("when").moment(f.style.Tongue, f.now.In(f.zone))
	if plan.Bad() || start.Bad() {
		s.showLook(w, r, f, fl, plan, start, http.StatusUnprocessableEntity)
		return
	}
	yeast := r.PostForm.Get("do") == "yeast"
	to, err := s.keepFilling(r.Context(), f, fl, once, at, yeast)
	s.led(w, r, to, err)
}

// led goes where something was kept.
func (s *Site) led(w http.ResponseWriter, r *http.Request, to string, err error) {
	if err != nil {
		s.fail(w, r, err)
		return
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
}

// startedAlready is the page of what a form that is sent again has made before; empty where it is new.
func (s *Site) startedAlready(ctx context.Context, once batch.ID) (string, error) {
	e, found, err := s.watch.Store().Find(ctx, once)
	switch {
	case err != nil || !found:
		return "", err
	case e.Kind == batch.KindBatch:
		return "/vessels/" + once.String(), nil
	}
	return "/fill/yeast/" + e.Thing.String(), nil
}

// moment reads when something was; empty is now. What is wrong stands beside the field.
func (a *asking) moment(t *wording.Tongue, now time.Time) moment {
	if a.Typed == "" {
		return moment{At: now}
	}
	m, problem := readMoment(t, a.Typed, now)
	a.Error = problem
	return m
}

// keepFilling keeps, in one go, the things that are new and the batch, or the vessel's note that
// wort waits in it. That stands first, under the id of the form.
func (s *Site) keepFilling(ctx context.Context, f *fillForm, fl *filling, once batch.ID, at moment, yeast bool) (to string, err error) {
	entries, r := make([]batch.Entry, 1), &fl.Record
	for _, is := range []string{"place", "cylinder", "vessel"} {
		if err := s.newOf(f, fl, is, once, &entries); err != nil {
			return "", err
		}
	}
	packs := []batch.ID{r.Uses.WortPack}
	if r.Name == f.dated(f.now) {
		r.Name = f.dated(at.At)
	}
	if yeast {
		r.Pitched, packs, to = at.At, append(packs, r.Uses.YeastPack), "/vessels/"+r.Uses.Vessel.String()
		entries[0], err = s.written(once, batch.KindBatch, at.At, r)
		entries[0].Batch, entries[0].Uncertain = once, at.Uncertain
	} else {
		r.Pitched, to = time.Time{}, "/fill/yeast/"+r.Uses.Vessel.String()
		entries[0], err = s.written(once, batch.KindThing, at.At, map[string]any{"filled": batch.Filling{At: at.At, Record: *r}})
		entries[0].Thing = r.Uses.Vessel
	}
	if err == nil {
		err = s.usedUp(&entries, once, at.At, packs...)
	}
	if err == nil {
		err = s.keepUnlessThere(ctx, entries...)
	}
	return to, err
}

// usedUp adds that packs are no longer on the shelf.
func (s *Site) usedUp(entries *[]batch.Entry, once batch.ID, at time.Time, packs ...batch.ID) error {
	for _, pack := range packs {
		if pack.IsZero() {
			continue
		}
		e, err := s.written(nth(once, byte(len(*entries))), batch.KindThing, at, map[string]any{"gone": true})
		if err != nil {
			return err
		}
		e.Thing = pack
		*entries = append(*entries, e)
	}
	return nil
}

// newOf adds the entry that makes a thing which the form tells of and the cellar does not have.
func (s *Site) newOf(f *fillForm, fl *filling, is string, once batch.ID, entries *[]batch.Entry) error {
	r, id := &fl.Record, nth(once, byte(len(*entries)))
	if f.chosen(is) != nil || is == "cylinder" && r.Gas == nil {
		return nil
	}
	body := map[string]any{"is": is, "name": f.nameOf(is)}
	for key, v := range fl.Docs[is] {
		if v != nil && key != cylinderContent.key {
			body[key] = v
		}
	}
	switch is {
	case "place":
		r.Uses.Place = id
	case "cylinder":
		r.Uses.Cylinder = id
	case "vessel":
		r.Uses.Vessel, body["place"] = id, r.Uses.Place
	}
	e, err := s.written(id, batch.KindThing, s.watch.Now(), body)
	*entries = append(*entries, e)
	return err
}

// nameOf is what a new thing is called.
func (f *fillForm) nameOf(is string) string {
	vessel := f.field2(vesselName)
	if vessel == "" {
		vessel = f.style.Say("%s vessel", ordinal(len(f.cellar.Vessels)))
	}
	if f.Vessel != nil {
		vessel = f.Vessel.Name
	}
	switch is {
	case "place":
		return f.style.Say("Place of %s", vessel)
	case "cylinder":
		return f.style.Say("%s cylinder", ordinal(len(f.cellar.Cylinders)))
	}
	return vessel
}

// ordinal counts from the first, 0, in words.
func ordinal(n int) wording.Text {
	words := []wording.Text{"First", "Second", "Third", "Fourth", "Fifth", "Sixth", "Seventh", "Eighth", "Ninth", "Tenth"}
	if n < len(words) {
		return words[n]
	}
	return "Another"
}

// yeastWaiting is the page of wort that waits for its yeast.
func (s *Site) yeastWaiting(w http.ResponseWriter, r *http.Request) {
	v, filled := s.waiting(w, r)
	if filled == nil {
		return
	}
	start := startForm(tongueOf(r))
	if r.Method != http.MethodPost {
		s.showWaiting(w, r, v, filled, start)
		return
	}
	once := onceID(r)
	if done, err := s.startedAlready(r.Context(), once); err != nil || done != "" {
		s.led(w, r, done, err)
		return
	}
	style := readTastes(r).Style
	start.take(r.PostForm)
	at := start.field("when").moment(style.Tongue, s.watch.Now().In(s.zone(style)))
	if a := start.field("when"); a.Error == "" && at.At.Before(filled.At) {
		a.Error = style.Say("The wort went in at %s. The yeast went in after that.", style.Time(filled.At.In(s.zone(style)), "15:04 on 2 January"))
	}
	if start.Bad() {
		s.showWaiting(w, r, v, filled, start)
		return
	}
	s.led(w, r, "/vessels/"+v.ID.String(), s.pitch(r.Context(), v.ID, filled, once, at))
}

// pitch makes the batch of wort that waited, and clears the vessel's note of it.
func (s *Site) pitch(ctx context.Context, vessel batch.ID, filled *batch.Filling, once batch.ID, at moment) error {
	record := filled.Record
	record.Pitched, record.Uses.Vessel = at.At, vessel
	made, err := s.written(once, batch.KindBatch, at.At, record)
	if err != nil {
		return err
	}
	made.Batch, made.Uncertain = once, at.Uncertain
	cleared, err := s.written(nth(once, 1), batch.KindThing, at.At, map[string]any{"filled": nil})
	if err != nil {
		return err
	}
	cleared.Thing = vessel
	entries := []batch.Entry{made, cleared}
	if err := s.usedUp(&entries, once, at.At, record.Uses.YeastPack); err != nil {
		return err
	}
	return s.keepUnlessThere(ctx, entries...)
}

// waiting is the vessel that is asked for, with the wort in it; nil was answered already.
func (s *Site) waiting(w http.ResponseWriter, r *http.Request) (*batch.Thing[batch.VesselFacts], *batch.Filling) {
	id, err := batch.ParseID(r.PathValue("id"))
	var in *monitor.InVessel
	if err == nil {
		in, err = s.inVessel(r.Context(), id)
		if err != nil {
			s.fail(w, r, err)
			return nil, nil
		}
	}
	switch {
	case in == nil:
		s.missing(w, r)
	case in.Seen != nil || in.Vessel.Facts.Filled == nil:
		http.Redirect(w, r, "/vessels/"+id.String(), http.StatusSeeOther)
	default:
		return in.Vessel, in.Vessel.Facts.Filled
	}
	return nil, nil
}

func (s *Site) showWaiting(w http.ResponseWriter, r *http.Request, vessel *batch.Thing[batch.VesselFacts], filled *batch.Filling, start *sheet) {
	style := readTastes(r).Style
	fl := &filling{Record: filled.Record, Tare: vessel.Facts.Tare, RoomTold: true, Unknown: map[string]bool{}}
	fl.Record.Pitched = s.watch.Now().In(s.zone(style))
	c, err := s.watch.Things(r.Context())
	if err != nil {
		s.fail(w, r, err)
		return
	}
	for _, p := range c.Places {
		if p.ID == fl.Record.Uses.Place {
			fl.Sleeper = p.Facts.Sleeper
		}
	}
	v := lookView{Vessel: vessel.Name, Waiting: true, Start: start, Once: store.NewID(), Action: "/fill/yeast/" + vessel.ID.String()}
	if v.upkeep, err = s.watch.Upkeep(r.Context(), vessel.ID); err != nil {
		s.fail(w, r, err)
		return
	}
	s.finishLook(w, r, &v, fl, style, http.StatusOK)
}
