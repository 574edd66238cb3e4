package web

import (
	"context"
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os/exec"
	"strings"
	"testing"
	"time"

	"golang.org/x/net/html/atom"

	"spile/batch"
	"spile/internal/store"
)

const rightWords = "ladder otter lamp"

// openedBeyond is a shed with one filled vessel that is open to other machines, with a person of each role.
func openedBeyond(t *testing.T) *filled {
	t.Helper()
	s := newFilled(t, "Dunlin")
	s.OpenBeyond(Beyond{Names: []string{"shedbox"}, Open: []string{"http://192.168.1.7:8417"}})
	for name, role := range map[string]store.Role{"Olga": store.Owner, "Bram": store.Brewer, "Vita": store.Viewer} {
		if _, err := s.watch.Store().AddPerson(t.Context(), name, role, rightWords); err != nil {
			t.Fatal(err)
		}
	}
	return s
}

// from is a request from another machine in the network.
func from(s *Site, address, method, path string, form url.Values, headers ...string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, "http://192.168.1.7:8417"+path, strings.NewReader(form.Encode()))
	r = r.WithContext(context.WithValue(r.Context(), http.LocalAddrContextKey, &net.TCPAddr{IP: net.IPv4(192, 168, 1, 7), Port: 8417}))
	r.RemoteAddr = address + ":50000"
	if form != nil {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	for i := 0; i+1 < len(headers); i += 2 {
		if headers[i] == "Host" {
			r.Host = headers[i+1]
		}
		r.Header.Set(headers[i], headers[i+1])
	}
	w := httptest.NewRecorder()
	s.ServeHTTP(w, r)
	return w
}

// session logs somebody in and gives the cookie.
func (s *filled) session(name string) string {
	s.t.Helper()
	w := from(s.Site, "192.168.1.20", http.MethodPost, "/login", url.Values{"name": {name}, "password": {rightWords}, "back": {"/round"}})
	cookies := w.Result().Cookies()
	if w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/round" || len(cookies) != 1 {
		s.t.Fatalf("%s cannot log in: %d %v %s", name, w.Code, cookies, w.Body)
	}
	if c := cookies[0]; !c.HttpOnly || c.SameSite != http.SameSiteLaxMode || c.Path != "/" || c.Domain != "" {
		s.t.Errorf("a careless cookie: %v", c)
	}
	return cookies[0].Name + "=" + cookies[0].Value
}

// Beyond this machine nothing of the cellar is shown or taken without a login.
func TestNothingWithoutLogin(t *testing.T) {
	s := openedBeyond(t)
	s.OfferSecure(shedSecure)
	before := len(s.log("Dunlin").Log.Readings)
	open := map[string]bool{}
	for _, r := range s.routes() {
		method, path, _ := strings.Cut(r.pattern, " ")
		path = strings.NewReplacer("{$}", "", "{id}", s.vessels["Dunlin"].String(), "{batch}", s.batches["Dunlin"].String(), "{entry}", s.batches["Dunlin"].String(), "{kind}", "vessel", "{name}", "alcohol", "{key}", "x").Replace(path)
		if r.pattern == "/" {
			method, path = http.MethodGet, "/nowhere"
		}
		w := from(s.Site, "192.168.1.30", method, path, url.Values{"pressure": {"10 psi"}})
		switch {
		case w.Code == http.StatusSeeOther && strings.HasPrefix(w.Header().Get("Location"), "/login"), w.Code == http.StatusUnauthorized:
		case r.pattern == "GET /calendar/{file}" && w.Code == http.StatusNotFound: // its key is all that opens it
		case w.Code == http.StatusOK || w.Code == http.StatusUnprocessableEntity && path == "/login":
			open[r.pattern] = true
		default:
			t.Errorf("%s %s: %d", method, path, w.Code)
		}
		if strings.Contains(w.Body.String(), "Dunlin") || strings.Contains(w.Body.String(), "Sluice") {
			t.Errorf("%s tells of the cellar:\n%s", r.pattern, w.Body)
		}
	}
	for _, want := range []string{"GET /something-is-wrong", "GET /healthz", "GET /login", "POST /login", "GET /static/peg.svg", "GET /api/v1/openapi.json", "GET " + s.styled, "GET /trust", "GET /authority.crt"} {
		if !open[want] {
			t.Errorf("%s needs a login", want)
		}
		delete(open, want)
	}
	if len(open) > 0 {
		t.Errorf("open to anybody: %v", open)
	}
	if after := len(s.log("Dunlin").Log.Readings); after != before {
		t.Errorf("%d readings were kept without a login", after-before)
	}
}

