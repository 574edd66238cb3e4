package web

import (
	"context"
	"fmt"
	"maps"
	"net/http"
	"net/url"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// axeCode is the program that looks for what shuts people out (axe-core, from npm, as built there).
func axeCode(t *testing.T) string {
	t.Helper()
	code, err := os.ReadFile("script/node_modules/axe-core/axe.min.js")
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal(err)
		}
		t.Skip("axe-core is missing; make bundle brings it")
	}
	return string(code)
}

var anID = regexp.MustCompile(`[0-9a-f]{8}-[0-9a-f-]{27}`)

// kindOfPage is the same for pages that are made alike.
func kindOfPage(address string) string {
	u, err := url.Parse(address)
	if err != nil {
		return address
	}
	path := anID.ReplaceAllString(u.Path, "ID")
	for _, many := range []string{"/work-it-out/", "/stages/"} { // made from one table each
		if of, found := strings.CutPrefix(path, many); found {
			_, below, _ := strings.Cut(of, "/")
			return many + "ONE/" + below + strconv.FormatBool(u.RawQuery != "")
		}
	}
	return path + "?" + strings.Join(slices.Sorted(maps.Keys(u.Query())), "&")
}

// everyKind is one page of each kind that links lead to.
func everyKind(t *testing.T, s *Site) map[string]string {
	t.Helper()
	kinds, wait := map[string]string{}, []string{"/"}
	for len(wait) > 0 {
		address, _, _ := strings.Cut(wait[0], "#")
		wait = wait[1:]
		kind := kindOfPage(address)
		if kinds[kind] != "" {
			continue
		}
		w := get(s, address)
		if w.Code != http.StatusOK || !strings.HasPrefix(w.Header().Get("Content-Type"), "text/html") {
			continue
		}
		kinds[kind] = address
		wait = append(wait, parse(t, w).links()...)
	}
	return kinds
}

const runAxe = `axe.run(document, {resultTypes: ['violations'], runOnly: %s}).then(r => r.violations.map(v => v.id + ': ' + v.help + '\n  ' +
	v.nodes.map(n => n.html.slice(0, 160) + ' ' + n.any.concat(n.all, n.none).map(c => c.message).join('; ')).join('\n  ')))`

// The rules of axe: all of them, and the one that looks at colours.
const (
	allRules = "undefined"
	colours  = "['color-contrast']"
)

// turnaround adds the stage between two batches, of a vessel that holds beer and of a new one: the first pages of their kinds lead to neither.
func turnaround(t *testing.T, s *Site, pages map[string]string) {
	t.Helper()
	empty := maps.Clone(dunlin)
	empty.Set("name", "Ruff")
	_, id, _ := strings.Cut(kept(t, s, "/add/vessel", empty), "/what-i-have/")
	pages["/vessels/ID/turnaround?"] = "/vessels/" + id + "/turnaround"
	pages["turnaround of a full vessel"] = pages["/vessels/ID?"] + "/turnaround"
	want(t, "a full vessel", mainText(t, s, pages["turnaround of a full vessel"]), "It still holds")
}

// Nothing on any page shuts anybody out, on a phone and at a desk, light and dark (of which
// only colours can tell); letters twice as large run off no side.
func TestAxe(t *testing.T) {
	code, s := axeCode(t), newShed(t)
	pages := everyKind(t, s)
	for _, name := range []string{"missing", "problem", "together", "over", "card"} {
		pages["sight "+name] = sights[name]
	}
	pages["look"] = lookOf(t, s, asLeft(t, s, "/fill", seven))
	sent := everyAnswer(t, s, pages)
	for name := range sent {
		pages["answer "+name] = "/answers/" + url.PathEscape(name)
	}
	turnaround(t, s, pages)
	for _, kind := range []string{"/coming-up?", "/settings?", "/what-i-have/ID?", "/vessels/ID/turnaround?", "/print/door-card?paper&vessel", "/print/job-sheet?paper&vessel", "/print/label?paper&vessel"} {
		if pages[kind] == "" {
			t.Errorf("no link leads to %s", kind)
		}
	}
	t.Logf("%d pages, of which %d answer what was sent: %s", len(pages), len(sent), strings.Join(slices.Sorted(maps.Keys(sent)), ", "))
	for width, themes := range map[int64][2]string{390: {"light", "dark"}, 1280: {"dark", "light"}} {
		t.Run(fmt.Sprintf("%d px", width), func(t *testing.T) {
			ctx, home := browseOn(t, sent.before(s))
			for _, path := range pages {
				do(ctx, t, chromedp.EmulateViewport(width, 800), chromedp.Navigate(home+path), chromedp.WaitReady(chromedp.CSS("body")))
				script[bool](ctx, t, code+";true")
				for i, rules := range []string{allRules, colours} {
					script[string](ctx, t, "document.documentElement.dataset.theme = '"+themes[i]+"'")
					for _, found := range axe(ctx, t, rules) {
						t.Errorf("%s: %s\n%s", themes[i], path, found)
					}
				}
				if !strings.HasPrefix(path, "/print/") { // paper has sizes of its own
					large(ctx, t, path, width)
					if bad := script[string](ctx, t, smallTargets); bad != "" && width == 390 {
						t.Errorf("%s: too small to touch:\n%s", path, bad)
					}
				}
			}
		})
	}
}

// smallTargets lists what is too small to be touched: 48 px where a wet hand does, 24 px in the list of what is wrong, which stands
// beside its fields as well, and in the log, which is mended at leisure.
const smallTargets = `[...document.querySelectorAll('a,button,input:not([type=hidden]),summary,label.tick')].filter(e => {
	const r = e.getBoundingClientRect(), s = getComputedStyle(e)
	if (r.width == 0 || e.closest('.skip') || s.display == 'inline') return false
	if (e.matches('input[type=radio],input[type=checkbox]')) return e.closest('label').getBoundingClientRect().height < 48
	return r.height < (e.closest('.problem,.log') ? 24 : 48)
}).map(e => e.outerHTML.slice(0, 120) + ' ' + e.getBoundingClientRect().height).join('\n')`

func axe(ctx context.Context, t *testing.T, rules string) []string {
	t.Helper()
	found, err := chromedp.Run(ctx, chromedp.Evaluate[[]string](fmt.Sprintf(runAxe, rules), chromedp.EvalAwaitPromise))
	if err != nil {
		t.Fatal(err)
	}
	return found
}

// large sets the letters twice as large for a moment, as somebody may in the browser.
func large(ctx context.Context, t *testing.T, page string, width int64) {
	t.Helper()
	sizes := script[[]float64](ctx, t, `(root => {
		root.style.fontSize = '200%'
		const seen = [parseFloat(getComputedStyle(document.body).fontSize), parseFloat(getComputedStyle(document.querySelector('h1')).fontSize), root.scrollWidth]
		root.style.fontSize = ''
		return seen
	})(document.documentElement)`)
	if sizes[0] != 32 || sizes[1] < 38 {
		t.Errorf("%s: letters twice as large are %v and %v px", page, sizes[0], sizes[1])
	}
	if int64(sizes[2]) > width {
		t.Errorf("%s is %v px wide with letters twice as large; %s", page, sizes[2], script[string](ctx, t, `(root => {
			root.style.fontSize = '200%'
			const wide = [...document.querySelectorAll('main *')].filter(e => e.getBoundingClientRect().right > innerWidth && !e.closest('.scroll')).map(e => e.outerHTML.slice(0, 90))
			root.style.fontSize = ''
			return wide.join('\n')
		})(document.documentElement)`))
	}
}
