package web

import (
	"net/url"
	"strings"
	"testing"
	"time"

	"golang.org/x/net/html/atom"

	"spile/advice"
	"spile/batch"
	"spile/internal/store"
)

// What one person puts off is later for this one alone, on every page, until its time or until called back.
func TestRemindMeLater(t *testing.T) {
	s := openedBeyond(t).foretold()
	const asks = "Too little to go on."
	vita, bram := s.session("Vita"), s.session("Bram")
	at := s.at("Dunlin", "")
	see := func(cookie, path string) (*document, string) {
		t.Helper()
		w := from(s.Site, "192.168.1.20", "GET", path, nil, "Cookie", cookie)
		d := parse(t, w)
		checkPage(t, path, w.Body.String(), d)
		return d, text(d.all(atom.Main)[0])
	}
	first := func(cookie string) string {
		d, _ := see(cookie, at)
		return text(d.class("action")[0])
	}
	send := func(cookie string, form url.Values) string {
		t.Helper()
		w := from(s.Site, "192.168.1.20", "POST", at+"/later", form, "Cookie", cookie)
		if w.Code != 303 {
			t.Fatalf("%d %s", w.Code, w.Body)
		}
		return w.Header().Get("Location")
	}
	if _, home := see(vita, "/"); !strings.Contains(home, "Remind me later") || !strings.Contains(first(vita), asks) {
		t.Fatalf("nothing can be put off: %s", home)
	}
	what := url.Values{"what": {"too little/2"}, "back": {"/"}}
	if to := send(vita, what); to != "/#at-"+s.vessels["Dunlin"].String() {
		t.Errorf("sent on to %s", to)
	}
	_, home := see(vita, "/")
	_, page := see(vita, at)
	if strings.Contains(home, asks) || !strings.Contains(home, "Put off: it comes again today at 22:00.") || strings.Contains(first(vita), asks) || !strings.Contains(page, asks) || !strings.Contains(page, "Remind me now") {
		t.Errorf("put off, and shown so: %s\n%s", home, page)
	}
	if _, soon := see(vita, "/coming-up"); strings.Contains(soon, asks) {
		t.Errorf("put off, and on Coming up: %s", soon)
	}
	if w := from(s.Site, "192.168.1.20", "GET", "/print/door-card?vessel="+s.vessels["Dunlin"].String(), nil, "Cookie", vita); !strings.Contains(w.Body.String(), asks) {
		t.Error("paper, which all read, leaves it out")
	}
	if !strings.Contains(first(bram), asks) {
		t.Error("what one puts off is hidden from another")
	}
	send(vita, url.Values{"what": {"too little/2"}, "again": {"now"}})
	if !strings.Contains(first(vita), asks) {
		t.Error("called back, and not there")
	}
	send(vita, what)
	s.now = s.now.Add(4*time.Hour + time.Minute)
	if !strings.Contains(first(vita), asks) {
		t.Error("its time has come, and it has not")
	}
	for _, forged := range []string{"worst-case/2", "working/0", "", "too little/1"} {
		send(vita, url.Values{"what": {forged}})
	}
	if left, err := s.watch.Store().PutOffs(t.Context(), whoseID(t, s, "Vita"), s.now); err != nil || len(left) != 0 {
		t.Errorf("put off, and it may not be: %v %v", left, err)
	}
}

func whoseID(t *testing.T, s *filled, name string) batch.ID {
	t.Helper()
	people, err := s.watch.Store().People(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range people {
		if p.Name == name {
			return p.ID
		}
	}
	t.Fatal("nobody is called", name)
	return batch.ID{}
}

// Nothing that is unsafe meanwhile is put off, whatever was kept; what grew more urgent comes again.
func TestSafetyIsNotPutOff(t *testing.T) {
	v := inFridge("Dunlin", 12, 0, 0, batch.ID{7})
	over := advice.Action{Key: "over-rating", Do: "Keep faces away.", Urgency: advice.Now}
	rest := advice.Action{Key: "plan", Do: "Set the temperature to 1 °C.", Urgency: advice.WhenYouCan, Waits: true}
	kept := []store.PutOff{{What: "over-rating/3", Until: v.Now}, {What: "plan/1", Until: v.Now}}
	v.Said.Next, v.Said.Urgency = []advice.Action{over, rest}, advice.Now
	if v.setAside(kept); len(v.Said.Next) != 1 || v.Said.Next[0].Key != "over-rating" || v.Urgency() != advice.Now || v.MayWait() != nil || len(v.Later) != 1 {
		t.Errorf("%+v, later %+v", v.Said.Next, v.Later)
	}
	rest.Urgency, v.Later = advice.Today, nil
	v.Said.Next = []advice.Action{rest}
	if v.setAside(kept); len(v.Later) != 0 || v.Said.Next[0].Key != "plan" {
		t.Errorf("more urgent, and still put off: %+v", v.Later)
	}
	rest.Urgency = advice.WhenYouCan
	v.Said.Next = []advice.Action{rest}
	if v.setAside(kept); len(v.Said.Next) != 1 || v.Said.Next[0].Waits || v.Urgency() != advice.NothingToDo {
		t.Errorf("all is put off: %+v", v.Said.Next)
	}
}

// What is for today comes again after four hours, all else next morning at 8.
func TestWhenItComesAgain(t *testing.T) {
	evening := time.Date(2026, 11, 30, 18, 10, 0, 0, time.FixedZone("an hour east", 3600))
	for urgency, want := range map[advice.Urgency]time.Time{
		advice.Today:      time.Date(2026, 11, 30, 22, 0, 0, 0, evening.Location()),
		advice.WhenYouCan: time.Date(2026, 12, 1, 8, 0, 0, 0, evening.Location()),
	} {
		if got := again(urgency, evening); !got.Equal(want) {
			t.Errorf("urgency %v: %v, want %v", urgency, got, want)
		}
	}
	adelaide := time.FixedZone("half an hour off", 9*3600+1800)
	if got := again(advice.Today, time.Date(2026, 11, 30, 18, 20, 0, 0, adelaide)).Format("15:04"); got != "22:00" {
		t.Errorf("in a zone of half an hour it comes again at %s, want 22:00", got)
	}
}
