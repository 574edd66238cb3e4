package web

import (
	"context"
	"net"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"spile/batch"
	"spile/internal/monitor"
	"spile/internal/store"
	"spile/unit"

	"github.com/chromedp/chromedp"
)

// today fills vessels two days before this very moment, by the clock that a browser has too.
func today(t *testing.T, names ...string) *filled {
	t.Helper()
	s := newFilled(t)
	s.now = time.Now()
	s.Site = New("test", quiet, monitor.New(s.watch.Store(), quiet, time.Now))
	s.patience = 0
	for _, name := range names {
		s.fill(name)
	}
	return s.foretold()
}

// doorway is a server that can be stopped and started under one address.
type doorway struct {
	t       *testing.T
	pages   http.Handler
	address string
	server  *http.Server
	deaf    atomic.Bool // takes what is sent, and the answer is lost on its way
}

func newDoorway(t *testing.T, pages http.Handler) *doorway {
	t.Helper()
	d := &doorway{t: t, pages: pages, address: "127.0.0.1:0"}
	d.start()
	t.Cleanup(func() { d.server.Close() })
	return d
}

func (d *doorway) start() {
	d.t.Helper()
	l, err := net.Listen("tcp", d.address)
	if err != nil {
		d.t.Fatal(err)
	}
	d.address = l.Addr().String()
	d.server = &http.Server{Handler: d}
	go d.server.Serve(l) //nolint:errcheck // it ends when the server is closed
}

func (d *doorway) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	if d.deaf.Load() && r.Method == http.MethodPost {
		d.pages.ServeHTTP(nowhere{http.Header{}}, r)
		panic(http.ErrAbortHandler)
	}
	d.pages.ServeHTTP(w, r)
}

// nowhere is where answers get lost.
type nowhere struct{ header http.Header }

func (n nowhere) Header() http.Header         { return n.header }
func (n nowhere) WriteHeader(int)             {}
func (n nowhere) Write(b []byte) (int, error) { return len(b), nil }

// typeIn puts a pressure into the form that is open and keeps it.
func typeIn(ctx context.Context, t *testing.T, pressure string) {
	t.Helper()
	do(ctx, t, chromedp.WaitReady(chromedp.CSS("#field-pressure[data-stepping]")), chromedp.SendKeys(chromedp.CSS("#field-pressure"), pressure), chromedp.Click(chromedp.CSS(".keep button")))
}

// pressures are those that the log of a batch holds, in psi, with their times.
func (s *filled) pressures(name string) map[float64][]time.Time {
	out := map[float64][]time.Time{}
	for _, r := range s.log(name).Log.Readings {
		if r.Quantity == batch.Pressure {
			psi := float64(int(r.Value/unit.PSI*10+0.5)) / 10
			out[psi] = append(out[psi], r.Time)
		}
	}
	return out
}

