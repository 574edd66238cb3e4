package main

import (
	"context"
	"fmt"

	"spile/internal/store"
)

// BackupCmd copies the cellar into one file, and proves the copy.
type BackupCmd struct {
	cellarFlag
	File string `arg:"" name:"FILE" help:"A new file."`
}

// Run writes the backup and reads it back. It ends with 1 where the copy holds damage.
func (c *BackupCmd) Run(out *Context) error {
	return c.reading(func(ctx context.Context, s *store.Store) error {
		r, err := s.Backup(ctx, c.File)
		if err != nil {
			return err
		}
		fmt.Fprintf(out.Stdout, "%s: %s, read back.\n", c.File, amount(r))
		return broken(r.Findings, "the backup has it too, spile verify names it")
	})
}

// amount says how much a report saw.
func amount(r store.Report) string {
	return counted(r.Entries, "line", "lines") + " in " + counted(r.Logs, "log", "logs")
}
