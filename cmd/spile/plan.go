package main

import (
	"errors"
	"fmt"
	"time"

	"spile/advice"
	"spile/batch"
	"spile/estimate"
	"spile/internal/batchfile"
	"spile/internal/report"
	"spile/unit"
)

// PlanCmd searches plans that have a batch ready by a date.
type PlanCmd struct {
	Batch    string `arg:"" name:"BATCH.yaml" help:"What was put together; its plan is replaced from now on."`
	Readings string `arg:"" optional:"" name:"READINGS.csv" help:"What was read and done; may be left out before the first reading."`
	Ready    string `placeholder:"TIME" help:"When it should be ready to pour (RFC 3339, or hours since pitching as '336 h'). The wished date of the file where left out."`
	Format   string `enum:"text,json" default:"text" help:"text or json."`
	Seed     uint64 `default:"1" help:"The same input and seed give the same bytes."`
	Units    string `placeholder:"LIST" help:"How quantities are written, such as 'bar,F,gal(us),P,g/L,oz,comma'; the JSON keys keep theirs."`
}

// Run prints the choices. It ends with 3 where a safety limit is or would be exceeded.
func (c *PlanCmd) Run(ctx *Context) error {
	b, log, err := records(c.Batch, c.Readings)
	if err != nil {
		return refused(err)
	}
	at, err := lookFrom("", b, log)
	if err != nil {
		return badInput(err)
	}
	ready, err := c.wish(b, at)
	if err != nil {
		return badInput(err)
	}
	style, err := styleOf(c.Units)
	if err != nil {
		return badInput(err)
	}
	p, err := plan(b, log, at, ready, c.Seed)
	if err != nil {
		return err
	}
	said := advice.SayPlan(b, log, p, style)
	out := []byte(report.PlanText(b, p, said))
	if c.Format == "json" {
		if out, err = batchfile.PlanJSON(p, said, b); err != nil {
			return err
		}
	}
	if _, err := ctx.Stdout.Write(out); err != nil {
		return err
	}
	if said.Passed {
		return &exitError{exitLimit, errors.New(said.Limits[0].Sentence)}
	}
	return nil
}

// wish is the date asked for: as typed, else that of the file.
func (c *PlanCmd) wish(b *batch.Batch, now time.Time) (time.Time, error) {
	if b.Target == nil || b.Target.CO2 <= 0 {
		return time.Time{}, fmt.Errorf("%s: no wished carbonation; accepted: target: {co2: 2.5 volumes, temperature: 3 C}", c.Batch)
	}
	ready := b.Target.Ready
	if c.Ready == "" && ready.IsZero() {
		return ready, fmt.Errorf("no wished date; accepted: --ready %s, or target: {ready: ...} in %s", exampleTime, c.Batch)
	}
	if c.Ready != "" {
		var err error
		if ready, err = moment("--ready", c.Ready, b); err != nil {
			return ready, err
		}
	}
	if !ready.After(now) || ready.Sub(b.Pitched) > estimate.LongestBatch {
		return ready, fmt.Errorf("ready %s; accepted: later than %s, and within a year of pitching", ready.Format(time.RFC3339), now.Format(time.RFC3339))
	}
	return ready, nil
}

const exampleTime = "2026-11-24T18:30:00+01:00"

// moment reads a time as a flag gives it: RFC 3339, or hours since pitching.
func moment(flag, text string, b *batch.Batch) (time.Time, error) {
	if t, err := time.Parse(time.RFC3339, text); err == nil {
		return t, nil
	}
	d, err := unit.ParseDuration(text)
	if err != nil {
		return time.Time{}, fmt.Errorf("%s %q; accepted: a time as %s, or hours since pitching as \"48 h\"", flag, text, exampleTime)
	}
	return b.Pitched.Add(time.Duration(float64(d) * float64(time.Second))), nil
}

// plan conditions once, and searches.
func plan(b *batch.Batch, log batch.Log, at, ready time.Time, seed uint64) (*estimate.Plan, error) {
	belief, err := estimate.Condition(b, log, at, estimate.Options{Seed: seed})
	if err != nil {
		return nil, err
	}
	return belief.Plan(ready, nil)
}
