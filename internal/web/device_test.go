package web

import (
	"encoding/json"
	"fmt"
	"math"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"spile/batch"
	"spile/internal/store"
	"spile/unit"
)

// keyed makes a key for a device on a vessel, by the door for programs.
func (s *filled) keyed(name, vessel string) string {
	s.t.Helper()
	made := reply[struct{ Name, Key string }](s.t, call(s.Site, "POST", "/api/v1/devices", "application/json", fmt.Sprintf(`{"name":%q,"batch":%q}`, name, s.batches[vessel])), 201)
	if made.Name != name {
		s.t.Errorf("made for %q", made.Name)
	}
	return made.Key
}

func (s *filled) sends(key, body string) *httptest.ResponseRecorder {
	return call(s.Site, "POST", "/in/"+key, "", body)
}

// A device adds what it has read to the batch of its vessel, once each.
func TestDeviceSends(t *testing.T) {
	s := newFilled(t, "Dunlin", "Godwit")
	key := s.keyed("strip", "Dunlin")
	one := reply[received](t, s.sends(key, `{"quantity":"temperature","value":18.4,"unit":"C"}`), 201)
	if one.Kept != 1 || one.Known != 0 || one.Refused != nil {
		t.Errorf("%+v", one)
	}
	many := `[{"quantity":"pressure","value":11,"unit":"psi","id":"a1","time":"2026-03-04T17:00:00Z"},
{"quantity":"pressure_kpa","value":70,"id":"` + store.NewID().String() + `"},{"quantity":"gravity","value":1.03},{"quantity":"Gravity_SG","value":1.0295},
{"quantity":"mass","value":"24.15 kg"},{"quantity":"cylinder","value":11.7,"unit":"lb"},{"quantity":"temperature_f","value":66},{"quantity":"gravity","value":7.5,"unit":"P"},{"quantity":"air_c","value":13.5},{"quantity":"air","value":56,"unit":"F"}]`
	if got := reply[received](t, s.sends(key, many), 201); got.Kept != 10 {
		t.Errorf("%+v", got)
	}
	if got := reply[received](t, s.sends(key, `{"quantity":"pressure","value":11,"unit":"psi","id":"a1","time":"2026-03-04T17:00:00Z"}`), 200); got.Kept != 0 || got.Known != 1 {
		t.Errorf("sent again: %+v", got)
	}
	if got := reply[received](t, s.sends(key, `[{"quantity":"pressure","value":11,"unit":"psi","id":"b"},{"quantity":"pressure","value":11,"unit":"psi","id":"b"}]`), 201); got.Kept != 1 || got.Known != 1 {
		t.Errorf("one id twice in a message: %+v", got)
	}
	log := s.log("Dunlin").Log.Readings
	if len(log) != 12 || len(s.log("Godwit").Log.Readings) != 0 {
		t.Fatalf("kept %d, and %d elsewhere", len(log), len(s.log("Godwit").Log.Readings))
	}
	if r := log[0]; r.Quantity != batch.Pressure || math.Abs(r.Value-11*unit.PSI) > 1e-6 || !r.Unattended || !r.Time.Equal(time.Date(2026, 3, 4, 17, 0, 0, 0, time.UTC)) {
		t.Errorf("%+v", r)
	}
	entries, _, err := s.watch.Store().Log(t.Context(), s.batches["Dunlin"], 0)
	if err != nil || entries[1].By != "device strip" || !entries[1].At.Equal(s.now) {
		t.Errorf("%+v, %v", entries[1], err)
	}
	tray := reply[struct{ Messages []trayLine }](t, call(s.Site, "GET", "/api/v1/tray", "", ""), 200)
	if tray.Messages == nil || len(tray.Messages) != 0 {
		t.Errorf("in the tray: %v", tray.Messages)
	}
}

