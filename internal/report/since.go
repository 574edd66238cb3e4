package report

import (
	"fmt"
	"strings"

	"spile/batch"
	"spile/estimate"
)

// mostSince is how many later samples are listed.
const mostSince = 12

// since sets samples read after the time of the forecast beside what it expected
// of them, the instrument's own error included. They took no part in it.
func since(b *batch.Batch, log batch.Log, f *estimate.Forecast) []string {
	var lines []string
	inside, all := 0, 0
	for _, r := range log.Readings {
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
			lines = append(lines, fmt.Sprintf("%s  read %.3f  expected %.3f to %.3f  %s",
				r.Time.Format("Mon 2 Jan 15:04"), r.Value, band.P05, band.P95, word))
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
func writeSince(out *strings.Builder, b *batch.Batch, log batch.Log, f *estimate.Forecast) {
	if lines := since(b, log, f); lines != nil {
		section(out, "Since", append([]string{"Samples read after this forecast, which took no part in it:"}, lines...)...)
	}
}
