package web

import (
	"encoding/json"
	"fmt"
	"maps"
	"net/http/httptest"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"spile/batch"
	"spile/internal/monitor"
)

// story asks the doors of a server one after the other, and holds each answer to the example of it.
type story struct {
	t     *testing.T
	s     *filled
	doc   map[string]any
	given *strings.Replacer // what stands in braces in an address
	held  map[string]bool   // the answers that were held
}

// asked is what the description shows as the body of a request.
func (x *story) asked(method, path, kind string) string {
	x.t.Helper()
	return x.text(x.operation(method, path)["requestBody"], kind)
}

func (x *story) operation(method, path string) map[string]any {
	return x.doc["paths"].(map[string]any)[path].(map[string]any)[strings.ToLower(method)].(map[string]any)
}

// text is the example of a body as it is sent.
func (x *story) text(body any, kind string) string {
	x.t.Helper()
	example := contentsOf(body)[kind].(map[string]any)["example"]
	if text, is := example.(string); is {
		return text
	}
	return string(encoded(x.t, example))
}

// tells sends a request and holds its answer to the example, value by value.
func (x *story) tells(code int, method, path, query, kind, body string) {
	x.t.Helper()
	w := call(x.s.Site, method, x.given.Replace(path)+query, kind, body)
	if w.Code != code {
		x.t.Fatalf("%s %s: answered %d %s, expected %d", method, path, w.Code, w.Body, code)
	}
	described := x.operation(method, path)["responses"].(map[string]any)[fmt.Sprint(code)]
	for as := range contentsOf(described) {
		x.same(w, x.text(described, as), method+" "+path)
		x.held[fmt.Sprintf("%s %s %d", method, path, code)] = true
	}
}

// same compares an answer with a text, as JSON where it is.
func (x *story) same(w *httptest.ResponseRecorder, want, of string) {
	x.t.Helper()
	var got, shown any
	if json.Unmarshal(w.Body.Bytes(), &got) != nil || json.Unmarshal([]byte(want), &shown) != nil {
		got, shown = w.Body.String(), want
	}
	if !reflect.DeepEqual(got, shown) {
		x.t.Errorf("%s\nanswers %s\nshown   %s", of, encoded(x.t, got), encoded(x.t, shown))
	}
}

// The batch and the key that the examples show.
const shownBatch, shownKey = "01937f0e-2f1a-7c3b-9a55-0a1b2c3d4e5f", "mfzwizlsnfxgo2lomrswyzlsmfzwizls"

