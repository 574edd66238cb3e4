package web

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"spile/batch"
	"spile/internal/store"
)

// call asks the door for programs.
func call(s *Site, method, address, kind, body string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, "http://localhost:8417"+address, strings.NewReader(body))
	if kind != "" {
		r.Header.Set("Content-Type", kind)
	}
	w := httptest.NewRecorder()
	s.ServeHTTP(w, r)
	return w
}

// reply reads an answer of the status that is wanted.
func reply[T any](t *testing.T, w *httptest.ResponseRecorder, status int) (v T) {
	t.Helper()
	kind := "application/json"
	if status >= 400 {
		kind = "application/problem+json"
	}
	if w.Code != status || w.Header().Get("Content-Type") != kind {
		t.Fatalf("expected %d as %s, got %d as %s: %s", status, kind, w.Code, w.Header().Get("Content-Type"), w.Body)
	}
	if err := json.Unmarshal(w.Body.Bytes(), &v); err != nil {
		t.Fatalf("%v: %s", err, w.Body)
	}
	return v
}

// The batch of the contract, as YAML and as the same in JSON.
const (
	yamlBatch = `name: Sluice Gate Pale, third
pitched: 2026-03-01T18:30:00+01:00
wort:   {volume: 20 L, gravity: "1.046", bitterness: 28 IBU}
yeast:  {kind: ale, form: dry, mass: 11.5 g, attenuation: 77 %}
vessel: {capacity: 26 L, diameter: 0.30 m, rating: 2.5 bar, safety_relief: 2.2 bar}
place:  {ambient: 16 C, altitude: 40 m}
programme:
  - {at: pitch, hold: 20 C, relief: 10 psi}
`
	jsonBatch = `{"name":"Sluice Gate Pale, third","pitched":"2026-03-01T18:30:00+01:00","wort":{"volume":"20 L","gravity":"1.046"},"yeast":{"kind":"ale"},
"vessel":{"capacity":"26 L","diameter":"0.30 m"},"place":{"ambient":"16 C","altitude":"40 m"}}`
)

type begun struct{ ID string }

func TestAPIBatches(t *testing.T) {
	s := newFilled(t)
	if got := reply[struct{ Batches []any }](t, call(s.Site, "GET", apiBatches, "", ""), 200); got.Batches == nil || len(got.Batches) != 0 {
		t.Errorf("an empty cellar lists %v", got)
	}
	first := reply[begun](t, call(s.Site, "POST", apiBatches, "application/yaml", yamlBatch), 201)
	reply[begun](t, call(s.Site, "POST", apiBatches, "application/json; charset=utf-8", jsonBatch), 201)
	id := store.NewID().String()
	reply[begun](t, call(s.Site, "POST", apiBatches+"?id="+id, "application/yaml", yamlBatch), 201)
	if again := reply[begun](t, call(s.Site, "POST", apiBatches+"?id="+id, "application/yaml", yamlBatch), 200); again.ID != id {
		t.Errorf("asked twice: %s, then %s", id, again.ID)
	}
	list := reply[struct{ Batches []struct{ ID, Name string } }](t, call(s.Site, "GET", apiBatches, "", ""), 200)
	if len(list.Batches) != 3 || list.Batches[0].Name != "Sluice Gate Pale, third" || !strings.Contains(fmt.Sprint(list.Batches), first.ID) {
		t.Errorf("listed: %+v", list)
	}
	for _, c := range []struct {
		kind, body string
		status     int
		say        string
	}{
		{"text/plain", yamlBatch, 415, "application/yaml"}, {"", yamlBatch, 415, "accepted"},
		{"application/yaml", "", 422, "an empty file"}, {"application/yaml", strings.Replace(yamlBatch, "20 L", "20", 1), 422, "BATCH.yaml:3: wort.volume"},
		{"application/yaml", strings.Replace(yamlBatch, "rating", "ratign", 1), 422, "did you mean rating?"}, {"application/json", `{"name":1`, 422, "not YAML"},
		{"application/yaml", strings.Repeat("#", mostBody+1), 413, "64 kB"},
	} {
		if p := reply[problem](t, call(s.Site, "POST", apiBatches, c.kind, c.body), c.status); !strings.Contains(p.Detail, c.say) || p.Status != c.status {
			t.Errorf("%.40q: said %q, want %q", c.body, p.Detail, c.say)
		}
	}
}

type toldPage struct {
	Entries []map[string]any
	Next    *string
}

