// Command spile follows beer through one closed pressure vessel: what is inside
// now, what comes, and what to do next.
//
// Results go to stdout, messages to stderr. Exit codes: 0 done; 1 failed; 2 bad
// usage or input; 3 a safety limit would be exceeded (result and caution are still printed).
package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"runtime/debug"

	"github.com/alecthomas/kong"
)

// commands is the command line: one struct a command, each in its own file.
type commands struct {
	Simulate  SimulateCmd      `cmd:"" help:"Run the plan of a batch on a vessel that is known exactly."`
	Forecast  ForecastCmd      `cmd:"" help:"What is in the vessel now, what comes, and what to do next."`
	Plan      PlanCmd          `cmd:"" help:"What to set and when, to have it ready by a date."`
	Demo      DemoCmd          `cmd:"" help:"Open the pages of an invented shed, and print one forecast of a measured ferment."`
	Serve     ServeCmd         `cmd:"" help:"Open the pages in a browser on this machine."`
	Calc      CalcCmd          `cmd:"" passthrough:"" help:"Work one question out: strength, water, gas, pressure. --list shows all."`
	Import    ImportCmd        `cmd:"" help:"Bring a log, readings or a batch into the cellar."`
	Export    ExportCmd        `cmd:"" help:"Print the logs of the cellar as JSON Lines."`
	Backup    BackupCmd        `cmd:"" help:"Copy the cellar into one file, and read the copy back."`
	Restore   RestoreCmd       `cmd:"" help:"Put a backup in the place of the cellar; what was there is kept aside."`
	Verify    VerifyCmd        `cmd:"" help:"Compare everything with its checksums."`
	Check     CheckCmd         `cmd:"" help:"A report about the cellar to show to others: numbers, no names."`
	User      UserCmd          `cmd:"" help:"Who may come in from other machines: add, list, password, remove."`
	Device    DeviceCmd        `cmd:"" help:"Keys for devices that send readings of one vessel: add, list, remove."`
	Passports PassportsCmd     `cmd:"" help:"What finished batches taught of yeasts, vessels and instruments."`
	Where     WhereCmd         `cmd:"" help:"Name every file and folder that Spile uses."`
	Version   kong.VersionFlag `help:"Print the version and end."`
}

// Context is what a command may touch of the world beyond the files it is given.
type Context struct {
	Stdout, Stderr io.Writer
}

// The exit codes of the contract.
const (
	exitOK     = 0
	exitFailed = 1
	exitUsage  = 2
	exitLimit  = 3
)

// exitError ends a command with a code and one line for stderr.
type exitError struct {
	code int
	err  error // nil: nothing is printed, the caution stands in the result already
}

func (e *exitError) Error() string {
	if e.err == nil {
		return ""
	}
	return e.err.Error()
}

func (e *exitError) Unwrap() error { return e.err }

// badInput marks err as the fault of what was typed or of a file that was named.
func badInput(err error) error { return &exitError{exitUsage, err} }

// limitPassed ends a command whose result, with its caution, is printed already.
func limitPassed() error { return &exitError{code: exitLimit} }

func main() { os.Exit(run(os.Args[1:], os.Stdout, os.Stderr)) }

// ended is thrown by kong's help and version, which end the program themselves.
type ended int

// run is the whole program: arguments in, output and exit code out.
func run(args []string, stdout, stderr io.Writer) (code int) {
	defer func() {
		switch r := recover().(type) {
		case nil:
		case ended:
			code = int(r)
		default:
			panic(r)
		}
	}()
	var c commands
	parser := kong.Must(&c, kong.Name("spile"), kong.Description(description), kong.Writers(stdout, stderr),
		kong.Vars{"version": version(), "data": dataDir()}, kong.ConfigureHelp(kong.HelpOptions{Compact: true, WrapUpperBound: 80}),
		kong.Exit(func(code int) { panic(ended(code)) }))
	switch {
	case len(args) == 0:
		args = []string{"--help"}
	case args[0] == "help": // as most programs take it, before a command too
		args = append(args[1:len(args):len(args)], "--help")
	}
	parsed, err := parser.Parse(args)
	if err != nil {
		return conclude(stderr, badInput(fmt.Errorf("%w (%s tells what is accepted)", err, helpOf(err))))
	}
	return conclude(stderr, parsed.Run(&Context{Stdout: stdout, Stderr: stderr}))
}

// helpOf is the command that tells what the one with the parser's err accepts.
func helpOf(err error) string {
	var of *kong.ParseError
	if errors.As(err, &of) && of.Context.Selected() != nil {
		return "spile " + of.Context.Selected().Path() + " --help"
	}
	return "spile --help"
}

const description = `Follows beer through one closed pressure vessel: what is inside now, what comes, and what to do next.

Exit codes: 0 done, 1 failed, 2 bad usage or input, 3 a safety limit would be exceeded (the result is still printed).`

// conclude prints err, if any, as one line and gives the exit code. It is the only place that maps errors to codes.
func conclude(stderr io.Writer, err error) int {
	if err == nil {
		return exitOK
	}
	if line := err.Error(); line != "" {
		fmt.Fprintln(stderr, oneLine(line))
	}
	var e *exitError
	if errors.As(err, &e) {
		return e.code
	}
	return exitFailed
}

// oneLine keeps a message on one line, whatever a file name or library put into it.
func oneLine(s string) string {
	out := []rune(s)
	for i, r := range out {
		if r == '\n' || r == '\r' {
			out[i] = ' '
		}
	}
	return string(out)
}

// version is what the build recorded about itself.
func version() string {
	if info, ok := debug.ReadBuildInfo(); ok && info.Main.Version != "" {
		return info.Main.Version
	}
	return "(devel)"
}
