package web

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"spile/batch"

	"golang.org/x/net/html/atom"
)

// seven are the answers of a beginner: what stands on the label and on the plate.
var seven = url.Values{"vessel": {"new"}, "vessel-capacity_m3": {"26 L"}, "vessel-rating_pa": {"2.5 bar"}, "vessel-safety_relief_pa": {"2.2 bar"},
	"wort-pack-volume_m3": {"20 L"}, "wort-pack-gravity_sg": {"1.046"}, "yeast-pack-kind": {"ale"}, "place-ambient_k": {"18 °C"}}

// asLeft is a form as a browser sends it where only these fields are filled in.
func asLeft(t *testing.T, s *Site, address string, typed url.Values) url.Values {
	t.Helper()
	out := url.Values{}
	d := parse(t, get(s, address))
	for _, n := range d.all(atom.Input) {
		name, value := attribute(n, "name"), attribute(n, "value")
		_, checked := attributes(n)["checked"]
		switch kind := attribute(n, "type"); {
		case typed.Has(name):
			out[name] = typed[name]
		case kind == "hidden", kind == "text", checked:
			out.Add(name, value)
		}
	}
	return out
}

// lookOf sends the answers and gives the address of what comes of them.
func lookOf(t *testing.T, s *Site, form url.Values) string {
	t.Helper()
	w := post(s, "/fill", form)
	if w.Code != http.StatusSeeOther {
		t.Fatalf("%d:\n%s", w.Code, text(parse(t, w).all(atom.Main)[0]))
	}
	return w.Header().Get("Location")
}

func TestFirstBatchInSevenAnswers(t *testing.T) {
	s := newSite(t)
	want(t, "the form", mainText(t, s, "/fill"), "What stands on the wort's label and on the vessel's plate is enough", "What is this? Where do I find it?", "No pressure rating known", "There is none, or I cannot read its stamp", "Glass and thin-walled plastic carboys never hold pressure", "I do not know: 18 °C is taken")
	look := lookOf(t, s, asLeft(t, s, "/fill", seven))
	page := mainText(t, s, look)
	want(t, "before anything is poured", page, "Before anything is poured", "Finished fermenting", "nine times in ten", "Gas space", "23 %", "Weight to lift", "Worst case", "The weakest part is rated 36 psi",
		"The plan", "Set the working valve to 10 psi", "Leave it where the air is about 18 °C", "A swollen, leaking or odd-smelling pack", "Add the yeast the day the pack is opened", "20 L weighs about 26 kg",
		"Someone sleeps in this room", "Never set the working valve above 29 psi", "Not knowing the attenuation")
	wantNot(t, "before anything is poured", page, "No rating known", "Not knowing the gravity")

	start := asLeft(t, s, look, url.Values{"when": {"20 minutes ago"}})
	start.Set("do", "yeast")
	to := kept(t, s, "/fill/start", start)
	if kept(t, s, "/fill/start", start); !strings.HasPrefix(to, "/vessels/") {
		t.Errorf("it leads to %s", to)
	}
	batches, err := s.watch.Batches(t.Context())
	if err != nil || len(batches) != 1 {
		t.Fatalf("%v, %d batches", err, len(batches))
	}
	seen, err := s.watch.See(t.Context(), batches[0].ID)
	if err != nil {
		t.Fatal(err)
	}
	r := seen.State.Record
	if ago := s.watch.Now().Sub(r.Pitched).Minutes(); ago < 19.9 || ago > 21 {
		t.Errorf("pitched %.1f minutes ago, expected 20", ago)
	}
	if r.Uses.Vessel.IsZero() || r.Uses.Place.IsZero() || !r.Uses.Cylinder.IsZero() || *r.Vessel.Rating != 2.5e5 || r.Wort.Assumed || len(r.Programme) == 0 {
		t.Errorf("kept %+v", r)
	}
	want(t, "what there is now", mainText(t, s, "/what-i-have"), "First vessel", "Place of First vessel")
}

// nothingKnown are the answers of somebody who knows nothing of what can be unknown.
func nothingKnown(t *testing.T, s *Site) url.Values {
	t.Helper()
	form := asLeft(t, s, "/fill?vessel=new", nil)
	d := parse(t, get(s, "/fill?vessel=new"))
	for _, n := range d.all(atom.Input) {
		if name := attribute(n, "name"); name == unknown || name == nothing {
			form.Add(name, attribute(n, "value"))
		}
	}
	form.Set("yeast-pack-kind", unknown)
	form.Set("place-someone_sleeps_here", unknown)
	return form
}

// Whatever else is unknown, it can be filled; a rating and a safety valve are never guessed,
// and count as exceeded.
func TestNothingKnown(t *testing.T) {
	s := newSite(t)
	page := mainText(t, s, lookOf(t, s, nothingKnown(t, s)))
	want(t, "nothing known", page, "No rating known, so no pressure advice", "No safety valve known", "The plan sets no valve and no gas", "Not knowing the gravity", "Not knowing how warm the place is", "Not knowing the attenuation", "Ale yeast is taken",
		"Room for foam not known")
	wantNot(t, "nothing known", page, "Set the working valve to", "Turn the gas on", "Never set the working valve above")
}