// Each role does what it may; what somebody keeps bears the name.
func TestRoles(t *testing.T) {
	s := openedBeyond(t)
	read := url.Values{"pressure": {"10 psi"}}
	person := url.Values{"name": {"Tim"}, "role": {"viewer"}, "password": {"some other words"}}
	for _, c := range []struct {
		who, method, path string
		form              url.Values
		code              int
	}{
		{"Vita", "GET", "/", nil, 200}, {"Vita", "GET", s.at("Dunlin", ""), nil, 200}, {"Vita", "GET", "/api/v1/batches", nil, 200},
		{"Vita", "POST", s.at("Dunlin", "/i-read"), read, 403}, {"Vita", "POST", "/settings/people", person, 403}, {"Vita", "GET", "/settings/people", nil, 403},
		{"Vita", "POST", "/api/v1/devices", url.Values{}, 403}, {"Vita", "POST", "/settings", url.Values{"theme": {"dark"}}, 303},
		{"Bram", "POST", s.at("Dunlin", "/i-read"), read, 303}, {"Bram", "POST", "/settings/people", person, 403}, {"Bram", "GET", "/settings/devices", nil, 200},
		{"Olga", "GET", "/settings/people", nil, 200}, {"Olga", "POST", "/settings/people", person, 303}, {"Olga", "POST", "/settings/people", person, 422},
		{"Olga", "POST", "/settings/people", url.Values{"remove": {"Olga"}}, 422}, {"Olga", "POST", "/settings/people", url.Values{"remove": {"tim"}}, 303},
	} {
		cookie := s.session(c.who)
		w := from(s.Site, "192.168.1.20", c.method, c.path, c.form, "Cookie", cookie)
		if w.Code != c.code {
			t.Errorf("%s %s %s: got %d, want %d\n%s", c.who, c.method, c.path, w.Code, c.code, w.Body)
		}
		if strings.HasPrefix(w.Header().Get("Content-Type"), "text/html") {
			checkPage(t, c.path, w.Body.String(), parse(t, w))
			if looks := strings.Contains(w.Body.String(), "may look, and keeps nothing"); looks != (c.who == "Vita") {
				t.Errorf("%s %s: tells a viewer: %t", c.who, c.path, looks)
			}
			if !strings.Contains(w.Body.String(), "Log out") {
				t.Errorf("%s %s: no way to log out", c.who, c.path)
			}
		}
		s.clients.now = func() time.Time { return time.Now().Add(time.Hour) } // many logins, one minute
		s.clients.each = map[string]*client{}
	}
	entries, _, err := s.watch.Store().Log(t.Context(), s.batches["Dunlin"], 0)
	if err != nil {
		t.Fatal(err)
	}
	if last := entries[len(entries)-1]; last.By != "Bram" || last.Kind != batch.KindReading {
		t.Errorf("kept by %q: %+v", last.By, last)
	}
}

// The eleventh guess within a minute is not tried, right or wrong; another client's is.
func TestGuesses(t *testing.T) {
	s := openedBeyond(t)
	now := time.Now()
	s.clients.now = func() time.Time { return now }
	guess := func(address, words string) *httptest.ResponseRecorder {
		return from(s.Site, address, http.MethodPost, "/login", url.Values{"name": {"Olga"}, "password": {words}})
	}
	for i := range 10 {
		w := guess("192.168.1.66", "wrong wrong")
		if w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), "is not right") || strings.Contains(w.Body.String(), "wrong wrong") {
			t.Fatalf("guess %d: %d %s", i+1, w.Code, w.Body)
		}
		checkPage(t, "/login", w.Body.String(), parse(t, w))
		now = now.Add(5 * time.Second)
	}
	if w := guess("192.168.1.66", rightWords); w.Code != http.StatusTooManyRequests || w.Header().Get("Retry-After") == "" {
		t.Errorf("the eleventh: %d", w.Code)
	}
	if w := guess("192.168.1.67", rightWords); w.Code != http.StatusSeeOther {
		t.Errorf("another machine: %d", w.Code)
	}
	now = now.Add(11 * time.Second) // the first guess is a minute old
	if w := guess("192.168.1.66", rightWords); w.Code != http.StatusSeeOther {
		t.Errorf("a minute after the first: %d", w.Code)
	}
}

