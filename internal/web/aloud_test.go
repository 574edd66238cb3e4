package web

import (
	"regexp"
	"strings"
	"testing"

	"spile/wording"
)

func TestUnitsWithASlashAreHeardInWords(t *testing.T) {
	const ear = `<span aria-hidden="true">g/L</span><span class="hidden">grams per litre</span>`
	e := newEar(&wording.Tongue{})
	for page, want := range map[string]string{
		`<p>2.4 volumes (4.7 g/L) of gas</p>`:               `<p>2.4 volumes (4.7 ` + ear + `) of gas</p>`,
		`<label>g/L</label>`:                                `<label>` + ear + `</label>`,
		`<svg aria-label="3.1 g/L &lt; 4"><text>g/L</text>`: `<svg aria-label="3.1 grams per litre &lt; 4"><text>g/L</text>`,
		`<code>--gas 4g/L g/L</code><p>1 kg/L</p>`:          `<code>--gas 4g/L g/L</code><p>1 <span aria-hidden="true">kg/L</span><span class="hidden">kilograms per litre</span></p>`,
		`<a href="/g/L">x g/Ls</a><option>g/L</option>`:     `<a href="/g/L">x g/Ls</a><option>g/L</option>`,
		`<svg><svg>g/L</svg>g/L</svg><p>3 g/L`:              `<svg><svg>g/L</svg>g/L</svg><p>3 ` + ear,
		`<svg xmlns="http://w3.org/svg">g/L</svg>a < b`:     `<svg xmlns="http://w3.org/svg">g/L</svg>a < b`,
		`<script>a = "<p>4 g/L"</script><p>12 psi</p>`:      `<script>a = "<p>4 g/L"</script><p>12 psi</p>`,
	} {
		if got := string(e.heard([]byte(page))); got != want {
			t.Errorf("%s\n got %s\nwant %s", page, got, want)
		}
	}
}

// No page leaves a unit with a slash behind a number to be spelled.
func TestNoUnitIsSpelled(t *testing.T) {
	s := newSite(t)
	hushed := regexp.MustCompile(`(?s)<(svg|code|script|title|option)\b.*?</(svg|code|script|title|option)>|<span aria-hidden="true">[^<]*</span>|<[^>]*>`)
	spelled := regexp.MustCompile(`\d[\s\x{a0}][\pL°]+/[\pL³]+`)
	for _, path := range sights {
		body := get(s, path).Body.String()
		if found := spelled.FindAllString(hushed.ReplaceAllString(body, " "), -1); found != nil {
			t.Errorf("%s: %q", path, found)
		}
	}
	if body := get(s, "/settings").Body.String(); !strings.Contains(body, `<span class="hidden">grams per litre</span>`) {
		t.Error("the settings do not say g/L in words")
	}
}
