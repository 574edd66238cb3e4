package web

import (
	"bytes"
	"encoding/json"
	"net/url"
	"strings"
	"testing"
	"time"

	"golang.org/x/net/html/atom"

	"spile/batch"
	"spile/internal/batchfile"
	"spile/internal/store"
)

const overRated = "Pressure 37.5 psi is at or above the rating 36 psi. Keep faces away."

// seenForms are the forms of a page that say that a limit was seen, as a browser without script would send them.
func seenForms(d *document) (out []url.Values) {
	for _, f := range d.all(atom.Form) {
		if !strings.HasSuffix(attribute(f, "action"), "/limit-seen") || attribute(f, "method") != "post" {
			continue
		}
		form := url.Values{}
		for n := range f.Descendants() {
			if n.DataAtom == atom.Input {
				form.Add(attribute(n, "name"), attribute(n, "value"))
			}
		}
		out = append(out, form)
	}
	return out
}

// overfull is a shed with Dunlin above its rating, and others with it.
func overfull(s *filled, with ...string) *filled {
	high := 2.6e5
	for _, name := range append(with, "Dunlin") {
		e := batch.Entry{ID: store.NewID(), Batch: s.batches[name], Kind: batch.KindReading, At: s.now, Made: s.now, Body: s.body(&batch.Said{Pressure: &high})}
		if _, err := s.watch.Keep(s.t.Context(), e); err != nil {
			s.t.Fatal(err)
		}
	}
	return s.foretold()
}

// passed is what stands under Now on the page of Dunlin, with the forms in it.
func (s *filled) passed(t *testing.T) (said string, forms []url.Values) {
	t.Helper()
	w := get(s.Site, s.at("Dunlin", ""))
	d := parse(t, w)
	checkPage(t, "the vessel", w.Body.String(), d)
	return text(d.ids["section-now"]), seenForms(d)
}

// A limit is seen by a button that needs no script; it stands there as before, with when it was seen, until that is taken back.
func TestLimitSeen(t *testing.T) {
	s := overfull(newFilled(t, "Dunlin"))
	before, forms := s.passed(t)
	if !strings.Contains(before, overRated) || len(forms) < 2 {
		t.Fatalf("%d forms in\n%s", len(forms), before)
	}
	page := main(t, s.send(s.at("Dunlin", "/limit-seen"), forms[0]))
	want(t, "what was sent", page, "Sent.", "I have seen this: "+overRated, "Take that back")
	after, left := s.passed(t)
	want(t, "once it was seen", after, overRated, "Seen today at 18:00. It still counts.")
	if len(left) != len(forms)-1 {
		t.Errorf("%d limits are left to be seen of %d", len(left), len(forms))
	}
	next := text(parse(t, get(s.Site, s.at("Dunlin", ""))).ids["section-next"])
	want(t, "what comes next", next, overRated, "Seen today at 18:00. It still counts.")
	if strings.Index(after, overRated) != strings.Index(before, overRated) {
		t.Error("it stands elsewhere")
	}
	kept := s.entries("Dunlin")
	if w := post(s.Site, s.at("Dunlin", "/limit-seen"), forms[0]); w.Code != 303 || s.entries("Dunlin") != kept {
		t.Errorf("sent twice: %d, and %d lines, want %d", w.Code, s.entries("Dunlin"), kept)
	}
	want(t, "everything", mainText(t, s.Site, s.at("Dunlin", "/everything")), "I have seen this: "+overRated)
	last := s.log("Dunlin").Notes[len(s.log("Dunlin").Notes)-1].Entry.String()
	s.send(s.at("Dunlin", "/entries/"+last), url.Values{"do": {"take-back"}, "id": {store.NewID().String()}})
	back, again := s.passed(t)
	if wantNot(t, "taken back", back, "It still counts."); len(again) != len(forms) {
		t.Errorf("taken back, and %d limits are to be seen, want %d", len(again), len(forms))
	}
}

// On the page of all vessels, too, and it leads back there: of two in equal trouble the one whose limits nobody has seen stands
// first, and both before what is less urgent.
func TestLimitSeenOnVessels(t *testing.T) {
	s := overfull(newFilled(t, "Dunlin", "Godwit", "Whimbrel"), "Whimbrel")
	order := func() (names []string) {
		for _, card := range parse(t, get(s.Site, "/")).class("card-of") {
			names = append(names, attribute(card, "data-live"))
		}
		return names
	}
	forms := seenForms(parse(t, get(s.Site, "/")))
	if got := strings.Join(order(), " "); got != "Dunlin Whimbrel Godwit" || len(forms) != 2 {
		t.Fatalf("%s, with %d forms", got, len(forms))
	}
	if w := post(s.Site, s.at("Dunlin", "/limit-seen"), forms[0]); w.Header().Get("Location") != "/#at-"+s.vessels["Dunlin"].String() {
		t.Errorf("sent on to %s", w.Header().Get("Location"))
	}
	if got := strings.Join(order(), " "); got != "Whimbrel Dunlin Godwit" {
		t.Errorf("seen: %s", got)
	}
	card := parse(t, get(s.Site, "/")).class("card-of")[1]
	want(t, "Vessels", text(card), "Dunlin", overRated, "Seen today at 18:00. It still counts.")
	if class := attribute(card, "class"); !strings.Contains(class, "now") {
		t.Errorf("what was seen has lost its mark: %q", class)
	}
}

