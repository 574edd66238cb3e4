package web

import (
	"math"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"spile/batch"
	"spile/internal/store"
	"spile/unit"

	"golang.org/x/net/html/atom"
)

// mainText is what people read on a page.
func mainText(t *testing.T, s *Site, address string, cookies ...string) string {
	t.Helper()
	w := get(s, address, cookies...)
	if w.Code != http.StatusOK {
		t.Fatalf("%s: %d\n%s", address, w.Code, w.Body)
	}
	d := parse(t, w)
	checkPage(t, address, w.Body.String(), d)
	return strings.Join(strings.Fields(text(d.all(atom.Main)[0])), " ")
}

// kept sends a form and gives where it leads.
func kept(t *testing.T, s *Site, address string, form url.Values, headers ...string) string {
	t.Helper()
	w := post(s, address, form, headers...)
	if w.Code != http.StatusSeeOther {
		t.Fatalf("%s: expected to be kept, got %d\n%s", address, w.Code, text(parse(t, w).all(atom.Main)[0]))
	}
	to, _, _ := strings.Cut(w.Header().Get("Location"), "?")
	return to
}

func want(t *testing.T, where, page string, parts ...string) {
	t.Helper()
	for _, part := range parts {
		if !strings.Contains(page, part) {
			t.Errorf("%s: expected %q in\n%s", where, part, page)
		}
	}
}

func wantNot(t *testing.T, where, page string, parts ...string) {
	t.Helper()
	for _, part := range parts {
		if strings.Contains(page, part) {
			t.Errorf("%s: expected no %q in\n%s", where, part, page)
		}
	}
}

var dunlin = url.Values{"name": {"Dunlin"}, "capacity_m3": {"26"}, "diameter_m": {"30"}, "rating_pa": {"2,5 bar"}, "safety_relief_pa": {"2.2 bar"}, "tare_kg": {"4.1 kg"}}

func TestThingsAreAddedChangedAndTakenBack(t *testing.T) {
	s := newSite(t)
	path := kept(t, s, "/add/vessel", dunlin)
	want(t, "its page", mainText(t, s, path), "Dunlin", "26 L", "30 cm", "36 psi", "31.5 psi", "4.1 kg", "Added")
	want(t, "the list", mainText(t, s, "/what-i-have"), "Dunlin26 L, 30 cm wide, rated 36 psi (2.50 bar), safety valve 31.5 psi (2.20 bar)")

	form := parse(t, get(s, path+"/change"))
	for name, typed := range map[string]string{"name": "Dunlin", "capacity_m3": "26", "diameter_m": "30", "tare_kg": "4.1", "rating_pa": "2.50 bar", "safety_relief_pa": "2.20 bar"} {
		if got := attribute(form.ids["field-"+name], "value"); got != typed {
			t.Errorf("%s: expected %q in the field, got %q", name, typed, got)
		}
	}
	same := url.Values{}
	for _, n := range form.all(atom.Input) {
		if _, checked := attributes(n)["checked"]; attribute(n, "type") == "text" || checked {
			same.Add(attribute(n, "name"), attribute(n, "value"))
		}
	}
	kept(t, s, path+"/change", same)
	wantNot(t, "a form sent as it was", mainText(t, s, path), "Changed")

	same.Set("name", "Godwit")
	same.Del("rating_pa")
	same.Add("unknown", "rating_pa")
	kept(t, s, path+"/change", same)
	want(t, "changed", mainText(t, s, path), "Godwit", "No pressure rating known", "Now called Godwit")

	d := parse(t, get(s, path))
	of := attribute(d.all(atom.Input)[0], "value") // the newest line stands first
	kept(t, s, "/what-i-have/take-back", url.Values{"of": {of}, "back": {path}})
	want(t, "taken back", mainText(t, s, path), "Dunlin", "36 psi", "Put it back")

	kept(t, s, path+"/gone", nil)
	want(t, "gone", mainText(t, s, path), "No longer there")
	want(t, "the list", mainText(t, s, "/what-i-have"), "No longer there Dunlin")
}

