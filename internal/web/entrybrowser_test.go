package web

import (
	"context"
	"flag"
	"math"
	"net/http"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"spile/unit"

	"github.com/chromedp/chromedp"
)

// TestEntryInABrowser goes the ways of a person with a phone.
func TestEntryInABrowser(t *testing.T) {
	s := newFilled(t, "Dunlin", "Godwit", "Sanderling", "Turnstone").foretold()
	ctx, home := browseOn(t, s.Site)
	show(ctx, t, home+"/", 390)
	t.Run("two taps", func(t *testing.T) { twoTaps(ctx, t, s) })
	t.Run("the round", func(t *testing.T) { goRound(ctx, t, s, home) })
	t.Run("small screen", func(t *testing.T) { entrySmall(ctx, t, s, home) })
	if f := flag.Lookup("test.artifacts"); f != nil && f.Value.String() == "true" {
		t.Run("pictures", func(t *testing.T) { entryPictures(ctx, t, s, home) })
	}
}

// painted: somebody sees the page, or nobody as it stands behind another one. Before its first paint a browser throws away
// what is typed, and sets no focus.
const painted = "document.readyState == 'complete' && (document.hidden || performance.getEntriesByName('first-contentful-paint').length > 0)"

// leads waits until what was done has led to a page that is seen, and on which a condition holds.
func leads(ctx context.Context, t *testing.T, what, condition string) {
	t.Helper()
	for end := time.Now().Add(time.Minute); time.Now().Before(end); time.Sleep(50 * time.Millisecond) {
		if holds, err := chromedp.Run(ctx, chromedp.Evaluate[bool](painted+" && !!("+condition+")")); err == nil && holds {
			return
		}
	}
	t.Fatalf("%s does not come; there is\n%s", what, script[string](ctx, t,
		"[location.href, 'seen: ' + ("+painted+"), 'focus: ' + document.activeElement?.outerHTML.slice(0, 120), "+
			"'typed: ' + [...document.querySelectorAll('input[type=text]')].map(e => e.name + '=' + e.value).join(' '), document.body.innerText].join('\\n')"))
}

// twoTaps: from Vessels one tap to the form, pressure and temperature typed, one tap to keep them.
func twoTaps(ctx context.Context, t *testing.T, s *filled) {
	first := script[string](ctx, t, "document.querySelector('.doors a').href")
	do(ctx, t, chromedp.Click(chromedp.CSS(".doors a")), chromedp.WaitReady(chromedp.CSS("#field-pressure")),
		chromedp.SendKeys(chromedp.CSS("#field-pressure"), "12,5"), chromedp.SendKeys(chromedp.CSS("#field-temperature"), "19.5"),
		chromedp.Click(chromedp.CSS(".keep button")))
	leads(ctx, t, "what was kept", "document.querySelector('.echo')")
	if page := script[string](ctx, t, "document.querySelector('.echo').innerText"); !strings.Contains(strings.ReplaceAll(page, "\u00a0", " "), "12.5 psi (0.86 bar), 19.5 °C") {
		t.Errorf("%s: after two taps the page says:\n%s", first, page)
	}
	do(ctx, t, chromedp.Click(chromedp.CSS(".echo button")))
	leads(ctx, t, "the page after taking back", `document.querySelector('.echo button')?.innerText == 'Put it back'`)
	if page := script[string](ctx, t, "document.querySelector('.echo').innerText"); !strings.Contains(page, "Taken back: 12.5") {
		t.Errorf("taken back, and the page says:\n%s", page)
	}
	goBack(ctx, t)
	leads(ctx, t, "that it is undone", "document.querySelector('.echo')?.innerText.includes('Undone since') && !document.querySelector('.echo button')")
}

// goRound: eight numbers, the keyboard going from field to field, one button.
func goRound(ctx context.Context, t *testing.T, s *filled, home string) {
	show(ctx, t, home+"/round", 390)
	start := time.Now()
	do(ctx, t, chromedp.Focus(chromedp.CSS(".round input[type=text]")))
	for i, number := range []string{"10", "19", "9.5", "19.5", "11", "20", "10", "18"} {
		if i > 0 {
			for range 6 { // over what the page has between two fields
				do(ctx, t, chromedp.KeyEvent("\t"))
				if script[bool](ctx, t, "document.activeElement.matches('.round input[type=text]')") {
					break
				}
			}
		}
		do(ctx, t, chromedp.KeyEvent(number))
	}
	do(ctx, t, chromedp.Click(chromedp.CSS(".keep button")))
	leads(ctx, t, "what was kept", "document.querySelector('.echo')")
	t.Logf("four vessels in %v, without the person", time.Since(start).Round(time.Millisecond))
	if n := script[int](ctx, t, "document.querySelectorAll('.echo').length"); n != 4 {
		t.Errorf("%d vessels were kept, want 4", n)
	}
	for name, want := range map[string]int{"Dunlin": 2, "Godwit": 2, "Sanderling": 2, "Turnstone": 2} {
		if got := len(s.log(name).Log.Readings); got != want {
			t.Errorf("%s: %d readings, want %d", name, got, want)
		}
	}
}

