// Command calibrate measures how honest the forecasts are and writes the page.
//
//	calibrate -budget quick|ci|full [-minutes N] [-seed N] [-workers N] [-engine NAME] [-date DATE] [-machine LINE] [-store FILE] [-o FILE]
//
// With -minutes no piece of work is begun later than that, and the page is that of the whole
// rounds done: the first batches of every part by seed. Work is kept in the store as it is done: a run that was ended goes on. Exit code 0 when
// the page was written, whatever bars were missed; 1 when something failed; 2 for a wrong flag.
package main

import (
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"time"

	"spile/internal/calibration"
)

func main() {
	if err := run(os.Args[1:], os.Stderr); err != nil {
		fmt.Fprintln(os.Stderr, "calibrate:", err)
		if errors.Is(err, errUsage) {
			os.Exit(2)
		}
		os.Exit(1)
	}
}

var errUsage = errors.New("see calibrate -help")

// files are where work is kept and the page goes.
type files struct{ kept, page string }

// parse reads the flags.
func parse(args []string, usage io.Writer) (o calibration.Options, f files, err error) {
	set := flag.NewFlagSet("calibrate", flag.ContinueOnError)
	set.SetOutput(usage)
	budget := set.String("budget", "full", "quick (about a minute), ci (ten minutes), full (an hour) or wide (and some minutes more: batches with rarer instruments, too)")
	minutes := set.Float64("minutes", 0, "after which no further piece is begun; 0 for no limit")
	set.Uint64Var(&o.Seed, "seed", 1, "of all chance")
	set.IntVar(&o.Workers, "workers", runtime.NumCPU(), "pieces of work at a time")
	set.StringVar(&o.Folder, "ferments", "testdata/ferments", "folder of the measured ferments")
	set.StringVar(&o.Engine, "engine", "unnamed", "name of the state of what is computed; figures of another are not reused")
	set.StringVar(&o.Date, "date", "an unknown date", "of the last change of the engine")
	set.StringVar(&o.Machine, "machine", machine(), "printed")
	set.StringVar(&o.Command, "command", "make calibration", "printed")
	set.StringVar(&f.kept, "store", "build/calibration.jsonl", "work done so far")
	set.StringVar(&f.page, "o", "docs/calibration.md", "page to write")
	if err := set.Parse(args); err != nil {
		return o, f, fmt.Errorf("%w: %w", errUsage, err)
	}
	if set.NArg() > 0 {
		return o, f, fmt.Errorf("%w: unexpected %q", errUsage, set.Arg(0))
	}
	if o.Budget, err = calibration.ParseBudget(*budget); err != nil {
		return o, f, fmt.Errorf("%w: %w", errUsage, err)
	}
	if *minutes < 0 {
		return o, f, fmt.Errorf("%w: -minutes %g: expected 0 or more", errUsage, *minutes)
	}
	if *minutes > 0 {
		end := time.Now().Add(time.Duration(*minutes * float64(time.Minute)))
		o.TimeUp = func() bool { return time.Now().After(end) }
	}
	return o, f, nil
}

func run(args []string, progress io.Writer) (err error) {
	o, f, err := parse(args, progress)
	if err != nil {
		return err
	}
	o.Progress = func(part string, done, of int) {
		if done == of || done%max(of/20, 1) == 0 {
			fmt.Fprintf(progress, "%s: %d of %d\n", part, done, of)
		}
	}
	store, err := calibration.OpenStore(f.kept)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, store.Close()) }()
	if store.Torn > 0 {
		fmt.Fprintf(progress, "%s: %d lines cannot be read; their work is done again\n", f.kept, store.Torn)
	}
	var page strings.Builder
	if err := calibration.Write(&page, store, o); err != nil {
		return err
	}
	if err := os.MkdirAll(filepath.Dir(f.page), 0o755); err != nil {
		return err
	}
	return os.WriteFile(f.page, []byte(page.String()), 0o644)
}

// machine is one line about where this runs.
func machine() string {
	return fmt.Sprintf("%s/%s, %d cores, %s", runtime.GOOS, runtime.GOARCH, runtime.NumCPU(), runtime.Version())
}
