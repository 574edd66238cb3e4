package web

import (
	"context"
	"flag"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/chromedp"
)

// browse opens a browser on the pages of an empty cellar, or skips where there is none.
func browse(t *testing.T) (ctx context.Context, home string) { return browseOn(t, newSite(t)) }

// browseOn opens a browser on pages.
func browseOn(t *testing.T, pages http.Handler) (ctx context.Context, home string) {
	t.Helper()
	ctx = browser(t)
	server := httptest.NewServer(pages)
	t.Cleanup(func() { // pages that follow live are still open
		server.CloseClientConnections()
		server.Close()
	})
	return ctx, server.URL
}

// browser is one without a window, or skips where there is none.
func browser(t *testing.T) context.Context {
	t.Helper()
	path, err := exec.LookPath("chromium")
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("chromium is missing; make setup installs it")
		}
		t.Skip("chromium is missing; make setup installs it")
	}
	options := []chromedp.ExecAllocatorOption{chromedp.ExecPath(path), chromedp.Headless, chromedp.NoSandbox, chromedp.DisableGPU, chromedp.NoFirstRun,
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-component-update", true),
		chromedp.Flag("disable-sync", true), chromedp.Flag("hide-scrollbars", true), chromedp.UserDataDir(t.TempDir())}
	ctx, cancel := chromedp.NewExecAllocator(context.Background(), options...)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	ctx, cancel = context.WithTimeout(ctx, 12*time.Minute)
	t.Cleanup(cancel)
	return ctx
}

// sights are the pages that are looked at.
var sights = map[string]string{
	"home": "/", "path": "/work-it-out", "wrong": "/something-is-wrong", "glossary": "/glossary", "settings": "/settings", "missing": "/nowhere",
	"empty":    "/work-it-out/carbonation",
	"answer":   "/work-it-out/carbonation?temperature=1+C&pressure=10+psi&rating=2.5+bar",
	"long":     "/work-it-out/line",
	"over":     "/work-it-out/warming?from=1+C&to=40+C&volume=16+L&capacity=17+L&volumes=2.8+volumes&rating=2.5+bar&safety-relief=2.2+bar",
	"problem":  "/work-it-out/drinks?volume=12&abv=strong",
	"together": "/work-it-out/quiet-gauge?from-pressure=7+psi&to-pressure=7.5+psi&from-temperature=20+C&to-temperature=20+C&time=24+h&volume=20+L&capacity=27+L&vented-from=10+psi",
	"fill":     "/fill?vessel=new",
	"have":     "/what-i-have",
	"add":      "/add/place",
	"stages":   "/stages",
	"stage":    "/stages/prove-it",
	"card":     "/work-it-out/carbonation/table?rating=2.5+bar",
}

func show(ctx context.Context, t *testing.T, address string, width int64) {
	t.Helper()
	if err := chromedp.Do(ctx, chromedp.EmulateViewport(width, 800), chromedp.Navigate(address), chromedp.WaitReady(chromedp.CSS("main"))); err != nil {
		t.Fatal(address, err)
	}
	leads(ctx, t, address, "true")
}

