package web

import (
	"errors"
	"maps"
	"net/http"
	"net/http/httptest"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"github.com/chromedp/chromedp"
	"golang.org/x/net/html"

	"spile/batch"
	"spile/calc"
	"spile/internal/catalogue"
	"spile/internal/store"
	"spile/unit"
	"spile/wording"
)

// unreal is a language made of the catalogue: every letter of a text has an accent, and it is two
// fifths longer. What stands on a page without accents is not in the catalogue, or it is a slot.
func unreal(t testing.TB) *wording.Tongue {
	t.Helper()
	all, err := catalogue.All()
	if err != nil || len(all) < 200 {
		t.Fatalf("%d texts: %v", len(all), err)
	}
	texts := map[wording.Text][]string{}
	for _, e := range all {
		texts[e.English] = []string{accented(string(e.English))}
		if e.Plural != "" {
			texts[e.English] = []string{accented(string(e.English)), accented(string(e.Plural))}
		}
	}
	return wording.New("en-XA", "Accented", texts, func(n int) int {
		if n == 1 {
			return 0
		}
		return 1
	})
}

// fixedPart are the parts of a text that no translation changes: slots, what is typed on the command line and the name of the program.
var fixedPart = regexp.MustCompile(`--[a-z]+(?:-[a-z]+)*|\bspile calc [a-z-]*[a-z]|\{[^{}]*\}|%[-+#0]*\d*(?:\.\d+)?(?:\[\d+\])?[a-zA-Z%]|\bSpile\b`)

// accented gives each letter an accent and adds two letters to every five.
func accented(text string) string {
	var out strings.Builder
	at, letters := 0, 0
	plain := func(s string) {
		for _, c := range s {
			i := strings.IndexRune("aceghijklnorstuwyzACEGHIJKLNORSTUWYZbdfmpqvxBDFMPQVX", c)
			if i < 0 {
				out.WriteRune(c)
				continue
			}
			accent := []rune("âĉêĝĥîĵķļñôŕŝţûŵŷžÂĈÊĜĤÎĴĶĻÑÔŔŜŢÛŴŶŽƀðƒɱþɋṽẋƁÐƑṀÞɊṼẊ")[len([]rune("aceghijklnorstuwyzACEGHIJKLNORSTUWYZbdfmpqvxBDFMPQVX"[:i]))]
			out.WriteRune(accent)
			if letters++; letters%5 == 0 {
				out.WriteString("ɘɘ")
			}
		}
	}
	for _, m := range fixedPart.FindAllStringIndex(text, -1) {
		plain(text[at:m[0]])
		out.WriteString(text[m[0]:m[1]])
		at = m[1]
	}
	plain(text[at:])
	return out.String()
}

// outside is what of a page is in no catalogue: its texts that hold a plain word which is no unit, no
// name and no word of the brewer's own, by that word.
func outside(page string, own map[string]bool) (map[string]string, error) {
	root, err := html.Parse(strings.NewReader(page))
	if err != nil {
		return nil, err
	}
	found := map[string]string{}
	check := func(text string) {
		for _, word := range plainWord.FindAllString(text, -1) {
			if !own[word] {
				found[word] = strings.Join(strings.Fields(text), " ")
			}
		}
	}
	for n := range root.Descendants() {
		if n.Type == html.TextNode && !slices.Contains([]string{"code", "var", "script", "style", "noscript"}, n.Parent.Data) && !cited(n.Parent) {
			check(n.Data)
		}
		for _, a := range n.Attr {
			if slices.Contains([]string{"title", "aria-label", "placeholder", "alt", "data-live"}, a.Key) {
				check(a.Val)
			}
		}
	}
	return found, nil
}

// cited tells of a work that is named, on its own page and where it is leant on: it keeps its name.
func cited(n *html.Node) bool {
	for a := range n.Ancestors() {
		if a.Data == "dl" && slices.ContainsFunc(a.Attr, func(x html.Attribute) bool { return x.Val == "terms sources" }) {
			return true
		}
	}
	return slices.ContainsFunc(n.Attr, func(x html.Attribute) bool { return x.Key == "href" && strings.HasPrefix(x.Val, "/sources#") })
}

