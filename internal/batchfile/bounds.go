package batchfile

import "strings"

// factSpans are the bounds of what is told about a batch, by the key of the file.
var factSpans = map[string]span{
	"wort": spanWort, "capacity": spanCapacity, "diameter": spanDiameter, "original": spanOriginal, "yeast": spanYeast, "attenuation": spanShare,
	"rating": spanRating, "setting": spanSetting, "ambient": spanAir, "beer": spanBeer, "altitude": spanAltitude, "belt": spanPower,
	"cylinder": spanCylinder, "co2": spanVolumes, "bitterness": spanBitterness,
}

// Bounds are what a fact about a batch can be, in SI, and how that is said: "0.1 L to
// 2000 L". It panics on a fact that there is not.
func Bounds(fact string) (low, high float64, words string) {
	s, known := factSpans[fact]
	if !known {
		panic("batchfile: no fact " + fact)
	}
	words, _, _ = strings.Cut(s.words, ";")
	return s.low, s.high, strings.TrimSuffix(words, " with its unit")
}
