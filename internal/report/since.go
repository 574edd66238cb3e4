package report

import (
	"fmt"
	"strings"

	"spile/batch"
	"spile/estimate"
	"spile/unit"
)

// mostSince is how many later samples are listed.
const mostSince = 12

// since sets samples read after the time of the forecast beside what it expected
// of them, the instrument's own error included. They took no part in it.
func since(v *View) []string {
	b, f, m := v.Batch, v.Forecast, v.Style.Of(unit.OfGravity, 1)
	var lines []string
	inside, all := 0, 0
	for _, r := range v.Log.Readings {
		if r.Quantity != batch.Gravity || !r.Time.After(f.At) {
			continue
		}
		band, ok := f.Series.At(f.Series.Gravity, r.Time.Sub(b.Pitched).Hours())
		if !ok {
			continue
		}
		band = estimate.Shown(r, band)
		all++
		word := "above the band"
		switch {
		case r.Value >= band.P05 && r.Value <= band.P95:
			inside++
			word = "as expected"
		case r.Value < band.P05:
			word = "below the band"
		}
		if all <= mostSince {
			lines = append(lines, fmt.Sprintf("%s  read %s  expected %s to %s  %s",
				v.in(r.Time).Format("Mon 2 Jan 15:04"), m.Number(r.Value, 0), m.Number(band.P05, 0), m.With(m.Number(band.P95, 0)), word))
		}
	}
	if all == 0 {
		return nil
	}
	if all > mostSince {
		lines = append(lines, fmt.Sprintf("and %d more", all-mostSince))
	}
	return append(lines, fmt.Sprintf("%d of %d later samples lie where nine in ten should.", inside, all))
}

// writeSince writes since, where there is any.
func writeSince(out *strings.Builder, v *View) {
	if lines := since(v); lines != nil {
		section(out, "Since", append([]string{"Samples read after this forecast, which took no part in it:"}, lines...)...)
	}
}
