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
	states, err := states(ctx, s)
	if err != nil {
		return batch.State{}, err
	}
	var found []batch.State
	var names []string
	for _, b := range states {
		if b.ID.String() == strings.ToLower(word) || strings.EqualFold(b.Record.Name, word) {
			found = append(found, b)
		}
		names = append(names, b.Record.Name)
	}
	switch {
	case len(found) == 1:
		return found[0], nil
	case len(found) > 1:
		return batch.State{}, badInput(fmt.Errorf("--batch %q, which %d batches are called; accepted: the id of one, as %s", word, len(found), found[0].ID))
	case len(names) == 0:
		return batch.State{}, badInput(fmt.Errorf("--batch %q in a cellar without batches; accepted: import a BATCH.yaml first", word))
	}
	return batch.State{}, badInput(fmt.Errorf("--batch %q; accepted: %s", word, strings.Join(names, ", ")))
}

// states are the batches of the cellar, by the order of their ids.
func states(ctx context.Context, s *store.Store) ([]batch.State, error) {
	heads, err := s.Heads(ctx)
	if err != nil {
		return nil, err
	}
	var out []batch.State
	for _, h := range heads {
		if h.Batch.IsZero() {
			continue
		}
		entries, damaged, err := s.Log(ctx, h.Batch, 0)
		if err != nil {
			return nil, err
		}
		if err := broken(damaged, "spile verify names it"); err != nil {
			return nil, err
		}
		if b := batch.Derive(h.Batch, entries); b.Record != nil {
			out = append(out, b)
		}
	}
	return out, nil
}