// Taking back the making of a thing takes its page, and it can be put back.
func TestMakingIsTakenBackAndPutBack(t *testing.T) {
	s := newSite(t)
	path := kept(t, s, "/add/vessel", dunlin)
	id := strings.TrimPrefix(path, "/what-i-have/")
	if to := kept(t, s, "/what-i-have/take-back", url.Values{"of": {id}, "back": {path}}); to != "/what-i-have" {
		t.Errorf("it leads to %s", to)
	}
	want(t, "the list", mainText(t, s, "/what-i-have"), "Added, and taken back Dunlin")
	if w := get(s, path); w.Code != http.StatusNotFound {
		t.Errorf("its page answers %d", w.Code)
	}
	d := parse(t, get(s, "/what-i-have"))
	kept(t, s, "/what-i-have/take-back", url.Values{"of": {attribute(d.all(atom.Input)[0], "value")}})
	want(t, "put back", mainText(t, s, path), "Dunlin")
}

func TestAFormSentTwiceIsKeptOnce(t *testing.T) {
	s := newSite(t)
	once := attribute(parse(t, get(s, "/add/vessel")).all(atom.Input)[0], "value")
	form := url.Values{"once": {once}}
	for k, v := range dunlin {
		form[k] = v
	}
	if a, b := kept(t, s, "/add/vessel", form), kept(t, s, "/add/vessel", form); a != b || !strings.HasSuffix(a, once) {
		t.Errorf("kept as %s and as %s", a, b)
	}
	if n := strings.Count(get(s, "/what-i-have").Body.String(), ">Dunlin<"); n != 1 {
		t.Errorf("%d vessels are listed", n)
	}
}

// A cylinder is known by weight, less what it weighs empty, never by its gauge.
func TestCylinderIsWeighed(t *testing.T) {
	s := newSite(t)
	path := kept(t, s, "/add/cylinder", url.Values{"name": {"Grey"}, "capacity_kg": {"2.6 kg"}, "tare_kg": {"3.4 kg"}, "due": {"March 2020"}})
	want(t, "before", mainText(t, s, path), "due for its test (31 March 2020)", "Weigh it")
	w := post(s, path+"/weigh", url.Values{"weight": {"3 kg"}})
	if w.Code != http.StatusUnprocessableEntity {
		t.Errorf("less than its tare: %d", w.Code)
	}
	want(t, "less than its tare", text(parse(t, w).all(atom.Main)[0]), "There is a problem", "less than its tare of 3.4 kg")
	id, err := batch.ParseID(strings.TrimPrefix(path, "/what-i-have/"))
	if err != nil {
		t.Fatal(err)
	}
	before := batch.Said{}
	before.Put(batch.CylinderMass, 5.7)
	e, err := s.written(store.NewID(), batch.KindReading, s.watch.Now().Add(-4*week), before)
	if err != nil {
		t.Fatal(err)
	}
	e.Thing = id
	if err := s.keepUnlessThere(t.Context(), e); err != nil {
		t.Fatal(err)
	}
	kept(t, s, path+"/weigh", url.Values{"weight": {"5.30 kg"}})
	want(t, "how long it lasts", mainText(t, s, path), "Gas for about 19 more weeks. Order before ", "it lost 400 g: between 94 g and 106 g a week")
	want(t, "Coming up", mainText(t, s, "/coming-up"), "Grey", "Gas for about 19 more weeks.")
	want(t, "weighed", mainText(t, s, path), "1.9 kg left on", "Weighed: 5.3 kg", // 5.3 - 3.4
		"Show the working of the gas that is left", "it weighed 5.3 kg.", "Empty it weighs 3.4 kg.", "between 1.88 kg and 1.92 kg, nine times in ten") // 1.645 times 10 g
	want(t, "the list", mainText(t, s, "/what-i-have"), "2.6 kg when full, tare 3.4 kg, 1.9 kg left on")
	if form := get(s, path+"/change").Body.String(); !strings.Contains(form, `value="3.4"`) {
		t.Error("what it weighs does not stand before the unit that the form writes behind it")
	}
	want(t, "its caution", mainText(t, s, path), "Before you unscrew the regulator: cylinder shut")
	for kind, caution := range map[string]string{"cylinder": "Upright, tied", "regulator": "Knob backed off first.", "wort-pack": "A swollen, leaking or odd-smelling pack"} {
		want(t, kind, mainText(t, s, "/add/"+kind), caution)
	}
}

