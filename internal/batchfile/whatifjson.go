package batchfile

import (
	"spile/advice"
	"spile/batch"
	"spile/estimate"
	"spile/unit"
)

// whatIfJSON sets what comes of settings changed from a time on beside what comes of the plan.
type whatIfJSON struct {
	From    string      `json:"from"`
	Set     settingJSON `json:"set"`
	Plan    futureJSON  `json:"as_planned"`
	Changed futureJSON  `json:"changed"`
	Limits  []limitJSON `json:"limits"` // of the changed one
	Says    []string    `json:"says"`   // what the change is good for
	Rows    []pairJSON  `json:"rows"`
	Notes   []string    `json:"notes"`
}

// settingJSON holds what was changed alone.
type settingJSON struct {
	Hold   *number `json:"hold_c,omitempty"`
	Relief *number `json:"relief_kpa,omitempty"`
	Gas    *number `json:"gas_kpa,omitempty"`
	GasOff bool    `json:"gas_off,omitempty"`
}

type futureJSON struct {
	Milestones milestonesJSON `json:"milestones"`
	Highest    bandJSON       `json:"highest_pressure_kpa"`
	Lowest     number         `json:"lowest_pressure_kpa"` // with 1 % probability
	Gas        bandJSON       `json:"gas_g"`
	Series     seriesJSON     `json:"series"`
}

type pairJSON struct {
	Name    string `json:"name"`
	Plan    string `json:"as_planned"`
	Changed string `json:"changed"`
}

func whatIfOf(c *advice.Compared, b *batch.Batch) *whatIfJSON {
	if c == nil {
		return nil
	}
	out := &whatIfJSON{From: stamp(c.From, b), Set: settingOf(c.Set), Plan: futureOf(c.Plan, c.ByPlan, b), Changed: futureOf(c.Changed, c.If, b),
		Limits: LimitsJSON(c.If.Limits), Says: append([]string{}, c.Says...), Rows: []pairJSON{}, Notes: []string{}}
	for _, r := range c.Rows {
		out.Rows = append(out.Rows, pairJSON{r.Name, r.Plan, r.If})
	}
	if c.If.Drains != "" {
		out.Notes = append(out.Notes, c.If.Drains)
	}
	for _, n := range c.Notes {
		out.Notes = append(out.Notes, string(n))
	}
	return out
}

func settingOf(s batch.Setting) settingJSON {
	out := settingJSON{GasOff: s.GasOff}
	if s.Hold != nil {
		out.Hold = pointer(number(s.Hold.Celsius()))
	}
	if s.Relief != nil {
		out.Relief = pointer(number(s.Relief.Kilopascals()))
	}
	if s.Gas != nil {
		out.Gas = pointer(number(s.Gas.Kilopascals()))
	}
	return out
}

func futureOf(a *estimate.Ahead, said advice.Tried, b *batch.Batch) futureJSON {
	return futureJSON{milestonesOf(&a.Milestones, said.Ahead, b), banded(a.Peak, per(unit.Kilopascal)), number(a.Lowest.Kilopascals()), banded(a.Gas, per(unit.Gram)), seriesOf(&a.Series)}
}
