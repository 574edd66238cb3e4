package web

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"spile/batch"

	"golang.org/x/net/html/atom"
)

// proved is a test of 12 h with a litre of room that shows nothing.
var proved = url.Values{"volume": {"1 L"}, "from-pressure": {"10 psi"}, "to-pressure": {"10 psi"}, "from-temperature": {"18 °C"}, "to-temperature": {"18 °C"}, "time": {"12 h"}}

func TestTurnaroundIsPassedStepByStep(t *testing.T) {
	s := newSite(t)
	thing := kept(t, s, "/add/vessel", dunlin)
	id := strings.TrimPrefix(thing, "/what-i-have/")
	path := "/vessels/" + id + "/turnaround"
	want(t, "at first", mainText(t, s, path), "Not written down yet: cleaned, its seals looked at, proved to hold gas, sanitised.", "Before you open: gas off at the cylinder", "Gloves and goggles", "Never shut the vessel on a cleaner",
		"Nothing hotter than its maker allows", "Write the first one and the time on paper", "Test for leaks with the vessel full of water", "How much sanitiser?")
	for _, verdict := range []batch.Verdict{batch.GasLetOut, batch.Cleaned, batch.SealsChecked} {
		kept(t, s, path, url.Values{"verdict": {string(verdict)}})
	}
	want(t, "Fill warns", mainText(t, s, "/fill"), "Not written down yet: proved to hold gas, sanitised.", "Clean and prove it first")
	kept(t, s, path, url.Values{"verdict": {string(batch.Cleaned)}, "when-cleaned": {"two hours ago"}})
	log, _, err := s.watch.Store().Log(t.Context(), batch.ID{}, 0)
	if err != nil {
		t.Fatal(err)
	}
	last := log[len(log)-1]
	if ago := s.watch.Now().Sub(last.At).Hours(); ago < 1.99 || ago > 2.1 || last.Uncertain == 0 {
		t.Errorf("two hours ago was kept as %.2f h ago, give or take %v s", ago, last.Uncertain)
	}
	w := post(s, path, url.Values{"verdict": {string(batch.Sanitised)}, "when-sanitised": {"soon"}})
	if d := parse(t, w); w.Code != http.StatusUnprocessableEntity || d.ids["field-when-sanitised-error"] == nil || attribute(d.ids["field-when-sanitised"], "value") != "soon" {
		t.Errorf("a time that cannot be read: %d", w.Code)
	}
	kept(t, s, "/vessels/"+id+"/leak-test", proved)
	want(t, "proved", mainText(t, s, path), "10 psi to 10 psi in 12 h. At most", "a day, temperature taken out", "Not written down yet: sanitised.")
	kept(t, s, path, url.Values{"verdict": {string(batch.Sanitised)}})
	want(t, "passed", mainText(t, s, path), "Ready to be filled.")
	wantNot(t, "Fill", mainText(t, s, "/fill"), "Not written down yet")

	kept(t, s, path, url.Values{"verdict": {string(batch.SealsChecked)}})
	want(t, "seals off again", mainText(t, s, path), "The seals were off since: prove it again.", "Not written down yet: proved to hold gas.")
	d := parse(t, get(s, path))
	back := url.Values{"of": {attribute(d.class("done")[2], "id")}, "back": {path}}
	kept(t, s, "/what-i-have/take-back", back)
	want(t, "taken back", mainText(t, s, path), "Ready to be filled.") // they were looked at before the test, too
}

