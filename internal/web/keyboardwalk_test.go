package web

import (
	"context"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// walker goes through the pages by the keyboard alone.
type walker struct {
	t   *testing.T
	ctx context.Context
}

// stop is where the focus has come to.
type stop struct {
	What  string // the element, in short; empty: the page itself
	Place int    // among all elements
	There bool   // it is what was looked for
	Shown bool   // it shows that it has the focus
	Seen  bool   // it is on the screen, and nothing lies over it
}

// stopAt looks at what has the focus. The middle of the first line of what is focused must belong to it or to its label.
const stopAt = `(wanted => {
	const e = document.activeElement
	if (e === document.body) return {What: '', Place: -1, There: false, Shown: true, Seen: true}
	const s = getComputedStyle(e), r = e.getClientRects()[0] ?? e.getBoundingClientRect()
	const bottom = Math.min(r.bottom, innerHeight), top = Math.max(r.top, 0)
	const under = document.elementFromPoint(r.left + r.width / 2, (top + bottom) / 2)
	return {What: e.outerHTML.slice(0, 120), Place: [...document.querySelectorAll('*')].indexOf(e), There: wanted !== '' && e.matches(wanted),
		Shown: s.outlineStyle !== 'none' && parseFloat(s.outlineWidth) >= 2, Seen: bottom > top && !!under && (e.contains(under) || under.closest('label') === e.closest('label'))}
})`

func (k *walker) key(keys string, how ...chromedp.KeyOption) {
	k.t.Helper()
	do(k.ctx, k.t, chromedp.KeyEvent(keys, how...))
}

// tab goes on by one, or back by one.
func (k *walker) tab(wanted string, how ...chromedp.KeyOption) stop {
	k.t.Helper()
	k.key("\t", how...)
	at := script[stop](k.ctx, k.t, stopAt+"("+inQuotes(wanted)+")")
	if !at.Seen { // the page was renewed in this moment
		time.Sleep(100 * time.Millisecond)
		at = script[stop](k.ctx, k.t, stopAt+"("+inQuotes(wanted)+")")
	}
	if !at.Shown || !at.Seen {
		k.t.Errorf("%s: the focus is not to be seen (shown %v, on the screen %v) on %s", script[string](k.ctx, k.t, "location.pathname"), at.Shown, at.Seen, at.What)
	}
	return at
}

func inQuotes(text string) string { return "'" + strings.ReplaceAll(text, "'", `\'`) + "'" }

// to goes on until it has come to what is looked for.
func (k *walker) to(wanted string) {
	k.t.Helper()
	for range 150 {
		if k.tab(wanted).There {
			return
		}
	}
	k.t.Fatalf("Tab does not reach %s on %s", wanted, script[string](k.ctx, k.t, "location.pathname"))
}

// press goes to something and presses Enter there.
func (k *walker) press(wanted string) {
	k.t.Helper()
	k.to(wanted)
	k.key("\r")
}

// fill goes to a field and types.
func (k *walker) fill(wanted, text string) {
	k.t.Helper()
	k.to(wanted)
	k.key(text)
}

func (k *walker) leads(what, condition string) {
	k.t.Helper()
	leads(k.ctx, k.t, what, condition)
}

// stops are what Tab must reach. Of the buttons of one choice the keyboard stops at one, and the arrows lead to the others.
const stops = `[...document.querySelectorAll('a[href],button,input:not([type=hidden]),select,textarea,summary,[tabindex="0"]')].filter(e => e.checkVisibility({visibilityProperty: true}) && !e.disabled && e.type !== 'radio').length`

// wholePage goes once round a page: everything is reached, in the order in which it stands, and nothing holds the focus, forwards or back.
func (k *walker) wholePage(address string) {
	k.t.Helper()
	show(k.ctx, k.t, address, 390)
	want := script[int](k.ctx, k.t, stops)
	if !script[bool](k.ctx, k.t, "document.querySelector('.skip').focus() || document.activeElement.matches('.skip')") {
		k.t.Fatalf("%s has no way past its head", address)
	}
	seen, last, round := 1, -1, false
	for range 400 {
		at := k.tab("input[type=radio]")
		if round = at.Place < last; round {
			break
		}
		before := last
		if last = at.Place; !at.There {
			seen++
		}
		if seen == 8 {
			if back := k.tab("", chromedp.KeyModifiers(chromedp.ModifierShift)); back.Place != before {
				k.t.Errorf("%s: Tab with Shift leads from %s to %s", address, at.What, back.What)
			}
			k.tab("")
		}
	}
	if seen < want || !round {
		k.t.Errorf("%s: Tab reached %d of %d links, fields and buttons; it came round: %v", address, seen, want, round)
	}
}

// The whole job by the keyboard alone: the address is typed once, and nothing is touched.
func TestKeyboardAlone(t *testing.T) {
	needScripts(t)
	s := newFilled(t, "Dunlin", "Godwit").foretold()
	ctx, home := browseOn(t, s.Site)
	k := &walker{t, ctx}
	show(ctx, t, home+"/", 390)
	k.skips()
	k.reads(s)
	k.round(s)
	k.lets(s)
	k.tries()
	k.settles()
	for _, path := range []string{"/", s.at("Dunlin", ""), s.at("Dunlin", "/i-read"), s.at("Dunlin", "/i-did?what=vent"), "/round", "/settings", "/fill?vessel=new", "/what-i-have", fromFile} {
		k.wholePage(home + path)
	}
}

// skips: the first stop leads past what every page begins with.
func (k *walker) skips() {
	k.press(".skip")
	k.leads("the page behind its head", "location.hash === '#main'")
	if at := k.tab("main a"); !at.There {
		k.t.Errorf("behind the skip link comes %s", at.What)
	}
}

// reads: from Vessels to a reading that is sent, and taken back.
func (k *walker) reads(s *filled) {
	k.press("main a[href$='/i-read']")
	k.leads("the form with its first field", "document.activeElement.id === 'field-pressure'")
	k.key("12.5")
	k.fill("#field-temperature", "19.5")
	k.press(".keep button")
	k.leads("what was kept", "document.querySelector('.echo')?.innerText.includes('Sent')")
	if n := len(s.log("Dunlin").Log.Readings); n != 2 {
		k.t.Errorf("%d readings were kept, want 2", n)
	}
	k.press(".echo form button")
	k.leads("what was taken back", "document.querySelector('.echo button')?.innerText === 'Put it back'")
	if n := len(s.log("Dunlin").Log.Readings); n != 0 {
		k.t.Errorf("%d readings are left, want none", n)
	}
}

// round: Enter goes from field to field and sends in the last.
func (k *walker) round(s *filled) {
	k.press("nav a[href='/']")
	k.leads("Vessels", "location.pathname === '/'")
	k.press("a[href='/round']")
	k.leads("the round with its first field", "document.activeElement.matches('.round input') && document.querySelector('section.waiting')")
	for _, number := range []string{"10", "19", "9.5", "19.5"} {
		k.key(number + "\r")
	}
	k.leads("what was kept", "document.querySelectorAll('.echo').length === 2")
	if kept := append(s.log("Dunlin").Log.Readings, s.log("Godwit").Log.Readings...); len(kept) != 4 {
		k.t.Errorf("of four readings there were kept %+v", kept)
	}
}

// lets: gas is let out of a vessel, by its page.
func (k *walker) lets(s *filled) {
	k.press("nav a[href='/']")
	k.leads("Vessels", "location.pathname === '/'")
	k.press("main h2 a[href='" + s.at("Dunlin", "") + "']")
	k.leads("the vessel", "location.pathname === '"+s.at("Dunlin", "")+"'")
	k.press("main a[href$='/i-did']")
	k.leads("what can be done", "document.querySelector('.deeds')")
	k.press(".deeds a[href$='what=vent']")
	k.leads("how much", "document.querySelector('#field-from')")
	if !script[bool](k.ctx, k.t, "document.activeElement.id === 'field-from'") {
		k.to("#field-from")
	}
	k.key("10")
	k.fill("#field-to", "4")
	k.press("#form .act button[type=submit]")
	k.leads("what was kept", "document.querySelector('.echo')?.innerText.includes('Sent')")
	if n := len(s.log("Dunlin").Log.Events); n != 1 {
		k.t.Errorf("%d events were kept, want 1", n)
	}
}

// tries: a change is tried on the vessel's page, and a working opened and shut.
func (k *walker) tries() {
	const working = "#section-now details"
	k.press(working + " > summary")
	k.leads("the working", "document.querySelector('"+working+"').open")
	k.key("\r")
	k.leads("no working", "!document.querySelector('"+working+"').open")
	k.fill("#field-relief", "15")
	k.leads("what it would change", "document.querySelector('#tried table')")
	k.press(".trying a.next")
	k.leads("the plan", "!document.querySelector('#tried table') && document.querySelector('#field-relief').value === ''")
}

// settles: another look is chosen with the arrows.
func (k *walker) settles() {
	k.press("nav a[href='/settings']")
	k.leads("Settings", "location.pathname === '/settings'")
	k.to("input[name=theme]")
	k.key(kb.ArrowDown)
	chosen := script[string](k.ctx, k.t, "document.activeElement.value")
	k.press("main button[type=submit]")
	k.leads("what was kept", "document.querySelector('.kept')?.innerText.includes('Kept')")
	if theme := script[string](k.ctx, k.t, "document.documentElement.dataset.theme ?? ''"); theme != chosen || theme == "" {
		k.t.Errorf("the look chosen is %q, and the page has %q", chosen, theme)
	}
}
