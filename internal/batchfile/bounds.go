package batchfile

import (
	"strings"

	"spile/batch"
	"spile/wording"
)

// factSpans are the bounds of what is told about a batch, by the key of the file.
var factSpans = map[string]span{
	"wort": spanWort, "capacity": spanCapacity, "diameter": spanDiameter, "original": spanOriginal, "yeast": spanYeast, "attenuation": spanShare,
	"rating": spanRating, "setting": spanSetting, "ambient": spanAir, "beer": spanBeer, "altitude": spanAltitude, "belt": spanPower,
	"cylinder": spanCylinder, "co2": spanVolumes, "bitterness": spanBitterness,
}

// Bounds are what a fact about a batch can be, in SI, and how that is said: "0.1 L to
// 2000 L". It panics on a fact that there is not.
func Bounds(fact string) (low, high float64, words wording.Sentence) {
	s, known := factSpans[fact]
	if !known {
		panic("batchfile: no fact " + fact)
	}
	return s.low, s.high, s.words
}

// ReadingBounds are what an instrument of q can show, in SI and in words.
func ReadingBounds(q batch.Quantity) (low, high float64, words wording.Sentence) {
	for _, c := range numberColumns {
		if c.quantity == q && c.name != "vented_l" {
			_, symbol, _ := strings.Cut(c.name, "_")
			return c.toSI(c.low, nil), c.toSI(c.high, nil), fromTo(trim(c.low), strings.TrimSpace(trim(c.high)+" "+symbolOf[symbol]))
		}
	}
	panic("batchfile: no column for that quantity")
}

// fromTo are two bounds in words.
func fromTo(low, high string) wording.Sentence { return wording.Unsaid("%s to %s", low, high) }

// symbolOf is how the unit of a column is written in words.
var symbolOf = map[string]string{"sg": "", "psi": "psi", "c": "°C", "kg": "kg", "g": "g"}