// What grew worse than the page showed is not seen, nor what is not passed.
func TestNotSeenAsShown(t *testing.T) {
	s := overfull(newFilled(t, "Dunlin"))
	kept := s.entries("Dunlin")
	for _, forged := range []url.Values{
		{"what": {"over-rating/now/Now/250000"}}, {"what": {"over-rating/now/Today/260000"}}, {"what": {"over-rating/now/Now/"}}, {"what": {"over-rating/now/Now/NaN"}},
		{"what": {"regulator-over-rating/plate/Now/260000"}}, {"what": {"over-rating"}}, {}, {"what": {""}},
	} {
		w := post(s.Site, s.at("Dunlin", "/limit-seen"), forged)
		d := parse(t, w)
		if checkPage(t, "what was not kept", w.Body.String(), d); w.Code != 409 || !strings.Contains(text(d.all(atom.Main)[0]), "Nothing was kept.") {
			t.Errorf("%v: %d\n%s", forged, w.Code, text(d.root))
		}
	}
	if w := post(s.Site, s.at("Dunlin", "/limit-seen"), url.Values{"what": {"over-rating/now/Now/1e9"}}); w.Code != 303 || s.entries("Dunlin") != kept+1 {
		t.Fatalf("seen as worse than it is: %d", w.Code)
	}
	if v := s.log("Dunlin").Notes[0].Judgement.Limits[0].Value; v == nil || *v > 3e5 {
		t.Errorf("what stands in the log is what a form said, not what was passed: %v", v)
	}
	s.now = s.now.Add(10 * time.Minute)
	s.send(s.at("Dunlin", "/i-read"), s.form(s.at("Dunlin", "/i-read"), "pressure", "2.8 bar", "sure", "pressure=280000"))
	s.settled("Dunlin")
	if said, forms := s.passed(t); len(forms) < 2 || strings.Contains(said, "It still counts.") {
		t.Errorf("worse, and not to be seen anew: %s", said)
	}
}

// settled waits until the forecast knows what was kept.
func (s *filled) settled(name string) {
	s.t.Helper()
	if seen, err := s.watch.Settle(s.t.Context(), s.batches[name], time.Minute); err != nil || !seen.Fresh() {
		s.t.Fatal(name, seen, err)
	}
}

// Who may keep something may say so, by name; who may look alone may not.
func TestWhoMaySeeALimit(t *testing.T) {
	s := overfull(openedBeyond(t))
	look := func(who string) (string, []url.Values) {
		d := parse(t, from(s.Site, "192.168.1.20", "GET", s.at("Dunlin", ""), nil, "Cookie", s.session(who)))
		return text(d.ids["section-now"]), seenForms(d)
	}
	_, forms := look("Bram")
	send := func(who string) int {
		return from(s.Site, "192.168.1.20", "POST", s.at("Dunlin", "/limit-seen"), forms[0], "Cookie", s.session(who)).Code
	}
	kept := s.entries("Dunlin")
	if code := send("Vita"); code != 403 || s.entries("Dunlin") != kept {
		t.Errorf("a viewer: %d, and %d lines, want %d", code, s.entries("Dunlin"), kept)
	}
	if code := send("Bram"); code != 303 {
		t.Errorf("a brewer: %d", code)
	}
	said, _ := look("Vita")
	want(t, "seen by a brewer", said, overRated, "Seen by Bram today at 18:00. It still counts.")
	var told struct {
		Limits []struct {
			Kind   string
			SeenAt string `json:"seen_at"`
			SeenBy string `json:"seen_by"`
		}
	}
	s.settled("Dunlin")
	if err := json.Unmarshal(from(s.Site, "192.168.1.20", "GET", "/api/v1/batches/"+s.batches["Dunlin"].String()+"/forecast", nil, "Cookie", s.session("Vita")).Body.Bytes(), &told); err != nil {
		t.Fatal(err)
	}
	if l := told.Limits[0]; l.Kind != "over-rating" || l.SeenBy != "Bram" || l.SeenAt != "2026-03-04T18:00:00Z" || told.Limits[1].SeenAt != "" {
		t.Errorf("a program is told %+v", told.Limits)
	}
}