// What cannot be read is kept nowhere but in the tray, with the reason; what stands beside it is kept.
func TestDeviceUnreadable(t *testing.T) {
	s := newFilled(t, "Dunlin")
	key := s.keyed("strip", "Dunlin")
	cases := []struct{ body, say string }{
		{"", "accepted"}, {"18.4 C", "accepted"}, {"[]", "accepted"}, {`"x"`, "accepted"}, {`{"quantity":"temperature","value":18.4`, "accepted"},
		{`{"quantity":"colour","value":3,"unit":"EBC"}`, "air, cylinder, gravity, mass, pressure, temperature"}, {`{"quantity":"pressure_c","value":3}`, "accepted"},
		{`{"quantity":"temperature","value":18.4}`, "unit"}, {`{"quantity":"pressure","value":10}`, "unit"}, {`{"quantity":"temperature","value":null,"unit":"C"}`, "a number"},
		{`{"quantity":"temperature","value":[1],"unit":"C"}`, "a number"}, {`{"quantity":"temperature","value":"NaN","unit":"C"}`, "NaN"}, {`{"quantity":"temperature","value":1e99,"unit":"C"}`, "read"},
		{`{"quantity":"pressure","value":900,"unit":"bar"}`, "bar"}, {`{"quantity":"temperature","value":18.4,"unit":"psi"}`, "psi"},
		{`{"quantity":"temperature","value":18,"unit":"C","time":"yesterday"}`, "with its zone"}, {`{"quantity":"temperature","value":18,"unit":"C","time":"2099-01-01T00:00:00Z"}`, "yet to come"},
		{`{"quantity":"temperature","value":18,"unit":"C","id":"` + strings.Repeat("x", 201) + `"}`, "200 bytes"}, {"{\"quantity\":\"\x00\xff<script>\"}", "accepted"},
	}
	for _, c := range cases {
		if p := reply[problem](t, s.sends(key, c.body), 422); !strings.Contains(p.Detail, c.say) {
			t.Errorf("%s: said %q, want %q", c.body, p.Detail, c.say)
		}
	}
	tray := reply[struct{ Messages []trayLine }](t, call(s.Site, "GET", "/api/v1/tray", "", ""), 200).Messages
	if len(tray) != 10 || tray[0].Device != "strip" || !strings.Contains(tray[0].Message, "<script>") || strings.ContainsAny(tray[0].Message, "\x00") || tray[0].Reason == "" {
		t.Errorf("in the tray: %+v", tray)
	}
	page := get(s.Site, "/what-i-have")
	checkPage(t, "/what-i-have", page.Body.String(), parse(t, page))
	if body := page.Body.String(); !strings.Contains(body, "Messages I could not read") || strings.Contains(body, "<script>") {
		t.Error("What I have does not show the tray as it should")
	}
	got := reply[received](t, s.sends(key, `[{"quantity":"temperature","value":18,"unit":"C"},{"quantity":"temperature"}]`), 201)
	if got.Kept != 1 || len(got.Refused) != 1 || got.Refused[0].Place != 2 {
		t.Errorf("half of it readable: %+v", got)
	}
	if n := len(s.log("Dunlin").Log.Readings); n != 1 {
		t.Errorf("kept %d", n)
	}
}