// What is typed while the server is away is sent when it is back: each once, at its own time.
func TestNothingTypedIsLost(t *testing.T) {
	needScripts(t)
	s := today(t, "Dunlin")
	ctx, _ := browseOn(t, s.Site)
	d := newDoorway(t, s.Site)
	form := "http://" + d.address + s.at("Dunlin", "/i-read")
	show(ctx, t, form, 390)
	leads(ctx, t, "what keeps pages", "navigator.serviceWorker?.controller")
	show(ctx, t, form, 390) // it is kept now, to be opened again without a server
	d.server.Close()

	typed := map[float64]time.Time{}
	away := func(psi float64, text string) {
		t.Helper()
		typed[psi] = time.Now()
		typeIn(ctx, t, text)
		leads(ctx, t, text+" as kept", "document.querySelector('.waiting')?.innerText.includes('Pressure on the dial "+text+"')")
		time.Sleep(1200 * time.Millisecond) // so that times can be told apart
	}
	away(8, "8")
	away(9, "9") // into the same page, after the first was kept
	show(ctx, t, form, 390)
	leads(ctx, t, "what was kept, on a page opened again", "document.querySelectorAll('.waiting li').length == 2")
	away(10.5, "10.5") // from a page that the browser kept, whose id was given away before
	if said := script[string](ctx, t, "document.querySelector('.waiting').innerText"); !strings.Contains(said, "Kept on this phone. Not sent yet.") {
		t.Errorf("the page says %q", said)
	}
	leads(ctx, t, "the word that the server is silent", "document.querySelector('.away')?.innerText.startsWith('No word from Spile since')")
	if n := len(s.pressures("Dunlin")); n != 0 {
		t.Fatalf("%d readings came without a server", n)
	}

	d.start()
	leads(ctx, t, "what was sent", "document.querySelectorAll('.waiting li').length == 0 && document.querySelector('.waiting').innerText.includes('Sent.')")
	d.deaf.Store(true)
	show(ctx, t, form, 390)
	typeIn(ctx, t, "11.5")
	leads(ctx, t, "one whose answer was lost, as kept", "document.querySelectorAll('.waiting li').length == 1")
	typed[11.5] = time.Now()
	d.deaf.Store(false)
	script[bool](ctx, t, "dispatchEvent(new Event('online'))")
	leads(ctx, t, "that it was sent", "document.querySelectorAll('.waiting li').length == 0")

	got := s.pressures("Dunlin")
	for psi, at := range typed {
		if len(got[psi]) != 1 {
			t.Errorf("%v psi was kept %d times; expected once", psi, len(got[psi]))
		} else if late := got[psi][0].Sub(at); late < -3*time.Second || late > 8*time.Second {
			t.Errorf("%v psi stands %v after it was typed", psi, late)
		}
	}
	if len(got) != len(typed) {
		t.Errorf("typed %v, kept %v", typed, got)
	}
	show(ctx, t, "http://"+d.address+"/something-is-wrong", 390)
	d.server.Close()
	show(ctx, t, "http://"+d.address+"/vessels/"+store.NewID().String(), 390) // never seen before
	if title := script[string](ctx, t, "document.querySelector('h1').innerText"); title != "Something is wrong" {
		t.Errorf("without a server a page that was never opened shows %q", title)
	}
}

// What is typed while older things are still being sent goes at once: no press of the button is swallowed.
func TestNewOneGoesWhileOlderIsSent(t *testing.T) {
	needScripts(t)
	s := today(t, "Dunlin")
	ctx, answered := browser(t), make(chan struct{})
	d := newDoorway(t, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method == http.MethodPost && r.PostFormValue("pressure") == "8" {
			select {
			case <-answered:
			case <-r.Context().Done():
				return
			}
		}
		s.ServeHTTP(w, r)
	}))
	show(ctx, t, "http://"+d.address+s.at("Dunlin", "/i-read"), 390)
	leads(ctx, t, "the scripts", "document.querySelector('section.waiting')")
	d.server.Close()
	typeIn(ctx, t, "8")
	leads(ctx, t, "the first as kept", "document.querySelectorAll('.waiting li').length == 1")
	d.start()
	script[bool](ctx, t, "dispatchEvent(new Event('online'))") // it is sent, and the answer is slow
	typeIn(ctx, t, "9")
	leads(ctx, t, "the second", "document.querySelector('.echo')?.innerText.includes('Sent')")
	close(answered)
	leads(ctx, t, "that the first was sent", "document.querySelectorAll('.waiting li').length == 0")
	if got := s.pressures("Dunlin"); len(got) != 2 || len(got[8]) != 1 || len(got[9]) != 1 {
		t.Errorf("kept %v; expected 8 and 9 psi, once each", got)
	}
}