func TestFillMistakes(t *testing.T) {
	s := newSite(t)
	for _, c := range []struct{ field, typed, says string }{
		{"vessel-rating_pa", "", "Answer this, or choose “No pressure rating known”"},
		{"vessel-safety_relief_pa", "", "Answer this, or choose “There is none, or I cannot read its stamp”"},
		{"vessel-rating_pa", "2.5 barrels", "2.5 bar"},
		{"vessel-rating_pa", "2.5", "needs a unit"},
		{"wort-pack-gravity_sg", "46", "Did you mean 1.046?"},
		{"wort-pack-volume_m3", "30 L", "30 L of wort does not fit into 26 L"},
		{"place-ambient_k", "70 °C", "−30 C to 60 C"},
		{"ready", "1 March 2020", "which is past"},
		{"ready", "soon", "could not tell the day"},
		{"dilute", "1.060", "less than its 1.046"},
		{"cylinder-content_kg", "9 kg", "more than the cylinder holds"},
	} {
		form := asLeft(t, s, "/fill", seven)
		form.Set(c.field, c.typed)
		if c.field == "cylinder-content_kg" {
			form.Set("cylinder-capacity_kg", "2.6 kg")
		}
		w := post(s, "/fill", form)
		d := parse(t, w)
		if w.Code != http.StatusUnprocessableEntity || d.ids["field-"+c.field+"-error"] == nil {
			t.Errorf("%s %q: %d and nothing beside the field", c.field, c.typed, w.Code)
			continue
		}
		want(t, c.field, text(d.ids["field-"+c.field+"-error"]), c.says)
		if got := attribute(d.ids["field-"+c.field], "value"); got != c.typed {
			t.Errorf("%s: what was typed is gone, there is %q", c.field, got)
		}
		if !strings.HasPrefix(text(d.all(atom.Title)[0]), "Error: ") {
			t.Errorf("%s: the title does not say it", c.field)
		}
	}
}

// The plan that is proposed can be changed, within the plates.
func TestPlanIsChanged(t *testing.T) {
	s := newSite(t)
	look := lookOf(t, s, asLeft(t, s, "/fill", seven))
	want(t, "12 psi", mainText(t, s, look+"&plan-relief=12+psi"), "Set the working valve to 12 psi")
	w := get(s, look+"&plan-relief=2.05+bar")
	if w.Code != http.StatusUnprocessableEntity {
		t.Errorf("a valve above what the plates allow: %d", w.Code)
	}
	want(t, "2.05 bar", text(parse(t, w).all(atom.Main)[0]), "There is a problem", "Never set the working valve above 29 psi")
}

// thinned are the seven answers for a wort that takes 3 L of water.
func thinned(t *testing.T, s *Site) url.Values {
	t.Helper()
	form := asLeft(t, s, "/fill", seven)
	form.Set("wort-pack-volume_m3", "17 L")
	form.Set("wort-pack-gravity_sg", "1.054")
	form.Set("dilute", "1.046")
	return form
}

// The water for a wish is that of the balance of mass: 17 L of 1.054 down to 1.046 takes
// 3 L, as the single calculation says.
func TestWaterIsTold(t *testing.T) {
	s := newSite(t)
	form := thinned(t, s)
	want(t, "water", mainText(t, s, lookOf(t, s, form)), "Water to add 3 L", "Then it is 20 L at 1.046")
}

// Wort may wait for its yeast: the vessel says so, and the batch begins with the yeast.
func TestYeastFollows(t *testing.T) {
	s := newSite(t)
	start := asLeft(t, s, lookOf(t, s, asLeft(t, s, "/fill", seven)), nil)
	start.Set("do", "wort")
	path := kept(t, s, "/fill/start", start)
	if again := kept(t, s, "/fill/start", start); again != path {
		t.Errorf("sent twice it leads to %s and %s", path, again)
	}
	want(t, "waiting", mainText(t, s, path), "First vessel: add the yeast today", "The yeast is in", "Add the yeast the day the pack is opened")
	want(t, "which", mainText(t, s, "/fill"), "Filled. Add the yeast today.")
	want(t, "Vessels", mainText(t, s, "/"), "Filled. Add the yeast today.", "Add the yeast")
	if batches, err := s.watch.Batches(t.Context()); err != nil || len(batches) != 0 {
		t.Errorf("%v: %d batches before the yeast", err, len(batches))
	}
	if w := post(s, path, url.Values{"when": {"yesterday at 9:00"}}); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("yeast before the wort: %d", w.Code)
	}
	kept(t, s, path, url.Values{"when": {""}})
	batches, err := s.watch.Batches(t.Context())
	if err != nil || len(batches) != 1 {
		t.Fatalf("%v: %d batches", err, len(batches))
	}
	wantNot(t, "which", mainText(t, s, "/fill"), "Filled. Add the yeast today.")
}

