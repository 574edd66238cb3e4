package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"os/signal"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"spile"
	"spile/batch"
	"spile/internal/batchfile"
	"spile/internal/shed"
	"spile/internal/store"
	"spile/unit"
	"spile/wording"
)

// DemoCmd shows what Spile does: in the terminal on a ferment that was measured elsewhere, and on the pages of an
// invented shed.
type DemoCmd struct {
	Listen string `default:"127.0.0.1:8417" placeholder:"ADDRESS:PORT" help:"Where the pages of the invented shed are served."`
	Once   bool   `help:"Print one forecast, write its page and end."`
}

// The measured ferment of the demo, and how much of it is given away.
const (
	demoFerment = "testdata/measured/ale-20c"
	demoHours   = "48 h"
	demoSeed    = 1
)

// Run prints one forecast, then opens a furnished shed in a temporary folder, which is removed at the end.
func (c *DemoCmd) Run(ctx *Context) error {
	if wide, err := widely(c.Listen); !c.Once && err != nil {
		return badInput(err)
	} else if !c.Once && wide {
		return badInput(fmt.Errorf("--listen: read %q, which others could reach; accepted for the demonstration is this machine alone, for example 127.0.0.1:8417", c.Listen))
	}
	if err := printOne(ctx); err != nil || c.Once {
		return err
	}
	dir, err := os.MkdirTemp("", "spile-shed-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	stopped, release := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer release()
	return use(func(_ context.Context, cellar *store.Store) error {
		entries, err := shed.Entries(time.Now().Truncate(time.Minute), demoSeed, store.NewID)
		if err != nil {
			return err
		}
		if _, err := cellar.Append(stopped, entries...); err != nil {
			return err
		}
		fmt.Fprintf(ctx.Stdout, "\n%s, with five vessels. All of it is invented, and kept in %s until you stop.\n", shed.Name, dir)
		return (&ServeCmd{Listen: c.Listen}).serve(stopped, ctx, cellar)
	})(store.Open(dir))
}

// printOne prints the forecast of a measured ferment from its first two days, and writes the same as a page into a
// temporary folder.
func printOne(ctx *Context) error {
	b, log, licence, err := measured(demoFerment)
	if err != nil {
		return err
	}
	at, err := lookFrom(demoHours, b, log)
	if err != nil {
		return err
	}
	told, err := foretell(b, log, at, demoSeed, unit.Style{})
	if err != nil {
		return err
	}
	page, err := told.render("html", licence)
	if err != nil {
		return err
	}
	dir, err := os.MkdirTemp("", "spile-demo-")
	if err != nil {
		return err
	}
	path := filepath.Join(dir, filepath.Base(demoFerment)+".html")
	if err := batchfile.WriteAtomic(path, page); err != nil {
		return err
	}
	text, err := told.render("text", "")
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(ctx.Stdout, "%s\nMeasured ferment, seen after %s.\n%s\nThe same as a page: %s\n", text, demoHours, licence, path)
	return err
}

// measured reads a ferment that is part of the program, and its licence lines.
func measured(name string) (*batch.Batch, batch.Log, string, error) {
	var log batch.Log
	var licence string
	data, err := spile.Ferments.ReadFile(name + ".yaml")
	if err != nil {
		return nil, log, "", err
	}
	b, err := batchfile.DecodeBatch(name+".yaml", bytes.NewReader(data))
	if err != nil {
		return nil, log, "", err
	}
	rows, err := spile.Ferments.ReadFile(name + ".csv")
	if err != nil {
		return nil, log, "", err
	}
	for _, line := range strings.Split(string(rows), "\n") {
		if words, found := strings.CutPrefix(line, "# "); found && (strings.HasPrefix(words, "source:") || strings.HasPrefix(words, "licence:")) {
			licence += wording.Capital(words) + "\n"
		}
	}
	log, err = batchfile.DecodeLog(name+".csv", bytes.NewReader(rows), b)
	return b, log, strings.TrimSpace(licence), err
}
