package web

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
)

// screens is where what a person saw is kept, to be looked at.
const screens = "../../build/screens"

// person is somebody with a phone, on the pages of the program itself.
type person struct {
	t       *testing.T
	ctx     context.Context
	home    string
	vessel  string // address of the page of the vessel
	prefix  string
	pitched time.Time
	shots   int
}

// see keeps what the phone shows, and holds it to fit.
func (w *person) see(name string) {
	w.t.Helper()
	w.shots++
	fits(w.ctx, w.t, name, 390)
	shot, err := chromedp.Run(w.ctx, chromedp.FullScreenshot(100))
	if err != nil {
		w.t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(screens, fmt.Sprintf("%s-%02d-%s.png", w.prefix, w.shots, name)), shot, 0o644); err != nil {
		w.t.Fatal(err)
	}
}

func (w *person) open(path string) {
	w.t.Helper()
	if strings.HasPrefix(path, "/") {
		path = w.home + path
	}
	show(w.ctx, w.t, path, 390)
}

func (w *person) press(selector string) {
	w.t.Helper()
	do(w.ctx, w.t, chromedp.Click(chromedp.CSS(selector)))
}

func (w *person) fill(field, text string) {
	w.t.Helper()
	do(w.ctx, w.t, chromedp.SendKeys(chromedp.CSS(`[id="field-`+field+`"]`), text))
}

// leads waits until a condition holds on the page that is shown.
func (w *person) leads(what, condition string) {
	w.t.Helper()
	leads(w.ctx, w.t, what, condition)
}

// text is what a part of the page says.
func (w *person) text(selector string) string {
	w.t.Helper()
	return strings.ReplaceAll(script[string](w.ctx, w.t, "document.querySelector('"+selector+"')?.innerText || ''"), "\u00a0", " ")
}

// earlier says how many hours after the yeast it was.
func (w *person) earlier(hours float64) {
	w.t.Helper()
	if !script[bool](w.ctx, w.t, "document.querySelector('details:has(#field-when)').open") {
		w.press("details:has(#field-when) > summary")
		w.leads("the question when", "document.querySelector('details:has(#field-when)').open")
	}
	w.fill("when", w.pitched.Add(time.Duration(hours*float64(time.Hour))).Format("2006-01-02 15:04"))
}

// keep sends a form that leads back to the vessel, and tells what was understood.
func (w *person) keep() string {
	w.t.Helper()
	w.press("#form .act button[type=submit]")
	w.leads("what was kept", "document.querySelector('.echo')")
	return w.text(".echo")
}

// read keeps a pressure and a temperature.
func (w *person) read(hours float64, pressure, temperature string) string {
	w.t.Helper()
	w.open(w.vessel + "/i-read")
	w.fill("pressure", pressure)
	w.fill("temperature", temperature)
	w.earlier(hours)
	return w.keep()
}

// did keeps what was done, with the answers that it needs.
func (w *person) did(hours float64, what string, answers ...string) string {
	w.t.Helper()
	w.open(w.vessel + "/i-did")
	w.press(`.deeds a[href$="what=` + what + `"]`)
	w.leads("the form", "document.querySelector('#field-when')")
	for i := 0; i+1 < len(answers); i += 2 {
		w.fill(answers[i], answers[i+1])
	}
	w.earlier(hours)
	return w.keep()
}

// told waits until the forecast of the vessel knows all that was kept.
func (w *person) told(what string) {
	w.t.Helper()
	for end := time.Now().Add(5 * time.Minute); time.Now().Before(end); time.Sleep(500 * time.Millisecond) {
		w.open(w.vessel)
		if script[bool](w.ctx, w.t, "!!document.querySelector('#section-now') && !document.querySelector('main > .kept')") {
			return
		}
	}
	w.t.Fatalf("%s: no forecast; the page says\n%s", what, w.text("main"))
}

