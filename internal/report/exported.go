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

// LedgerRow is a line of where the gas went.
type LedgerRow = ledgerRow

// StripTable is a strip in words and numbers.
type StripTable = stripTable

// Ledger says where the gas went up to now.
func (v *View) Ledger() []LedgerRow { return ledgerRows(v.Forecast, v.Style) }

// Waiting lists the steps of the plan that wait for a condition.
func (v *View) Waiting() []string { return waiting(v.Batch, v.Style) }

// Inline draws the strips for a page, at a width in pixels.
func (c *Chart) Inline(width float64, class string) string { return c.svg(width, class, false) }

// Tables are the strips in words and numbers.
func (c *Chart) Tables() (out []StripTable) {
	for i := range c.Strips {
		out = append(out, c.table(&c.Strips[i]))
	}
	return out
}
