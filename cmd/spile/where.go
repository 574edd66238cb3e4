package main

import (
	"fmt"
	"os"
	"path/filepath"
	"text/tabwriter"

	"spile/internal/authority"
	"spile/internal/store"
)

// WhereCmd names every file and folder that Spile uses.
type WhereCmd struct{ cellarFlag }

// Run prints what each is for, and whether it is there.
func (c *WhereCmd) Run(out *Context) error {
	dir, err := filepath.Abs(c.Data)
	if err != nil {
		return err
	}
	program, err := os.Executable()
	if err != nil {
		return err
	}
	t := tabwriter.NewWriter(out.Stdout, 0, 0, 2, ' ', 0)
	for _, f := range []struct{ path, what string }{
		{program, "the program"},
		{dir, "the cellar; SPILE_DATA or --data names another folder"},
		{filepath.Join(dir, store.DataFile), "all logs"},
		{filepath.Join(dir, store.DataFile+"-wal"), "what was kept last, while a Spile runs; part of the logs"},
		{filepath.Join(dir, store.DataFile+"-shm"), "an index of it, made anew at every start"},
		{filepath.Join(dir, store.LockFile), "keeps a second Spile out"},
		{filepath.Join(dir, authority.File), "with --tls: the authority of the cellar, with its key; show it to nobody"},
		{filepath.Join(dir, authority.LeafFile), "with --tls: what it vouches for, made anew when need be"},
		{filepath.Join(dir, store.BackupsDir), "a backup of every night, and what was there before a restore or a change of schema"},
		{filepath.Join(os.TempDir(), "spile-demo-*"), "pages of spile demo; may be thrown away"},
	} {
		fmt.Fprintf(t, "%s\t%s\t%s\n", f.path, there(f.path), f.what)
	}
	return t.Flush()
}

func there(path string) string {
	if found, err := filepath.Glob(path); err != nil || len(found) == 0 {
		return "not there"
	}
	return "there"
}
