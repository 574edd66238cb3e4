package web

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"net/url"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/goccy/go-yaml"
	"github.com/santhosh-tekuri/jsonschema/v6"
)

// operation is one line of the description.
type operation struct {
	method, path string
	doc          map[string]any
	params       []map[string]any // of the path and its own
}

// operations are those of the description, in order.
func operations(t *testing.T, doc map[string]any) (out []operation) {
	t.Helper()
	paths := doc["paths"].(map[string]any)
	for _, path := range slices.Sorted(maps.Keys(paths)) {
		item := paths[path].(map[string]any)
		for _, method := range slices.Sorted(maps.Keys(item)) {
			if method == "parameters" {
				continue
			}
			o := operation{method: strings.ToUpper(method), path: path, doc: item[method].(map[string]any)}
			for _, list := range []any{item["parameters"], o.doc["parameters"]} {
				for _, p := range asList(list) {
					o.params = append(o.params, p.(map[string]any))
				}
			}
			out = append(out, o)
		}
	}
	return out
}

func asList(v any) []any {
	list, _ := v.([]any)
	return list
}

func contentsOf(v any) map[string]any {
	m, _ := v.(map[string]any)
	content, _ := m["content"].(map[string]any)
	return content
}

// checker checks values against the schemas of the description (JSON Schema 2020-12, to which OpenAPI 3.1 refers).
type checker struct {
	t   *testing.T
	all *jsonschema.Compiler
}

const describedAt = "http://localhost/api/v1/openapi.json"

func newChecker(t *testing.T, doc map[string]any) *checker {
	t.Helper()
	text, err := json.Marshal(doc)
	if err != nil {
		t.Fatal(err)
	}
	v, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	c.DefaultDraft(jsonschema.Draft2020)
	c.AssertFormat()
	if err := c.AddResource(describedAt, v); err != nil {
		t.Fatal(err)
	}
	return &checker{t, c}
}

var pointer = strings.NewReplacer("~", "~0", "/", "~1")

// check holds a text in JSON against the schema at a place of the description.
func (c *checker) check(text []byte, place ...string) {
	c.t.Helper()
	at := ""
	for _, step := range place {
		at += "/" + url.PathEscape(pointer.Replace(step))
	}
	schema, err := c.all.Compile(describedAt + "#" + at)
	if err != nil {
		c.t.Fatalf("%s: %v", at, err)
	}
	v, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err == nil {
		err = schema.Validate(v)
	}
	if err != nil {
		c.t.Errorf("%s: %v\n%.600s", at, err, text)
	}
}

