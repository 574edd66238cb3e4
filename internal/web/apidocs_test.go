package web

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"maps"
	"os"
	"slices"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write docs/api.md anew, and take out of testdata/outside.txt what no page says any more")

const apiDocs = "../../docs/api.md"

// docs/api.md is the description as people read it, and is current.
func TestAPIDocs(t *testing.T) {
	doc := reply[map[string]any](t, call(newFilled(t).Site, "GET", "/api/v1/openapi.json", "", ""), 200)
	p := &apiPage{t: t, doc: doc}
	p.write()
	if *update {
		if err := os.WriteFile(apiDocs, p.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	kept, err := os.ReadFile(apiDocs)
	if err != nil || !bytes.Equal(kept, p.Bytes()) {
		t.Errorf("docs/api.md is not current (%v): go test ./internal/web -run APIDocs -update", err)
	}
}

// apiPage writes the description as a page.
type apiPage struct {
	bytes.Buffer
	t   *testing.T
	doc map[string]any
}

func (p *apiPage) line(format string, args ...any) { fmt.Fprintf(p, format+"\n", args...) }

func (p *apiPage) write() {
	p.line("# The door for programs\n\nMade from `/api/v1/openapi.json` (OpenAPI %s); do not change it by hand.\n", p.doc["openapi"])
	p.line("%s\n", strings.ReplaceAll(p.doc["info"].(map[string]any)["description"].(string), ". ", ".\n"))
	list := operations(p.t, p.doc)
	p.line("| ask | for |\n|---|---|")
	for _, o := range list {
		p.line("| [`%s %s`](#%s) | %s |", o.method, o.path, anchorOf(o), o.doc["summary"])
	}
	for _, o := range list {
		p.operation(o)
	}
	p.line("\n## What is in them\n\nA key with * is always there.")
	schemas := p.doc["components"].(map[string]any)["schemas"].(map[string]any)
	for _, name := range slices.Sorted(maps.Keys(schemas)) {
		schema := schemas[name].(map[string]any)
		p.line("\n### %s\n", name)
		if says, given := schema["description"]; given {
			p.line("%s\n", says)
		}
		p.line("| key | is | |\n|---|---|---|")
		p.keys("", schema)
	}
}

func anchorOf(o operation) string {
	return strings.ToLower(strings.NewReplacer(" ", "-", "/", "", "{", "", "}", "", ".", "").Replace(o.method + " " + o.path))
}

func (p *apiPage) operation(o operation) {
	p.line("\n## %s %s\n\n%s.", o.method, o.path, o.doc["summary"])
	if len(o.params) > 0 {
		p.line("\n| in the address | is | |\n|---|---|---|")
	}
	for _, x := range o.params {
		name := x["name"].(string)
		if x["in"] == "query" {
			name = "?" + name + "="
		}
		p.line("| `%s` | %s | %s |", name, p.kind(x["schema"].(map[string]any)), orNothing(x["description"]))
	}
	if taken := contentsOf(o.doc["requestBody"]); len(taken) > 0 {
		for _, kind := range slices.Sorted(maps.Keys(taken)) {
			p.line("\nSend %s as `%s`:\n", p.kind(taken[kind].(map[string]any)["schema"].(map[string]any)), kind)
			p.example(taken[kind].(map[string]any)["example"])
		}
	}
	answers := o.doc["responses"].(map[string]any)
	p.line("\n| answer | says |\n|---|---|")
	for _, code := range slices.Sorted(maps.Keys(answers)) {
		for kind, media := range contentsOf(answers[code]) {
			p.line("| %s | %s (%s, `%s`) |", code, answers[code].(map[string]any)["description"], p.kind(media.(map[string]any)["schema"].(map[string]any)), kind)
		}
	}
	for _, code := range slices.Sorted(maps.Keys(answers)) {
		for _, media := range contentsOf(answers[code]) {
			if example, given := media.(map[string]any)["example"]; given && code < "300" {
				p.line("\nSuch as, with %s:\n", code)
				p.example(example)
			}
		}
	}
}

func orNothing(v any) string {
	text, _ := v.(string)
	return text
}

func (p *apiPage) example(v any) {
	text, written := v.(string)
	if !written {
		out, err := json.MarshalIndent(v, "", "  ")
		if err != nil {
			p.t.Fatal(err)
		}
		text = string(out)
	}
	p.line("```\n%s\n```", strings.TrimSpace(strings.ReplaceAll(text, "\r\n", "\n")))
}

// kind says in a few words what a schema takes.
func (p *apiPage) kind(s map[string]any) string {
	if to, is := s["$ref"].(string); is {
		name := strings.TrimPrefix(to, "#/components/schemas/")
		if _, own, within := strings.Cut(name, "/$defs/"); within {
			return own
		}
		return fmt.Sprintf("[%s](#%s)", name, strings.ToLower(name))
	}
	for _, word := range []string{"oneOf", "anyOf"} {
		var each []string
		for _, x := range asList(s[word]) {
			each = append(each, p.kind(x.(map[string]any)))
		}
		if each != nil {
			return strings.Join(each, ", or ")
		}
	}
	if values := asList(s["enum"]); values != nil {
		return "one of " + commaed(values)
	}
	is := commaed(s["type"])
	if items, has := s["items"].(map[string]any); has && items["properties"] != nil {
		return "array of objects"
	} else if has {
		return "array of " + p.kind(items)
	}
	if properties, own := s["properties"].(map[string]any); own {
		var each []string
		for _, key := range slices.Sorted(maps.Keys(properties)) {
			each = append(each, fmt.Sprintf("`%s` (%s)", key, p.kind(properties[key].(map[string]any))))
		}
		return is + " of " + strings.Join(each, ", ")
	}
	if format := orNothing(s["format"]); format != "" {
		is += ", " + format
	}
	return is
}

func commaed(v any) string {
	if list, many := v.([]any); many {
		words := make([]string, len(list))
		for i, x := range list {
			words[i] = fmt.Sprint(x)
		}
		return strings.Join(words, ", ")
	}
	return orNothing(v)
}

// keys are the rows of the properties of a schema, those within them behind a dot.
func (p *apiPage) keys(before string, s map[string]any) {
	properties, _ := s["properties"].(map[string]any)
	for _, key := range slices.Sorted(maps.Keys(properties)) {
		x := properties[key].(map[string]any)
		name, says := "`"+before+key+"`", orNothing(x["description"])
		if slices.Contains(asList(s["required"]), any(key)) {
			name += " *"
		}
		if examples := asList(x["examples"]); examples != nil {
			says = strings.TrimSpace(says + " such as " + commaed(examples))
		}
		is := p.kind(x)
		if x["properties"] != nil {
			is = commaed(x["type"]) // what is in it follows
		}
		p.line("| %s | %s | %s |", name, is, says)
		p.keys(before+key+".", x)
		if items, has := x["items"].(map[string]any); has {
			p.keys(before+key+"[].", items)
		}
	}
	if defs, has := s["$defs"].(map[string]any); has {
		for _, name := range slices.Sorted(maps.Keys(defs)) {
			p.line("| %s | %s | |", name, commaed(defs[name].(map[string]any)["type"]))
			p.keys(name+".", defs[name].(map[string]any))
		}
	}
}
