package web

import (
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"spile/batch"
	"spile/internal/monitor"
	"spile/internal/store"
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

// How many lines are not shown is said of one line too.
func TestEarlierLinesAreCounted(t *testing.T) {
	s := newFilled(t, "Dunlin")
	for range mostLines {
		jot(t, s.watch, s.batches["Dunlin"], "smells of pears")
	}
	for _, says := range []string{"", "1 earlier line", "2 earlier lines"} {
		var links []string
		for _, n := range parse(t, get(s.Site, s.at("Dunlin", ""))).class("next") {
			if strings.HasSuffix(attribute(n, "href"), "/everything") {
				links = append(links, text(n))
			}
		}
		if got := strings.Join(links, ", "); got != says {
			t.Errorf("expected %q, got %q", says, got)
		}
		jot(t, s.watch, s.batches["Dunlin"], "smells of pears")
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

// What a device sends is one line, though it names no instrument; what a person read is a line of its own, whatever it was read with and whoever reads at the same moment.
// So is how warm the room was, from a file.
func TestDevicesAreOneLine(t *testing.T) {
	s := newFilled(t, "Dunlin")
	seen, err := s.watch.See(t.Context(), s.batches["Dunlin"])
	if err != nil {
		t.Fatal(err)
	}
	v := &stood{InVessel: monitor.InVessel{Seen: seen}, Now: s.now}
	person, probe := batch.ID{1}, batch.ID{2}
	read := func(id batch.ID, minutes int, q batch.Quantity, value float64, instrument string, unattended bool) batch.Reading {
		return batch.Reading{Entry: id, Time: s.now.Add(time.Duration(minutes) * time.Minute), Quantity: q, Value: value, Instrument: instrument, Unattended: unattended}
	}
	state := &batch.State{Record: seen.State.Record, Log: batch.Log{Readings: []batch.Reading{
		read(batch.ID{3}, 0, batch.Temperature, 291, "", true), read(batch.ID{4}, 1, batch.Temperature, 292, "", true), read(batch.ID{5}, 2, batch.Temperature, 293, "", true),
		read(probe, 3, batch.Pressure, 7e4, "probe", true), read(person, 3, batch.Pressure, 8e4, "", false), read(probe, 3, batch.Temperature, 293, "probe", true),
		read(batch.ID{6}, 4, batch.Temperature, 294, "probe", false), read(batch.ID{7}, 5, batch.Temperature, 295, "probe", false),
	}}, Notes: []batch.Note{ // of a file with a column of the room's temperature, and by hand
		{Entry: batch.ID{8}, Time: s.now.Add(-4 * time.Minute), Words: "Air is cold"}, {Entry: batch.ID{9}, Time: s.now.Add(-3 * time.Minute), Words: "Air 18,5 °C"},
		{Entry: batch.ID{10}, Time: s.now.Add(-2 * time.Minute), Words: "Air 64 °F"}, {Entry: batch.ID{11}, Time: s.now.Add(-time.Minute), Words: "Air 18 °C"},
	}}
	var of []batch.ID
	for _, l := range gathered(nil, v.recent(state)) {
		of = append(of, l.Entry)
	}
	if want := []batch.ID{{7}, {6}, probe, person, {5}, {11}, {8}}; !slices.Equal(of, want) {
		t.Errorf("expected lines of %v, got %v", want, of)
	}
}

// A reading that is asked about is said on the page of its vessel, with its time.
func TestDoubtsStandOnThePage(t *testing.T) {
	s := newFilled(t, "Dunlin")
	var said batch.Said
	said.Put(batch.Gravity, 1.030)
	at := s.now.Add(-time.Hour)
	for range 2 {
		e := batch.Entry{ID: store.NewID(), Batch: s.batches["Dunlin"], Kind: batch.KindReading, At: at, Made: at, Body: s.body(&said)}
		if _, err := s.watch.Keep(t.Context(), e); err != nil {
			t.Fatal(err)
		}
	}
	s.foretold()
	if page := mainText(t, s.Site, s.at("Dunlin", "")); !strings.Contains(page, "What may be amiss") || !strings.Contains(page, "Wed 4 Mar 2026, 17:00: 1.030 is there twice. It counts once.") {
		t.Error(page)
	}
}
