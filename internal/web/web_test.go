package web

import (
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"spile"
	"spile/calc"
	"spile/unit"
	"spile/wort"

	"golang.org/x/net/html/atom"
)

// Every page can be reached from the first by links, is whole HTML, says no word of the
// workshop and leads nowhere that is not there.
func TestEveryPage(t *testing.T) {
	s := newSite(t)
	seen, wait, fragments := map[string]*document{}, []string{"/"}, map[string]string{}
	for len(wait) > 0 {
		address := wait[0]
		wait = wait[1:]
		if _, again := seen[address]; again {
			continue
		}
		w := get(s, address)
		if w.Code != http.StatusOK {
			t.Fatalf("%s: %d", address, w.Code)
		}
		if seen[address] = nil; !strings.HasPrefix(w.Header().Get("Content-Type"), "text/html") {
			continue
		}
		d := parse(t, w)
		seen[address] = d
		checkPage(t, address, w.Body.String(), d)
		for _, to := range d.links() {
			page, fragment, _ := strings.Cut(to, "#")
			if page == "" {
				page = address
			}
			fragments[page+"#"+fragment] = address
			wait = append(wait, page)
		}
	}
	for to, from := range fragments {
		page, fragment, _ := strings.Cut(to, "#")
		if fragment != "" && seen[page].ids[fragment] == nil {
			t.Errorf("%s leads to %s, which is not there", from, to)
		}
	}
	for _, row := range calc.Table() {
		if seen["/work-it-out/"+row.Name] == nil {
			t.Errorf("no link leads to %s", row.Name)
		}
	}
	t.Logf("%d addresses", len(seen))
}

// checkPage holds one page to what holds for all.
func checkPage(t *testing.T, address, source string, d *document) {
	t.Helper()
	if bad := malformed(source); bad != "" {
		t.Errorf("%s: %s", address, bad)
	}
	for _, bad := range d.dangling() {
		t.Errorf("%s: %s", address, bad)
	}
	for _, n := range d.class("hint") {
		if n.DataAtom == atom.P && strings.TrimSpace(text(n)) == "" {
			t.Errorf("%s: nothing stands in the hint %s", address, attribute(n, "id"))
		}
	}
	if n := len(d.all(atom.H1)); n != 1 {
		t.Errorf("%s has %d headings of the first order", address, n)
	}
	if address == "/sources" {
		return // titles and volumes of other people's papers
	}
	words := text(d.all(atom.Main)[0])
	if bad := banned.FindString(words); bad != "" {
		t.Errorf("%s says %q:\n%s", address, bad, words)
	}
	for _, n := range slices.Concat(d.all(atom.Dd), d.all(atom.P), d.class("tick"), d.class("big")) {
		name := ""
		if prev := n.PrevSibling; prev != nil && n.DataAtom == atom.Dd {
			name = text(prev)
		}
		if strings.HasPrefix(attribute(n, "class"), "big") && d.ids["answer"] != nil {
			name = text(d.ids["answer"])
		}
		line := text(n)
		if bad := unitless(line); bad != nil && !counted(address, name+line) {
			t.Errorf("%s: %q without a unit in %q", address, bad, strings.TrimSpace(name+line))
		}
	}
}

// counted tells whether numbers there are of things, of money or of nothing at all.
func counted(address, line string) bool {
	for _, of := range []string{"/cost", "/difference", "/pour", "standard drinks", "/drinks", "Cycles", "For example 5.", "How many times", "Loss of couplings", "5 is taken", "Batches", "the number out", "1.12", "Seed ", "runs of the vessel", "The draws that are left"} {
		if strings.Contains(address, of) || strings.Contains(line, of) {
			return true
		}
	}
	return false
}

