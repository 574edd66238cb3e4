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
)

// sheets counts the sheets of a PDF.
var sheets = regexp.MustCompile(`/Type */Page\b`)

// The cards of every vessel of the shed are found on paper, and are made of classes alone; a door card is one leaf on
// both papers, with nothing cut, the sheet for trouble on its back.
func TestCardsOfTheShed(t *testing.T) {
	s := newShed(t)
	list := get(s, "/on-paper")
	checkPage(t, "/on-paper", list.Body.String(), parse(t, list))
	cards := regexp.MustCompile(`/print/(door|batch)-card\?[^"]*`).FindAllString(strings.ReplaceAll(list.Body.String(), "&amp;", "&"), -1)
	if len(cards) != 5*4 {
		t.Fatalf("expected two cards on two papers for five vessels, got %d", len(cards))
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
	printDoors(t, s, cards)
}

func printDoors(t *testing.T, s *Site, cards []string) {
	t.Helper()
	path, err := exec.LookPath("chromium")
	if err != nil {
		t.Skip("chromium is missing; make setup installs it")
	}
	server := httptest.NewServer(s)
	defer server.Close()
	for _, address := range cards {
		if !strings.HasPrefix(address, "/print/door") {
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
		if n := len(sheets.FindAll(pdf, -1)); n != 2 {
			t.Errorf("%s: expected two sides, got %d", address, n)
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