// The verdict is that of the gas law: 5 psi lost of a litre at 18 °C in 12 h are
// 5 psi · 1 L/(R · 291 K) · 44 g/mol · 2 = 1.25 g a day; a fall that follows the
// temperature is none.
func TestLeakTestVerdicts(t *testing.T) {
	s := newSite(t)
	id := strings.TrimPrefix(kept(t, s, "/add/vessel", dunlin), "/what-i-have/")
	path := "/vessels/" + id
	with := func(changes ...string) url.Values {
		form := without(proved, "")
		for i := 0; i < len(changes); i += 2 {
			form.Set(changes[i], changes[i+1])
		}
		return form
	}
	kept(t, s, path+"/leak-test", with("to-pressure", "5 psi"))
	want(t, "it leaks", mainText(t, s, path+"/turnaround"), "It did not pass.", "It loses about 1.3 g a day", "Its last leak test did not pass.")
	want(t, "its working", workings(t, s, path+"/turnaround")["leak"], "It leaks.", "1.2") // 1.25 g a day
	want(t, "its working, among what was written", workings(t, s, "/what-i-have/"+id)["leak"], "It leaks.")
	want(t, "Fill warns", mainText(t, s, "/fill"), "Find the leak before you fill it.")
	// 24.7 psi absolute at 291 K is 23.9 psi at 281 K: 9.2 psi on the dial
	kept(t, s, path+"/leak-test", with("to-pressure", "9.2 psi", "to-temperature", "8 °C"))
	want(t, "cooled", mainText(t, s, path+"/turnaround"), "At most")
	for _, c := range []struct {
		field, says string
		form        url.Values
	}{
		{"time", "Wait at least", with("time", "5 min")},
		{"to-pressure", "The gauge rose", with("to-pressure", "15 psi")},
		{"from-pressure", "the most that is advised", with("from-pressure", "35 psi", "to-pressure", "35 psi")},
		{"volume", "I read", with("volume", "much")},
		{"to-temperature", "Answer this", with("to-temperature", "")},
	} {
		w := post(s, path+"/leak-test", c.form)
		d := parse(t, w)
		if w.Code != http.StatusUnprocessableEntity || d.ids["field-"+c.field+"-error"] == nil {
			t.Errorf("%s: %d and nothing beside the field:\n%s", c.field, w.Code, text(d.all(atom.Main)[0]))
			continue
		}
		want(t, c.field, text(d.ids["field-"+c.field+"-error"]), c.says)
		if worked := strings.Contains(w.Body.String(), "Show the working of what was typed"); worked != (c.field == "time" || c.field == "to-pressure") {
			t.Errorf("%s: it opens into its working: %v", c.field, worked)
		}
	}
}

// Without a rating there is no test under pressure, and the turnaround stays open.
func TestNoRatingNoTest(t *testing.T) {
	s := newSite(t)
	form := without(dunlin, "rating_pa")
	form.Set("unknown", "rating_pa")
	id := strings.TrimPrefix(kept(t, s, "/add/vessel", form), "/what-i-have/")
	page := mainText(t, s, "/vessels/"+id+"/turnaround")
	want(t, "no rating", page, "No rating known, so no pressure advice.")
	wantNot(t, "no rating", page, "Does it hold gas?")
	if w := post(s, "/vessels/"+id+"/leak-test", proved); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("a test without a rating: %d", w.Code)
	}
	if w := post(s, "/vessels/"+id+"/turnaround", url.Values{"verdict": {string(batch.LeakTestPassed)}}); w.Code == http.StatusSeeOther {
		t.Error("a test was passed without readings")
	}
}

// without is a form less one field.
func without(form url.Values, name string) url.Values {
	out := url.Values{}
	for k, v := range form {
		if k != name {
			out[k] = v
		}
	}
	return out
}

// A batch ends where its vessel is said to be empty; what was done to it before does not count.
func TestEmptiedEndsTheBatch(t *testing.T) {
	s := newSite(t)
	id := strings.TrimPrefix(kept(t, s, "/add/vessel", dunlin), "/what-i-have/")
	path := "/vessels/" + id
	kept(t, s, path+"/turnaround", url.Values{"verdict": {string(batch.Cleaned)}})
	start := asLeft(t, s, lookOf(t, s, asLeft(t, s, "/fill?vessel="+id, without(seven, "vessel"))), url.Values{"when": {"20 minutes ago"}})
	start.Set("do", "yeast")
	kept(t, s, "/fill/start", start)
	page := mainText(t, s, path+"/turnaround")
	want(t, "while it holds beer", page, "It still holds Batch of", "Empty of beer is not empty of gas.", "Before you open:", "It is empty")
	wantNot(t, "while it holds beer", page, "Gloves and goggles")
	if w := post(s, path+"/emptied", url.Values{"when": {"two weeks ago"}}); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("empty before the yeast went in: %d", w.Code)
	}
	kept(t, s, path+"/emptied", url.Values{"when": {""}})
	batches, err := s.watch.Batches(t.Context())
	if err != nil || len(batches) != 1 || batches[0].Ended.IsZero() {
		t.Fatalf("%v: %+v", err, batches)
	}
	want(t, "after it", mainText(t, s, path+"/turnaround"), "Not written down yet: cleaned")
}