// A rule that cannot fail holds nothing.
func TestRulesCatch(t *testing.T) {
	for _, page := range []string{`<p>a`, `<p><b>a</p></b>`, `<a id="x"></a><a id="x"></a>`, `<p style="color:red"></p>`, `</p>`} {
		if malformed(page) == "" {
			t.Errorf("%s passes as whole", page)
		}
	}
	for line, want := range map[string]int{"set to 10": 1, "10 psi": 0, "1.046": 0, "between 10 and 12 psi": 0, "1:400": 0, "46": 1, "2.5 volumes (4.9 g/L)": 0} {
		if got := unitless(line); len(got) != want {
			t.Errorf("%q: expected %d numbers without a unit, got %v", line, want, got)
		}
	}
	for _, line := range []string{"Your token", "Please try", "see --water", "Done!"} {
		if !banned.MatchString(line) {
			t.Errorf("%q passes", line)
		}
	}
}

// The worked example of every question is answered, by its address and by its form alike,
// with the words that the calculation gives.
func TestExamples(t *testing.T) {
	s := newSite(t)
	for _, row := range calc.Table() {
		a, err := row.Evaluate(example(row))
		if err != nil {
			t.Fatal(err)
		}
		form := parse(t, get(s, "/work-it-out/"+row.Name))
		for _, w := range []string{address(row, example(row), ""), "/work-it-out/" + row.Name + "?" + form.sent(example(row))} {
			answer := follow(t, s, get(s, w))
			d := parse(t, answer)
			if answer.Code != http.StatusOK || len(d.class("big")) != 1 {
				t.Errorf("%s: %d\n%s", w, answer.Code, text(d.all(atom.Main)[0]))
				continue
			}
			page := text(d.all(atom.Main)[0])
			for _, r := range a.Results {
				if !strings.Contains(page, unit.Minus(r.Words)) { // a number below zero has a true minus
					t.Errorf("%s: %s %q is missing", row.Name, r.Name, r.Words)
				}
			}
			for _, c := range a.Cautions {
				if !strings.Contains(page, plain(row, c)) {
					t.Errorf("%s: the caution is missing: %s", row.Name, c)
				}
			}
			assumed := 0
			for _, in := range a.Inputs {
				if in.Default {
					assumed++
				}
			}
			if n := strings.Count(page, "(assumed)"); n != assumed {
				t.Errorf("%s: %d inputs are marked as assumed, expected %d", row.Name, n, assumed)
			}
			if len(d.class("working")) != 1 || len(d.all(atom.Img)) != 1 {
				t.Errorf("%s: working or plot is missing", row.Name)
			}
		}
		for _, name := range a.Calculation.FlagNames() {
			if attribute(form.ids["field-"+name], "value") != "" && attribute(form.ids["field-"+name], "type") == "text" {
				t.Errorf("%s starts with something in %s", row.Name, name)
			}
		}
	}
}

// A mistake in any field is told beside that field and on top, what was typed stays, and
// the words are those of people.
func TestMistakes(t *testing.T) {
	s := newSite(t)
	for _, row := range calc.Table() {
		for _, f := range row.Flags {
			values := example(row)
			values[f.Name] = "some, <b>"
			mistake(t, s, row, values, f.Name, "some, <b>")
			if delete(values, f.Name); f.Required {
				mistake(t, s, row, values, f.Name, "")
			}
		}
	}
}

func mistake(t *testing.T, s *Site, row *calc.Calculation, values map[string]string, name, typed string) {
	t.Helper()
	w := get(s, address(row, values, ""))
	d := parse(t, w)
	source := w.Body.String()
	if w.Code != http.StatusUnprocessableEntity || d.ids["field-"+name+"-error"] == nil {
		t.Fatalf("%s %s: %d, and nothing beside the field", row.Name, name, w.Code)
	}
	if bad := malformed(source); bad != "" {
		t.Errorf("%s %s: %s", row.Name, name, bad)
	}
	if !strings.HasPrefix(text(d.all(atom.Title)[0]), "Error: ") || !slices.Contains(d.links(), "#field-"+name) {
		t.Errorf("%s %s: the summary does not lead to the field", row.Name, name)
	}
	for _, n := range d.class("error") {
		if id := attribute(n, "id"); id != "" && id != "field-"+name+"-error" {
			t.Errorf("%s: %s is told to be wrong where %s is", row.Name, id, name)
		}
	}
	if field := d.ids["field-"+name]; attribute(field, "type") == "text" && attribute(field, "value") != typed {
		t.Errorf("%s %s: what was typed is gone, there is %q", row.Name, name, attribute(field, "value"))
	}
	if bad := banned.FindString(text(d.all(atom.Main)[0])); bad != "" {
		t.Errorf("%s %s says %q: %s", row.Name, name, bad, text(d.ids["field-"+name+"-error"]))
	}
}