// begin fills a vessel with what stands on its plate and on the label of the wort.
func (w *person) begin() {
	w.open("/")
	w.see("nothing-yet")
	w.press(`a.button[href="/fill"]`)
	w.leads("the questions", "document.querySelector('[id=\"field-vessel-capacity_m3\"]') || document.querySelector('a[href*=\"vessel=new\"]')")
	if script[bool](w.ctx, w.t, "!document.querySelector('[id=\"field-vessel-capacity_m3\"]')") {
		w.see("which")
		w.press(`a[href*="vessel=new"]`)
		w.leads("the questions", "document.querySelector('[id=\"field-vessel-capacity_m3\"]')")
	}
	w.see("questions")
	for _, answer := range [][2]string{{"vessel-capacity_m3", "26"}, {"vessel-rating_pa", "2.5 bar"}, {"vessel-safety_relief_pa", "2.2 bar"}, {"wort-pack-volume_m3", "20"}, {"wort-pack-gravity_sg", "1.046"}, {"place-ambient_k", "19"}} {
		w.fill(answer[0], answer[1])
	}
	w.press(`[id="field-yeast-pack-kind"]`)
	w.press("#form button")
	w.leads("what comes of it", "document.querySelector('button[value=yeast]')")
	w.see("before-pouring")
	w.earlier(0)
	w.press("button[value=yeast]")
	w.leads("the vessel", "location.pathname.startsWith('/vessels/') && document.querySelector('main .doors')")
	w.vessel = script[string](w.ctx, w.t, "location.pathname")
	w.see("yeast-is-in")
}

// readings are ten: in hours after the yeast, psi and °C. They are invented, and what such a batch does.
var readings = []struct {
	hours                 float64
	pressure, temperature string
}{
	{14, "2", "19"}, {24, "7.5", "20"}, {37, "10", "21"}, {48, "10", "21"}, {61, "10", "20.5"}, {72, "10", "20"}, {85, "10", "19.5"}, {96, "10", "19.5"}, {120, "10", "19"}, {144, "10", "19"},
}

func prepare(t *testing.T, s *served, ctx context.Context, prefix string) *person {
	t.Helper()
	if err := os.MkdirAll(screens, 0o755); err != nil {
		t.Fatal(err)
	}
	return &person{t: t, ctx: ctx, home: s.home(), prefix: prefix, pitched: time.Now().Add(-9 * 24 * time.Hour).Truncate(time.Minute)}
}

// TestWholeBatch takes one batch from an empty cellar to a clean vessel, on a phone, through the program itself.
func TestWholeBatch(t *testing.T) {
	needScripts(t)
	ctx := browser(t)
	s := serveProgram(t)
	w := prepare(t, s, ctx, "phone")
	w.begin()
	w.told("the yeast is in")
	w.see("first-look")
	w.readTen(s)
	w.told("ten readings")
	w.see("ten-readings")
	w.tryAndFollow()
	w.finish()
	w.paper()
	w.drink()
	w.turn()
}

// readTen: ten readings, one of them in a round, one mistyped and corrected, one taken back, and the plug pulled after the fifth.
func (w *person) readTen(s *served) {
	for i, r := range readings[:9] {
		typed := r.pressure
		if i == 6 {
			typed = "15" // mistyped
		}
		if said := w.read(r.hours, typed, r.temperature); !strings.Contains(said, typed+" psi") || !strings.Contains(said, r.temperature+" °C") {
			w.t.Errorf("of %s psi and %s °C the page says %q", typed, r.temperature, said)
		}
		if i == 0 {
			w.see("kept")
		}
		if i == 4 {
			s.kill()
			s.start()
			w.open(w.vessel)
			if all := w.text("#section-log") + w.text("main"); strings.Count(all, " psi") < 5 {
				w.t.Errorf("after the plug was pulled the log says\n%s", all)
			}
		}
		if i == 6 {
			w.correct("10")
		}
	}
	w.read(readings[8].hours+1, "9", "19")
	kept := script[string](w.ctx, w.t, "location.href")
	w.press(".echo form button")
	w.leads("that it was taken back", "document.querySelector('.echo')?.innerText.includes('Taken back')")
	w.see("taken-back")
	w.backTwice(kept)
	w.open("/")
	w.see("vessels")
	w.press(`a[href="/round"]`)
	w.leads("the round", "document.querySelector('.round input[type=text]')")
	w.see("round")
	do(w.ctx, w.t, chromedp.SendKeys(chromedp.CSS(`.round [name^=pressure]`), readings[9].pressure), chromedp.SendKeys(chromedp.CSS(`.round [name^=temperature]`), readings[9].temperature))
	w.earlier(readings[9].hours)
	w.keep()
	w.see("round-kept")
}