// What is left is said of the day on which it was weighed here; of a weighing that was taken back meanwhile nothing is said.
func TestLeftIsOfItsOwnDay(t *testing.T) {
	content := unit.Mass(1.9)
	grey := batch.Thing[batch.CylinderFacts]{ID: batch.ID{5}, Facts: batch.CylinderFacts{Content: &content, Weighed: time.Date(2026, 3, 1, 20, 0, 0, 0, time.UTC)}}
	if got := leftIn(&grey.Facts, time.FixedZone("nine hours ahead", 9*60*60), unit.Style{}); got != "1.9 kg left on 2 March 2026" {
		t.Errorf("got %q", got)
	}
	if left := newSite(t).restBy(nil, grey.ID, &batch.Cellar{Cylinders: []batch.Thing[batch.CylinderFacts]{grey}}, unit.Style{}); left != nil {
		t.Errorf("no weighing is left, and yet %+v", left)
	}
}

// Weighings tell how long the gas lasts: 1.9 kg, then 1.5 kg four weeks later, are 100 g a week and 15 weeks more; scales of
// 10 g leave a little doubt, and a week goes to order. What is too near, too little or filled since tells nothing.
func TestGasLastsAsItsWeighingsTell(t *testing.T) {
	at := func(weeks float64) time.Time { return shedNow.Add(time.Duration(weeks * float64(week))) }
	weighed := func(weeks, kg float64) batch.Reading {
		return batch.Reading{Time: at(weeks), Quantity: batch.CylinderMass, Value: kg}
	}
	p := paceOf([]batch.Reading{weighed(-9, 4), weighed(-5, 5.3), weighed(-3, 5.1), weighed(-1, 4.9)})
	if p == nil || math.Abs(p.mid*week.Seconds()-0.1) > 1e-9 {
		t.Fatalf("got %+v", p)
	}
	if got, want := p.lasts(1.5, at(0), unit.Style{}), "Gas for about 14 more weeks. Order before "; !strings.HasPrefix(got, want) {
		t.Errorf("got %q", got)
	}
	// at the fastest 0.423 kg in four weeks: 14.2 weeks from the weighing, 12.2 from now less the week to order
	if got := p.lasts(1.5, at(0), unit.Style{}); !strings.HasSuffix(got, dayWords(at(1.5/(0.4+1.645*0.01*math.Sqrt2)*4-1-1), unit.Style{})+".") {
		t.Errorf("order by %q", got)
	}
	if got := p.lasts(0.15, at(0), unit.Style{}); got != "Gas for a week or little more. Order today." {
		t.Errorf("got %q", got)
	}
	if got := p.lasts(9, at(0), unit.Style{}); got != "Gas for more than a year." {
		t.Errorf("got %q", got)
	}
	for name, all := range map[string][]batch.Reading{"one": {weighed(-4, 5)}, "near": {weighed(-0.5, 5), weighed(0, 4.5)}, "little": {weighed(-4, 5), weighed(0, 4.96)}, "filled since": {weighed(-4, 4), weighed(-0.5, 6), weighed(0, 5.9)}} {
		if paceOf(all) != nil {
			t.Errorf("%s: it tells a pace", name)
		}
	}
}

// What hangs on a regulator is chosen among what is there, and named where it is listed.
func TestRegulatorFeedsVessels(t *testing.T) {
	s := newSite(t)
	vessel := kept(t, s, "/add/vessel", dunlin)
	cylinder := kept(t, s, "/add/cylinder", url.Values{"name": {"Grey"}, "capacity_kg": {"2.6 kg"}})
	id := func(path string) string { return path[strings.LastIndex(path, "/")+1:] }
	path := kept(t, s, "/add/regulator", url.Values{"name": {"Left"}, "cylinder": {id(cylinder)}, "vessels": {id(vessel)}, "check_valves": {"false"}, "set_pa": {"10 psi"}})
	want(t, "regulator", mainText(t, s, path), "Grey", "Dunlin", "10 psi")
	want(t, "the list", mainText(t, s, "/what-i-have"), "on Grey, feeds Dunlin, set to 10 psi")
}

