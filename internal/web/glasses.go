package web

import (
	"math"

	"spile/calc"
	"spile/unit"
)

// usualGlass is taken where nobody said how large a glass is (common practice, no source).
const usualGlass = 400 * unit.Millilitre

// Glasses says how many are left of what can be poured, with the working; nil: it is not for pouring, or none is left.
func (v *stood) Glasses() *works {
	if v.Said == nil || !v.State.Pourable() {
		return nil
	}
	l := &v.Seen.Told.Forecast.Now.Liquid
	low, mid, high := int(glassesOf(l.P05)), int(glassesOf(l.P50)), int(math.Ceil(glassesOf(l.P95)))
	if mid < 1 {
		return nil
	}
	link := workLink("How many glasses?", "pour", pourValues(unit.Volume(l.P50))...)
	return &works{v.Style.Tongue.Many(mid, "About %d glass of %s left, between %d and %d glasses.", "About %d glasses of %s left, between %d and %d glasses.", mid, v.Style.Volume(usualGlass, 0), low, high), link.Path}
}

// glassesOf is how many glasses so much beer fills, m³.
func glassesOf(beer float64) float64 {
	row, _ := calc.Find("pour")
	a, err := row.Evaluate(paired(pourValues(unit.Volume(beer))))
	if err != nil {
		return 0 // no beer
	}
	return a.Results[0].Value
}

func pourValues(beer unit.Volume) []string {
	return []string{"volume", givenVolume(beer), "glass", givenVolume(usualGlass)}
}
