package main

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"time"

	"spile/estimate"
	"spile/internal/monitor"
	"spile/internal/store"
	"spile/unit"
)

// PassportsCmd prints what finished batches taught.
type PassportsCmd struct{ cellarFlag }

// Help is what --help adds.
func (c *PassportsCmd) Help() string {
	return "Learns first from what has ended since, unless spile serve has the cellar open, which does so by itself. Bands hold nine times in ten."
}

// Run prints every passport, by yeast, vessel and instrument.
func (c *PassportsCmd) Run(out *Context) error {
	log := slog.New(slog.NewTextHandler(out.Stderr, nil))
	return c.reading(func(ctx context.Context, s *store.Store) error {
		unlearnt, err := monitor.New(s, log, time.Now).Unlearnt(ctx)
		if err != nil {
			return err
		}
		if unlearnt > 0 {
			if w, err := store.Open(c.Data); err == nil { // else another one has it open, or it is read-only
				defer w.Close()
				if err := monitor.New(w, log, time.Now).Learn(ctx); err != nil {
					return err
				}
			}
		}
		return passports(ctx, monitor.New(s, log, time.Now), out.Stdout)
	})
}

// passports prints what was learnt, and what was not yet.
func passports(ctx context.Context, w *monitor.Watch, out io.Writer) error {
	all, err := w.Passports(ctx)
	if err != nil {
		return err
	}
	for i, p := range all {
		if i > 0 {
			fmt.Fprintln(out)
		}
		fmt.Fprintf(out, "%s, from %s:\n", passportName(p), counted(p.Batches, "batch", "batches"))
		for _, line := range p.Say(unit.Style{}) {
			fmt.Fprintf(out, "  %s: %s; before %s\n", line.What, line.Learnt, line.Before)
		}
	}
	unlearnt, err := w.Unlearnt(ctx)
	if err != nil {
		return err
	}
	switch {
	case unlearnt > 0:
		fmt.Fprintf(out, "Not learnt from yet: %s.\n", counted(unlearnt, "finished batch", "finished batches"))
	case len(all) == 0:
		fmt.Fprintln(out, "Nothing yet: a batch teaches once it is judged to be emptied.")
	}
	return nil
}

func passportName(p monitor.Passport) string {
	switch p.Of {
	case estimate.OfYeast:
		return "Yeast " + p.Name
	case estimate.OfVessel:
		return "Vessel " + p.Name
	}
	quantity, err := p.Tool.Quantity.MarshalText()
	if err != nil {
		return "Instrument " + p.Name
	}
	if p.Name == "" {
		return "The usual instrument of " + string(quantity)
	}
	return "Instrument " + p.Name + ", of " + string(quantity)
}