func encoded(t *testing.T, v any) []byte {
	t.Helper()
	text, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

// The description is OpenAPI 3.1 by the schema that its authors publish
// (https://spec.openapis.org/oas/3.1/schema/2021-04-15, OpenAPI Initiative, Apache licence 2.0).
func TestAPIIsOpenAPI(t *testing.T) {
	doc := reply[map[string]any](t, call(newFilled(t).Site, "GET", "/api/v1/openapi.json", "", ""), 200)
	schema, err := jsonschema.NewCompiler().Compile("testdata/openapi-3.1.json")
	if err != nil {
		t.Fatal(err)
	}
	if err := schema.Validate(any(doc)); err != nil {
		t.Error(err)
	}
	delete(doc["info"].(map[string]any), "title")
	if err := schema.Validate(any(doc)); err == nil {
		t.Error("a description without a title passes")
	}
}

// Every body that is taken or told has an example, and each fits its schema.
func TestAPIExamples(t *testing.T) {
	doc := reply[map[string]any](t, call(newFilled(t).Site, "GET", "/api/v1/openapi.json", "", ""), 200)
	c := newChecker(t, doc)
	held := 0
	for _, o := range operations(t, doc) {
		at := []string{"paths", o.path, strings.ToLower(o.method)}
		bodies := map[string]any{"requestBody": o.doc["requestBody"]}
		for code, answer := range o.doc["responses"].(map[string]any) {
			if code < "300" && o.path != "/api/v1/openapi.json" && !strings.HasSuffix(o.path, "/forecast") { // which the test below asks for
				bodies["responses/"+code] = answer
			}
		}
		for where, body := range bodies {
			for kind, media := range contentsOf(body) {
				example, given := media.(map[string]any)["example"]
				if !given {
					t.Errorf("%s %s %s %s has no example", o.method, o.path, where, kind)
					continue
				}
				if kind == "application/yaml" {
					if err := yaml.Unmarshal([]byte(example.(string)), &example); err != nil {
						t.Error(err)
					}
				}
				held++
				c.check(encoded(t, example), slices.Concat(at, strings.Split(where, "/"), []string{"content", kind, "schema"})...)
			}
		}
		for i, p := range o.params {
			if example, given := p["example"]; given {
				if _, own := o.doc["parameters"].([]any); own && i >= len(o.params)-len(asList(o.doc["parameters"])) {
					continue
				}
				c.check(encoded(t, example), "paths", o.path, "parameters", fmt.Sprint(i), "schema")
			} else if p["required"] == true {
				t.Errorf("%s %s: %s has no example", o.method, o.path, p["name"])
			}
		}
	}
	c.check(encoded(t, doc["components"].(map[string]any)["schemas"].(map[string]any)["Problem"].(map[string]any)["example"]), "components", "schemas", "Problem")
	if held < 15 {
		t.Errorf("only %d examples", held)
	}
}

// What is described is so: each example is sent to a real door, and each answer is one that is described and fits its
// schema, the refusals too.
func TestAPIAsDescribed(t *testing.T) {
	s := newFilled(t, "Dunlin").foretold()
	doc := reply[map[string]any](t, call(s.Site, "GET", "/api/v1/openapi.json", "", ""), 200)
	c := newChecker(t, doc)
	key := s.keyed("probe", "Dunlin")
	own := regexp.MustCompile(`01937f0e-[0-9a-f-]+`)
	made := strings.TrimPrefix(newAddress(t, s.Site), "/calendar/")
	inPath := strings.NewReplacer("{batch}", s.batches["Dunlin"].String(), "{key}", key, "{file}", made)
	wrong := strings.NewReplacer("{batch}", "01937f0e-2f1a-7c3b-9a55-0a1b2c3d4e5f", "{key}", "x", "{file}", "x.ics")
	ask := func(o operation, path, kind, body string) int {
		t.Helper()
		w := call(s.Site, o.method, path, kind, body)
		described := contentsOf(o.doc["responses"].(map[string]any)[fmt.Sprint(w.Code)])
		got, _, _ := strings.Cut(w.Header().Get("Content-Type"), ";")
		if described[got] == nil {
			t.Errorf("%s %s answers %d %s, which is not described: %s", o.method, path, w.Code, got, w.Body)
		} else if strings.HasSuffix(got, "json") {
			c.check(w.Body.Bytes(), "paths", o.path, strings.ToLower(o.method), "responses", fmt.Sprint(w.Code), "content", got, "schema")
		}
		return w.Code
	}
	for _, o := range operations(t, doc) {
		if o.path == "/live" {
			continue // it does not end; TestLive follows it
		}
		taken := contentsOf(o.doc["requestBody"])
		if len(taken) == 0 {
			taken = map[string]any{"": map[string]any{}}
		}
		for _, kind := range slices.Sorted(maps.Keys(taken)) {
			body, isText := taken[kind].(map[string]any)["example"].(string)
			if !isText && kind != "" {
				body = string(encoded(t, taken[kind].(map[string]any)["example"]))
			}
			body = own.ReplaceAllString(body, s.batches["Dunlin"].String())
			body = strings.ReplaceAll(body, "2026-11-21T08:00:00+01:00", s.now.Add(-time.Hour).Format(time.RFC3339)) // which is yet to come here
			if code := ask(o, inPath.Replace(o.path), kind, body); code >= 300 {
				t.Errorf("%s %s: its own example is answered with %d", o.method, o.path, code)
			}
			if kind != "" {
				ask(o, inPath.Replace(o.path), kind, `{"id": 12`)
			}
			if strings.Contains(o.path, "{") {
				if code := ask(o, wrong.Replace(o.path), kind, body); code < 400 {
					t.Errorf("%s %s answers %d to an id that nothing has", o.method, o.path, code)
				}
			}
		}
	}
}

// What the description shows as the answer to its own file, of its own batch, is what is answered, number by number.
func TestAPIExamplesAnswerEachOther(t *testing.T) {
	s := newFilled(t)
	s.now = time.Date(2026, 11, 22, 12, 0, 0, 0, time.UTC)
	doc := reply[map[string]any](t, call(s.Site, "GET", "/api/v1/openapi.json", "", ""), 200)
	exampleOf := func(path, where, kind string) any {
		post := doc["paths"].(map[string]any)[path].(map[string]any)["post"].(map[string]any)
		if body := post[where]; body != nil {
			return contentsOf(body)[kind].(map[string]any)["example"]
		}
		return contentsOf(post["responses"].(map[string]any)[where])[kind].(map[string]any)["example"]
	}
	const readings = "/api/v1/batches/{batch}/readings"
	begun := call(s.Site, "POST", "/api/v1/batches", "application/json", string(encoded(t, exampleOf("/api/v1/batches", "requestBody", "application/json"))))
	id := reply[map[string]any](t, begun, 201)["id"].(string)
	kept := call(s.Site, "POST", strings.Replace(readings, "{batch}", id, 1), "text/csv", exampleOf(readings, "requestBody", "text/csv").(string))
	got, want := reply[map[string]any](t, kept, 201), exampleOf(readings, "201", "application/json").(map[string]any)
	got["import"] = want["import"] // made anew for each
	if !reflect.DeepEqual(got, want) {
		t.Errorf("answered %v\nshown    %v", got, want)
	}
}

// A checker that cannot fail holds nothing.
func TestCheckerCatches(t *testing.T) {
	doc := reply[map[string]any](t, call(newFilled(t).Site, "GET", "/api/v1/openapi.json", "", ""), 200)
	for place, text := range map[string]string{"Entry": `{"id":"a","time":"yesterday"}`, "BatchLine": `{"id":"x","name":"a"}`, "Batch": `{"name":3}`, "Received": `{"kept":"2","known":0}`} {
		fake := &testing.T{}
		c := newChecker(t, doc)
		c.t = fake
		c.check([]byte(text), "components", "schemas", place)
		if !fake.Failed() {
			t.Errorf("%s passes as %s", text, place)
		}
	}
}
