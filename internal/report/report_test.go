package report

import (
	"encoding/xml"
	"flag"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"spile/internal/oracle"
	"spile/unit"
)

var update = flag.Bool("update", false, "write the golden files anew")

// golden compares with a file that changes only on purpose.
func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s differs from the golden file (go test -update writes it anew):\n%s", name, oracle.Change(string(want), got))
	}
}

func TestText(t *testing.T) {
	text := Text(viewed(unit.Style{}))
	for i, line := range strings.Split(text, "\n") {
		if n := len([]rune(line)); n > columns {
			t.Errorf("line %d: expected at most %d columns, got %d: %s", i+1, columns, n, line)
		}
	}
	golden(t, "forecast.txt", text)
}

func TestStrips(t *testing.T) {
	c := ForecastChart(viewed(unit.Style{}))
	golden(t, "strips.svg", Standalone(c, 820))
	wellFormed(t, Standalone(c, 820))
	wellFormed(t, Standalone(c, 344))
}

func TestPage(t *testing.T) {
	page, err := HTML(viewed(unit.Style{}), "")
	if err != nil {
		t.Fatal(err)
	}
	golden(t, "page.html", string(page))
}

func TestPageNeedsNothingButItself(t *testing.T) {
	v := viewed(unit.Style{})
	v.Batch.Name = `<script>alert("x")</script>`
	page, err := HTML(v, "Invented data.")
	if err != nil {
		t.Fatal(err)
	}
	text := string(page)
	for _, forbidden := range []string{"<script", "http://", "https://", "url(http", "@import", "src="} {
		if strings.Contains(strings.ReplaceAll(text, `xmlns="http://www.w3.org/2000/svg"`, ""), forbidden) {
			t.Errorf("expected no %q in the page", forbidden)
		}
	}
	for _, wanted := range []string{"The maker&#39;s plate and local rules come first", "prefers-color-scheme:dark", `role="img"`, "<table>", "Invented data."} {
		if !strings.Contains(text, wanted) {
			t.Errorf("expected %q in the page", wanted)
		}
	}
	if n := strings.Count(text, "role=\"img\" aria-label=\"\""); n > 0 {
		t.Errorf("expected a text alternative for every drawing, %d are empty", n)
	}
}

func TestPageWithoutRatingSaysSo(t *testing.T) {
	b, log, f := fixture()
	b.Vessel.Rating = nil
	v := (&View{Batch: b, Log: log, Forecast: f, Said: sayOf(b, log, f)}).Cut()
	if !strings.Contains(v.SVG(), "no rating") || !strings.Contains(v.Spoken(), "no rating known") {
		t.Errorf("expected the post and the sentence to say that there is no rating, got %s", v.Spoken())
	}
}

// Every number in the drawings is a number.
func wellFormed(t *testing.T, svg string) {
	t.Helper()
	if strings.Contains(svg, "NaN") || strings.Contains(svg, "Inf") {
		t.Error("expected finite numbers in the drawing")
	}
	d := xml.NewDecoder(strings.NewReader(svg))
	for {
		if _, err := d.Token(); err == io.EOF {
			return
		} else if err != nil {
			t.Fatalf("expected well-formed XML, got %v", err)
		}
	}
}

// Contrast of text and marks on ground by the WCAG 2 formula, as the table of colours gives it.
func TestColoursKeepTheirContrast(t *testing.T) {
	for _, c := range []struct {
		name        string
		of          func(p palette) string
		light, dark float64
	}{
		{"ink", func(p palette) string { return p.ink }, 15.7, 16.3}, {"quiet text", func(p palette) string { return p.quiet }, 7.4, 9.8},
		{"rules", func(p palette) string { return p.rule }, 4.1, 5.3}, {"belief", func(p palette) string { return p.belief }, 10.5, 10.0},
		{"what if", func(p palette) string { return p.whatIf }, 5.7, 6.9}, {"limit", func(p palette) string { return p.limit }, 5.7, 8.0},
	} {
		for _, x := range []struct {
			theme string
			p     palette
			want  float64
		}{{"light", light, c.light}, {"dark", dark, c.dark}} {
			if got := contrast(c.of(x.p), x.p.ground); math.Abs(got-x.want) > 0.1 {
				t.Errorf("%s, %s: expected %.1f, got %.2f, tolerance 0.1", c.name, x.theme, x.want, got)
			}
		}
	}
}

func contrast(a, b string) float64 {
	la, lb := luminance(a), luminance(b)
	return (math.Max(la, lb) + 0.05) / (math.Min(la, lb) + 0.05)
}

func luminance(hex string) float64 {
	channel := func(i int) float64 {
		n, _ := strconv.ParseUint(hex[i:i+2], 16, 8)
		v := float64(n) / 255
		if v <= 0.03928 {
			return v / 12.92
		}
		return math.Pow((v+0.055)/1.055, 2.4)
	}
	return 0.2126*channel(1) + 0.7152*channel(3) + 0.0722*channel(5)
}

func TestEveryStateHasAShape(t *testing.T) {
	for s := range stateShapes {
		wellFormed(t, StateShape(s))
	}
	if len(stateShapes) != 11 {
		t.Errorf("expected 11 states with a shape, got %d", len(stateShapes))
	}
}

func TestNoColourButTheSeven(t *testing.T) {
	page, err := HTML(viewed(unit.Style{}), "")
	if err != nil {
		t.Fatal(err)
	}
	known := light.variables() + dark.variables() + "#fff"
	for _, colour := range regexp.MustCompile(`#[0-9A-Fa-f]{3,6}\b`).FindAllString(string(page), -1) {
		if !strings.Contains(known, colour) && !strings.Contains(string(page), `&`+colour) {
			t.Errorf("expected only colours of the table, got %s", colour)
		}
	}
}
