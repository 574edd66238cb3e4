package yeast

import "spile/unit"

// Level says how much of a by-product is to be expected, in words: never a promise of flavour.
type Level string

// The levels of by-products.
const (
	Little   Level = "little"
	Ordinary Level = "ordinary"
	Much     Level = "much"
)

// ByProducts are the levels of fruity esters and of fusel alcohols, with what speaks for them.
type ByProducts struct {
	Esters, Fusels Level
	Because        []string
}

// pressEsters halves the esters, Pa of CO2 above one atmosphere. An assumption: pressure lowers them mainly by lowering growth.
const pressEsters = 1.5 * unit.Bar

// Expect judges by-products from where the ferment ran within the kind's ordinary range, the pressure of CO2 above one
// atmosphere and the pitch as a share of the wanted cells. Qualitative: the sources say up or down, not how much.
// References: [Knatchbull1987], [Renger1992], [ArcayLedezma1984], [Verbelen2009]
func (k Kind) Expect(t unit.Temperature, over unit.Pressure, pitch float64) ByProducts {
	low, high := k.Range()
	warm := 2*float64(t-low)/float64(high-low) - 1 // -1 at the cool end of the ordinary range, 1 at the warm end
	press := 1 / (1 + max(float64(over), 0)/pressEsters)
	var b ByProducts
	esters, fusels := warm, warm
	note := func(yes bool, why string, e, f float64) {
		if yes {
			esters, fusels = esters+e, fusels+f
			b.Because = append(b.Because, why)
		}
	}
	note(warm > 1, "warmer than is usual for this yeast: more of both", 0.5, 0.5)
	note(warm < -1, "cooler than is usual for this yeast: less of both", -0.5, -0.5)
	note(press < 0.75, "fermented under pressure: fewer esters, and fusels somewhat fewer", -2*(1-press), -(1 - press))
	note(pitch > 0 && pitch < 0.5, "little yeast pitched, so it grew more: more of both", 0.5, 0.5)
	note(pitch > 2, "much yeast pitched, so it grew less: fewer esters", -0.5, 0)
	b.Esters, b.Fusels = level(esters), level(fusels)
	return b
}

// level puts a score into words.
func level(score float64) Level {
	switch {
	case score < -1:
		return Little
	case score > 1:
		return Much
	}
	return Ordinary
}