// Before the first forecast, and in a vessel that holds nothing, what is amiss with the vessel itself is seen and stands there still.
func TestLimitSeenBeforeTheFirstLook(t *testing.T) {
	s := newFilled(t, "Dunlin")
	due := func(day string) {
		t.Helper()
		e := batch.Entry{ID: store.NewID(), Kind: batch.KindThing, At: s.now, Made: s.now, Thing: s.vessels["Dunlin"], Body: s.body(map[string]any{"due": day})}
		if _, err := s.watch.Keep(t.Context(), e); err != nil {
			t.Fatal(err)
		}
	}
	const says, seen = "This vessel is due for its check (1 March 2026). Until then, no pressure.", "Seen today at 18:00. It still counts."
	due("2026-03-01T00:00:00Z")
	sees := func(address string) {
		t.Helper()
		forms := seenForms(parse(t, get(s.Site, address)))
		if len(forms) != 1 {
			t.Fatalf("%s: %d forms", address, len(forms))
		}
		s.send(s.at("Dunlin", "/limit-seen"), forms[0])
		want(t, address, mainText(t, s.Site, address), says, seen)
	}
	sees("/")
	want(t, "the vessel", mainText(t, s.Site, s.at("Dunlin", "")), says, seen)
	s.send(s.at("Dunlin", "/i-did?what=clean"), s.form(s.at("Dunlin", "/i-did?what=clean"), "emptied", "yes"))
	for i, address := range []string{s.at("Dunlin", "/turnaround"), s.at("Dunlin", "")} {
		if i == 0 {
			sees(address) // it was seen of the batch that is gone
		}
		want(t, address+", empty", mainText(t, s.Site, address), says, seen)
	}
	want(t, "what is known of the vessel", mainText(t, s.Site, "/what-i-have/"+s.vessels["Dunlin"].String()), "I have seen this: This vessel is due for its check")
	due("2026-03-02T00:00:00Z")
	page := mainText(t, s.Site, s.at("Dunlin", ""))
	want(t, "due on another day", page, "due for its check (2 March 2026)", "I have seen this")
	wantNot(t, "due on another day", page, seen)
}

// What was kept of it goes through a file of the whole log and is read back to the byte, and counts there.
func TestLimitSeenGoesThroughAFile(t *testing.T) {
	s := overfull(newFilled(t, "Dunlin"))
	_, forms := s.passed(t)
	s.send(s.at("Dunlin", "/limit-seen"), forms[0])
	lines := get(s.Site, "/settings/records/log.jsonl").Body.Bytes()
	other := newFilled(t)
	var all []batch.Entry
	if err := batchfile.ReadLogLines("log.jsonl", bytes.NewReader(lines), func(_ int, e batch.Entry) error { all = append(all, e); return nil }); err != nil {
		t.Fatal(err)
	}
	if _, err := other.watch.Keep(t.Context(), all...); err != nil {
		t.Fatal(err)
	}
	if again := get(other.Site, "/settings/records/log.jsonl").Body.Bytes(); !bytes.Equal(lines, again) {
		t.Errorf("got\n%s\nwant\n%s", again, lines)
	}
	other.vessels, other.batches = s.vessels, s.batches
	said, left := other.foretold().passed(t)
	if want(t, "elsewhere", said, overRated, "Seen today at 18:00. It still counts."); len(left) != len(forms)-1 {
		t.Errorf("%d limits are to be seen elsewhere, want %d", len(left), len(forms)-1)
	}
}

// After a round that passes a limit it is said and can be seen at once.
func TestLimitSeenAfterTheRound(t *testing.T) {
	s := newFilled(t, "Dunlin").foretold()
	field := "pressure-" + s.batches["Dunlin"].String()
	s.send("/round", s.form("/round", field, "2.6 bar", "sure", field+"=260000"))
	s.settled("Dunlin")
	kept := get(s.Site, "/round?kept="+s.log("Dunlin").Log.Readings[0].Entry.String())
	d := parse(t, kept)
	want(t, "the round", text(d.all(atom.Main)[0]), overRated, "I have seen this")
	if forms := seenForms(d); len(forms) == 0 {
		t.Error("nothing can be seen after the round")
	} else {
		s.send(s.at("Dunlin", "/limit-seen"), forms[0])
	}
	want(t, "the round once it was seen", main(t, get(s.Site, "/round?kept="+s.log("Dunlin").Log.Readings[0].Entry.String())), overRated, "It still counts.")
}
