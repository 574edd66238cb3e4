package web

import (
	"crypto/tls"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"golang.org/x/net/html/atom"
)

// shedSecure is https as it could be served beside openedBeyond.
var shedSecure = Secure{
	Open: []string{"https://192.168.1.7:8418"}, Certificate: []byte{0x30, 0x03, 0x02, 0x01, 0x01}, Name: "Spile cellar on shed, 2026-11-28",
	Fingerprint: strings.Repeat("A7:", 31) + "A7", Ends: time.Date(2036, 11, 28, 9, 0, 0, 0, time.UTC),
}

// The way to trust the cellar is three steps, with a square for the first and the last; it needs no login.
func TestTrust(t *testing.T) {
	s := openedBeyond(t)
	vita := s.session("Vita")
	for path, say := range map[string]string{"/trust": "spile serve --listen 0.0.0.0:8417 --tls", "/phone": "spile serve --listen 0.0.0.0:8417 --tls"} {
		w := from(s.Site, "192.168.1.20", "GET", path, nil, "Cookie", vita)
		if !strings.Contains(w.Body.String(), say) || strings.Contains(w.Body.String(), "/authority.crt") {
			t.Errorf("%s without https:\n%s", path, w.Body)
		}
	}
	if w := from(s.Site, "192.168.1.20", "GET", "/authority.crt", nil); w.Code != http.StatusNotFound {
		t.Errorf("an authority where there is none: %d", w.Code)
	}
	s.OfferSecure(shedSecure)
	w := from(s.Site, "192.168.1.20", "GET", "/trust", nil)
	d := parse(t, w)
	checkPage(t, "/trust", w.Body.String(), d)
	said := strings.ReplaceAll(w.Body.String(), "<wbr>", "")
	for _, want := range []string{"http://192.168.1.7:8417/trust", "https://192.168.1.7:8418", shedSecure.Fingerprint, shedSecure.Name, "It ends on 28 November 2036.", "take it back"} {
		if !strings.Contains(said, want) {
			t.Errorf("it does not say %s:\n%s", want, said)
		}
	}
	if len(d.class("qr")) != 2 || strings.Count(w.Body.String(), "<li><h2>") != 3 || !strings.Contains(w.Body.String(), `href="/authority.crt"`) {
		t.Error(w.Body)
	}
	if w := from(s.Site, "192.168.1.20", "GET", "/authority.crt", nil); w.Code != 200 || w.Header().Get("Content-Type") != "application/x-x509-ca-cert" || w.Body.String() != string(shedSecure.Certificate) {
		t.Errorf("the authority: %d %v", w.Code, w.Header())
	}
	if w := from(s.Site, "192.168.1.20", "GET", "/phone", nil, "Cookie", vita); !strings.Contains(w.Body.String(), `href="/trust"`) || strings.Contains(w.Body.String(), "--tls") {
		t.Error(w.Body)
	}
	alone := newSite(t)
	alone.OfferSecure(shedSecure)
	w = get(alone, "/trust")
	if d := parse(t, w); len(d.class("qr")) != 0 || !strings.Contains(text(d.all(atom.Main)[0]), "answers to this machine alone") {
		t.Error(w.Body)
	}
	checkPage(t, "/trust", w.Body.String(), parse(t, w))
}

// What is kept in a browser over https never travels over http, and what came over http counts for nothing there.
func TestSecureCookies(t *testing.T) {
	s := openedBeyond(t)
	ask := func(method, path string, form url.Values, cookies string) *httptest.ResponseRecorder {
		kept := s.handler
		defer func() { s.handler = kept }()
		s.handler = http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			r.TLS = &tls.ConnectionState{}
			kept.ServeHTTP(w, r)
		})
		return from(s.Site, "192.168.1.20", method, path, form, "Cookie", cookies)
	}
	w := ask("POST", "/login", url.Values{"name": {"Vita"}, "password": {rightWords}}, "")
	if len(w.Result().Cookies()) != 1 {
		t.Fatal(w.Code, w.Header())
	}
	login := w.Result().Cookies()[0]
	w = ask("POST", "/settings", url.Values{"theme": {"dark"}, "zone": {"Europe/London"}}, login.Name+"="+login.Value)
	tastes := w.Result().Cookies()
	if w.Code != http.StatusSeeOther || len(tastes) < 2 {
		t.Fatal(w.Code, w.Body)
	}
	sent := ""
	for _, c := range append(tastes, login) { // RFC 6265bis, 4.1.3.2
		if !c.Secure || !c.HttpOnly || c.Path != "/" || c.Domain != "" || !strings.HasPrefix(c.Name, "__Host-spile-") {
			t.Errorf("a careless cookie: %v", c)
		}
		sent += c.Name + "=" + c.Value + "; "
	}
	if body := ask("GET", "/settings", nil, sent).Body.String(); !strings.Contains(body, `data-theme="dark"`) || !strings.Contains(body, "Europe/London") || !strings.Contains(body, "Logged in as Vita") {
		t.Error(body)
	}
	if w := from(s.Site, "192.168.1.20", "GET", "/settings", nil, "Cookie", sent); w.Code != http.StatusSeeOther {
		t.Errorf("over http it is as good: %d", w.Code)
	}
	if w := ask("GET", "/settings", nil, s.session("Vita")); w.Code != http.StatusSeeOther {
		t.Errorf("a login over http counts over https: %d", w.Code)
	}
	if w := ask("POST", "/logout", nil, sent); w.Code != http.StatusSeeOther || ask("GET", "/settings", nil, sent).Code != http.StatusSeeOther {
		t.Error("logged out and still in")
	}
}
