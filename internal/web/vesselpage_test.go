package web

import (
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"
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

// What people said is not lost among the readings of a sensor: those that follow on each other are one line.
func TestSensorsAreOneLine(t *testing.T) {
	at := func(minutes int, by, says string) line {
		return line{At: shedNow.Add(-time.Duration(minutes) * time.Minute), by: by, says: func() string { return says }}
	}
	got := gathered(nil, []line{at(0, "probe", "19.5 °C"), at(30, "probe", "19 °C"), at(60, "probe", "18.5 °C"), at(70, "", "11 psi"), at(80, "", "hiss"), at(90, "probe", "18 °C")})
	var says []string
	for _, l := range got {
		says = append(says, l.Says())
	}
	want := []string{"19.5 °C, and 2 earlier since Sat 28 Nov 11:00", "11 psi", "hiss", "18 °C"}
	if !slices.Equal(says, want) {
		t.Errorf("expected %q, got %q", want, says)
	}
}
