package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"text/tabwriter"
	"time"

	"spile/internal/store"
)

// CheckCmd prints what somebody who helps needs to know, and nothing that is nobody's business.
type CheckCmd struct{ cellarFlag }

// Help is what --help adds.
func (c *CheckCmd) Help() string {
	return "The report holds numbers alone: no name, no note, no reading, no path. It can be shown to others."
}

// Run prints the report. It ends with 1 where something is broken.
func (c *CheckCmd) Run(out *Context) error {
	return c.reading(func(ctx context.Context, s *store.Store) error {
		x, err := s.Extent(ctx)
		if err != nil {
			return err
		}
		r, err := s.Verify(ctx)
		if err != nil {
			return err
		}
		t := tabwriter.NewWriter(out.Stdout, 0, 0, 2, ' ', 0)
		fmt.Fprintf(t, "Spile\t%s, %s, %s/%s\n", version(), runtime.Version(), runtime.GOOS, runtime.GOARCH)
		fmt.Fprintf(t, "Schema\t%d\n", x.Schema)
		fmt.Fprintf(t, "Logs\t%d\n", x.Logs)
		fmt.Fprintf(t, "Lines\t%d\n", x.Entries)
		fmt.Fprintf(t, "From, to\t%s\n", days(x.First, x.Last))
		for _, name := range []string{store.DataFile, store.DataFile + "-wal"} {
			fmt.Fprintf(t, "%s\t%s\n", name, size(filepath.Join(c.Data, name)))
		}
		fmt.Fprintf(t, "Kept aside\t%s\n", keptAside(filepath.Join(c.Data, store.BackupsDir)))
		fmt.Fprintf(t, "Broken\t%d\n", len(r.Findings))
		if err := t.Flush(); err != nil {
			return err
		}
		return broken(r.Findings, "spile verify names it")
	})
}

func days(first, last time.Time) string {
	if first.IsZero() {
		return "nothing yet"
	}
	return first.Format(time.DateOnly) + ", " + last.Format(time.DateOnly)
}

func size(path string) string {
	info, err := os.Stat(path)
	if err != nil {
		return "none"
	}
	return fmt.Sprintf("%d kB", (info.Size()+1023)/1024)
}

// keptAside counts the backups of the nights, and what was kept before a restore or a change of schema.
func keptAside(dir string) string {
	files, err := filepath.Glob(filepath.Join(dir, "*.db"))
	if err != nil || len(files) == 0 {
		return "nothing"
	}
	return counted(len(files), "file", "files")
}