// A key opens its own vessel and nothing else: not another batch by its ids, not a page, not after it was taken away.
func TestDeviceElsewhere(t *testing.T) {
	s := newFilled(t, "Dunlin", "Godwit")
	s.OpenBeyond(Beyond{})
	if _, err := s.watch.Store().AddPerson(t.Context(), "Olga", store.Owner, rightWords); err != nil {
		t.Fatal(err)
	}
	d, key, err := s.watch.Store().AddDevice(t.Context(), "strip", s.vessels["Dunlin"])
	if err != nil {
		t.Fatal(err)
	}
	other := reply[problem](t, s.sends(key, `{"quantity":"temperature","value":18,"unit":"C","id":"`+s.batches["Godwit"].String()+`"}`), 409)
	if !strings.Contains(other.Detail, "something else") {
		t.Error(other.Detail)
	}
	for _, path := range []string{"/api/v1/batches", "/api/v1/tray", "/", "/api/v1/batches/" + s.batches["Dunlin"].String() + "/forecast"} {
		for _, headers := range [][]string{{"Authorization", "Bearer " + key}, {"Cookie", sessionCookie + "=" + key}} {
			if w := from(s.Site, "192.168.1.9", "GET", path, nil, append(headers, "Host", "localhost")...); w.Code != 401 && w.Code != 303 {
				t.Errorf("%s with a device's key: %d", path, w.Code)
			}
		}
	}
	for _, wrong := range []string{key + "a", strings.ToUpper(key), d.ID.String(), "x"} {
		reply[problem](t, s.sends(wrong, `{"quantity":"temperature","value":18,"unit":"C"}`), 401)
	}
	refused := 0
	for range sendsAtOnce + 30 {
		if s.sends(key, `{"quantity":"temperature","value":18,"unit":"C"}`).Code == 429 {
			refused++
		}
	}
	if refused < 10 {
		t.Errorf("%d of %d messages at once were refused", refused, sendsAtOnce+30)
	}
	if w := s.sends(key, `[`+strings.Repeat(" ", mostBody)); w.Code != 413 && w.Code != 429 {
		t.Errorf("a large message: %d", w.Code)
	}
	if err := s.watch.Store().RemoveDevice(t.Context(), "strip"); err != nil {
		t.Fatal(err)
	}
	reply[problem](t, s.sends(key, `{}`), 401)
}

// The page makes a key that works, and shows it once.
func TestDevicesPage(t *testing.T) {
	s := newFilled(t, "Dunlin")
	w := post(s.Site, "/settings/devices", url.Values{"name": {"strip"}, "vessel": {s.vessels["Dunlin"].String()}})
	d := parse(t, w)
	checkPage(t, "/settings/devices", w.Body.String(), d)
	if w.Code != 201 {
		t.Fatalf("%d %s", w.Code, w.Body)
	}
	_, key, _ := strings.Cut(w.Body.String(), "/in/")
	key = key[:strings.IndexByte(key, '<')]
	reply[received](t, s.sends(key, `{"quantity":"temperature","value":18.4,"unit":"C"}`), 201)
	again := get(s.Site, "/settings/devices")
	checkPage(t, "/settings/devices", again.Body.String(), parse(t, again))
	if !strings.Contains(again.Body.String(), "answers to this machine alone") {
		t.Error("not told that no other machine can send")
	}
	if body := again.Body.String(); strings.Contains(body, key) || !strings.Contains(body, "strip") {
		t.Error("the key is shown again, or the device is not")
	}
	for name, form := range map[string]url.Values{"twice": {"name": {"Strip"}, "vessel": {s.vessels["Dunlin"].String()}}, "nowhere": {"name": {"other"}, "vessel": {"x"}}, "no name": {"vessel": {s.vessels["Dunlin"].String()}}} {
		if w := post(s.Site, "/settings/devices", form); w.Code != 422 || !strings.Contains(w.Body.String(), "There is a problem") {
			t.Errorf("%s: %d", name, w.Code)
		}
	}
	if w := post(s.Site, "/settings/devices", url.Values{"remove": {"strip"}}); w.Code != 303 {
		t.Errorf("%d", w.Code)
	}
	reply[problem](t, s.sends(key, `{}`), 401)
	for body, status := range map[string]int{`{"name":"a"}`: 422, `{"name":"a","batch":"x"}`: 422, `{"name":"a","batch":"` + store.NewID().String() + `"}`: 404, `{"name":"","batch":"` + s.batches["Dunlin"].String() + `"}`: 422} {
		w := call(s.Site, "POST", "/api/v1/devices", "application/json", body)
		if p := reply[problem](t, w, status); p.Detail == "" || !json.Valid(w.Body.Bytes()) {
			t.Errorf("%s: %+v", body, p)
		}
	}
}
