package web

import (
	"encoding/json"
	"net/http"
	"strings"
	"sync"

	"spile"
)

// description is the door for programs in OpenAPI 3.1: what stands beside these pages, with
// the schemas that the command line publishes put in.
var description = sync.OnceValue(func() []byte {
	text, err := files.ReadFile("static/openapi.json")
	if err != nil {
		panic(err) // it is part of the program
	}
	var doc map[string]any
	if err := json.Unmarshal(text, &doc); err != nil {
		panic(err)
	}
	schemas := doc["components"].(map[string]any)["schemas"].(map[string]any)
	schemas["Batch"] = published("Batch", "batch.json")
	schemas["Forecast"] = published("Forecast", "forecast.json")
	out, err := json.Marshal(doc)
	if err != nil {
		panic(err)
	}
	return out
})

// published is a schema of the command line, its own references leading to where it stands now.
func published(name, file string) (schema map[string]any) {
	text, err := spile.Schemas.ReadFile("docs/schema/" + file)
	if err != nil {
		panic(err) // it is part of the program
	}
	moved := strings.ReplaceAll(string(text), `"#/$defs/`, `"#/components/schemas/`+name+`/$defs/`)
	if err := json.Unmarshal([]byte(moved), &schema); err != nil {
		panic(err)
	}
	delete(schema, "$schema")
	return schema
}

// apiDescription describes the door for programs to programs.
func (s *Site) apiDescription(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Content-Type", "application/json")
	s.send(w, description())
}
