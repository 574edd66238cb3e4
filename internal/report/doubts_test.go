package report

import (
	"html"
	"strings"
	"testing"

	"spile/batch"
	"spile/estimate"
	"spile/unit"
)

// What is asked about is said wherever a forecast is read, with its time.
func TestDoubtsAreSaid(t *testing.T) {
	b, log, f := fixture()
	f.Flags = []estimate.Flag{{Kind: estimate.FlagLate, Reading: batch.Reading{Time: pitched.AddDate(2, 0, 0), Quantity: batch.Gravity, Value: 1.016, Line: 6}}}
	v := &View{Batch: b, Log: log, Forecast: f, Said: sayOf(b, log, f), Style: unit.Style{}}
	page, err := HTML(v, "")
	if err != nil {
		t.Fatal(err)
	}
	const want = "Mon 20 Nov 2028, 18:30, line 6: 1.016 is dated more than a year after the yeast went in, and left out. Is the clock right?"
	for name, text := range map[string]string{"text": Text(v), "page": string(page), "batch card": printed(t, &Card{View: v, Of: "0193a5e0", Vessel: "Dunlin", Paper: A4, Now: f.At}, BatchCard)} {
		text = strings.Join(strings.Fields(strings.ReplaceAll(html.UnescapeString(text), "\u00a0", " ")), " ")
		if strings.Count(text, want) != 1 {
			t.Errorf("%s: expected %q once", name, want)
		}
	}
}
