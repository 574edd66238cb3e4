package web

import (
	"regexp"
	"strings"
	"testing"
)

var entryLink = regexp.MustCompile(`href="(/vessels/[^"]+/entries/[^"]+)"`)

// Whatever stands in the log of a vessel and can be changed leads to its form; where everything begins nothing does.
func TestLogLeadsToEntries(t *testing.T) {
	s := newFilled(t, "Dunlin")
	jot(t, s.watch, s.batches["Dunlin"], "smells of pears")
	for _, door := range []string{"", "/everything"} {
		page := get(s.Site, s.at("Dunlin", door)).Body.String()
		if !strings.Contains(page, "the yeast is in") || !strings.Contains(page, "“smells of pears”") {
			t.Errorf("the log at %q is not whole", door)
		}
		links := entryLink.FindAllStringSubmatch(page, -1)
		if len(links) != 1 {
			t.Errorf("the log at %q has %d links to entries, expected that of the note alone", door, len(links))
		}
		for _, l := range links {
			if w := get(s.Site, l[1]); w.Code != 200 {
				t.Errorf("%s answers %d", l[1], w.Code)
			}
		}
	}
}