// backTwice goes back to what was kept and to the form that kept it, and sends that again, which keeps nothing.
func (w *person) backTwice(kept string) {
	held := w.text("#section-log")
	goBack(w.ctx, w.t)
	w.leads("what was kept before", "location.href == '"+kept+"' && document.querySelector('.echo')")
	goBack(w.ctx, w.t)
	w.leads("the form before", "location.pathname.endsWith('/i-read') && document.querySelector('#field-pressure')")
	w.press("#form .act button[type=submit]")
	w.leads("that nothing is kept", "document.querySelector('.problem, .echo')")
	w.open(w.vessel)
	if again := w.text("#section-log"); again != held {
		w.t.Errorf("after going back and sending again the log says\n%s\nand before\n%s", again, held)
	}
}

// goBack is the button of the browser. A page that is as it was left does not load, so nothing is waited for.
func goBack(ctx context.Context, t *testing.T) {
	t.Helper()
	script[float64](ctx, t, "setTimeout(() => history.back())")
	time.Sleep(300 * time.Millisecond)
}

// correct goes by the link beside what was understood.
func (w *person) correct(pressure string) {
	w.press(".echo a.next")
	w.leads("the line", "document.querySelector('#field-part-a')")
	w.see("correct")
	do(w.ctx, w.t, chromedp.Clear(chromedp.CSS("#field-part-a")))
	w.fill("part-a", pressure)
	w.press("#form .act button[type=submit]")
	w.leads("the correction", "document.querySelector('main').innerText.includes('"+pressure+"') && (document.querySelector('.echo') || !document.querySelector('#form'))")
	w.see("corrected")
}

// tryAndFollow asks what another setting would do, while a second tab follows what the first one keeps.
func (w *person) tryAndFollow() {
	w.open(w.vessel)
	w.fill("relief", "15")
	w.leads("what it would change", "document.querySelector('#tried table')")
	w.see("tried")
	other, cancel := chromedp.NewContext(w.ctx)
	defer cancel()
	show(other, w.t, w.home+w.vessel, 390)
	first := *w
	first.open(w.vessel + "/i-noticed")
	first.see("i-noticed")
	first.fillNote("smells of pears")
	w.shots = first.shots
	leads(other, w.t, "what the first tab kept", "document.querySelector('#section-log')?.innerText.includes('pears')")
}

func (w *person) fillNote(words string) {
	field := script[string](w.ctx, w.t, "document.querySelector('#form textarea, #form input[type=text]').id")
	do(w.ctx, w.t, chromedp.SendKeys(chromedp.CSS("#"+field), words))
	w.keep()
}

// finish: a sample says that it is done; it is cooled and the gas turned on.
func (w *person) finish() {
	w.did(145, "sample", "volume", "100 mL", "gravity", "1.011")
	w.told("the sample")
	w.see("sampled")
	if state := w.text("main .state"); !strings.Contains(state, "Finished") {
		w.t.Errorf("after six days and a sample of 1.011 the state is %q", state)
	}
	w.open(w.vessel + "/i-did")
	w.see("i-did")
	w.press(`.deeds a[href$="what=gas-on"]`)
	w.leads("the form", "document.querySelector('#field-set')")
	w.see("gas-on")
	w.did(150, "gas-on", "set", "12")
	w.did(151, "cool", "set", "3")
	w.read(175, "12", "4")
	w.told("cold")
	w.see("cooled")
}