// Every kind of thing is added by what its hints give as examples, changed without a change,
// and refused in words beside the field where it cannot be read.
func TestEveryKindOfThing(t *testing.T) {
	s := newSite(t)
	for _, k := range kindsOfThing {
		address := "/add/" + k.Slug
		mainText(t, s, address)
		form, wrong := url.Values{"name": {k.Is}}, url.Values{"name": {k.Is}}
		for _, f := range k.Facts {
			fig := f.figure(map[string]any{"reads": "gravity"})
			switch {
			case f.day:
				form.Set(f.key, "12 March 2027")
				wrong.Set(f.key, "1.2.2027")
			case fig != nil:
				form.Set(f.key, fig.sample)
				wrong.Set(f.key, "some, <b>")
			case f.choose != nil && len(f.choose(&batch.Cellar{}, nil)) > 0:
				form.Set(f.key, f.choose(&batch.Cellar{}, nil)[0].Value)
			}
		}
		path := kept(t, s, address, form)
		mainText(t, s, path)
		mainText(t, s, path+"/change")
		w := post(s, address, wrong)
		d := parse(t, w)
		if w.Code != http.StatusUnprocessableEntity || !strings.HasPrefix(text(d.all(atom.Title)[0]), "Error: ") {
			t.Errorf("%s: nonsense is answered with %d", k.Is, w.Code)
		}
		for name, v := range wrong {
			if field := d.ids["field-"+name]; name != "name" && attribute(field, "type") == "text" && (attribute(field, "value") != v[0] || d.ids["field-"+name+"-error"] == nil) {
				t.Errorf("%s, %s: what was typed is gone, or nothing stands beside it", k.Is, name)
			}
		}
		if bad := banned.FindString(text(d.all(atom.Main)[0])); bad != "" {
			t.Errorf("%s says %q", k.Is, bad)
		}
	}
	page := mainText(t, s, "/what-i-have")
	for _, k := range kindsOfThing {
		if !strings.Contains(page, string(k.Many)) || !strings.Contains(page, k.Is) {
			t.Errorf("%s is not listed", k.Is)
		}
	}
}

func TestDaysOfTheCalendar(t *testing.T) {
	for typed, day := range map[string]string{"2027-03-12": "2027-03-12", "12 March 2027": "2027-03-12", "March 12, 2027": "2027-03-12", "12. mar 2027": "2027-03-12", "Feb 2028": "2028-02-29", "2027-03": "2027-03-31",
		"1.2.2027": "", "soon": "", "31 June 2027": "", "12 March 1900": ""} {
		at, problem := readCalendar(nil, typed)
		if got := at.Format("2006-01-02"); (day == "") != (problem != "") || day != "" && got != day {
			t.Errorf("%q: expected %q, got %s, %q", typed, day, got, problem)
		}
	}
}

// A weighing of a cylinder is told once: by the cellar's own log where the vessel hangs on a regulator, else by the
// log of the one batch that uses it as well.
func TestWeighingIsToldOnce(t *testing.T) {
	for _, regulated := range []bool{false, true} {
		s := newSite(t)
		id := func(path string) (id batch.ID) {
			id, err := batch.ParseID(path[strings.LastIndex(path, "/")+1:])
			if err != nil {
				t.Fatal(err)
			}
			return id
		}
		vessel := id(kept(t, s, "/add/vessel", dunlin))
		path := kept(t, s, "/add/cylinder", url.Values{"name": {"Grey"}, "capacity_kg": {"2.6 kg"}, "tare_kg": {"3.4 kg"}})
		if regulated {
			kept(t, s, "/add/regulator", url.Values{"name": {"Left"}, "cylinder": {id(path).String()}, "vessels": {vessel.String()}, "check_valves": {"false"}, "set_pa": {"10 psi"}})
		}
		rec := batch.Record{Uses: batch.Uses{Vessel: vessel, Cylinder: id(path)}, Batch: batch.Batch{Name: "Pale", Pitched: s.watch.Now().Add(-time.Hour),
			Wort: batch.Wort{Volume: 0.02, Gravity: 1.046}, Yeast: batch.Yeast{Kind: "ale"}, Vessel: batch.Vessel{Capacity: 0.026, Diameter: 0.3}, Place: batch.Place{Ambient: 290}}}
		made, err := s.written(store.NewID(), batch.KindBatch, rec.Pitched, rec)
		made.Batch = made.ID
		if err == nil {
			_, err = s.watch.Keep(t.Context(), made)
		}
		if err != nil {
			t.Fatal(err)
		}
		kept(t, s, path+"/weigh", url.Values{"weight": {"5.30 kg"}})
		seen, err := s.watch.See(t.Context(), made.ID)
		if err != nil {
			t.Fatal(err)
		}
		if n, want := len(seen.State.Log.Readings), map[bool]int{true: 0, false: 1}[regulated]; n != want {
			t.Errorf("on a regulator %v: %d weighings in the log of the batch; expected %d", regulated, n, want)
		}
	}
}
