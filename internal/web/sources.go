package web

import (
	"net/http"
	"strings"

	"spile"
)

// source is one line of the list of references.
type source struct{ Key, Text, Range string }

// sources reads the list: "- **[Key]** text Used in: where. Range: how far."
func sources(list string) (out []source) {
	for line := range strings.Lines(list) {
		key, rest, found := strings.Cut(strings.TrimPrefix(line, "- **["), "]** ")
		if !found || !strings.HasPrefix(line, "- **[") {
			continue
		}
		text, used, _ := strings.Cut(strings.TrimSpace(rest), " Used in: ")
		_, reach, _ := strings.Cut(used, "Range: ")
		if reach != "" {
			reach = "Holds for: " + reach
		}
		out = append(out, source{key, text, reach})
	}
	return out
}

func (s *Site) sources(w http.ResponseWriter, r *http.Request) {
	s.show(w, r, http.StatusOK, "sources", page{Title: "Sources", Here: "/work-it-out", Content: sources(spile.References)})
}
