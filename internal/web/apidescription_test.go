package web

import (
	"encoding/json"
	"maps"
	"reflect"
	"slices"
	"strings"
	"testing"
)

// The description names every route of the door for programs and no other, every key that is
// taken or told, and refers to nothing that is not there.
func TestAPIDescription(t *testing.T) {
	s := newFilled(t)
	doc := reply[map[string]any](t, call(s.Site, "GET", "/api/v1/openapi.json", "", ""), 200)
	if v, _ := doc["openapi"].(string); !strings.HasPrefix(v, "3.1.") {
		t.Errorf("openapi %q", v)
	}
	var described, served []string
	for path, item := range doc["paths"].(map[string]any) {
		for method := range item.(map[string]any) {
			if method != "parameters" {
				described = append(described, strings.ToUpper(method)+" "+path)
			}
		}
	}
	for _, r := range s.routes() {
		_, path, _ := strings.Cut(r.pattern, " ")
		if forMachines(path) || slices.Contains([]string{"/live", "/healthz"}, path) {
			served = append(served, r.pattern)
		}
	}
	slices.Sort(described)
	slices.Sort(served)
	if !slices.Equal(described, served) {
		t.Errorf("described %v\nserved    %v", described, served)
	}
	for name, v := range map[string]any{"Entry": apiEntry{}, "Told": toldEntry{}, "BatchLine": apiBatch{}, "Problem": problem{},
		"Sent": sent{}, "Received": received{}, "Unread": trayLine{}, "FromFile": fileReport{}} {
		if got, want := propertiesOf(doc, name), slices.Sorted(maps.Keys(keysOf(reflect.TypeOf(v)))); !slices.Equal(got, want) {
			t.Errorf("%s: described %v, is %v", name, got, want)
		}
	}
	references(t, doc, doc)
}

func propertiesOf(doc map[string]any, name string) []string {
	schema := doc["components"].(map[string]any)["schemas"].(map[string]any)[name].(map[string]any)
	return slices.Sorted(maps.Keys(schema["properties"].(map[string]any)))
}

// keysOf are the keys of a type in JSON.
func keysOf(of reflect.Type) map[string]bool {
	out := map[string]bool{}
	for i := range of.NumField() {
		f := of.Field(i)
		if f.Anonymous {
			maps.Copy(out, keysOf(f.Type))
			continue
		}
		key, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		out[key] = true
	}
	return out
}

// references follows each of them.
func references(t *testing.T, doc map[string]any, v any) {
	switch v := v.(type) {
	case []any:
		for _, x := range v {
			references(t, doc, x)
		}
	case map[string]any:
		for key, x := range v {
			if to, is := x.(string); key == "$ref" && is {
				var at any = doc
				for _, step := range strings.Split(strings.TrimPrefix(to, "#/"), "/") {
					m, ok := at.(map[string]any)
					if !ok || m[step] == nil {
						t.Fatalf("%s leads nowhere", to)
					}
					at = m[step]
				}
			}
			references(t, doc, x)
		}
	}
}

// What the door answers to a forecast has the keys that are described.
func TestAPIForecastAsDescribed(t *testing.T) {
	s := newFilled(t, "Dunlin")
	doc := reply[map[string]any](t, call(s.Site, "GET", "/api/v1/openapi.json", "", ""), 200)
	w := call(s.Site, "GET", apiBatches+"/"+s.batches["Dunlin"].String()+"/forecast?at=2026-03-03T18:00:00Z", "", "")
	var got map[string]json.RawMessage
	if err := json.Unmarshal(w.Body.Bytes(), &got); err != nil {
		t.Fatal(err, w.Body)
	}
	described := slices.DeleteFunc(propertiesOf(doc, "Forecast"), func(key string) bool { return key == "what_if" }) // of the command alone
	if keys := slices.Sorted(maps.Keys(got)); !slices.Equal(keys, described) {
		t.Errorf("answered %v, described %v", keys, described)
	}
}
