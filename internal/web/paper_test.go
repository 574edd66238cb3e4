package web

import (
	"bytes"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"spile/unit"

	"github.com/chromedp/chromedp"
)

// sheets counts the sheets of a PDF.
var sheets = regexp.MustCompile(`/Type */Page\b`)

// The print-outs of every vessel of the shed are found on paper, and are made of classes alone; a door card is one leaf on
// both papers, with nothing cut, the sheet for trouble on its back; so is a job sheet, and labels are one side.
func TestCardsOfTheShed(t *testing.T) {
	s := newShed(t)
	list := get(s, "/on-paper")
	checkPage(t, "/on-paper", list.Body.String(), parse(t, list))
	cards := regexp.MustCompile(`/print/[a-z-]+\?[^"]*`).FindAllString(strings.ReplaceAll(list.Body.String(), "&amp;", "&"), -1)
	if len(cards) != 5*4*2 {
		t.Fatalf("expected four print-outs on two papers for five vessels, got %d", len(cards))
	}
	if n := strings.Count(main(t, list), "Not real. "); n != 5 {
		t.Errorf("expected five vessels handed over, got %d", n)
	}
	for _, address := range cards {
		page := get(s, address)
		text := page.Body.String()
		if page.Code != http.StatusOK || strings.Contains(text, "<style") || strings.Contains(text, "style=") || !strings.Contains(text, paperStyle) || !strings.Contains(text, "Not real") {
			t.Errorf("%s: %d; expected a card that says it is not real, and no style of its own", address, page.Code)
		}
		if bad := malformed(text); bad != "" {
			t.Errorf("%s: %s", address, bad)
		}
		if !bytes.Equal(get(s, address).Body.Bytes(), []byte(text)) {
			t.Errorf("%s: expected the same bytes again", address)
		}
	}
	for address, want := range map[string]int{"/print/door-card?vessel=x": http.StatusNotFound, "/print/door-card": http.StatusNotFound, strings.Replace(cards[0], "paper=a4", "paper=a5", 1): http.StatusBadRequest} {
		if got := get(s, address).Code; got != want {
			t.Errorf("%s: expected %d, got %d", address, want, got)
		}
	}
	printed(t, s, cards)
}

// sidesOf are the sides of each print-out, at least and at most: what was read of a batch fills more or fewer.
var sidesOf = map[string][2]int{"door-card": {2, 2}, "job-sheet": {1, 2}, "label": {1, 1}}

func printed(t *testing.T, s *Site, cards []string) {
	t.Helper()
	path, err := exec.LookPath("chromium")
	if err != nil {
		t.Skip("chromium is missing; make setup installs it")
	}
	server := httptest.NewServer(s)
	defer server.Close()
	for _, address := range cards {
		sides, held := sidesOf[strings.TrimPrefix(address[:strings.Index(address, "?")], "/print/")]
		if !held || sides[0] == 1 && !strings.HasSuffix(address, "letter") { // what fits the shorter sheet fits the other
			continue
		}
		file := filepath.Join(t.TempDir(), "card.pdf")
		print := exec.CommandContext(t.Context(), path, "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer", "--user-data-dir="+t.TempDir(), "--print-to-pdf="+file, server.URL+address)
		if out, err := print.CombinedOutput(); err != nil {
			t.Fatalf("%s: %v\n%s", address, err, out)
		}
		pdf, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if n := len(sheets.FindAll(pdf, -1)); n < sides[0] || n > sides[1] {
			t.Errorf("%s: expected %v sides, got %d", address, sides, n)
		}
		box := "[0 0 594.95996 841.91998]" // 210 by 297 mm, ISO 216, in points
		if strings.HasSuffix(address, "letter") {
			box = "[0 0 612 792]" // 8.5 by 11 in
		}
		if !bytes.Contains(pdf, []byte(box)) {
			t.Errorf("%s: expected a sheet of %s", address, box)
		}
	}
}

// No word of a label is cut off, however long its name is; a job sheet tells how things are done at the stage of its
// vessel. No square leads where no phone comes.
func TestLabelsAreWhole(t *testing.T) {
	s := newShed(t)
	ctx, home := browseOn(t, s)
	all, err := s.allStandingIn(t.Context(), unit.Style{})
	if err != nil {
		t.Fatal(err)
	}
	for _, v := range all {
		of := "?vessel=" + v.Seen.ID.String()
		do(ctx, t, chromedp.EmulateViewport(800, 1200), chromedp.Navigate(home+"/print/label"+of+"&paper=letter"), chromedp.WaitReady(chromedp.CSS("main")))
		const room = `Math.min(...[...document.querySelectorAll('.labels>li')].map(e => { e.querySelector('h2').textContent += ', brewed for the whole allotment'; return e.clientHeight - e.scrollHeight }))`
		if cut := script[float64](ctx, t, room); cut < 0 {
			t.Errorf("%s: %g px of a label are cut off", v.Name(), -cut)
		}
		wantNot(t, "label", get(s, "/print/label"+of).Body.String(), "A square to photograph")
		want(t, "job sheet", get(s, "/print/job-sheet"+of).Body.String(), string(v.Stage().Name)+": what people ask")
	}
}

// Where phones come in, the square of a label leads to the page of its beer.
func TestSquareOfALabel(t *testing.T) {
	s := openedBeyond(t).foretold()
	id := s.batches["Dunlin"].String()
	w := from(s.Site, "192.168.1.20", "GET", "/print/label?vessel="+id, nil, "Cookie", s.session("Vita"))
	squares := parse(t, w).class("qr")
	if w.Code != http.StatusOK || len(squares) < 2 || attribute(squares[0], "aria-label") != "A square to photograph: it opens the page of this beer" {
		t.Fatalf("%d, %d squares", w.Code, len(squares))
	}
	zbar, err := exec.LookPath("zbarimg")
	if err != nil {
		t.Skip("zbarimg is not installed (make setup)")
	}
	_, drawn, _ := strings.Cut(w.Body.String(), `<svg class="qr"`)
	if found, leads := readSquare(t, zbar, pathOf(t, `<svg class="qr"`+drawn)), "http://192.168.1.7:8417/vessels/"+id; found != leads {
		t.Errorf("it leads to %s, expected %s", found, leads)
	}
}
