package web

import (
	"context"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// A file is chosen, told and kept in a browser on a phone; no step of it shuts anybody out, in
// light and dark, and letters twice as large run off no side.
func TestFromFileInABrowser(t *testing.T) {
	code, s := axeCode(t), newFilled(t, "Dunlin").foretold()
	s.patience = time.Minute
	ctx, home := browseOn(t, s.Site)
	open := func(ctx context.Context, what string) {
		t.Helper()
		script[bool](ctx, t, code+";true")
		for _, theme := range []string{"light", "dark"} {
			script[string](ctx, t, "document.documentElement.dataset.theme = '"+theme+"'")
			for _, found := range axe(ctx, t, allRules) {
				t.Errorf("%s, %s: %s", what, theme, found)
			}
		}
		large(ctx, t, what, 390)
	}
	show(ctx, t, home+fromFile, 390)
	open(ctx, "choosing")
	script[bool](ctx, t, `(() => {
		const files = new DataTransfer()
		files.items.add(new File([`+"`"+someFile+"`"+`], 'march.csv', {type: 'text/csv'}))
		document.querySelector('input[type=file]').files = files.files
		return true
	})()`)
	do(ctx, t, chromedp.Click(chromedp.CSS("main button")), chromedp.WaitReady(chromedp.CSS("#field-column-1")))
	open(ctx, "looked at")
	script[string](ctx, t, "document.querySelector('#field-column-3').value = 'pressure psi'")
	do(ctx, t, chromedp.Click(chromedp.CSS("button[value=look]")))
	leads(ctx, t, "the second look", "document.querySelector('button[value=keep]')")
	open(ctx, "looked at again")
	do(ctx, t, chromedp.Click(chromedp.CSS("input[name=without]")), chromedp.Click(chromedp.CSS("button[value=keep]")))
	leads(ctx, t, "what was kept", "location.pathname.startsWith('"+fromFile+"/')")
	open(ctx, "kept")
	do(ctx, t, chromedp.Click(chromedp.CSS("main button.plain")))
	leads(ctx, t, "what was taken back", "document.body.innerText.includes('Put all of it back')")
	open(ctx, "taken back")
	if n := len(s.log("Dunlin").Log.Readings); n != 0 {
		t.Errorf("%d readings are left", n)
	}
	if problem := script[string](ctx, t, "document.querySelector('.problem')?.innerText || ''"); strings.TrimSpace(problem) != "" {
		t.Errorf("there is a problem: %s", problem)
	}
}