// paper: what can be printed is printed on one leaf.
func (w *person) paper() {
	w.open("/on-paper")
	w.see("on-paper")
	w.press(`a[href*="door-card"]`)
	w.leads("the card", "location.pathname == '/print/door-card'")
	w.see("door-card")
	pdf, err := chromedp.Run(w.ctx, chromedp.PrintToPDF(chromedp.PDFPreferCSSPageSize()))
	if err != nil {
		w.t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(screens, "door-card.pdf"), pdf, 0o644); err != nil {
		w.t.Fatal(err)
	}
	if n := strings.Count(string(pdf), "/Type /Page\n"); n < 1 || n > 2 {
		w.t.Errorf("the door card takes %d pages; expected one leaf", n)
	}
}

// drink pours all of it, on a network that is slow.
func (w *person) drink() {
	w.slow(400, 50e3)
	w.did(190, "pour", "volume", "8")
	w.told("half is out")
	w.see("pouring")
	w.slow(0, -1)
	w.did(214, "pour", "volume", "11")
	w.told("almost all is out")
	w.see("last-pour")
	w.press(`a.button[href$="/turnaround"]`)
	w.leads("the question", "document.querySelector('main').innerText.includes('It still holds')")
	w.see("is-it-empty")
	w.press("#form button")
	w.leads("the steps between batches", "document.querySelector('ol.steps')")
	w.see("empty")
}

// slow makes every answer take a while, in ms and bytes a second; -1 is without limit.
func (w *person) slow(wait, perSecond float64) {
	w.t.Helper()
	rule := &network.Conditions{Latency: wait, DownloadThroughput: perSecond, UploadThroughput: perSecond}
	do(w.ctx, w.t, chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, network.EmulateNetworkConditionsByRule, network.EmulateNetworkConditionsByRuleParams{MatchedNetworkConditions: []*network.Conditions{rule}})
		return err
	}))
}

// step says that the next thing between two batches is done, which makes so many.
func (w *person) step(done int) {
	w.t.Helper()
	w.press("ol.steps > li:not(.done) form[action$='/turnaround'] button")
	w.leads(fmt.Sprintf("that %d are done", done), fmt.Sprintf("document.querySelectorAll('ol.steps > li.done').length == %d", done))
}

// turn cleans the vessel and proves that it holds gas.
func (w *person) turn() {
	for done := range 3 { // gas out, cleaned, seals looked at
		w.step(done + 1)
	}
	for _, answer := range [][2]string{{"volume", "1"}, {"from-pressure", "10"}, {"from-temperature", "18"}, {"time", "12 h"}, {"to-pressure", "10"}, {"to-temperature", "18"}} {
		w.fill(answer[0], answer[1])
	}
	w.see("leak-test")
	w.press("form[action$='/leak-test'] button")
	w.leads("the verdict", "document.querySelectorAll('ol.steps > li.done').length == 4")
	if says := w.text("ol.steps"); !strings.Contains(says, "At most") {
		w.t.Errorf("after a steady gauge the page says\n%s", says)
	}
	w.step(5) // sanitised
	w.leads("that it may be filled", "document.querySelector('.lead')?.innerText.includes('Ready to be filled')")
	w.see("proved")
	w.open("/")
	w.see("vessels-again")
	w.open("/what-i-have")
	w.see("what-i-have")
}

// TestWholeBatchWithoutScript goes the same way in a browser that runs none.
func TestWholeBatchWithoutScript(t *testing.T) {
	ctx := browser(t)
	s := serveProgram(t)
	w := prepare(t, s, ctx, "bare")
	do(ctx, t, chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
		return err
	}))
	w.begin()
	for _, r := range readings[:3] {
		w.read(r.hours, r.pressure, r.temperature)
	}
	w.told("three readings")
	w.fill("relief", "15")
	w.press("form.trying button")
	w.leads("what it would change", "document.querySelector('#tried table')")
	w.see("tried")
	w.did(145, "sample", "volume", "100 mL", "gravity", "1.011")
	w.did(151, "cool", "set", "3")
	w.did(190, "pour", "volume", "19")
	w.told("all is out")
	w.see("poured")
	w.press(`a.button[href$="/turnaround"]`)
	w.leads("the question", "document.querySelector('main').innerText.includes('It still holds')")
	w.press("#form button")
	w.leads("the steps between batches", "document.querySelector('ol.steps')")
	w.turn()
}
