package report

import (
	"spile/advice"
	"spile/batch"
	"spile/estimate"
	"spile/unit"
)

// StateShape is the drawing of a state, said by the word beside it.
func StateShape(s advice.State) string { return stateShape(s) }

// Vessel draws the vessel cut open, and says in a sentence what its beads are.
func Vessel(b *batch.Batch, f *estimate.Forecast, said advice.Said, style unit.Style) (svg, caption string) {
	v := vesselView{b, f, said, style}
	return v.cutaway(), v.caption()
}
