package web

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/chromedp"
)

// picture keeps what the browser shows, to be looked at: go test -artifacts -outputdir DIR.
func picture(ctx context.Context, t *testing.T, name string) {
	t.Helper()
	shot, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(t.ArtifactDir(), name+".png"), shot, 0o644); err != nil {
		t.Fatal(err)
	}
}

// fits: nothing runs off the side of the phone.
func fits(ctx context.Context, t *testing.T, name string, width int) {
	t.Helper()
	if w := script[int](ctx, t, "document.documentElement.scrollWidth"); w > width {
		t.Errorf("%s is %d px wide on a screen of %d px", name, w, width)
	}
}

func do(ctx context.Context, t *testing.T, actions ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	if err := chromedp.Do(ctx, actions...); err != nil {
		t.Fatal(err)
	}
}

// A beginner on a phone goes from an empty cellar to a first batch in seven answers.
func TestFirstBatchOnAPhone(t *testing.T) {
	ctx, home := browse(t)
	show(ctx, t, home+"/fill", 390)
	picture(ctx, t, "fill")
	fits(ctx, t, "fill", 390)
	do(ctx, t, chromedp.Click(chromedp.CSS("#form button")), chromedp.WaitReady(chromedp.CSS(".problem")))
	picture(ctx, t, "fill-problem")
	for field, typed := range map[string]string{"vessel-capacity_m3": "26 L", "vessel-rating_pa": "2.5 bar", "vessel-safety_relief_pa": "2.2 bar", "wort-pack-volume_m3": "20 L", "wort-pack-gravity_sg": "1.046", "place-ambient_k": "18"} {
		do(ctx, t, chromedp.SendKeys(chromedp.CSS(`[id="field-`+field+`"]`), typed))
	}
	do(ctx, t, chromedp.Click(chromedp.CSS(`[id="field-yeast-pack-kind"]`)), chromedp.Click(chromedp.CSS("#form button")), chromedp.WaitReady(chromedp.CSS(".steps")))
	picture(ctx, t, "look")
	fits(ctx, t, "look", 390)
	look := script[string](ctx, t, "location.href")
	show(ctx, t, look, 320)
	fits(ctx, t, "look", 320)
	do(ctx, t, chromedp.Click(chromedp.CSS("button[value=yeast]")), chromedp.WaitReady(chromedp.CSS("main .doors")))
	if at := script[string](ctx, t, "location.pathname"); len(at) < len("/vessels/") || at[:9] != "/vessels/" {
		t.Errorf("it leads to %s", at)
	}
	picture(ctx, t, "vessel")
	show(ctx, t, home+"/what-i-have", 390)
	picture(ctx, t, "have")
	fits(ctx, t, "have", 390)
	do(ctx, t, chromedp.Click(chromedp.CSS(".lines a")), chromedp.WaitReady(chromedp.CSS(".history")))
	picture(ctx, t, "thing")
	fits(ctx, t, "thing", 390)
	id := script[string](ctx, t, `document.querySelector('a[href$="/change"]').getAttribute('href').split('/')[2]`)
	for name, path := range map[string]string{"turnaround": "/vessels/" + id + "/turnaround", "thing": "/what-i-have/" + id, "stage": "/stages/before-cooling"} {
		show(ctx, t, home+path, 320)
		fits(ctx, t, name, 320)
	}
	for name, path := range map[string]string{"turnaround-full": "/vessels/" + id + "/turnaround", "stages": "/stages", "stage": "/stages/close-the-lid", "stage-empty": "/stages/empty", "add": "/add/vessel", "home": "/"} {
		show(ctx, t, home+path, 390)
		picture(ctx, t, name)
		fits(ctx, t, name, 390)
	}
	show(ctx, t, home+"/vessels/"+id+"/turnaround", 390)
	do(ctx, t, chromedp.Click(chromedp.CSS("#form button")), chromedp.WaitReady(chromedp.CSS(".steps")))
	picture(ctx, t, "turnaround")
	fits(ctx, t, "turnaround", 390)
	show(ctx, t, home+"/fill", 390)
	picture(ctx, t, "which")
}
