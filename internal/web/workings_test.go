package web

import (
	"net/http"
	"strings"
	"testing"

	"golang.org/x/net/html/atom"
)

// workings gets every calculation that a page leads to with numbers filled in, and gives how many: each must answer.
func workings(t *testing.T, s *Site, address string) map[string]string {
	t.Helper()
	out := map[string]string{}
	for _, a := range parse(t, get(s, address)).all(atom.A) {
		to := attribute(a, "href")
		rest, there := strings.CutPrefix(to, "/work-it-out/")
		name, _, filled := strings.Cut(rest, "?")
		if !there || !filled {
			continue
		}
		w := get(s, to)
		d := parse(t, w)
		if w.Code != http.StatusOK || len(d.class("working")) != 1 {
			t.Errorf("%s leads to %s: %d, without an answer:\n%s", address, to, w.Code, text(d.all(atom.Main)[0]))
		}
		out[name] = text(d.all(atom.Main)[0])
	}
	return out
}

// What is said before anything is poured opens into its working, and so does what a vessel's page says now.
func TestNumbersOpenIntoTheirWorking(t *testing.T) {
	s := newSite(t)
	look := lookOf(t, s, thinned(t, s))
	said, how := mainText(t, s, look), workings(t, s, look)
	for name, same := range map[string]string{"dilution": "3 L", "foam-room": "23 %"} {
		want(t, "before anything is poured", said, same)
		want(t, name, how[name], same)
	}
	shed := newShed(t)
	all, err := shed.watch.Round(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, in := range all {
		how := workings(t, shed, "/vessels/"+in.Vessel.ID.String())
		for _, name := range []string{"alcohol", "carbonation", "relief"} {
			if how[name] == "" {
				t.Errorf("%s: nothing leads to %s with its numbers", in.Vessel.Name, name)
			}
		}
	}
}