// Whoever hammers is slowed; others are not, and the record of clients stays small.
func TestRates(t *testing.T) {
	s := openedBeyond(t)
	refused := 0
	for range asksAtOnce + 50 {
		if from(s.Site, "192.168.1.66", "GET", "/healthz", nil).Code == http.StatusTooManyRequests {
			refused++
		}
	}
	if refused < 20 {
		t.Errorf("of %d requests at once %d were refused", asksAtOnce+50, refused)
	}
	if w := from(s.Site, "192.168.1.20", "GET", "/healthz", nil); w.Code != 200 {
		t.Errorf("another machine: %d", w.Code)
	}
	for i := range 3 * mostClients {
		s.clients.ask(fmt.Sprint(i))
	}
	if n := len(s.clients.each); n > mostClients {
		t.Errorf("%d clients are remembered", n)
	}
	for address, want := range map[string]string{"192.168.1.7:1": "192.168.1.7", "[::ffff:192.168.1.7]:1": "192.168.1.7", "[2001:db8:1:2:3:4:5:6]:1": "2001:db8:1:2::/64", "[fe80::1%eth0]:1": "fe80::/64", "pipe": "pipe"} {
		if got := clientOf(&http.Request{RemoteAddr: address}); got != want {
			t.Errorf("%s: %s, want %s", address, got, want)
		}
	}
}

// Neither a foreign name, nor a foreign page, nor a foreign cookie, nor a heap of bytes comes in.
func TestHostile(t *testing.T) {
	s := openedBeyond(t)
	mine := s.session("Bram")
	read := url.Values{"pressure": {"10 psi"}}
	at := s.at("Dunlin", "/i-read")
	for _, c := range []struct {
		what    string
		code    int
		headers []string
	}{
		{"our own name", 303, []string{"Cookie", mine, "Host", "shedbox:8417"}},
		{"our own name in the network", 303, []string{"Cookie", mine, "Host", "ShedBox.local."}},
		{"a name made to point here", 421, []string{"Cookie", mine, "Host", "rebound.example:8417"}},
		{"a name that begins as ours", 421, []string{"Cookie", mine, "Host", "shedbox.example"}},
		{"the address of another", 421, []string{"Cookie", mine, "Host", "192.168.1.8:8417"}},
		{"a page of another site", 403, []string{"Cookie", mine, "Sec-Fetch-Site", "cross-site"}},
		{"a page of another site, old browser", 403, []string{"Cookie", mine, "Origin", "http://rebound.example"}},
		{"a page of another port of ours", 403, []string{"Cookie", mine, "Sec-Fetch-Site", "same-site", "Origin", "http://192.168.1.7:9999"}},
		{"a made-up cookie", 401, []string{"Cookie", sessionCookie + "=AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA"}},
		{"a cookie cut short", 401, []string{"Cookie", mine[:len(mine)-1]}},
		{"an empty cookie", 401, []string{"Cookie", sessionCookie + "="}},
		{"what the cellar keeps of a cookie", 401, []string{"Cookie", sessionCookie + "=" + keptSession(t, s, mine)}},
	} {
		if w := from(s.Site, "192.168.1.20", "POST", at, read, c.headers...); w.Code != c.code {
			t.Errorf("%s: got %d, want %d", c.what, w.Code, c.code)
		}
	}
	for path, length := range map[string]int64{at: 1 << 30, "/login": 1 << 30, "/in/x": 1 << 30, "/api/v1/devices": -1} {
		r := httptest.NewRequest(http.MethodPost, "http://localhost"+path, endless{})
		r.ContentLength = length
		r.Header.Set("Cookie", mine)
		r.Header.Set("Content-Type", "application/json")
		w := httptest.NewRecorder()
		if s.ServeHTTP(w, r); w.Code != http.StatusRequestEntityTooLarge {
			t.Errorf("1 GB to %s: %d", path, w.Code)
		}
	}
	for _, back := range []string{"//rebound.example", "http://rebound.example/", "/\\rebound.example"} {
		w := from(s.Site, "192.168.1.21", "POST", "/login", url.Values{"name": {"Bram"}, "password": {rightWords}, "back": {back}})
		if w.Code != 303 || w.Header().Get("Location") != "/" {
			t.Errorf("sent on to %q", w.Header().Get("Location"))
		}
	}
}