func TestAPIEntries(t *testing.T) {
	s := newFilled(t, "Dunlin")
	at := apiBatches + "/" + s.batches["Dunlin"].String() + "/entries"
	tell := func(body string) *httptest.ResponseRecorder {
		return call(s.Site, "POST", at, "application/json", body)
	}
	id := store.NewID().String()
	full := `{"id":"` + id + `","time":"2026-03-03T08:00:00+01:00","pressure_kpa":68.95,"temperature_c":19.5,"gravity_sg":1.03,"mass_kg":25.4,"air_c":13.5,"event":"sample 150 mL","note":"clear","instrument":"probe"}`
	if got := reply[begun](t, tell(full), 201); got.ID != id {
		t.Errorf("kept under %s, sent under %s", got.ID, id)
	}
	reply[begun](t, tell(full), 200)
	reply[begun](t, tell(strings.Replace(full, "19.5", "20.5", 1)), 200) // one id is one entry
	other := reply[begun](t, tell(`{"id":"sensor-7/1041","time":"2026-03-03T09:00:00Z","temperature_c":19}`), 201)
	if again := reply[begun](t, tell(`{"id":"sensor-7/1041","time":"2026-03-03T09:00:00Z","temperature_c":19}`), 200); again != other {
		t.Errorf("one name of its own is two entries: %s, %s", other, again)
	}
	reply[begun](t, tell(`{"id":"n","time":"2026-03-03T10:00:00Z","note":"smells of apples"}`), 201)
	got := reply[toldPage](t, call(s.Site, "GET", at, "", ""), 200)
	if len(got.Entries) != 3 || got.Next != nil {
		t.Fatalf("told: %+v", got)
	}
	for key, want := range map[string]any{"id": id, "kind": "reading", "time": "2026-03-03T07:00:00Z", "pressure_kpa": 68.95, "temperature_c": 19.5, "gravity_sg": 1.03, "mass_kg": 25.4, "air_c": 13.5,
		"event": "sample 0.15 L", "note": "clear", "instrument": "probe", "holds": true} {
		if got.Entries[0][key] != want {
			t.Errorf("%s: got %v, want %v", key, got.Entries[0][key], want)
		}
	}
	if got.Entries[2]["kind"] != "note" || got.Entries[2]["temperature_c"] != nil {
		t.Errorf("a note: %v", got.Entries[2])
	}
	log := s.log("Dunlin")
	if len(log.Log.Readings) != 6 || len(log.Log.Events) != 1 || len(log.Notes) != 2 {
		t.Errorf("kept %d readings, %d events, %d notes; want 6, 1, 2", len(log.Log.Readings), len(log.Log.Events), len(log.Notes))
	}
}

// Pages follow one another without a gap; what was corrected or taken back is told as such.
func TestAPIPages(t *testing.T) {
	s := newFilled(t, "Dunlin")
	at := apiBatches + "/" + s.batches["Dunlin"].String() + "/entries"
	for i := range 25 {
		reply[begun](t, call(s.Site, "POST", at, "application/json", fmt.Sprintf(`{"id":"r%d","time":"2026-03-03T08:%02d:00Z","temperature_c":%d}`, i, 59-i, i)), 201)
	}
	var seen []float64
	pages := 0
	for address := at + "?limit=10"; ; pages++ {
		got := reply[toldPage](t, call(s.Site, "GET", address, "", ""), 200)
		for _, e := range got.Entries {
			seen = append(seen, e["temperature_c"].(float64))
		}
		if got.Next == nil {
			break
		}
		address = *got.Next
	}
	for i, v := range seen {
		if v != float64(i) {
			t.Fatalf("told in the order %v", seen)
		}
	}
	if len(seen) != 25 || pages != 2 {
		t.Errorf("%d lines on %d pages, want 25 on 3", len(seen), pages+1)
	}
	first := s.log("Dunlin").Log.Readings[0]
	if _, err := s.watch.Keep(t.Context(), batch.Entry{ID: store.NewID(), Batch: s.batches["Dunlin"], Kind: batch.KindTakenBack, Supersedes: first.Entry, At: s.now, Made: s.now}); err != nil {
		t.Fatal(err)
	}
	gone, ends := 0, 0
	for _, e := range reply[toldPage](t, call(s.Site, "GET", at, "", ""), 200).Entries {
		if e["holds"] == false && e["id"] == first.Entry.String() {
			gone++
		}
		if e["kind"] == "taken-back" && e["supersedes"] == first.Entry.String() {
			ends++
		}
	}
	if gone != 1 || ends != 1 {
		t.Errorf("taken back: told %d times as gone, by %d lines", gone, ends)
	}
}

