package web

import (
	"bytes"
	"compress/gzip"
	"net/http"
	"net/http/httptest"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
)

// needScripts skips where the scripts were not built, which CI never leaves out.
func needScripts(t *testing.T) scripts {
	t.Helper()
	s, whole := readScripts(built)
	if !whole {
		if os.Getenv("CI") == "true" {
			t.Fatal("the scripts were not built; make bundle builds them")
		}
		t.Skip("the scripts were not built; make bundle builds them")
	}
	return s
}

// All that a page loads of scripts stays under 100 kB as it would be sent compressed.
func TestScriptsAreSmall(t *testing.T) {
	s := needScripts(t)
	var packed bytes.Buffer
	w := gzip.NewWriter(&packed)
	for _, part := range [][]byte{s.page, s.worker} {
		if _, err := w.Write(part); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	t.Logf("%d bytes, compressed %d", len(s.page)+len(s.worker), packed.Len())
	if packed.Len() > 100000 {
		t.Errorf("%d bytes compressed; accepted: 100,000", packed.Len())
	}
}

// Without the scripts, or with some of them missing, none are spoken of.
func TestHalfAScriptIsNone(t *testing.T) {
	part := fstest.MapFS{"built/spile.js": {Data: []byte("1")}, "built/README.md": {Data: []byte("x")}}
	if s, whole := readScripts(part); whole || s.page != nil || s.at != "" {
		t.Errorf("got %+v, %v", s, whole)
	}
	part["built/worker.js"], part["built/plot.css"] = &fstest.MapFile{Data: []byte("2")}, &fstest.MapFile{Data: []byte("3")}
	if s, whole := readScripts(part); !whole || string(s.page) != "1" || !strings.HasPrefix(s.at, "/static/") || !bytes.HasPrefix(s.style, []byte("3")) {
		t.Errorf("got %+v, %v", s, whole)
	}
}

// The scripts are where the page says, as scripts, and never change under their name.
func TestScriptsAreServed(t *testing.T) {
	needScripts(t)
	s := newSite(t)
	page := get(s, "/")
	at := regexp.MustCompile(`<script type="module" src="([^"]+)"></script>`).FindStringSubmatch(page.Body.String())
	if at == nil || strings.Count(page.Body.String(), "<script") != 2 {
		t.Fatal("the page has not one script, by its address, and its words")
	}
	for address, keep := range map[string]string{at[1]: "immutable", "/worker.js": "no-cache"} {
		w := get(s, address)
		if w.Code != http.StatusOK || !strings.HasPrefix(w.Header().Get("Content-Type"), "text/javascript") || !strings.Contains(w.Header().Get("Cache-Control"), keep) || w.Body.Len() < 500 {
			t.Errorf("%s: %d %v", address, w.Code, w.Header())
		}
	}
	if policy := page.Header().Get("Content-Security-Policy"); !strings.Contains(policy, "script-src 'self'; connect-src 'self'") || strings.Contains(policy, "unsafe") {
		t.Errorf("policy: %s", policy)
	}
}

// A script is told where a browser would be sent; a browser is sent.
func TestScriptedIsNotSentOn(t *testing.T) {
	handle := scripted(func(w http.ResponseWriter, r *http.Request) {
		http.Redirect(w, r, "/there?kept=1", http.StatusSeeOther)
	})
	for script, want := range map[string]int{"": http.StatusSeeOther, "1": http.StatusNoContent} {
		r := httptest.NewRequest(http.MethodPost, "http://localhost/here", nil)
		r.Header.Set("Spile-Script", script)
		w := httptest.NewRecorder()
		handle(w, r)
		to := w.Header().Get("Location")
		if script != "" {
			to = w.Header().Get("Spile-To")
		}
		if w.Code != want || to != "/there?kept=1" {
			t.Errorf("script %q: %d to %q", script, w.Code, to)
		}
	}
}

// What the scripts say is held to the same rules as what the pages say, and they ask for just what comes with the page.
func TestWordsOfScripts(t *testing.T) {
	source, err := os.ReadFile("script/words.ts")
	if err != nil {
		t.Fatal(err)
	}
	asked := map[string][]string{} // the slots by name
	for _, m := range regexp.MustCompile(`say\("(\w+)"(?:, \{([^}]*)\})?\)`).FindAllStringSubmatch(string(source), -1) {
		slots := regexp.MustCompile(`\w+(?:: [^,]*)?`).FindAllString(m[2], -1)
		for i := range slots {
			slots[i], _, _ = strings.Cut(slots[i], ":")
		}
		slices.Sort(slots)
		asked[m[1]] = slots
	}
	if len(asked) < 10 || len(asked) != len(scriptWords) {
		t.Errorf("the scripts ask for %d texts of %d", len(asked), len(scriptWords))
	}
	for name, text := range scriptWords {
		var slots []string
		for _, m := range regexp.MustCompile(`\{(\w+)\}`).FindAllStringSubmatch(string(text), -1) {
			slots = append(slots, m[1])
		}
		slices.Sort(slots)
		if got, found := asked[name]; !found || !slices.Equal(got, slots) {
			t.Errorf("%q has the slots %q, and the scripts fill %q", name, slots, got)
		}
		if bad := banned.FindString(string(text)); bad != "" {
			t.Errorf("%q says %q", text, bad)
		}
		for _, said := range strings.Split(string(text), ". ") {
			if len(strings.Fields(said)) > 18 {
				t.Errorf("more than 18 words: %q", said)
			}
		}
	}
}