// endless never ends.
type endless struct{}

func (endless) Read(p []byte) (int, error) { return copy(p, strings.Repeat(" ", len(p))), nil }

// keptSession is what the cellar keeps of a cookie: its checksum, and not itself.
func keptSession(t *testing.T, s *filled, cookie string) string {
	t.Helper()
	_, token, _ := strings.Cut(cookie, "=")
	sum := sha256.Sum256([]byte(token))
	name := base64.RawURLEncoding.EncodeToString(sum[:])
	for kept, want := range map[string]bool{name: true, token: false} {
		if _, found, err := s.watch.Store().Sessions().Find(kept); err != nil || found != want {
			t.Errorf("kept under %s: %v, %v", kept, found, err)
		}
	}
	return name
}

// A login ends: by logging out, by another password, by being taken out.
func TestLoginEnds(t *testing.T) {
	s := openedBeyond(t)
	ask := func(cookie string) int { return from(s.Site, "192.168.1.20", "GET", "/", nil, "Cookie", cookie).Code }
	out, kept, changed, gone := s.session("Vita"), s.session("Vita"), s.session("Bram"), s.session("Olga")
	for _, c := range []string{out, kept, changed, gone} {
		if ask(c) != 200 {
			t.Fatal("logged in, and not let in")
		}
	}
	if w := from(s.Site, "192.168.1.20", "POST", "/logout", url.Values{}, "Cookie", out); w.Code != 303 {
		t.Error(w.Code)
	}
	if ask(out) != 303 || ask(kept) != 200 {
		t.Error("logging out ends this one and no other")
	}
	form := url.Values{"password": {"not the words"}, "new": {"quite other words"}}
	if w := from(s.Site, "192.168.1.20", "POST", "/settings/password", form, "Cookie", changed); w.Code != 422 {
		t.Errorf("a wrong password changes it: %d", w.Code)
	}
	form.Set("password", rightWords)
	w := from(s.Site, "192.168.1.20", "POST", "/settings/password", form, "Cookie", changed)
	if w.Code != 303 || len(w.Result().Cookies()) != 1 {
		t.Fatalf("a password cannot be changed: %d %s", w.Code, w.Body)
	}
	if c := w.Result().Cookies()[0]; ask(changed) != 303 || ask(c.Name+"="+c.Value) != 200 {
		t.Error("the session goes on under a new name, and under no old one")
	}
	if _, err := s.watch.Store().AddPerson(t.Context(), "Other", store.Owner, rightWords); err != nil {
		t.Fatal(err)
	}
	if err := s.watch.Store().RemovePerson(t.Context(), "Olga"); err != nil || ask(gone) != 303 {
		t.Error("somebody who was taken out is let in", err)
	}
}

// On this machine nobody logs in, and people can be added before it is opened.
func TestLoopbackNeedsNoLogin(t *testing.T) {
	s := newSite(t)
	if w := post(s, "/settings/people", url.Values{"name": {"Ada"}, "role": {"owner"}, "password": {rightWords}}); w.Code != 303 {
		t.Fatalf("%d %s", w.Code, w.Body)
	}
	if body := get(s, "/settings/people").Body.String(); !strings.Contains(body, "Ada") || strings.Contains(body, rightWords) {
		t.Error(body)
	}
	for path, say := range map[string]string{"/": "Vessels", "/login": "Log in", "/phone": "spile serve --listen 0.0.0.0:8417", "/settings/password": "Nobody is logged in"} {
		if w := get(s, path); w.Code != 200 || !strings.Contains(w.Body.String(), say) {
			t.Errorf("%s: %d", path, w.Code)
		}
	}
	w := post(s, "/login", url.Values{"password": {rightWords}}) // one person needs no name
	if w.Code != 303 || len(w.Result().Cookies()) != 1 {
		t.Fatalf("%d %s", w.Code, w.Body)
	}
	if c := w.Result().Cookies()[0]; !strings.Contains(get(s, "/", c.Name+"="+c.Value).Body.String(), "Logged in as Ada") {
		t.Error("a page does not say who is logged in")
	}
	bad := post(s, "/settings/people", url.Values{"name": {"Bo"}, "role": {"viewer"}, "password": {"short"}})
	d := parse(t, bad)
	if bad.Code != 422 || !strings.Contains(text(d.all(atom.Main)[0]), "8 to 200") || attribute(d.ids["field-name"], "value") != "Bo" || attribute(d.ids["field-password"], "value") != "" {
		t.Errorf("%d %s", bad.Code, bad.Body)
	}
}

