package report

import (
	"html"
	"regexp"
	"strings"
	"testing"

	"spile/unit"
	"spile/wort"
)

// choices are the ways to write each quantity, with what must then be found nowhere.
var choices = [][][2]string{
	{{"psi", `\d (bar|kPa)\b`}, {"bar", `\d (psi|kPa)\b`}, {"kpa", `\d (psi|bar)\b`}},
	{{"c", `°F`}, {"f", `°C`}},
	{{"l", `\d (gal|fl oz)\b`}, {"gal(us)", `\d m?L\b|\(UK\)`}, {"gal(uk)", `\d m?L\b|\(US\)`}},
	{{"sg", `°P`}, {"p", `\b1\.0\d\d\b|\d points?\b`}},
	{{"volumes", `\d g/L`}, {"g/l", `\d volumes`}},
	{{"g", `\d (oz|lb)\b`}, {"oz", `\d k?g[ .,;)<]`}},
	{{"point", `\d,\d`}, {"comma", `\d\.\d`}},
}

var (
	markup    = regexp.MustCompile(`(?s)<style.*?</style>|<title>.*?</title>|<[^>]*>`)
	spoken    = regexp.MustCompile(`aria-label="([^"]*)"`)
	notStyled = regexp.MustCompile(`width=device-width, initial-scale=1`)
)

// said is what a page says, the text alternatives of its drawings included.
func said(page string) string {
	page = notStyled.ReplaceAllString(page, "")
	var out strings.Builder
	for _, m := range spoken.FindAllStringSubmatch(page, -1) {
		out.WriteString(m[1] + "\n")
	}
	out.WriteString(markup.ReplaceAllString(page, " "))
	return strings.ReplaceAll(html.UnescapeString(out.String()), "\u00a0", " ")
}

// outputs are all forms in which a forecast leaves, in one style.
func outputs(t *testing.T, style unit.Style) map[string]string {
	t.Helper()
	page, err := HTML(viewed(style), "")
	if err != nil {
		t.Fatal(err)
	}
	paper := style
	paper.Dated = true
	c := card(A4)
	c.View = viewed(paper)
	return map[string]string{
		"terminal": strings.Join(strings.Fields(Text(viewed(style))), " "), "screen": said(string(page)),
		"door card": said(printed(t, c, DoorCard)), "batch card": said(printed(t, c, BatchCard)),
	}
}

// Each quantity in each of its units, in each output: no other unit is found, and what is said of now is the same on
// the screen, in the terminal and in print.
func TestOutputsAgreeInEveryStyle(t *testing.T) {
	cells := 0
	for _, quantity := range choices {
		for _, choice := range quantity {
			style, err := unit.ParseStyle(choice[0], wort.ExtractFromGravity)
			if err != nil {
				t.Fatal(err)
			}
			foreign := regexp.MustCompile(choice[1])
			sentences := viewed(style).Said.Now
			for name, text := range outputs(t, style) {
				cells++
				text = strings.Join(strings.Fields(text), " ")
				if at := foreign.FindStringIndex(text); at != nil {
					t.Errorf("%s in %q: found %q in …%s…", name, choice[0], text[at[0]:at[1]], text[max(at[0]-50, 0):min(at[1]+30, len(text))])
				}
				for _, s := range sentences {
					if !strings.Contains(text, s) {
						t.Errorf("%s in %q does not say %q", name, choice[0], s)
					}
				}
			}
		}
	}
	if cells != 16*4 {
		t.Errorf("expected 16 ways of writing in 4 outputs, got %d", cells)
	}
}