func script[T any](ctx context.Context, t *testing.T, source string) T {
	t.Helper()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](source))
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// TestBrowser asks one browser everything that only a browser can tell.
func TestBrowser(t *testing.T) {
	ctx, home := browse(t)
	show(ctx, t, home, 390)
	err := chromedp.Listen(ctx, func(event any) {
		if e, ok := event.(*log.EventEntryAdded); ok && strings.Contains(e.Entry.Text, "Content Security Policy") {
			t.Error(e.Entry.Text)
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	t.Run("small screen", func(t *testing.T) { smallScreen(ctx, t, home) })
	t.Run("keyboard", func(t *testing.T) { keyboard(ctx, t, home) })
	t.Run("asking", func(t *testing.T) { asks(ctx, t, home) })
	t.Run("paper", func(t *testing.T) { paper(ctx, t, home) })
	if f := flag.Lookup("test.artifacts"); f != nil && f.Value.String() == "true" {
		t.Run("pictures", func(t *testing.T) { pictures(ctx, t, home) })
	}
}

// pictures keeps the pages to be looked at: go test -artifacts -outputdir DIR.
func pictures(ctx context.Context, t *testing.T, home string) {
	for _, theme := range []string{"light", "dark", "glare"} {
		show(ctx, t, home, 390)
		script[string](ctx, t, "document.cookie='spile-theme="+theme+"; path=/'")
		for name, path := range sights {
			for _, width := range []int64{390, 1280} {
				if theme == "glare" && (width != 390 || name != "answer") {
					continue
				}
				show(ctx, t, home+path, width)
				picture, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
				if err != nil {
					t.Fatal(err)
				}
				if err := os.WriteFile(filepath.Join(t.ArtifactDir(), fmt.Sprintf("%s-%s-%d.png", name, theme, width)), picture, 0o644); err != nil {
					t.Fatal(err)
				}
			}
		}
	}
}

// smallScreen: nothing runs off the side of a small phone, and what a wet hand touches is large enough:
// 48 px for fields, buttons and links that stand alone, 24 px for links within a line
// (WCAG 2.2, 2.5.8, spares those that stand in a sentence).
func smallScreen(ctx context.Context, t *testing.T, home string) {
	const wide = `[...document.querySelectorAll('body *')].filter(e => !e.closest('.scroll,.skip,.hidden,svg') && e.getBoundingClientRect().right > 320.5).map(e => e.outerHTML.slice(0, 100)).join('\n')`
	for name, path := range sights {
		show(ctx, t, home+path, 320)
		if w := script[int](ctx, t, "document.documentElement.scrollWidth"); w > 320 {
			t.Errorf("%s is %d px wide on a screen of 320 px:\n%s", name, w, script[string](ctx, t, wide))
		}
		if bad := script[string](ctx, t, smallTargets); bad != "" {
			t.Errorf("%s: too small to touch:\n%s", name, bad)
		}
	}
}

// keyboard: it reaches everything in the order in which it stands, and sees where it is.
func keyboard(ctx context.Context, t *testing.T, home string) {
	show(ctx, t, home+sights["problem"], 390)
	if at := script[string](ctx, t, "document.activeElement.className"); at != "problem" {
		t.Errorf("after an answer with errors the focus is on %q; expected the summary", at)
	}
	show(ctx, t, home+sights["empty"], 390)
	last, seen := -1.0, 0
	for range 40 {
		if err := chromedp.Do(ctx, chromedp.KeyEvent("\t")); err != nil {
			t.Fatal(err)
		}
		at := script[[]any](ctx, t, `(e => [e.tagName, [...document.querySelectorAll('*')].indexOf(e), getComputedStyle(e).outlineStyle])(document.activeElement)`)
		if at[0] == "BODY" {
			break
		}
		if place := at[1].(float64); place < last {
			break // round again
		} else {
			last = place
		}
		if seen++; at[2] == "none" {
			t.Errorf("%v has the focus and does not show it", at[0])
		}
	}
	want := script[int](ctx, t, `[...document.querySelectorAll('a[href],button,input:not([type=hidden]),summary')].length`)
	if seen != want {
		t.Errorf("Tab reached %d of %d links, fields and buttons", seen, want)
	}
}

// asking: a question is asked with the keyboard alone, and answered in place.
func asks(ctx context.Context, t *testing.T, home string) {
	show(ctx, t, home+"/work-it-out/alcohol", 390)
	if err := chromedp.Do(ctx, chromedp.SendKeys(chromedp.CSS("#field-og"), "1,046"), chromedp.SendKeys(chromedp.CSS("#field-fg"), "1.010\r"), chromedp.WaitReady(chromedp.CSS(".answer"))); err != nil {
		t.Fatal(err)
	}
	if got := script[string](ctx, t, "document.querySelector('.big').innerText"); got != "4.8\u00a0%" {
		t.Errorf("expected 4.8 %%, got %q", got)
	}
	if w := script[int](ctx, t, "document.querySelector('figure img').naturalWidth"); w == 0 {
		t.Error("the plot was not drawn")
	}
}

// paper: what hangs on a door fits one sheet of either paper.
func paper(ctx context.Context, t *testing.T, home string) {
	for _, c := range []struct {
		name, path, width string
	}{
		{"card-a4", sights["card"] + "&paper=a4", "594.95"},
		{"card-letter", sights["card"] + "&paper=letter", "612"},
		{"wrong", sights["wrong"], ""},
	} {
		show(ctx, t, home+c.path, 800)
		pdf, err := chromedp.Run(ctx, chromedp.PrintToPDF(chromedp.PDFPreferCSSPageSize()))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(t.ArtifactDir(), c.name+".pdf"), pdf, 0o644); err != nil {
			t.Fatal(err)
		}
		if n := strings.Count(string(pdf), "/Type /Page\n"); n != 1 {
			t.Errorf("%s takes %d sheets; expected 1", c.name, n)
		}
		if box := "/MediaBox [0 0 " + c.width; !strings.Contains(string(pdf), box) {
			t.Errorf("%s: expected a sheet with %s", c.name, box)
		}
	}
}