// The round is typed without a look at the keyboard: number, Enter, number, Enter. The last one sends, once.
func TestRoundGoesOnWithEnter(t *testing.T) {
	needScripts(t)
	s := newFilled(t, "Dunlin", "Godwit", "Sanderling", "Turnstone").foretold()
	var sent atomic.Int32
	ctx, home := browseOn(t, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method == http.MethodPost {
			sent.Add(1)
		}
		s.ServeHTTP(w, r)
	}))
	show(ctx, t, home+"/round", 390)
	leads(ctx, t, "the first field", "document.activeElement.matches('.round input[type=text]')")
	leads(ctx, t, "the scripts", "document.querySelector('section.waiting')")
	for i, number := range []string{"10", "19", "9.5", "19.5", "11", "20", "10", "18"} {
		key := "next"
		if i == 7 {
			key = "send"
		}
		if got := script[string](ctx, t, "document.activeElement.enterKeyHint"); got != key {
			t.Errorf("field %d: the key says %q; expected %q", i+1, got, key)
		}
		if sent.Load() != 0 {
			t.Fatalf("sent before field %d", i+1)
		}
		do(ctx, t, chromedp.KeyEvent(number+"\r"))
	}
	leads(ctx, t, "what was kept", "document.querySelectorAll('.echo').length == 4")
	if n := sent.Load(); n != 1 {
		t.Errorf("sent %d times; expected once", n)
	}
	want := map[string][2]float64{"Dunlin": {10, 19}, "Godwit": {9.5, 19.5}, "Sanderling": {11, 20}, "Turnstone": {10, 18}}
	for name, values := range want {
		readings := s.log(name).Log.Readings
		if len(readings) != 2 || math.Abs(readings[0].Value/unit.PSI-values[0]) > 0.01 || math.Abs(readings[1].Value-float64(unit.Celsius(values[1]))) > 0.01 {
			t.Errorf("%s: kept %+v; expected %v psi and %v °C", name, readings, values[0], values[1])
		}
	}
	show(ctx, t, home+s.at("Dunlin", "/i-read"), 390) // what is folded away is passed over
	leads(ctx, t, "the scripts", "document.querySelector('section.waiting')")
	do(ctx, t, chromedp.SendKeys(chromedp.CSS("#field-pressure"), "12\r"), chromedp.KeyEvent("20\r"))
	leads(ctx, t, "what was kept", "document.querySelector('.echo')?.innerText.includes('12') && location.search.includes('kept')")
	if n := sent.Load(); n != 2 {
		t.Errorf("sent %d times; expected twice", n)
	}
}

// entrySights are these pages, with something wrong in one of them.
func (s *filled) sights() map[string]string {
	out := map[string]string{"round": "/round", "read": s.at("Dunlin", "/i-read"), "did": s.at("Dunlin", "/i-did"), "noticed": s.at("Dunlin", "/i-noticed")}
	for _, key := range []string{"vent", "valve", "clean", "sample"} {
		out["did-"+key] = s.at("Dunlin", "/i-did?what="+key)
	}
	if readings := s.log("Dunlin").Log.Readings; len(readings) > 0 {
		out["one"] = s.at("Dunlin", "/entries/"+readings[0].Entry.String())
	}
	return out
}

// entrySmall holds these pages to what smallScreen holds all to.
func entrySmall(ctx context.Context, t *testing.T, s *filled, home string) {
	for name, path := range s.sights() {
		show(ctx, t, home+path, 320)
		fits(ctx, t, name, 320)
		if bad := script[string](ctx, t, smallTargets); bad != "" {
			t.Errorf("%s: too small to touch:\n%s", name, bad)
		}
	}
}

// entryPictures keeps the pages to be looked at: go test -artifacts -outputdir DIR.
func entryPictures(ctx context.Context, t *testing.T, s *filled, home string) {
	for name, path := range s.sights() {
		show(ctx, t, home+path, 390)
		picture(ctx, t, "entry-"+name)
	}
	show(ctx, t, home+s.at("Dunlin", "/i-read"), 390)
	do(ctx, t, chromedp.SendKeys(chromedp.CSS("#field-pressure"), "12 bar"), chromedp.Click(chromedp.CSS(".keep button")))
	leads(ctx, t, "the question", "document.querySelector('.doubt')")
	picture(ctx, t, "entry-doubt")
	show(ctx, t, home+s.at("Dunlin", "/i-read"), 390)
	do(ctx, t, chromedp.SendKeys(chromedp.CSS("#field-pressure"), "38"), chromedp.Click(chromedp.CSS(".keep button")))
	leads(ctx, t, "the caution", "document.querySelector('.echo')")
	picture(ctx, t, "entry-limit")
	show(ctx, t, home+"/round", 390)
	do(ctx, t, chromedp.SendKeys(chromedp.CSS(".round input[type=text]"), "10"), chromedp.Click(chromedp.CSS(".keep button")))
	leads(ctx, t, "the round", "document.querySelector('.echo')")
	picture(ctx, t, "entry-round-kept")
}