// What does not go together is told in the words of the fields.
func TestTogether(t *testing.T) {
	s := newSite(t)
	for _, c := range []struct{ address, field, say string }{
		{"/work-it-out/carbonation?pressure=10+psi", "temperature", "Give two of “Temperature of the beer”, “Pressure on the dial” and “Gas in the beer”."},
		{"/work-it-out/quiet-gauge?" + sights["together"][len("/work-it-out/quiet-gauge?"):], "vented-from", "Give both “Pressure before you let it down”"},
		{"/work-it-out/alcohol?og=1.010&fg=1.046", "", "it falls while beer ferments"},
		{"/work-it-out/alcohol?og=46&fg=1.010", "og", "1.046"},
		{"/work-it-out/lid?pressure=10&opening=10+cm", "pressure", "it needs a unit"},
		{"/work-it-out/pour?volume=20+L&glass=400+mL&foam=&loss=&unknown=loss", "foam", "“I do not know”"},
	} {
		d := parse(t, get(s, c.address))
		where := d.class("problem")
		if c.field != "" {
			where = append(where, d.ids["field-"+c.field+"-error"])
		}
		for _, n := range where {
			if n == nil || !strings.Contains(text(n), c.say) {
				t.Errorf("%s: expected %q, got:\n%s", c.address, c.say, text(d.class("problem")[0]))
			}
		}
	}
}

// Units once chosen are shown, and a bare number is read in them; the address that can be
// kept says which.
func TestUnits(t *testing.T) {
	s := newSite(t)
	chosen := unitsCookie + "=" + url.QueryEscape("psi,f,gal(us)")
	w := get(s, "/work-it-out/carbonation?temperature=34&pressure=10&volumes=&altitude=&unknown=altitude&rating=", chosen)
	if got, want := w.Header().Get("Location"), "/work-it-out/carbonation?pressure=10+psi&temperature=34+%C2%B0F"; got != want {
		t.Fatalf("expected %s, got %s", want, got)
	}
	page := text(parse(t, get(s, w.Header().Get("Location"), chosen)).all(atom.Main)[0])
	for _, want := range []string{"34 °F", "10 psi", "2.6 volumes"} { // the chart of BrewingTechniques 1994 has 2.57 at 34 F and 10 psi
		if !strings.Contains(page, want) {
			t.Errorf("%q is missing in:\n%s", want, page)
		}
	}
	for _, typed := range []string{"0,7 bar", "0.7 bar", "70 kPa", "10.15 psi"} {
		w := get(s, "/work-it-out/lid?opening=10+cm&pressure="+url.QueryEscape(typed), chosen)
		// 0.7 bar on a circle of 10 cm: 550 N, arithmetic from the definition
		if !strings.Contains(w.Body.String(), "550 N") {
			t.Errorf("%s on 10 cm: expected 550 N, got %d", typed, w.Code)
		}
	}
	for typed, want := range map[string]string{"1.054": "1.054", "1,054": "1%2C054", "13.3": "13.3+%C2%B0P", "1.1": "1.1+%C2%B0P"} {
		w := get(s, "/work-it-out/freezing?og=20&fg="+typed, unitsCookie+"=p")
		if got := w.Header().Get("Location"); !strings.HasPrefix(got, "/work-it-out/freezing?fg="+want+"&") {
			t.Errorf("%s with °P chosen: read as %s", typed, got)
		}
	}
}

