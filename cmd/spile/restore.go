package main

import (
	"context"
	"fmt"

	"spile/internal/store"
)

// RestoreCmd puts a backup in the place of the cellar.
type RestoreCmd struct {
	cellarFlag
	File string `arg:"" name:"FILE" help:"A file that spile backup wrote."`
}

// Run checks the backup, keeps what was there, and puts the backup in its place.
func (c *RestoreCmd) Run(out *Context) error {
	r, kept, err := store.Restore(context.Background(), c.Data, c.File)
	if err != nil {
		return faulted(err)
	}
	if err := broken(r.Findings, "the backup is damaged and nothing was changed. spile verify "+c.File+" names it"); err != nil {
		return err
	}
	fmt.Fprintf(out.Stdout, "%s: %s, from %s.\n", c.Data, amount(r), c.File)
	if kept != "" {
		fmt.Fprintf(out.Stdout, "What was there before: %s\n", kept)
	}
	return nil
}