// What the cellar has is not asked again.
func TestShelfIsUsed(t *testing.T) {
	s := newSite(t)
	vessel := kept(t, s, "/add/vessel", dunlin)
	pack := kept(t, s, "/add/wort-pack", url.Values{"name": {"Sluice Gate Pale"}, "volume_m3": {"20 L"}, "gravity_sg": {"1.046"}})
	place := kept(t, s, "/add/place", url.Values{"name": {"Shed"}, "ambient_k": {"16 °C"}, "unknown": {"altitude_m"}, "fridge.coldest_k": {"1 °C"}, "none": {"belt_w"}, "someone_sleeps_here": {"false"}})
	cylinder := kept(t, s, "/add/cylinder", url.Values{"name": {"Grey"}, "capacity_kg": {"2.6 kg"}, "tare_kg": {"3.4 kg"}})
	kept(t, s, cylinder+"/weigh", url.Values{"weight": {"5.3 kg"}})
	id := func(path string) string { return path[strings.LastIndex(path, "/")+1:] }
	want(t, "which", mainText(t, s, "/fill"), "Dunlin", "26 L", "Not written down yet: cleaned", "Another one")
	address := "/fill?vessel=" + id(vessel)
	look := lookOf(t, s, asLeft(t, s, address, url.Values{"which-wort-pack": {id(pack)}, "which-place": {id(place)}, "which-cylinder": {id(cylinder)}, "yeast-pack-kind": {"ale"}}))
	page := mainText(t, s, look)
	want(t, "look", page, "Not ready to be filled", "Turn the gas on at", "left in the cylinder", "Gas gathers in a shut fridge")
	wantNot(t, "look", page, "Someone sleeps", "Not knowing how warm")
	start := asLeft(t, s, look, nil)
	start.Set("do", "yeast")
	if to := kept(t, s, "/fill/start", start); to != "/vessels/"+id(vessel) {
		t.Errorf("it leads to %s", to)
	}
	batches, err := s.watch.Batches(t.Context())
	if err != nil || len(batches) != 1 {
		t.Fatal(err, len(batches))
	}
	seen, err := s.watch.See(t.Context(), batches[0].ID)
	if err != nil {
		t.Fatal(err)
	}
	r := seen.State.Record
	if r.Name != "Sluice Gate Pale" || r.Uses.WortPack.String() != id(pack) || r.Uses.Cylinder.String() != id(cylinder) || r.Uses.Place.String() != id(place) || r.Gas.Content < 1.89 || r.Gas.Content > 1.91 {
		t.Errorf("kept %+v with %+v", r.Uses, r.Gas)
	}
	kept(t, s, cylinder+"/weigh", url.Values{"weight": {"5.2 kg"}})
	seen, err = s.watch.See(t.Context(), batches[0].ID)
	if err != nil || len(seen.State.Log.Readings) != 1 || seen.State.Log.Readings[0].Quantity != batch.CylinderMass || seen.State.Log.Readings[0].Value != 5.2 {
		t.Errorf("%v: a weighing tells the batch %+v", err, seen.State.Log.Readings)
	}
	want(t, "the shelf", mainText(t, s, "/what-i-have"), "No longer there Sluice Gate Pale")
	if w := get(s, address); w.Code != http.StatusConflict {
		t.Errorf("a vessel that is full is offered: %d", w.Code)
	}
}

// Whatever units somebody reads, the same answers make the same batch, and the page is in them.
func TestFillInOtherUnits(t *testing.T) {
	s := newSite(t)
	cookie := unitsCookie + "=" + url.QueryEscape("bar,f,gal(us),p,g/l,oz")
	typed := without(seven, "")
	for field, v := range map[string]string{"vessel-capacity_m3": "6.87", "wort-pack-volume_m3": "5.28", "wort-pack-gravity_sg": "11.4", "place-ambient_k": "64", "vessel-rating_pa": "36.26 psi", "vessel-safety_relief_pa": "2,2 bar"} {
		typed.Set(field, v)
	}
	w := post(s, "/fill", asLeft(t, s, "/fill", typed), "Cookie", cookie)
	if w.Code != http.StatusSeeOther {
		t.Fatalf("%d:\n%s", w.Code, text(parse(t, w).all(atom.Main)[0]))
	}
	page := mainText(t, s, w.Header().Get("Location"), cookie)
	want(t, "in other units", page, "Set the working valve to 0.70 bar", "about 64 °F", "The weakest part is rated 2.50 bar", "Fill to at most 5.3 gal (US)", "Weight to lift 57 lb")
	wantNot(t, "in other units", page, " psi", "°C")
}