// The square on the page and the one in the terminal say the address, as a reader of its own reads them.
func TestSquare(t *testing.T) {
	s := openedBeyond(t)
	w := from(s.Site, "192.168.1.20", "GET", "/phone", nil, "Cookie", s.session("Vita"))
	d := parse(t, w)
	checkPage(t, "/phone", w.Body.String(), d)
	if len(d.class("qr")) != 1 {
		t.Fatal(w.Body)
	}
	zbar, err := exec.LookPath("zbarimg")
	if err != nil {
		t.Skip("zbarimg is not installed (make setup)")
	}
	for _, address := range []string{"http://192.168.1.7:8417", "http://10.0.0.123:65535", "http://[fd00::1234:5678:9abc:def0]:8417"} {
		drawn, err := opens(address, nil)
		if err != nil {
			t.Fatal(err)
		}
		if want, found := readSquare(t, zbar, pathOf(t, string(drawn))), address; want != found {
			t.Errorf("the page says %q, want %q", want, found)
		}
		text, err := QRText(address)
		if err != nil {
			t.Fatal(err)
		}
		if got := readSquare(t, zbar, blocksOf(text)); got != address {
			t.Errorf("the terminal says %q, want %q", got, address)
		}
	}
}

// pathOf is the pattern that a drawing fills.
func pathOf(t *testing.T, drawing string) (dark [][]bool) {
	t.Helper()
	_, path, _ := strings.Cut(drawing, ` d="`)
	path, _, _ = strings.Cut(path, `"`)
	var side int
	if _, err := fmt.Sscanf(drawing, `<svg class="qr" viewBox="0 0 %d`, &side); err != nil {
		t.Fatal(err)
	}
	for range side {
		dark = append(dark, make([]bool, side))
	}
	for _, run := range strings.Split(strings.Trim(path, "M"), "M") {
		var x, y, wide, back int
		if _, err := fmt.Sscanf(run, "%d %dh%dv1h-%dz", &x, &y, &wide, &back); err != nil || wide != back {
			t.Fatal(run, err)
		}
		for i := range wide {
			dark[y][x+i] = true
		}
	}
	return dark
}

// blocksOf is the pattern that half blocks show in a terminal.
func blocksOf(text string) (dark [][]bool) {
	text = strings.NewReplacer("\x1b[30;107m", "", "\x1b[0m", "").Replace(text)
	for line := range strings.Lines(text) {
		var up, down []bool
		for _, r := range strings.TrimSuffix(line, "\n") {
			up, down = append(up, r == '▀' || r == '█'), append(down, r == '▄' || r == '█')
		}
		dark = append(dark, up, down)
	}
	return dark
}

// readSquare has another program read a pattern, as a picture.
func readSquare(t *testing.T, zbar string, dark [][]bool) string {
	t.Helper()
	const scale = 6
	var b strings.Builder
	fmt.Fprintf(&b, "P1\n%d %d\n", scale*len(dark[0]), scale*len(dark))
	for _, row := range dark {
		var line strings.Builder
		for _, d := range row {
			line.WriteString(strings.Repeat(map[bool]string{true: "1 ", false: "0 "}[d], scale))
		}
		b.WriteString(strings.Repeat(line.String()+"\n", scale))
	}
	read := exec.Command(zbar, "--quiet", "--raw", "-Sdisable", "-Sqrcode.enable", "pbm:-")
	read.Stdin = strings.NewReader(b.String())
	out, err := read.Output()
	if err != nil {
		t.Fatalf("zbarimg: %v", err)
	}
	return strings.TrimSpace(string(out))
}