// Whatever units are chosen, every example is answered in them, and what a hint gives as
// an example is taken as it stands.
func TestUnitsEverywhere(t *testing.T) {
	s := newSite(t)
	for _, list := range []string{"psi,f,gal(us),p,g/l,oz", "kpa,c,gal(uk),sg,volumes,g", "bar,l"} {
		cookie := unitsCookie + "=" + url.QueryEscape(list)
		units, err := calc.ParseUnits(list)
		if err != nil {
			t.Fatal(err)
		}
		for _, row := range calc.Table() {
			w := get(s, address(row, example(row), ""), cookie)
			d := parse(t, w)
			if w.Code != http.StatusOK {
				t.Fatalf("%s in %s: %d", row.Name, list, w.Code)
			}
			checkPage(t, "/"+row.Name+" in "+list, w.Body.String(), d)
			for _, in := range readForm(row, nil, tastes{Units: units}).Fields {
				if bad := misread(row, in.Flag, in.Sample); in.Sample != "" && bad != "" {
					t.Errorf("%s in %s: the hint for %s is refused: %s", row.Name, list, in.Label, bad)
				}
			}
		}
	}
}

// No query makes the server fail.
func TestOddQueries(t *testing.T) {
	s := newSite(t)
	for _, row := range calc.Table() {
		for _, q := range []string{"?", "?%", "?x=1", "?unknown=altitude", "?" + row.Flags[0].Name, "?" + row.Flags[0].Name + "=1e999+psi", "?" + row.Flags[0].Name + "=%00%ff&" + row.Flags[0].Name + "=2",
			"?" + row.Flags[0].Name + "=" + strings.Repeat("9", 5000), "?" + row.Flags[0].Name + "=-5+L&" + row.Flags[1].Name + "=0"} {
			for _, below := range []string{"", "/table", "/plot.svg"} {
				if w := get(s, "/work-it-out/"+row.Name+below+q); w.Code >= 500 {
					t.Errorf("%s%s%s: %d", row.Name, below, q, w.Code)
				}
			}
		}
	}
}

func post(s *Site, address string, form url.Values, headers ...string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(http.MethodPost, "http://localhost:8417"+address, strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	for i := 0; i+1 < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	w := httptest.NewRecorder()
	s.ServeHTTP(w, r)
	return w
}

func TestSettings(t *testing.T) {
	s := newSite(t)
	w := post(s, "/settings", url.Values{"pressure": {"psi"}, "temperature": {"f"}, "volume": {"barrels"}, "theme": {"glare"}, "back": {"/work-it-out/lid"}})
	cookies := strings.Join(w.Header().Values("Set-Cookie"), "; ")
	if w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/work-it-out/lid" || !strings.Contains(cookies, unitsCookie+"=psi%2Cf;") || !strings.Contains(cookies, themeCookie+"=glare") {
		t.Errorf("%d to %q with %s", w.Code, w.Header().Get("Location"), cookies)
	}
	d := parse(t, get(s, "/settings?kept", unitsCookie+"=psi%2Cf", themeCookie+"=glare"))
	var checked []string
	for _, n := range d.all(atom.Input) {
		if _, on := attributes(n)["checked"]; on && attribute(n, "value") != "" {
			checked = append(checked, attribute(n, "value"))
		}
	}
	if !slices.Equal(checked, []string{"psi", "f", "glare"}) || attribute(d.all(atom.Html)[0], "data-theme") != "glare" {
		t.Errorf("expected psi, f and glare to be chosen, got %v", checked)
	}
	for _, back := range []string{"https://other.example/", "//other.example", `/\other.example`, "javascript:x", "nowhere"} {
		if got := post(s, "/settings", url.Values{"back": {back}}).Header().Get("Location"); got != "/settings?kept" {
			t.Errorf("back %q leads to %q", back, got)
		}
	}
	w = post(s, "/settings", url.Values{"zone": {"Nowhere"}, "pressure": {"psi"}})
	if body := w.Body.String(); w.Code != http.StatusUnprocessableEntity || !strings.Contains(body, "There is a problem") || !strings.Contains(body, `value="Nowhere"`) || len(w.Result().Cookies()) > 0 {
		t.Errorf("expected a zone that is none to be asked for again and nothing kept, got %d", w.Code)
	}
	if cookies := post(s, "/settings", url.Values{"zone": {"Asia/Tokyo"}}).Result().Cookies(); !slices.ContainsFunc(cookies, func(c *http.Cookie) bool { return c.Name == zoneCookie && c.Value == "Asia%2FTokyo" }) {
		t.Errorf("expected the zone to be kept, got %v", cookies)
	}
	for _, q := range quantities(nil) {
		for _, o := range q.Options {
			if _, err := unit.ParseStyle(o.Value, wort.ExtractFromGravity); err != nil {
				t.Error(err)
			}
		}
	}
}