func TestAPIRefusals(t *testing.T) {
	s := newFilled(t, "Dunlin")
	at := apiBatches + "/" + s.batches["Dunlin"].String() + "/entries"
	const ok = `"id":"x","time":"2026-03-03T08:00:00Z"`
	for _, c := range []struct {
		method, address, kind, body string
		status                      int
		say                         string
	}{
		{"POST", at, "application/json", `{` + ok + `}`, 422, "nothing that was read"}, {"POST", at, "application/json", `{"time":"2026-03-03T08:00:00Z","gravity_sg":1.03}`, 422, "no id"},
		{"POST", at, "application/json", `{"id":"x","gravity_sg":1.03}`, 422, "with its zone"}, {"POST", at, "application/json", `{"id":"x","time":"yesterday","gravity_sg":1.03}`, 422, "yesterday"},
		{"POST", at, "application/json", `{"id":"x","time":"2099-01-01T00:00:00Z","gravity_sg":1.03}`, 422, "yet to come"},
		{"POST", at, "application/json", `{` + ok + `,"pressure_psi":10}`, 422, "pressure_kpa"}, {"POST", at, "application/json", `{` + ok + `,"pressure_kpa":5000}`, 422, "accepted: -101.35 to 1034.2."},
		{"POST", at, "application/json", `{` + ok + `,"gravity_sg":46}`, 422, "0.98 to 1.2"}, {"POST", at, "application/json", `{` + ok + `,"gravity_sg":"1.03"}`, 422, "accepted"},
		{"POST", at, "application/json", `{` + ok + `,"event":"danced"}`, 422, "gas off"}, {"POST", at, "application/json", `{` + ok + `,"gravity_sg":1.03} {}`, 422, "more than one"},
		{"POST", at, "application/json", `[]`, 422, "accepted"}, {"POST", at, "application/json", ``, 422, "accepted"}, {"POST", at, "text/csv", `{}`, 415, "application/json"},
		{"POST", apiBatches + "/" + store.NewID().String() + "/entries", "application/json", `{` + ok + `,"gravity_sg":1.03}`, 404, "no batch"},
		{"GET", apiBatches + "/nothing/entries", "", "", 404, "UUID"}, {"GET", apiBatches + "/" + store.NewID().String() + "/forecast", "", "", 404, "no batch"},
		{"GET", at + "?limit=0", "", "", 422, "1 to 1000"}, {"GET", at + "?after=x", "", "", 422, "UUID"},
		{"GET", strings.Replace(at, "/entries", "/forecast?at=noon", 1), "", "", 422, "with its zone"}, {"GET", strings.Replace(at, "/entries", "/forecast?seed=x", 1), "", "", 422, "whole number"},
		{"GET", strings.Replace(at, "/entries", "/forecast?at=2020-01-01T00:00:00Z", 1), "", "", 422, "from pitching"},
	} {
		p := reply[problem](t, call(s.Site, c.method, c.address, c.kind, c.body), c.status)
		if !strings.Contains(p.Detail, c.say) || p.Title == "" || strings.ContainsAny(p.Detail, "\n\r") {
			t.Errorf("%s %s %s: said %q, want one line with %q", c.method, c.address, c.body, p.Detail, c.say)
		}
	}
	if n := s.entries("Dunlin"); n != 1 {
		t.Errorf("%d entries after refusals alone, want the batch", n)
	}
}

// The forecast is the one that the pages show, in the form of the command line; one that looks from
// another moment ignores what came after it, and the same seed gives the same bytes.
func TestAPIForecast(t *testing.T) {
	s := newFilled(t, "Dunlin").foretold()
	at := apiBatches + "/" + s.batches["Dunlin"].String()
	reply[begun](t, call(s.Site, "POST", at+"/entries", "application/json", `{"id":"g","time":"2026-03-04T17:00:00Z","gravity_sg":1.02}`), 201)
	type forecast struct {
		At   string
		Seed uint64
		Now  struct {
			Gravity_sg struct{ P05, P50, P95 float64 }
		}
		Series struct{ Hours []float64 }
	}
	got := reply[forecast](t, call(s.Site, "GET", at+"/forecast", "", ""), 200)
	if g := got.Now.Gravity_sg; !(g.P05 > 1.010 && g.P50 < 1.023 && g.P05 < g.P95) || got.At != s.now.Format(time.RFC3339) || len(got.Series.Hours) < 168 {
		t.Errorf("an hour after a reading of 1.020: %+v at %s, %d hours", g, got.At, len(got.Series.Hours))
	}
	address := at + "/forecast?seed=7&at=" + "2026-03-03T18:00:00Z"
	before := call(s.Site, "GET", address, "", "")
	if got := reply[forecast](t, before, 200); got.At != "2026-03-03T18:00:00Z" || got.Seed != 7 {
		t.Errorf("asked for another moment and seed: %s, %d", got.At, got.Seed)
	}
	reply[begun](t, call(s.Site, "POST", at+"/entries", "application/json", `{"id":"h","time":"2026-03-04T17:30:00Z","gravity_sg":1.019}`), 201)
	after := call(s.Site, "GET", address, "", "")
	if withoutElapsed(before.Body.String()) != withoutElapsed(after.Body.String()) {
		t.Error("what came later changed a forecast that looks from before it")
	}
}

func withoutElapsed(text string) string {
	var out []string
	for line := range strings.Lines(text) {
		if !strings.Contains(line, "elapsed_ms") {
			out = append(out, line)
		}
	}
	return strings.Join(out, "")
}

// A program is answered as a program whatever it asks for.
func TestAPIOnlySpeaksJSON(t *testing.T) {
	s := newFilled(t)
	for _, method := range []string{http.MethodDelete, http.MethodPut, http.MethodPatch} {
		reply[problem](t, call(s.Site, method, apiBatches, "application/json", "{}"), 404)
	}
}
