package main

import (
	"errors"
	"fmt"
	"io/fs"
	"math"
	"time"

	"spile/advice"
	"spile/batch"
	"spile/estimate"
	"spile/internal/batchfile"
	"spile/internal/report"
	"spile/unit"
	"spile/wort"
)

// ForecastCmd says what is in the vessel now, what comes and what to do next.
type ForecastCmd struct {
	Batch    string `arg:"" name:"BATCH.yaml" help:"What was put together, and the plan."`
	Readings string `arg:"" optional:"" name:"READINGS.csv" help:"What was read and done; may be left out before the first reading."`
	Format   string `enum:"text,json,svg,html" default:"text" help:"text, json, svg or html."`
	At       string `placeholder:"TIME" help:"Look from this time (RFC 3339, or hours since pitching as '48 h'); readings after it are ignored. The last reading where left out."`
	Seed     uint64 `default:"1" help:"The same input and seed give the same bytes."`
	WhatIf   string `placeholder:"SETTINGS" help:"Set what comes of other settings from now on beside the plan, such as 'hold 12 C, relief 15 psi, gas 10 psi' or 'gas off'."`
	Units    string `placeholder:"LIST" help:"How quantities are written, such as 'bar,F,gal(us),P,g/L,oz,comma'; the JSON keys keep theirs."`
}

// Run prints the forecast. It ends with 3 where a safety limit is or would be exceeded.
func (c *ForecastCmd) Run(ctx *Context) error {
	b, log, err := records(c.Batch, c.Readings)
	if err != nil {
		return refused(err)
	}
	at, err := lookFrom(c.At, b, log)
	if err != nil {
		return badInput(err)
	}
	style, err := styleOf(c.Units)
	if err != nil {
		return badInput(err)
	}
	var set batch.Setting
	if c.WhatIf != "" {
		if set, err = batchfile.ParseSettings(c.WhatIf); err != nil {
			return badInput(fmt.Errorf("--what-if %w", err))
		}
	}
	told, err := foretell(b, log, at, c.Seed, style)
	if err != nil {
		return err
	}
	if c.WhatIf != "" {
		if err := told.try(set); err != nil {
			return err
		}
	}
	out, err := told.render(c.Format, "")
	if err != nil {
		return err
	}
	if _, err := ctx.Stdout.Write(out); err != nil {
		return err
	}
	return told.passed()
}

// records are the batch and what was read of it; readings may be left out.
func records(file, readings string) (b *batch.Batch, log batch.Log, err error) {
	if b, err = batchfile.ReadBatch(file); err == nil && readings != "" {
		log, err = batchfile.ReadLog(readings, b)
	}
	return b, log, err
}

// refused marks what the user's file is at fault for; a broken disk stays a failure.
func refused(err error) error {
	var r *batchfile.Refusal
	var path *fs.PathError
	if errors.As(err, &r) && !errors.As(err, &path) {
		return badInput(err)
	}
	return err
}

// lookFrom is the time of the forecast: as asked, else that of the last row of the log, else pitching.
func lookFrom(asked string, b *batch.Batch, log batch.Log) (time.Time, error) {
	if asked == "" {
		return estimate.LastLook(b, log), nil
	}
	at, err := moment("--at", asked, b)
	if err != nil {
		return at, err
	}
	if since := at.Sub(b.Pitched); since < 0 || since > estimate.LongestBatch {
		return at, fmt.Errorf("--at %s; accepted: from pitching (%s) to a year after it", asked, b.Pitched.Format(time.RFC3339))
	}
	return at, nil
}

// foretold is a forecast with all that is shown of it.
type foretold struct {
	report.View
	belief  *estimate.Belief
	elapsed time.Duration
}

// triedMembers stand for the belief where a person tries something.
const triedMembers = 200

// try sets what comes of other settings from now on beside the plan.
func (t *foretold) try(set batch.Setting) (err error) {
	b, f := t.Batch, t.Forecast
	from := unit.Duration(math.Ceil(f.At.Sub(b.Pitched).Hours()) * unit.Hour) // the next full hour
	if t.Compared, err = advice.Compare(t.belief.Stand(triedMembers).Ahead, b, t.Log, f, set, from, f.At, t.Style); err != nil {
		return err
	}
	t.Tried = &report.Tried{Label: t.Style.Say("if %s", report.SettingWords(set, t.Style)), Series: &t.Compared.Changed.Series}
	return nil
}

// styleOf reads --units.
func styleOf(list string) (unit.Style, error) {
	if list == "" {
		return unit.Style{}, nil
	}
	style, err := unit.ParseStyle(list, wort.ExtractFromGravity)
	if err != nil {
		return style, fmt.Errorf("--units: %w", err)
	}
	return style, nil
}

// foretell conditions, looks ahead and puts it into words.
func foretell(b *batch.Batch, log batch.Log, at time.Time, seed uint64, style unit.Style) (*foretold, error) {
	started := time.Now()
	belief, err := estimate.Condition(b, log, at, estimate.Options{Seed: seed})
	if err != nil {
		return nil, err
	}
	f, err := belief.Forecast()
	if err != nil {
		return nil, err
	}
	return &foretold{report.View{Batch: b, Log: log, Forecast: f, Said: advice.Say(b, log, batch.Upkeep{}, f, f.At, style), Style: style}, belief, time.Since(started)}, nil
}

// render writes the forecast in one of the formats.
func (t *foretold) render(format, licence string) ([]byte, error) {
	switch format {
	case "json":
		return batchfile.ForecastJSON(t.Forecast, t.Said, t.Batch, t.elapsed, t.Compared)
	case "svg":
		return []byte(report.Standalone(report.ForecastChart(&t.View), svgWidth)), nil
	case "html":
		return report.HTML(&t.View, licence)
	}
	return []byte(report.Text(&t.View)), nil
}

// svgWidth is the width of a drawing that stands alone, in pixels.
const svgWidth = 820

// passed is the exit of a forecast: 3 with its caution where a limit is or would be exceeded.
func (t *foretold) passed() error {
	switch {
	case t.Said.Passed:
		return &exitError{exitLimit, errors.New(t.Said.Limits[0].Sentence)}
	case t.Compared != nil && t.Compared.If.Passed:
		return &exitError{exitLimit, errors.New(t.Compared.Exceeds()[0].Sentence)}
	}
	return nil
}
