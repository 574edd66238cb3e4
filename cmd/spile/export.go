package main

import (
	"context"

	"spile/internal/batchfile"
	"spile/internal/store"
)

// ExportCmd writes the logs of the cellar.
type ExportCmd struct{ cellarFlag }

// Help is what --help adds.
func (c *ExportCmd) Help() string {
	return "Writes JSON Lines to the terminal: put them into a file with > log.jsonl. spile import reads them back to the byte. Exit 1 where a line was damaged and left out."
}

// Run prints all logs. It ends with 1 where a damaged line was left out.
func (c *ExportCmd) Run(out *Context) error {
	return c.reading(func(ctx context.Context, s *store.Store) error {
		w := batchfile.NewLogWriter(out.Stdout)
		damaged, err := s.Each(ctx, func(e store.Stored) error { return w.Write(e.Batch, e.Form) })
		if err != nil {
			return err
		}
		if err := w.Close(); err != nil {
			return err
		}
		return broken(damaged, "left out here, spile verify names it")
	})
}
