package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"strings"
	"time"

	"spile/batch"
	"spile/internal/batchfile"
	"spile/internal/ingest"
	"spile/internal/store"
)

// ImportCmd brings a file into the cellar.
type ImportCmd struct {
	cellarFlag
	File     string `arg:"" optional:"" name:"FILE" help:"log.jsonl from spile export, READINGS.csv or any other CSV file, or BATCH.yaml."`
	Batch    string `placeholder:"NAME" help:"The batch that readings belong to, by name or id."`
	DryRun   bool   `help:"Say what was understood, and keep nothing."`
	TakeBack string `placeholder:"ID" help:"Take back what came with an import; its id was printed then."`
	foreignFlags
	By string `default:"import" placeholder:"NAME" help:"Who writes this down."`
}

// Help is what --help adds.
func (c *ImportCmd) Help() string {
	return "A log is kept to the byte, and what is there already is kept once. A BATCH.yaml makes a batch. " +
		"Readings join a batch, those that are there already are left out, and all can be taken back in one step."
}

// Run reads the file whole before anything is kept.
func (c *ImportCmd) Run(out *Context) error {
	if (c.File == "") == (c.TakeBack == "") {
		return badInput(errors.New("import with both a file and --take-back, or neither; accepted: one of them"))
	}
	if c.TakeBack != "" {
		return c.takeBack(out)
	}
	kinds := map[string]func(*Context) error{".jsonl": c.log, ".csv": c.readings, ".tsv": c.readings, ".yaml": c.batch, ".yml": c.batch, ".json": c.batch}
	kind := strings.ToLower(filepath.Ext(c.File))
	run, known := kinds[kind]
	if !known {
		return badInput(&batchfile.Refusal{File: c.File, Read: "a file of no kind that is known by its name", Accepted: "accepted: .jsonl (a log), .csv or .tsv (readings), .yaml or .json (a batch)"})
	}
	if isReadings := kind == ".csv" || kind == ".tsv"; (c.Batch != "") != isReadings {
		return badInput(errors.New("--batch is for readings, which need it; accepted: --batch with a CSV file alone"))
	} else if !isReadings && c.given() {
		return badInput(errors.New("--columns and what goes with it is for readings; accepted: with a CSV file alone"))
	}
	return run(out)
}

// together is how many lines of a log are kept at once.
const together = 5000

// log reads a file of spile export: once to check it, and again to keep it.
func (c *ImportCmd) log(out *Context) error {
	lines := 0
	if err := c.lines(func(int, batch.Entry) error { lines++; return nil }); err != nil {
		return refused(err)
	}
	if c.DryRun {
		fmt.Fprintf(out.Stdout, "%s: %s, all understood. Nothing was kept.\n", c.File, counted(lines, "line", "lines"))
		return nil
	}
	return c.writing(func(ctx context.Context, s *store.Store) error {
		kept, known := 0, 0
		var waiting []batch.Entry
		flush := func() error {
			done, err := s.Append(ctx, waiting...)
			for _, k := range done {
				if k.Known {
					known++
				}
			}
			kept, waiting = kept+len(done), waiting[:0]
			return err
		}
		err := c.lines(func(_ int, e batch.Entry) error {
			if waiting = append(waiting, e); len(waiting) < together {
				return nil
			}
			return flush()
		})
		if err == nil && len(waiting) > 0 {
			err = flush()
		}
		if err != nil {
			return err
		}
		fmt.Fprintf(out.Stdout, "%s: kept %s; %d were there already.\n", c.File, counted(kept-known, "line", "lines"), known)
		return nil
	})
}

func (c *ImportCmd) lines(f func(line int, e batch.Entry) error) error {
	in, err := batchfile.Open(c.File)
	if err != nil {
		return err
	}
	defer in.Close()
	return batchfile.ReadLogLines(c.File, in, f)
}

// batch makes a batch of BATCH.yaml.
func (c *ImportCmd) batch(out *Context) error {
	b, err := batchfile.ReadBatch(c.File)
	if err != nil {
		return refused(err)
	}
	if c.DryRun {
		err := c.reading(func(ctx context.Context, s *store.Store) error { return c.fresh(ctx, s, b) })
		if err != nil && !errors.Is(err, fs.ErrNotExist) { // no cellar yet: nothing is there
			return err
		}
		fmt.Fprintf(out.Stdout, "%s: batch %q, pitched %s. Nothing was kept.\n", c.File, b.Name, b.Pitched.Format(time.RFC3339))
		return nil
	}
	return c.writing(func(ctx context.Context, s *store.Store) error {
		if err := c.fresh(ctx, s, b); err != nil {
			return err
		}
		body, err := batch.EncodeBody(batch.Record{Batch: *b})
		if err != nil {
			return err
		}
		e := c.written(store.NewID())
		e.Batch, e.Kind, e.At, e.Body = e.ID, batch.KindBatch, b.Pitched, body
		if _, err := s.Append(ctx, e); err != nil {
			return err
		}
		fmt.Fprintf(out.Stdout, "Batch %q is kept: %s\n", b.Name, e.ID)
		return nil
	})
}