// Who goes back to a form as it was left and sends it again keeps nothing twice; a page that was kept for when the server
// is away is another one each time that it is opened. A browser shows the former with a pageshow that says so.
func TestSentAgainAfterGoingBack(t *testing.T) {
	needScripts(t)
	s := today(t, "Dunlin")
	ctx, home := browseOn(t, s.Site)
	for _, c := range []struct {
		form, ids, field string
		psi              float64
	}{{s.at("Dunlin", "/i-read"), "[name=id]", "#field-pressure", 12.5}, {"/round", "[name^=id-]", "[name^=pressure-]", 11}} {
		show(ctx, t, home+c.form, 390)
		id := script[string](ctx, t, "document.querySelector('"+c.ids+"').value")
		for sending, want := range []int{1, 1, 2} {
			show(ctx, t, home+c.form, 390)
			leads(ctx, t, "the scripts", "document.querySelector('section.waiting')")
			script[bool](ctx, t, "!!(document.querySelector('"+c.ids+"').value = '"+id+"')")
			if sending == 1 {
				script[bool](ctx, t, "dispatchEvent(new PageTransitionEvent('pageshow', {persisted: true}))")
			}
			do(ctx, t, chromedp.SendKeys(chromedp.CSS(c.field), strconv.FormatFloat(c.psi, 'f', -1, 64)), chromedp.Click(chromedp.CSS(".keep button")))
			leads(ctx, t, "what was kept", "document.querySelector('.echo')")
			if got := s.pressures("Dunlin"); len(got[c.psi]) != want {
				t.Errorf("%s, sent for the %d. time: kept %v; expected %v psi %d times", c.form, sending+1, got, c.psi, want)
			}
		}
	}
}

// A second tab shows what was kept in the first, in place: what is open stays open, and
// who has the focus keeps it.
func TestSecondTab(t *testing.T) {
	needScripts(t)
	s := today(t, "Dunlin")
	ctx, home := browseOn(t, s.Site)
	page := home + s.at("Dunlin", "")
	show(ctx, t, page, 1280)
	if script[bool](ctx, t, "document.querySelector('#section-now').innerText.includes('From your reading')") {
		t.Fatal("a reading before there was any")
	}
	script[bool](ctx, t, "(document.querySelector('#section-now details').open = true, document.querySelector('#section-now summary').focus(), window.same = true)")
	other, cancel := chromedp.NewContext(ctx)
	defer cancel()
	show(other, t, page+"/i-read", 390)
	typeIn(other, t, "12.5")
	leads(ctx, t, "what the other tab kept", "document.querySelector('#section-log')?.innerText.includes('12.5')")
	leads(ctx, t, "the forecast that knows it", "document.querySelector('#section-now').innerText.includes('From your reading')")
	kept := script[[]bool](ctx, t, "[window.same === true, document.querySelector('#section-now details').open, document.activeElement == document.querySelector('#section-now summary')]")
	for i, what := range []string{"the page was not loaded anew", "what was open is open", "the focus is where it was"} {
		if !kept[i] {
			t.Errorf("it is not so that %s", what)
		}
	}
	if said := script[string](ctx, t, "document.querySelector('spile-live').innerText"); !strings.Contains(said, "Brought up to date") {
		t.Errorf("readers are told %q", said)
	}
	if role := script[string](ctx, t, "document.querySelector('spile-live').getAttribute('role')"); role != "status" {
		t.Errorf("it is told as %q", role)
	}
	// what somebody is typing stays, whatever comes
	do(ctx, t, chromedp.SendKeys(chromedp.CSS("form.trying input[type=text]"), "2"))
	jot(t, s.watch, s.batches["Dunlin"], "smells of pears")
	leads(ctx, t, "the note", "document.querySelector('#section-log')?.innerText.includes('pears')")
	if typed := script[string](ctx, t, "document.querySelector('form.trying input[type=text]').value"); typed != "2" {
		t.Errorf("of what was typed %q is left", typed)
	}
}