// What comes from elsewhere, is too large or is not there is refused, machines with
// problem details (RFC 9457).
func TestGuard(t *testing.T) {
	s := newSite(t)
	h := get(s, "/").Header()
	for name, want := range map[string]string{"Content-Security-Policy": "default-src 'none'", "X-Content-Type-Options": "nosniff", "X-Frame-Options": "DENY",
		"Referrer-Policy": "same-origin", "Cross-Origin-Opener-Policy": "same-origin", "Cache-Control": "no-store"} {
		if !strings.HasPrefix(h.Get(name), want) {
			t.Errorf("%s: expected %s, got %q", name, want, h.Get(name))
		}
	}
	for _, c := range []struct {
		what string
		w    *httptest.ResponseRecorder
		code int
	}{
		{"a page of another site", post(s, "/settings", url.Values{}, "Sec-Fetch-Site", "cross-site"), http.StatusForbidden},
		{"a large body", post(s, "/settings", url.Values{"theme": {strings.Repeat("x", mostBody)}}), http.StatusRequestEntityTooLarge},
		{"no such page", get(s, "/nowhere"), http.StatusNotFound},
		{"no such question", get(s, "/work-it-out/nothing"), http.StatusNotFound},
		{"no such table", get(s, "/work-it-out/alcohol/table"), http.StatusNotFound},
		{"a plot of nothing", get(s, "/work-it-out/alcohol/plot.svg"), http.StatusUnprocessableEntity},
		{"a table that needs more", get(s, "/work-it-out/chill/table"), http.StatusUnprocessableEntity},
		{"a page that takes nothing", post(s, "/glossary", url.Values{}), http.StatusMethodNotAllowed},
		{"health", get(s, "/healthz"), http.StatusOK},
	} {
		if c.w.Code != c.code {
			t.Errorf("%s: expected %d, got %d", c.what, c.code, c.w.Code)
		}
		if strings.HasPrefix(c.w.Header().Get("Content-Type"), "text/html") {
			checkPage(t, c.what, c.w.Body.String(), parse(t, c.w))
		}
	}
	var p problem
	w := get(s, "/api/v1/nothing")
	if err := json.Unmarshal(w.Body.Bytes(), &p); err != nil || w.Header().Get("Content-Type") != "application/problem+json" || p.Status != http.StatusNotFound || p.Detail == "" {
		t.Errorf("%v: %s", err, w.Body)
	}
}

// A foreign name that was made to point here reads nothing.
func TestHosts(t *testing.T) {
	s := newSite(t)
	for host, code := range map[string]int{"localhost": 200, "127.0.0.1:8417": 200, "[::1]:8417": 200, "spile.example": 421, "192.168.1.7": 421, "": 421} {
		r := httptest.NewRequest(http.MethodGet, "/", nil)
		r.Host = host
		w := httptest.NewRecorder()
		if s.ServeHTTP(w, r); w.Code != code {
			t.Errorf("host %q: expected %d, got %d", host, code, w.Code)
		}
	}
}

