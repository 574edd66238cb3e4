package report

import (
	"spile/advice"
	"spile/batch"
	"spile/unit"
)

// LedgerRow is a line of where the gas went.
type LedgerRow = ledgerRow

// StripTable is a strip in words and numbers.
type StripTable = stripTable

// Ledger says where the gas went up to now.
func (v *View) Ledger() []LedgerRow { return ledgerRows(v.Forecast, v.Style) }

// Waiting lists the steps of the plan that wait for a condition.
func (v *View) Waiting() []string {
	return waiting(advice.Waits(v.Batch, v.Log, v.Forecast), v.Style)
}

// WaitWords writes a step that waits for a condition.
func WaitWords(step batch.Step, style unit.Style) string {
	return waiting([]batch.Step{step}, style)[0]
}

// Inline draws the strips for a page, at a width in pixels.
func (c *Chart) Inline(width float64, class string) string { return c.svg(width, class, false) }

// Tables are the strips in words and numbers.
func (c *Chart) Tables() (out []StripTable) {
	for i := range c.Strips {
		out = append(out, c.table(&c.Strips[i]))
	}
	return out
}