// fresh refuses a batch that is there already.
func (c *ImportCmd) fresh(ctx context.Context, s *store.Store, b *batch.Batch) error {
	there, err := inShort(ctx, s)
	if err != nil {
		return err
	}
	for _, other := range there {
		if other.Name == b.Name && other.Pitched.Equal(b.Pitched) {
			return badInput(&batchfile.Refusal{File: c.File, Read: fmt.Sprintf("batch %q, which is there already (%s)", b.Name, other.Batch), Accepted: "accepted: a batch with another name or another time of pitching"})
		}
	}
	return nil
}

// written is an entry made now.
func (c *ImportCmd) written(id batch.ID) batch.Entry {
	return batch.Entry{ID: id, Made: time.Now().UTC(), By: c.By}
}

// readings joins READINGS.csv to a batch that is there.
func (c *ImportCmd) readings(out *Context) error {
	if !c.ours() {
		return c.foreign(out)
	}
	var to batch.ID
	var fresh ingest.Found
	err := c.reading(func(ctx context.Context, s *store.Store) error {
		b, err := named(ctx, s, c.Batch)
		if err != nil {
			return err
		}
		log, err := batchfile.ReadLog(c.File, &b.Record.Batch)
		if err != nil {
			return refused(err)
		}
		found := ingest.Found{Log: log}
		to, fresh = b.ID, found.Unknown(&b)
		preview(out, c.File, log, fresh.Log)
		return nil
	})
	if err != nil {
		return err
	}
	if c.DryRun || fresh.Count() == 0 {
		fmt.Fprintln(out.Stdout, "Nothing was kept.")
		return nil
	}
	return c.writing(func(ctx context.Context, s *store.Store) error { return c.keep(ctx, s, out, to, fresh) })
}

// keep stores the readings with the import that they come with, all or none.
func (c *ImportCmd) keep(ctx context.Context, s *store.Store, out *Context, to batch.ID, fresh ingest.Found) error {
	first := c.written(store.NewID())
	first.Batch = to
	entries, err := ingest.Entries(fresh, first, filepath.Base(c.File), store.NewID)
	if err != nil {
		return err
	}
	if _, err := s.Append(ctx, entries...); err != nil {
		return err
	}
	fmt.Fprintf(out.Stdout, "Kept. To take all of it back: spile import --data %s --take-back %s\n", c.Data, first.ID)
	return nil
}

// takeBack ends what came with an import.
func (c *ImportCmd) takeBack(out *Context) error {
	id, err := batch.ParseID(c.TakeBack)
	if err != nil {
		return badInput(fmt.Errorf("--take-back: %w", err))
	}
	var held *ingest.Import
	err = c.reading(func(ctx context.Context, s *store.Store) (err error) {
		held, err = c.held(ctx, s, id)
		return err
	})
	if err != nil {
		return err
	}
	return c.writing(func(ctx context.Context, s *store.Store) error {
		if _, err := s.Append(ctx, held.TurnRound(c.written(batch.ID{}), store.NewID)...); err != nil {
			return err
		}
		fmt.Fprintf(out.Stdout, "Taken back: what came with %s. The log keeps both.\n", id)
		return nil
	})
}

// held is the import with that id, where it holds.
func (c *ImportCmd) held(ctx context.Context, s *store.Store, id batch.ID) (*ingest.Import, error) {
	i, err := ingest.Find(ctx, s, id)
	switch {
	case errors.Is(err, ingest.ErrNoImport):
		return nil, badInput(fmt.Errorf("--take-back %s, which is no import in %s; accepted: the id that spile import printed", id, c.Data))
	case err == nil && !i.Holds:
		return nil, badInput(fmt.Errorf("--take-back %s, which was taken back already; accepted: an import that holds", id))
	}
	return i, err
}

func readingsAndActs(log batch.Log) string {
	return counted(len(log.Readings), "reading", "readings") + " and " + counted(len(log.Events), "act", "acts")
}

// preview says what was understood of a file of readings.
func preview(out *Context, file string, log, fresh batch.Log) {
	all := len(log.Readings) + len(log.Events)
	fmt.Fprintf(out.Stdout, "%s: %s", file, readingsAndActs(log))
	if known := all - len(fresh.Readings) - len(fresh.Events); known > 0 {
		fmt.Fprintf(out.Stdout, "; %d of them are there already", known)
	}
	fmt.Fprintln(out.Stdout)
	for _, row := range batchfile.Summary(log) {
		fmt.Fprintln(out.Stdout, "  "+row)
	}
}