// The words that were written for these pages keep to 18 a sentence, cautions to 30.
func TestSentences(t *testing.T) {
	s := newSite(t)
	for _, address := range []string{"/", "/work-it-out", "/something-is-wrong", "/glossary", "/settings", "/fill", "/what-i-have", "/add/vessel", "/stages"} {
		for _, line := range strings.Split(text(parse(t, get(s, address)).all(atom.Main)[0]), "\n") {
			for _, sentence := range strings.FieldsFunc(line, func(r rune) bool { return strings.ContainsRune(".?:;", r) }) {
				if n := len(strings.Fields(sentence)); n > 18 {
					t.Errorf("%s: %d words: %s", address, n, sentence)
				}
			}
		}
	}
}

// The style sheet holds the colours by meaning and is kept under a name that changes with it.
func TestStyle(t *testing.T) {
	s := newSite(t)
	w := get(s, s.styled)
	if !strings.Contains(w.Body.String(), "--belief:#0B3A7A") || !strings.Contains(w.Header().Get("Cache-Control"), "immutable") || strings.Contains(w.Body.String(), "url(") {
		t.Error("the style sheet lacks its colours, is not kept, or asks for more")
	}
}

// The slowest of twenty answers counts: p95.
func BenchmarkPages(b *testing.B) {
	s := newSite(b)
	for name, address := range sights {
		b.Run(name, func(b *testing.B) {
			var took []time.Duration
			for b.Loop() {
				start := time.Now()
				get(s, address)
				took = append(took, time.Since(start))
			}
			slices.Sort(took)
			b.ReportMetric(float64(took[len(took)*95/100].Microseconds())/1000, "p95-ms")
		})
	}
}

// What is asked stands first, and a band stands with its own result.
func TestFirstResult(t *testing.T) {
	s := newSite(t)
	for _, c := range []struct{ address, name, band string }{
		{"/work-it-out/dilution?volume=17+L&gravity=1.054&target-gravity=1.046", "Water to add", ""},
		{"/work-it-out/dilution?volume=17+L&gravity=1.054&water=3+L", "Gravity after mixing", "Between 1.045 and 1.047"},
		{"/work-it-out/purge?pressure=15+psi&cycles=5", "Oxygen left", ""},
		{"/work-it-out/purge?pressure=15+psi&target=1000+ppm", "Cycles", ""},
		{"/work-it-out/foam-room?volume=20+L&capacity=26+L", "Gas space", ""},
	} {
		d := parse(t, get(s, c.address))
		if got := strings.TrimSpace(text(d.ids["answer"])); got != c.name {
			t.Errorf("%s: expected %s, got %s", c.address, c.name, got)
		}
		next := text(d.class("big")[0].NextSibling.NextSibling)
		if strings.HasPrefix(next, "Between") != (c.band != "") || !strings.HasPrefix(next, c.band) {
			t.Errorf("%s: below the first result stands %q", c.address, next)
		}
	}
}

// What stands beside a field as an example is in the unit that stands behind it, and with the decimal mark chosen, though the example of the row does not give it.
func TestExamplesInTheUnitsChosen(t *testing.T) {
	var chosen tastes
	chosen.take("psi,f,comma")
	row, _ := calc.Find("line")
	got := map[string]string{}
	for _, in := range readForm(row, nil, chosen).Fields {
		got[in.Name] = in.Sample + "|" + in.Unit + "|" + in.Assumed
	}
	for name, want := range map[string]string{"warmest": "64 °F|°F|", "temperature": "37 °F|°F|37 °F", "rise": "0,5 m||0,5 m", "volumes": "2,5 volumes||", "pressure": "12 psi|psi|"} {
		if got[name] != want {
			t.Errorf("%s: got %s, want %s", name, got[name], want)
		}
	}
}

// Whoever looks a key up finds it by the alphabet.
func TestSourcesAreInOrder(t *testing.T) {
	all := sources(spile.References)
	if len(all) < 50 || !slices.IsSortedFunc(all, func(a, b source) int { return strings.Compare(strings.ToLower(a.Key), strings.ToLower(b.Key)) }) {
		t.Errorf("%d sources, or not in order", len(all))
	}
}