var (
	plainWord = regexp.MustCompile(`[A-Za-z]{2,}`)
	nameWords = "NaN Inf SG Plato hPa mbar fl oz lb mol Spile English Accented UTC am pm CO PET IBU"
)

// ownWords are names and abbreviations, and all words that the brewer wrote: they are in no catalogue.
func ownWords(t testing.TB, s *Site) map[string]bool {
	t.Helper()
	own := map[string]bool{}
	for _, w := range strings.Fields(nameWords + " " + s.version) {
		own[w] = true
	}
	w := get(s, "/settings/records/log.jsonl")
	if w.Code != http.StatusOK {
		t.Fatal(w.Code)
	}
	for _, value := range regexp.MustCompile(`"(?:name|place|words|note|shape)":"((?:[^"\\]|\\.)*)"`).FindAllStringSubmatch(w.Body.String(), -1) {
		for _, word := range plainWord.FindAllString(value[1], -1) {
			own[word] = true
		}
	}
	return own
}

// answered are the pages of all calculations, empty and with their example, its plot and its table.
func answered() map[string]string {
	pages := map[string]string{}
	for _, row := range calc.Table() {
		pages[row.Name], pages[row.Name+", answered"] = "/work-it-out/"+row.Name, address(row, example(row), "")
		pages[row.Name+", drawn"] = address(row, example(row), "/plot.svg")
		if row.Card.Of != "" {
			pages[row.Name+", a table"] = address(row, example(row), "/table")
		}
	}
	return pages
}

// endOne empties a vessel of the shed, gives its batch scores, and gives the batch's page.
func endOne(t *testing.T, s *Site) string {
	t.Helper()
	all, err := s.allStandingIn(t.Context(), unit.Style{})
	if err != nil {
		t.Fatal(err)
	}
	id := all[len(all)-1].Seen.ID
	e, err := s.written(store.NewID(), batch.KindJudgement, shedNow, batch.Judgement{Verdict: batch.Emptied})
	if e.Batch = id; err == nil {
		_, err = s.watch.Keep(t.Context(), e)
	}
	if err != nil {
		t.Fatal(err)
	}
	if seen, err := s.watch.Settle(t.Context(), id, time.Minute); err != nil || !seen.Fresh() {
		t.Fatal(err)
	}
	scores := []store.Score{{Batch: id, What: "finished", Days: 19, Judged: 14, Held: 12, Scored: 13, Sum: 13 * 36 * 3600}, {Batch: id, What: "gravity", Days: 2, Judged: 1, Held: 1, Scored: 1, Sum: 0.0042}, {Batch: id, What: "ready", Days: 19}}
	if err := s.watch.Store().KeepScores(t.Context(), id, scores); err != nil {
		t.Fatal(err)
	}
	return "/vessels/" + id.String()
}

// refusals are pages that say why something is not done.
func refusals(t *testing.T, s *Site) map[string]*httptest.ResponseRecorder {
	t.Helper()
	out := map[string]*httptest.ResponseRecorder{}
	for _, address := range []string{"/nowhere", "/vessels/nobody", "/print/door-card?paper=a5"} {
		out[address] = get(s, address, tongueCookie+"=en-XA")
		if out[address].Code < 400 {
			t.Errorf("%s: %d", address, out[address].Code)
		}
	}
	r := httptest.NewRequest(http.MethodPost, "http://localhost/settings/people", nil)
	r.Header.Set("Cookie", tongueCookie+"=en-XA")
	r = s.inTongue(r)
	for _, role := range []store.Role{store.Brewer, store.Viewer} {
		out["as "+string(role)] = httptest.NewRecorder()
		s.notAllowed(out["as "+string(role)], r, &store.Person{Name: "Dunlin", Role: role})
	}
	out["a broken form"], out["a fault"] = httptest.NewRecorder(), httptest.NewRecorder()
	s.unreadable(out["a broken form"], r)
	s.fail(out["a fault"], r, errors.New("of a test"))
	return out
}

