package advice

import (
	"fmt"
	"math"

	"spile/estimate"
	"spile/unit"
	"spile/wording"
)

// oddsScale are the words for odds, each from its least probability on.
var oddsScale = []struct {
	from float64
	word wording.Text
}{
	{0.97, "almost certainly"}, {0.85, "very likely"}, {0.65, "likely"}, {0.35, evenOdds}, {0.15, "unlikely"}, {0.03, "very unlikely"}, {0, "almost certainly not"},
}

// OddsWord is the word for a probability.
func OddsWord(p float64) wording.Text {
	for _, row := range oddsScale {
		if p >= row.from {
			return row.word
		}
	}
	return oddsScale[len(oddsScale)-1].word
}

// evenOdds are the words that stand behind no "it is".
const evenOdds wording.Text = "could go either way"

// Odds is the word with its number beside it: "likely, 72 %".
func Odds(p float64, style unit.Style) string {
	return style.Say("%s, %s", OddsWord(p), percent(p))
}

func (v *view) odds(p float64) string { return Odds(p, v.style) }

// percent never claims certainty.
func percent(p float64) any {
	switch {
	case p > 0.99:
		return wording.Text("over 99 %")
	case p < 0.01:
		return wording.Text("under 1 %")
	}
	return fmt.Sprintf("%.0f %%", 100*p)
}

// inBand writes the middle of a band, no finer than its width allows.
func inBand[T, D ~float64](write func(T, D) string, b estimate.Band) string {
	return write(T(b.P50), D(width(b)))
}

// edges writes the ends of a band, rounded away from its middle.
func (v *view) edges(q unit.Quantity, b estimate.Band) (lo, hi string) {
	return v.style.Between(q, b.P05, b.P95)
}

// points is a fall of gravity in points, never finer than a third of the band.
func (v *view) points(p, band float64) string {
	m := v.style.Falls(1)
	if text := m.Number(p, band); text != "1" {
		return m.With(text)
	}
	return v.style.Word("1 point")
}

// pointsBetween is a band of points: "8 to 20 points".
func (v *view) pointsBetween(b estimate.Band) string {
	m := v.style.Falls(1)
	lo, hi := math.Floor(m.Shown(max(b.P05, 0))/m.Finest), math.Ceil(m.Shown(max(b.P95, 0.01))/m.Finest)
	return v.style.Say("%s to %s", m.Text(lo*m.Finest), m.With(m.Text(hi*m.Finest)))
}

// several tells of a fall that is written in points, and is more than one of them.
func (v *view) several(p, band float64) bool {
	m := v.style.Falls(1)
	return m.Unit == "points" && m.Number(p, band) != "1"
}

// fall is a slow fall of gravity, to finest points.
func (v *view) fall(points, finest float64) string {
	m := v.style.Falls(finest)
	return m.With(m.Number(max(points, 0), 0))
}

func width(b estimate.Band) float64 { return b.P95 - b.P05 }

// quantile reads a band at another probability than its own three, as if each
// side of it were half a normal curve.
func quantile(b estimate.Band, z float64) float64 {
	if z < 0 {
		return b.P50 + (b.P50-b.P05)*z/estimate.NineInTen
	}
	return b.P50 + (b.P95-b.P50)*z/estimate.NineInTen
}

// z20 is the normal deviate of one in five.
const z20 = -0.8416