// What the description shows as an answer is what is answered to its own requests, sent in their order, value by value.
func TestAPIExamplesAreAnswered(t *testing.T) {
	x := &story{t: t, s: newFilled(t), given: strings.NewReplacer(), held: map[string]bool{}}
	x.s.now = time.Date(2026, 11, 21, 7, 0, 4, 0, time.UTC)
	x.doc = reply[map[string]any](t, call(x.s.Site, "GET", "/api/v1/openapi.json", "", ""), 200)
	const batches, devices, in = "/api/v1/batches", "/api/v1/devices", "/in/{key}"
	const entries, readings = batches + "/{batch}/entries", batches + "/{batch}/readings"
	x.given = strings.NewReplacer("{batch}", shownBatch)
	x.tells(201, "POST", batches, "?id="+shownBatch, "application/yaml", x.asked("POST", batches, "application/yaml"))
	x.tells(200, "POST", batches, "?id="+shownBatch, "application/json", x.asked("POST", batches, "application/json"))
	x.tells(200, "GET", batches, "", "", "")
	made := reply[struct{ Name, Key string }](t, call(x.s.Site, "POST", devices, "application/json", x.asked("POST", devices, "application/json")), 201)
	if form := regexp.MustCompile(`^[a-z2-7]{32}$`); !form.MatchString(made.Key) || !form.MatchString(shownKey) {
		t.Errorf("a key is %s, and shown as %s", made.Key, shownKey)
	}
	x.given = strings.NewReplacer("{batch}", shownBatch, "{key}", made.Key)
	x.same(call(x.s.Site, "GET", "/healthz", "", ""), "ok\n", "GET /healthz")

	x.tells(201, "POST", entries, "", "application/json", x.asked("POST", entries, "application/json"))
	x.tells(200, "POST", entries, "", "application/json", x.asked("POST", entries, "application/json"))
	x.tells(200, "GET", entries, "", "", "")
	x.tells(201, "POST", in, "", "application/json", x.asked("POST", in, "application/json"))
	x.tells(200, "POST", in, "", "application/json", x.asked("POST", in, "application/json"))
	call(x.s.Site, "POST", x.given.Replace(in), "application/json", `{"quantity":"temperature","value":18.4}`)
	x.tells(200, "GET", "/api/v1/tray", "", "", "")
	x.s.now = x.s.now.Add(24 * time.Hour)
	x.tells(200, "POST", readings, "?dry-run=true", "text/csv", "when,SG,pressure\n2026-11-21 09:00,1.041,2.5\n2026-11-21 09:30,1.040,3\n")
	wrong := call(x.s.Site, "POST", x.given.Replace(entries), "application/json", `{"id":"01937f1b-7d00-7e21-8c44-5f6e7d8c9b0b","time":"2026-11-21T08:00:00+01:00","pressure_kpa":9000}`)
	x.same(wrong, string(encoded(t, x.doc["components"].(map[string]any)["schemas"].(map[string]any)["Problem"].(map[string]any)["example"])), "a refusal")
	x.complete(map[string]bool{
		"POST /api/v1/devices 201": true, "GET /healthz 200": true, // above
		"POST /api/v1/batches/{batch}/readings 201": true,                        // TestAPIExamplesAnswerEachOther
		"GET /metrics 200":                          true,                        // TestMetricsAsDescribed
		"GET /calendar/{file} 200":                  true, "GET /live 200": true, // TestOtherExamplesAreAnswered
	})
}

// complete holds that no example is left out.
func (x *story) complete(elsewhere map[string]bool) {
	x.t.Helper()
	for _, o := range operations(x.t, x.doc) {
		for code, answer := range o.doc["responses"].(map[string]any) {
			for _, media := range contentsOf(answer) {
				of := fmt.Sprintf("%s %s %s", o.method, o.path, code)
				if _, shown := media.(map[string]any)["example"]; shown && !x.held[of] && !elsewhere[of] {
					x.t.Errorf("nothing holds the example of %s to what is answered", of)
				}
			}
		}
	}
}

// An event of a calendar has the parts that the description shows, and a change is told as it shows.
func TestOtherExamplesAreAnswered(t *testing.T) {
	s := newFilled(t, "Dunlin").foretold()
	x := &story{t: t, s: s, doc: reply[map[string]any](t, call(s.Site, "GET", "/api/v1/openapi.json", "", ""), 200)}
	shown := func(path, kind string) string {
		return x.text(x.operation("GET", path)["responses"].(map[string]any)["200"], kind)
	}
	parts := func(feed string) []string {
		events, _ := readFeed(feed)
		i := slices.IndexFunc(events, func(e map[string]string) bool { return strings.HasSuffix(e["UID"], ".finished") })
		if i < 0 {
			t.Fatalf("no event of the end of fermentation in\n%s", feed)
		}
		return slices.Sorted(maps.Keys(events[i]))
	}
	feed := get(s.Site, newAddress(t, s.Site)).Body.String()
	if got, want := parts(feed), parts(shown("/calendar/{file}", "text/calendar")); !slices.Equal(got, want) || len(got) < 8 {
		t.Errorf("an event has %v, shown %v", got, want)
	}
	id, err := batch.ParseID(shownBatch)
	if err != nil {
		t.Fatal(err)
	}
	if got, want := eventOf(monitor.Change{Batch: id, Position: 12, Told: true}), shown("/live", "text/event-stream"); got != want {
		t.Errorf("a change is told as %q, shown as %q", got, want)
	}
}