// A vessel that is filled elsewhere comes onto Vessels by itself, the first one too, and one that is gone goes.
func TestNewVesselComesByItself(t *testing.T) {
	needScripts(t)
	s := today(t)
	ctx, home := browseOn(t, s.Site)
	show(ctx, t, home+"/", 390)
	leads(ctx, t, "a page that follows", "document.querySelector('spile-live') && document.body.innerText.includes('No vessel yet')")
	script[bool](ctx, t, "window.stayed = true")
	s.fill("Dunlin")
	leads(ctx, t, "the first vessel", "document.querySelector('.card-of h2')?.innerText == 'Dunlin' && !document.body.innerText.includes('No vessel yet')")
	script[bool](ctx, t, "(document.querySelector('.card-of h2 a').focus(), true)")
	s.fill("Godwit")
	leads(ctx, t, "the second beside it", "[...document.querySelectorAll('.card-of h2')].map((h) => h.innerText).sort().join() == 'Dunlin,Godwit'")
	leads(ctx, t, "its first look", "document.querySelectorAll('.card-of .state').length == 2")
	if !script[bool](ctx, t, "window.stayed && document.activeElement?.innerText == 'Dunlin'") {
		t.Error("the page was opened anew, or lost its place")
	}
	empty := batch.Entry{ID: store.NewID(), Kind: batch.KindThing, At: s.now, Made: s.now, Body: s.body(map[string]any{"is": "vessel", "name": "Whimbrel", "capacity_m3": 0.026, "diameter_m": 0.3})}
	if _, err := s.watch.Keep(t.Context(), empty); err != nil {
		t.Fatal(err)
	}
	leads(ctx, t, "an empty vessel", "document.querySelectorAll('.card-of').length == 3")
	if w := post(s.Site, "/what-i-have/"+empty.ID.String()+"/gone", url.Values{}); w.Code != http.StatusSeeOther {
		t.Fatal(w.Code, w.Body)
	}
	leads(ctx, t, "what is left", "document.querySelectorAll('.card-of').length == 2")
}

// Less and more begin at what is expected; what nobody touched is not sent.
func TestSteppers(t *testing.T) {
	needScripts(t)
	s := today(t, "Dunlin")
	ctx, home := browseOn(t, s.Site)
	show(ctx, t, home+s.at("Dunlin", "/i-read"), 390)
	leads(ctx, t, "the buttons", "document.querySelectorAll('.step').length >= 4")
	field := "document.querySelector('#field-pressure')"
	if shown := script[[]string](ctx, t, "["+field+".value, "+field+".placeholder, "+field+".dataset.expected]"); shown[0] != "" || shown[1] == "" || shown[1] != shown[2] {
		t.Errorf("before anybody touches it: %q", shown)
	}
	up := script[float64](ctx, t, "(e => { const was = Number(e.dataset.expected); const b = e.closest('.field').querySelectorAll('.step'); b[1].click(); b[1].click(); b[0].click(); return Number(e.value) - was })("+field+")")
	if up != 0.5 {
		t.Errorf("two up and one down: %v psi from what is expected; expected 0.5", up)
	}
	for _, side := range script[[]float64](ctx, t, "[...document.querySelectorAll('.step')].filter(b => b.offsetParent).flatMap(b => { const r = b.getBoundingClientRect(); return [r.width, r.height] })") {
		if side < 48 {
			t.Errorf("a button is %v px on one side; accepted: 48", side)
		}
	}
	do(ctx, t, chromedp.Click(chromedp.CSS(".keep button")))
	leads(ctx, t, "what was kept", "document.querySelector('.echo')")
	readings := s.log("Dunlin").Log.Readings
	if len(readings) != 1 || readings[0].Quantity != batch.Pressure {
		t.Errorf("kept %+v; expected the pressure alone", readings)
	}

	s.learn(unreal(t))
	script[string](ctx, t, "document.cookie = '"+tongueCookie+"=en-XA; path=/'")
	show(ctx, t, home+s.at("Dunlin", "/i-read"), 390)
	leads(ctx, t, "the buttons", "document.querySelectorAll('.step').length >= 4")
	if got, want := script[string](ctx, t, "document.querySelector('.expected').textContent"), accented("expected"); got != want {
		t.Errorf("in another language the script says %q; expected %q", got, want)
	}
}

