package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"

	"spile/batch"
	"spile/internal/store"
)

// cellarFlag names the folder of a cellar. It is part of every command that uses one.
type cellarFlag struct {
	Data string `default:"${data}" placeholder:"DIR" help:"Folder of the cellar (${default} where left out)."`
}

// dataDir is the folder of the cellar where none is named.
func dataDir() string {
	if dir := os.Getenv("SPILE_DATA"); dir != "" {
		return dir
	}
	if runtime.GOOS == "linux" {
		if dir := os.Getenv("XDG_DATA_HOME"); filepath.IsAbs(dir) {
			return filepath.Join(dir, "spile")
		}
		if home, err := os.UserHomeDir(); err == nil {
			return filepath.Join(home, ".local", "share", "spile")
		}
	}
	if dir, err := os.UserConfigDir(); err == nil {
		return filepath.Join(dir, "spile")
	}
	return "spile-data"
}

// reading opens the cellar for reading, hands it to f and closes it.
func (c *cellarFlag) reading(f func(ctx context.Context, s *store.Store) error) error {
	return use(f)(store.OpenReader(c.Data))
}

// writing opens the cellar for writing, makes it where there is none, hands it to f and closes it.
func (c *cellarFlag) writing(f func(ctx context.Context, s *store.Store) error) error {
	return use(f)(store.Open(c.Data))
}

func use(f func(ctx context.Context, s *store.Store) error) func(s *store.Store, err error) error {
	return func(s *store.Store, err error) error {
		if err != nil {
			return faulted(err)
		}
		return faulted(errors.Join(f(context.Background(), s), s.Close()))
	}
}

// faulted gives a fault of the cellar its exit code.
func faulted(err error) error {
	var f *store.Fault
	if errors.As(err, &f) && f.Usage {
		return badInput(err)
	}
	return err
}

// broken ends a command whose result names what is broken; nil where nothing is.
func broken(findings []store.Finding, then string) error {
	if len(findings) == 0 {
		return nil
	}
	return fmt.Errorf("%s; %s", counted(len(findings), "thing is", "things are")+" not as it was kept", then)
}

// counted is a number with its word.
func counted[N int | int64](n N, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// named finds the batch with that id or name.
func named(ctx context.Context, s *store.Store, word string) (batch.State, error) {
	if id, err := batch.ParseID(strings.ToLower(word)); err == nil {
		if b, err := logged(ctx, s, id); err != nil || b.Record != nil {
			return b, err
		}
	}
	all, err := inShort(ctx, s)
	if err != nil {
		return batch.State{}, err
	}
	var found []batch.ID
	var names []string
	for _, b := range all {
		if strings.EqualFold(b.Name, word) {
			found = append(found, b.Batch)
		}
		names = append(names, b.Name)
	}
	switch {
	case len(found) == 1:
		return logged(ctx, s, found[0])
	case len(found) > 1:
		return batch.State{}, badInput(fmt.Errorf("--batch %q, which %d batches are called; accepted: the id of one, as %s", word, len(found), found[0]))
	case len(names) == 0:
		return batch.State{}, badInput(fmt.Errorf("--batch %q in a cellar without batches; accepted: import a BATCH.yaml first", word))
	}
	return batch.State{}, badInput(fmt.Errorf("--batch %q; accepted: %s", word, strings.Join(names, ", ")))
}

// inShort are the batches of the cellar with name and time of pitching, by the order of their ids: as they were put away
// where that knows the whole log, else derived from it.
func inShort(ctx context.Context, s *store.Store) (out []store.Brief, err error) {
	heads, err := s.Heads(ctx)
	if err != nil {
		return nil, err
	}
	kept, err := s.Briefs(ctx)
	if err != nil {
		return nil, err
	}
	known := map[batch.ID]store.Brief{}
	for _, b := range kept {
		known[b.Batch] = b
	}
	for _, h := range heads {
		b := known[h.Batch]
		if !h.Batch.IsZero() && b.Position != h.Position {
			state, err := logged(ctx, s, h.Batch)
			if err != nil {
				return nil, err
			}
			if b = (store.Brief{Batch: h.Batch}); state.Record != nil {
				b.Name, b.Pitched = state.Record.Name, state.Record.Pitched
			}
		}
		if b.Name != "" {
			out = append(out, b)
		}
	}
	return out, nil
}

// logged is what the log of a batch says; without a record where there is none.
func logged(ctx context.Context, s *store.Store, id batch.ID) (batch.State, error) {
	entries, damaged, err := s.Log(ctx, id, 0)
	if err == nil {
		err = broken(damaged, "spile verify names it")
	}
	if err != nil {
		return batch.State{}, err
	}
	return batch.Derive(id, entries), nil
}
