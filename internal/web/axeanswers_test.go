package web

import (
	"maps"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"spile/internal/store"

	"golang.org/x/net/html"
	"golang.org/x/net/html/atom"
)

// answers are pages that no link leads to: what comes back when something is sent.
type answers map[string]*httptest.ResponseRecorder

// before serves each of them at an address of its own, and everything else as it is.
func (a answers) before(pages http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		name, found := strings.CutPrefix(r.URL.Path, "/answers/")
		if !found {
			pages.ServeHTTP(w, r)
			return
		}
		kept := a[name]
		maps.Copy(w.Header(), kept.Header())
		w.Header().Del("Set-Cookie") // it would log the browser in
		w.WriteHeader(kept.Code)
		w.Write(kept.Body.Bytes()) //nolint:errcheck // the browser has gone
	})
}

// nonsense fills in a form with what no question takes.
func nonsense(form *html.Node) (typed url.Values, asks bool) {
	typed = url.Values{}
	for n := range form.Descendants() {
		switch kind := attribute(n, "type"); {
		case n.DataAtom == atom.Textarea, n.DataAtom == atom.Input && (kind == "text" || kind == "password"):
			typed.Set(attribute(n, "name"), "?")
			asks = true
		case n.DataAtom == atom.Input && kind == "hidden":
			typed.Add(attribute(n, "name"), attribute(n, "value"))
		}
	}
	return typed, asks
}

// refusedForms are the answers to every form that asks for something and was filled in with nonsense.
func (a answers) refusedForms(t *testing.T, s *Site, pages map[string]string) {
	t.Helper()
	for _, address := range pages {
		for _, form := range parse(t, get(s, address)).all(atom.Form) {
			typed, asks := nonsense(form)
			to := attribute(form, "action")
			if to == "" {
				to = address
			}
			if !asks {
				continue
			}
			w, name := (*httptest.ResponseRecorder)(nil), "refused by "+strings.Map(plainly, kindOfPage(to))
			if attribute(form, "method") == "post" {
				w = post(s, to, typed)
			} else {
				path, _, _ := strings.Cut(to, "?")
				w = get(s, path+"?"+typed.Encode())
			}
			if w.Code == http.StatusUnprocessableEntity {
				a[name] = w
			}
		}
	}
}

// plainly leaves of an address what a name may hold.
func plainly(c rune) rune {
	if strings.ContainsRune("/?&=", c) {
		return '.'
	}
	return c
}

// doubted are readings that are asked about once more, kept, corrected, beyond a limit and taken back.
func (a answers) doubted(t *testing.T) {
	t.Helper()
	s := newFilled(t, "Dunlin", "Godwit").foretold()
	read, key := s.at("Dunlin", "/i-read"), "pressure-"+s.batches["Godwit"].String()
	a["a doubt"] = post(s.Site, read, s.form(read, "pressure", "12 bar", "temperature", "190"))
	a["a doubt in one line"] = post(s.Site, read, s.form(read, "line", "12 bar, 19 C"))
	a["a doubt in the round"] = post(s.Site, "/round", s.form("/round", key, "12 bar"))
	a["mistakes in the round"] = post(s.Site, "/round", s.form("/round", key, "much", "when", "?"))
	did := s.at("Dunlin", "/i-did?what=vent") // all deeds are asked for by one form
	a["a deed refused"] = post(s.Site, did, s.form(did, "from", "much", "when", "?"))
	a["beyond a limit"] = s.send(read, s.form(read, "pressure", "38"))
	s.settled("Dunlin")
	a["a limit passed"], a["a limit on Vessels"] = get(s.Site, s.at("Dunlin", "")), get(s.Site, "/")
	seen := s.at("Dunlin", "/limit-seen")
	a["a limit that has changed"] = post(s.Site, seen, url.Values{"what": {"over-rating/now/Now/1"}})
	a["a limit seen"] = s.send(seen, seenForms(parse(t, a["a limit passed"]))[0])
	a["round kept"] = s.send("/round", s.form("/round", key, "10"))
	line := s.at("Dunlin", "/entries/"+s.log("Dunlin").Log.Readings[0].Entry.String())
	a["corrected badly"] = post(s.Site, line, s.form(line, "part-a", "much"))
	a["taken back"] = s.send(line, url.Values{"do": {"take-back"}, "id": {store.NewID().String()}})
	file := s.choose("Dunlin", "march.csv", someFile)
	a["a file looked at"], a["a file with questions"] = file, s.next(file, "do", "keep")
	a["a file to be kept"] = s.next(file, "column-3", "pressure psi", "order", "day", "zone", "Europe/Berlin", "do", "look")
	a["no file"] = s.choose("Dunlin", "march.csv", "")
}

// elsewhere are the pages of another machine: logging in, being refused, and what each role sees.
func (a answers) elsewhere(t *testing.T) {
	t.Helper()
	s := openedBeyond(t)
	const phone = "192.168.1.20"
	a["log in"] = from(s.Site, phone, http.MethodGet, "/login?back=%2Fround", nil)
	a["log in refused"] = from(s.Site, phone, http.MethodPost, "/login", url.Values{"name": {"Olga"}, "password": {"wrong"}})
	a["log in empty"] = from(s.Site, phone, http.MethodPost, "/login", url.Values{})
	for who, paths := range map[string][]string{"Olga": {"/", "/settings/people", "/settings/password", "/phone"}, "Vita": {"/settings/people", s.at("Dunlin", "")}} {
		cookie := s.session(who)
		for _, path := range paths {
			a[who+" at "+strings.Map(plainly, anID.ReplaceAllString(path, "ID"))] = from(s.Site, phone, http.MethodGet, path, nil, "Cookie", cookie)
		}
	}
	cookie := s.session("Olga")
	a["people refused"] = from(s.Site, phone, http.MethodPost, "/settings/people", url.Values{"name": {""}, "password": {"short"}}, "Cookie", cookie)
	a["password refused"] = from(s.Site, phone, http.MethodPost, "/settings/password", url.Values{"password": {"wrong"}, "new": {"short"}}, "Cookie", cookie)
}

// everyAnswer is one of each kind that something sent leads to.
func everyAnswer(t *testing.T, s *Site, pages map[string]string) answers {
	t.Helper()
	a := answers{}
	a.refusedForms(t, s, pages)
	if len(a) < 8 {
		t.Errorf("only %d forms refuse nonsense", len(a))
	}
	a.doubted(t)
	a.elsewhere(t)
	for name, w := range refusals(t, s) {
		a["refusal "+strings.Map(plainly, name)] = w
	}
	for name, w := range a {
		if !strings.HasPrefix(w.Header().Get("Content-Type"), "text/html") || !strings.Contains(w.Body.String(), `<main id="main"`) {
			t.Errorf("%s: %d is no page:\n%s", name, w.Code, w.Body)
		}
	}
	return a
}
