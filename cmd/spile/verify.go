package main

import (
	"context"
	"fmt"

	"spile/internal/store"
)

// VerifyCmd reads everything and compares it with its checksums.
type VerifyCmd struct {
	cellarFlag
	File string `arg:"" optional:"" name:"FILE" help:"A backup to look at in place of the cellar."`
}

// Run prints what is broken, a line each. It ends with 1 where something is.
func (c *VerifyCmd) Run(out *Context) error {
	if c.File != "" {
		r, err := store.VerifyFile(context.Background(), c.File)
		if err != nil {
			return faulted(err)
		}
		return told(out, c.File, r)
	}
	return c.reading(func(ctx context.Context, s *store.Store) error {
		r, err := s.Verify(ctx)
		if err != nil {
			return err
		}
		return told(out, c.Data, r)
	})
}

func told(out *Context, where string, r store.Report) error {
	if len(r.Findings) == 0 {
		fmt.Fprintf(out.Stdout, "%s: %s, all as they were kept.\n", where, amount(r))
		return nil
	}
	for _, f := range r.Findings {
		fmt.Fprintln(out.Stdout, f)
	}
	return broken(r.Findings, "what is sound is still served and exported; spile restore brings back a backup")
}
