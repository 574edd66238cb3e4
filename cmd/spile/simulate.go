package main

import (
	"bytes"
	"errors"

	"spile/internal/batchfile"
	"spile/internal/report"
)

// SimulateCmd runs the plan of a batch on a vessel that is known exactly.
type SimulateCmd struct {
	Batch  string `arg:"" name:"BATCH.yaml" help:"What is put together, the plan, and faults to plant."`
	Format string `enum:"table,csv,json,svg" default:"table" help:"table, csv, json or svg."`
	Seed   uint64 `default:"1" help:"Of the readings on which conditions of the plan are judged."`
	Units  string `placeholder:"LIST" help:"How quantities are written, such as 'bar,F,gal(us),P,g/L,oz,comma'; columns of csv and keys of json keep theirs."`
}

// Run prints the run. It ends with 3 where a safety limit is or would be exceeded.
func (c *SimulateCmd) Run(ctx *Context) error {
	b, err := batchfile.ReadBatch(c.Batch)
	if err != nil {
		return refused(err)
	}
	style, err := styleOf(c.Units)
	if err != nil {
		return badInput(err)
	}
	run, err := simulate(b, c.Seed, style)
	if err != nil {
		return err
	}
	var out bytes.Buffer
	switch c.Format {
	case "csv":
		err = batchfile.SimulateCSV(&out, &run.Simulated)
	case "json":
		var data []byte
		data, err = batchfile.SimulateJSON(&run.Simulated)
		out.Write(data)
	case "svg":
		out.WriteString(report.Standalone(report.SimulatedChart(b, &run.Simulated, style), svgWidth))
	default:
		out.WriteString(report.Table(b, &run.Simulated, style))
	}
	if err != nil {
		return err
	}
	if _, err := ctx.Stdout.Write(out.Bytes()); err != nil {
		return err
	}
	if run.passed {
		return &exitError{exitLimit, errors.New(run.Limits[0].Sentence)}
	}
	return nil
}
