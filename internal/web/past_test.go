package web

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"golang.org/x/net/html/atom"

	"spile/batch"
	"spile/internal/store"
)

// end says that a vessel of those filled is empty.
func (s *filled) end(names ...string) {
	s.t.Helper()
	for i, name := range names {
		at := s.now.Add(time.Duration(i) * time.Second)
		e := batch.Entry{ID: store.NewID(), Batch: s.batches[name], Kind: batch.KindJudgement, At: at, Made: at, Body: s.body(batch.Judgement{Verdict: batch.Emptied})}
		if _, err := s.watch.Keep(s.t.Context(), e); err != nil {
			s.t.Fatal(err)
		}
	}
}

// What has ended is found from what is kept, from its vessel and on paper; from its own page its card and its whole log are.
func TestPastBatchesAreFound(t *testing.T) {
	s := newFilled(t, "Dunlin").foretold()
	s.end("Dunlin")
	if seen, err := s.watch.Settle(t.Context(), s.batches["Dunlin"], time.Minute); err != nil || !seen.Fresh() {
		t.Fatal(seen, err)
	}
	own := "/vessels/" + s.batches["Dunlin"].String()
	card := "/print/batch-card?batch=" + s.batches["Dunlin"].String() + "&paper=letter"
	for from, leads := range map[string][]string{"/settings/records": {own}, "/what-i-have/" + s.vessels["Dunlin"].String(): {own}, "/on-paper": {own, card}, own: {card, own + "/everything"}} {
		w := get(s.Site, from)
		d := parse(t, w)
		checkPage(t, from, w.Body.String(), d)
		for _, to := range leads {
			if !slices.Contains(d.links(), to) {
				t.Errorf("%s does not lead to %s", from, to)
			}
			if code := get(s.Site, to).Code; code != http.StatusOK {
				t.Errorf("%s: %d", to, code)
			}
		}
		if from != own && !strings.Contains(text(d.all(atom.Main)[0]), "2 March 2026 to 4 March 2026") {
			t.Errorf("%s does not say from when to when it was", from)
		}
	}
	see := func(address string) string { return strings.Join(strings.Fields(main(t, get(s.Site, address))), " ") }
	if said := see(card); !strings.Contains(said, "One thing to try next time") || !strings.Contains(said, "Vessel Dunlin, ") || !strings.Contains(said, "This batch has ended.") || strings.Contains(said, "Working.") {
		t.Errorf("its card: %s", said)
	}
	if said := see(own); !strings.Contains(said, "It was in Dunlin from 2 March 2026") || strings.Contains(said, "Working.") || strings.Contains(said, "“emptied”") {
		t.Errorf("its page: %s", said)
	}
}

// Where many batches have ended, a page holds a hundred, the latest first, and leads to the others.
func TestPastBatchesByTheHundred(t *testing.T) {
	s := newFilled(t)
	var names []string
	for i := range batchesAPage + 2 {
		names = append(names, fmt.Sprintf("No. %d", i+1))
		s.fill(names[i])
	}
	s.end(names...)
	shown := func(address string) (vessels []string, along []string) {
		d := parse(t, get(s.Site, address))
		for _, n := range d.all(atom.Span) {
			if name, _, found := strings.Cut(text(n), ", 2 March 2026 to"); found {
				vessels = append(vessels, strings.ReplaceAll(name, "\u00a0", " "))
			}
		}
		return vessels, slices.DeleteFunc(d.links(), func(a string) bool { return !strings.Contains(a, "?from=") })
	}
	slices.Reverse(names)
	for _, path := range []string{"/settings/records", "/on-paper"} {
		first, along := shown(path)
		if !slices.Equal(first, names[:batchesAPage]) || !slices.Equal(along, []string{path + "?from=100#ended"}) {
			t.Fatalf("%s lists %d: %q and leads to %q", path, len(first), first, along)
		}
		rest, along := shown(strings.TrimSuffix(along[0], "#ended"))
		if !slices.Equal(rest, names[batchesAPage:]) || !slices.Equal(along, []string{path + "?from=0#ended"}) {
			t.Errorf("%s lists then %q and leads to %q", path, rest, along)
		}
	}
}