// What is tried is answered while it is set, and gone again with Back to the plan.
func TestTryInABrowser(t *testing.T) {
	needScripts(t)
	s := today(t, "Dunlin")
	ctx, home := browseOn(t, s.Site)
	show(ctx, t, home+s.at("Dunlin", ""), 1280)
	leads(ctx, t, "the form", "document.querySelector('#field-hold')")
	took, err := chromedp.Run(ctx, chromedp.Evaluate[float64](`new Promise(done => {
		const field = document.querySelector('#field-hold'), from = performance.now()
		new MutationObserver((_, o) => document.querySelector('#tried table') && (o.disconnect(), done(performance.now() - from))).observe(document.querySelector('#tried'), {childList: true, subtree: true})
		field.value = '24'
		field.dispatchEvent(new Event('input', {bubbles: true}))
	})`, chromedp.EvalAwaitPromise))
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("answered %.0f ms after the last change", took)
	if took > 3000 {
		t.Errorf("answered after %.0f ms", took)
	}
	if at := script[string](ctx, t, "location.search"); !strings.Contains(at, "hold=24") {
		t.Errorf("the address does not hold what is tried: %s", at)
	}
	do(ctx, t, chromedp.Click(chromedp.CSS("form.trying a")))
	leads(ctx, t, "the plan", "!document.querySelector('#tried table') && document.querySelector('#field-hold').value == '' && location.search == ''")
	// buttons beside a field begin at what is there now
	leads(ctx, t, "the buttons", "document.querySelectorAll('.trying .step').length == 6")
	if up := script[float64](ctx, t, "(f => { document.querySelectorAll('.trying .step')[1].click(); return Number(f.value) - Number(f.dataset.begins) })(document.querySelector('#field-hold'))"); up != 1 {
		t.Errorf("one step up is %v °C", up)
	}
	leads(ctx, t, "what that changes", "document.querySelector('#tried table')")
	// what cannot be read is said where the answer would stand
	script[bool](ctx, t, "(f => (f.value = 'warm', f.dispatchEvent(new Event('input', {bubbles: true}))))(document.querySelector('#field-hold'))")
	leads(ctx, t, "what is wrong", "document.querySelector('#tried .error')")
}

// The strips drawn in the page take the place of those of the server, nothing moves
// meanwhile, and the arrow keys tell the values.
func TestStripsInABrowser(t *testing.T) {
	needScripts(t)
	s := today(t, "Dunlin")
	ctx, home := browseOn(t, s.Site)
	for _, width := range []int64{390, 1280} {
		show(ctx, t, home+s.at("Dunlin", ""), width)
		leads(ctx, t, "the strips", "document.querySelector('spile-strips.drawn')")
		shift, err := chromedp.Run(ctx, chromedp.Evaluate[float64](`new Promise(done => {
			let sum = 0
			new PerformanceObserver(l => l.getEntries().forEach(e => sum += e.value)).observe({type: 'layout-shift', buffered: true})
			setTimeout(() => done(sum), 300)
		})`, chromedp.EvalAwaitPromise))
		if err != nil {
			t.Fatal(err)
		}
		if shift > 0.01 {
			t.Errorf("at %d px things moved by %.3f while the page was built", width, shift)
		}
		heights := script[[]float64](ctx, t, "(f => { const mine = f.querySelector('spile-strips').offsetHeight; f.querySelector('spile-strips').remove(); return [mine, [...f.querySelectorAll('svg')].map(s => s.getBoundingClientRect().height).reduce((a, b) => a + b)] })(document.querySelector('figure.strips'))")
		if diff := heights[0] - heights[1]; diff < -6 || diff > 6 {
			t.Errorf("at %d px drawn %v px high, by the server %v", width, heights[0], heights[1])
		}
	}
	show(ctx, t, home+s.at("Dunlin", ""), 1280)
	leads(ctx, t, "the strips", "document.querySelector('spile-strips.drawn')")
	do(ctx, t, chromedp.Focus(chromedp.CSS("spile-strips")))
	words := func() string {
		return script[string](ctx, t, "document.querySelector('spile-strips').getAttribute('aria-valuetext')")
	}
	before := words()
	script[bool](ctx, t, "document.querySelector('spile-strips').dispatchEvent(new KeyboardEvent('keydown', {key: 'PageUp', cancelable: true}))")
	after := words()
	if before == after || !strings.Contains(after, "Gravity 1.0") || !strings.Contains(after, "between") || !strings.Contains(after, "psi") {
		t.Errorf("a day on: %q became %q", before, after)
	}
	when, _, _ := strings.Cut(after, ": ")
	if shown := script[string](ctx, t, "document.querySelector('spile-strips').innerText"); !strings.HasPrefix(shown, when+": 1.0") {
		t.Errorf("the strips show %q, readers hear %q", shown, after)
	}
}
