package spile

import "embed"

// References is the list of sources, as people read it.
//
//go:embed REFERENCES.md
var References string

// Ferments holds measured ferments as a brewer would have written them down, a
// BATCH.yaml and a READINGS.csv each, with source and licence in their first
// lines: testdata/measured/ale-20c, lager-22c, lager-12c and stalled-12c.
//
//go:embed testdata/measured
var Ferments embed.FS

// Schemas are the JSON Schemas of a batch file and of a forecast.
//
//go:embed docs/schema/batch.json docs/schema/forecast.json
var Schemas embed.FS