// Every text on every page is in the catalogue, but for the words that testdata/outside.txt lists: those of
// texts that are still to be brought into it. The list can only become shorter. It looks at pages that are
// asked for, one of each kind, and at every calculation; beyond it stands in English alone the command line.
func TestNoTextOutsideTheCatalogue(t *testing.T) {
	s := newShed(t)
	over := endOne(t, s)
	pages := everyKind(t, s)
	maps.Copy(pages, answered())
	pages["ended"], pages["its card"], pages["all of it"] = over, "/print/batch-card?batch="+strings.TrimPrefix(over, "/vessels/"), over+"/everything"
	pages["tried"], pages["tried for long"] = pages[kindOfPage(over)]+"?hold=21&gas=off&from=24", pages[kindOfPage(over)]+"?hold=1"
	s.learn(unreal(t))
	pages["nothing known"] = lookOf(t, s, nothingKnown(t, s))
	own, found := ownWords(t, s), map[string]string{}
	check := func(address string, w *httptest.ResponseRecorder) {
		if !strings.Contains(w.Body.String(), `lang="en-XA"`) && !strings.HasPrefix(address, "/print/") && !strings.Contains(address, ".svg") {
			t.Errorf("%s: %d, not in the language that was asked for", address, w.Code)
		}
		texts, err := outside(w.Body.String(), own)
		if err != nil {
			t.Fatal(err)
		}
		for word, text := range texts {
			found[word] = address + ": " + text
		}
	}
	for _, address := range pages {
		w := get(s, address, tongueCookie+"=en-XA")
		if w.Code != http.StatusOK {
			t.Errorf("%s: %d", address, w.Code)
		}
		check(address, w)
	}
	for address, w := range refusals(t, s) {
		check(address, w)
	}
	listed, err := os.ReadFile("testdata/outside.txt")
	if err != nil {
		t.Fatal(err)
	}
	known := strings.Fields(string(listed))
	for word, where := range found {
		if !slices.Contains(known, word) {
			t.Errorf("%s: %q is not in the catalogue (CONTRIBUTING.md, Add a text)", where, word)
		}
	}
	t.Logf("%d words are outside the catalogue, of %d that were", len(found), len(known))
	if *update {
		left := slices.DeleteFunc(known, func(word string) bool { return found[word] == "" })
		if err := os.WriteFile("testdata/outside.txt", []byte(strings.Join(left, "\n")+"\n"), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if path := os.Getenv("SPILE_OUTSIDE"); path != "" { // to look at
		lines := slices.Sorted(maps.Values(found))
		if err := os.WriteFile(path, []byte(strings.Join(slices.Compact(lines), "\n")+"\n"), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// A translator adds one file; the program then offers the language and speaks it to whoever chose it or
// whose browser asks for it. What the file does not hold is said in English.
func TestLanguageIsAFile(t *testing.T) {
	tongues, err := catalogue.ReadAll(fstest.MapFS{"nds.po": {Data: []byte(`msgid ""
msgstr "X-Language-Name: Platt\n"
msgid "Something is wrong"
msgstr "Wat is verkehrt"
msgid "A glass float that reads gravity."
msgstr "En Swemmer ut <Glas>."
msgid "Logged in as {it}."
msgstr "{it} is binnen."
`)}})
	if err != nil {
		t.Fatal(err)
	}
	s := newSite(t)
	plain := get(s, "/glossary").Body.String()
	for _, tongue := range tongues {
		s.learn(tongue)
	}
	if got := get(s, "/glossary").Body.String(); !strings.Contains(got, "Something is wrong</a>") || !strings.Contains(got, `<html lang="en"`) || len(got) != len(plain) {
		t.Errorf("English is another with a second language: %s", got)
	}
	r := httptest.NewRequest(http.MethodGet, "http://localhost/glossary", nil)
	r.Header.Set("Accept-Language", "nds, en;q=0.5")
	asked := httptest.NewRecorder()
	s.ServeHTTP(asked, r)
	for how, got := range map[string]string{"chosen": get(s, "/glossary", tongueCookie+"=nds").Body.String(), "asked for": asked.Body.String()} {
		for _, want := range []string{`<html lang="nds"`, "Wat is verkehrt</a>", "En Swemmer ut &lt;Glas&gt;.", "A thermometer stuck on the vessel.", "Settings</a>"} {
			if !strings.Contains(got, want) {
				t.Errorf("%s: %q is missing", how, want)
			}
		}
	}
	if got := get(s, "/settings", tongueCookie+"=nds").Body.String(); !strings.Contains(got, `value="nds" lang="nds" checked>Platt`) {
		t.Errorf("Settings does not offer it: %s", got)
	}
	if got := get(newSite(t), "/settings").Body.String(); strings.Contains(got, "Language") {
		t.Error("a choice of one")
	}
}

// A language that needs two fifths more room breaks no page of a phone: nothing runs off its side.
func TestLongLanguageOnAPhone(t *testing.T) {
	s := newShed(t)
	pages := everyKind(t, s)
	s.learn(unreal(t))
	ctx, home := browseOn(t, s)
	const width = 390
	do(ctx, t, chromedp.EmulateViewport(width, 800), chromedp.Navigate(home+"/glossary"), chromedp.WaitReady(chromedp.CSS("body")))
	script[string](ctx, t, "document.cookie = '"+tongueCookie+"=en-XA; path=/'")
	for kind, path := range pages {
		if strings.HasPrefix(path, "/print/") { // paper has sizes of its own
			continue
		}
		do(ctx, t, chromedp.Navigate(home+path), chromedp.WaitReady(chromedp.CSS("body")))
		if lang := script[string](ctx, t, "document.documentElement.lang"); lang != "en-XA" {
			t.Fatalf("%s is in %q", path, lang)
		}
		if wide := script[int64](ctx, t, "document.documentElement.scrollWidth"); wide > width {
			t.Errorf("%s is %d px wide; %s", kind, wide, script[string](ctx, t, `[...document.querySelectorAll('body *')].filter(e => e.getBoundingClientRect().right > innerWidth && !e.closest('.scroll')).map(e => e.outerHTML.slice(0, 120)).slice(0, 4).join('\n')`))
		}
	}
}

// A word of the trade is found between letters with accents, and the glossary stands in the order of the
// language's own alphabet: in Swedish Å, Ä and Ö come behind Z (Unicode CLDR).
func TestGlossaryInALanguage(t *testing.T) {
	v := speak(wording.New("sv", "Svenska", map[wording.Text][]string{"wort": {"ört"}, "keg": {"fattå"}, "attenuation": {"öring"}, "pitch": {"zon"}, "sanitise": {"ägg"}}, func(int) int { return 0 }))
	got := string(v.trade("Ört i fattå, fattår och mört."))
	if want := `<a class="trade" href="/glossary#wort">Ört</a> i <a class="trade" href="/glossary#keg">fattå</a>, fattår och mört.`; got != want {
		t.Errorf("got %s\nwant %s", got, want)
	}
	at := map[string]int{}
	for i, x := range v.glossary {
		at[x.ID] = i
	}
	if !(at["working-valve"] < at["pitch"] && at["pitch"] < at["sanitise"] && at["sanitise"] < at["attenuation"] && at["attenuation"] < at["wort"]) {
		t.Errorf("zon, ägg, öring and ört stand at %d, %d, %d and %d", at["pitch"], at["sanitise"], at["attenuation"], at["wort"])
	}
	if !slices.EqualFunc(speak(nil).glossary, terms, func(a explained, b term) bool { return a.ID == b.ID }) {
		t.Error("in English the glossary stands in another order than it is written")
	}
}
