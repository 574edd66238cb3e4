package web

import (
	"cmp"
	"net/http"
	"slices"
	"strings"

	"spile"
)

// source is one line of the list of references.
type source struct{ Key, Text, Range string }

// sources reads the list, "- **[Key]** text Used in: where. Range: how far.", in the order of the alphabet: who comes
// here has a key in hand.
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
	slices.SortFunc(out, func(a, b source) int { return cmp.Compare(strings.ToLower(a.Key), strings.ToLower(b.Key)) })
	return out
}

func (s *Site) sources(w http.ResponseWriter, r *http.Request) {
	s.show(w, r, http.StatusOK, "sources", page{Title: "Sources", Here: "/work-it-out", Content: sources(spile.References)})
}
