package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
	"time"

	"spile/batch"
	"spile/internal/batchfile"
	"spile/internal/ingest"
	"spile/internal/store"
)

// foreignFlags say how a CSV file is to be read that somebody else made.
type foreignFlags struct {
	Columns    string `placeholder:"LIST" help:"What the columns of another CSV file are, as '1=time,2=pressure psi'. Without it, what is guessed is printed."`
	Zone       string `placeholder:"ZONE" help:"Zone of times that are written without one, as Europe/London."`
	DayFirst   bool   `xor:"order" help:"Its dates have the day before the month."`
	MonthFirst bool   `xor:"order" help:"Its dates have the month before the day."`
	Decimal    string `enum:"comma,point,guess" default:"guess" help:"Whether a comma in its numbers is a decimal one: comma, point or guess."`
	SkipBad    bool   `help:"Keep its other rows without those that cannot be read."`
}

// given tells whether any of them was.
func (f foreignFlags) given() bool { return f != foreignFlags{Decimal: "guess"} }

// ours tells whether the file is a READINGS.csv by its first line, and nothing was told of how it is to
// be read. One that cannot be opened is taken for one: who reads it next says why.
func (c *ImportCmd) ours() bool {
	if c.given() {
		return false
	}
	in, err := batchfile.Open(c.File)
	if err != nil {
		return true
	}
	defer in.Close()
	head := make([]byte, 4096)
	n, err := io.ReadFull(in, head)
	return n == 0 && !errors.Is(err, io.EOF) || batchfile.IsReadings(string(head[:n]))
}

// choices are what was told of the file.
func (c *ImportCmd) choices() (out ingest.Choices, err error) {
	if c.Columns != "" {
		if out.Columns, err = ingest.ParseColumns(c.Columns); err != nil {
			return out, badInput(fmt.Errorf("--columns: %w", err))
		}
	}
	if c.Zone != "" {
		if out.Zone, err = ingest.ParseZone(c.Zone); err != nil {
			return out, badInput(fmt.Errorf("--zone: %w", err))
		}
	}
	if c.DayFirst {
		out.Order = "day"
	} else if c.MonthFirst {
		out.Order = "month"
	}
	if c.Decimal != "guess" {
		out.Decimal = c.Decimal
	}
	return out, nil
}

// foreign joins a CSV file of anybody's making to a batch that is there.
func (c *ImportCmd) foreign(out *Context) error {
	choices, err := c.choices()
	if err != nil {
		return err
	}
	data, err := c.whole()
	if err != nil {
		return err
	}
	var to batch.ID
	var fresh ingest.Found
	var u *ingest.Understood
	err = c.reading(func(ctx context.Context, s *store.Store) error {
		b, err := named(ctx, s, c.Batch)
		if err != nil {
			return err
		}
		if u, err = ingest.Understand(c.File, data, &b.Record.Batch, choices, time.Now()); err != nil {
			return refused(err)
		}
		to, fresh = b.ID, u.Found.Unknown(&b)
		return nil
	})
	if err != nil {
		return err
	}
	c.tell(out, u, &fresh)
	if c.Columns == "" && (!u.Sure() || u.Told() != nil) { // those of READINGS.csv tell themselves
		fmt.Fprintf(out.Stdout, "Nothing was kept. To keep it as it was understood:\n%s\n", c.again(u))
		return nil
	}
	if c.DryRun || u.Sure() && len(u.Bad) == 0 && fresh.Count() == 0 {
		fmt.Fprintln(out.Stdout, "Nothing was kept.")
		return nil
	}
	if err := c.unclear(u, &fresh); err != nil {
		return badInput(err)
	}
	return c.writing(func(ctx context.Context, s *store.Store) error { return c.keep(ctx, s, out, to, fresh) })
}

// unclear says why the file cannot be kept as it was told, nil where it can.
func (c *ImportCmd) unclear(u *ingest.Understood, fresh *ingest.Found) error {
	switch {
	case !u.Sure():
		return fmt.Errorf("%s: %s; accepted: the answer, by --columns, --day-first, --month-first or --decimal", c.File, strings.TrimSuffix(u.Asks[0].Says.String(), "."))
	case u.Told() != nil:
		return fmt.Errorf("%s: %w (--zone)", c.File, u.Told())
	case len(u.Bad) > 0 && !c.SkipBad:
		return fmt.Errorf("%s:%d: %s cannot be read; accepted: --skip-bad, to keep the others", c.File, u.Bad[0].Line, counted(len(u.Bad), "row", "rows"))
	case fresh.Count() == 0:
		return fmt.Errorf("%s: no row can be read that is not there already; accepted: at least one", c.File)
	}
	return nil
}

// whole is the file, which is read at once.
func (c *ImportCmd) whole() ([]byte, error) {
	in, err := batchfile.Open(c.File)
	if err != nil {
		return nil, refused(err)
	}
	defer in.Close()
	data, err := io.ReadAll(io.LimitReader(in, ingest.MostBytes+1))
	if err != nil {
		return nil, fmt.Errorf("read %s: %w", c.File, err)
	}
	return data, nil
}

// mostTold is how many rows that cannot be read are told one by one.
const mostTold = 20

// tell says what was understood.
func (c *ImportCmd) tell(out *Context, u *ingest.Understood, fresh *ingest.Found) {
	say := func(format string, args ...any) { fmt.Fprintf(out.Stdout, format+"\n", args...) }
	known := u.Found.Count() - fresh.Count()
	say("%s: %s; %s and %s were read, %d of them are there already", c.File, counted(u.Rows, "row", "rows"), readingsAndActs(u.Found.Log), counted(len(u.Found.Notes), "note", "notes"), known)
	for i, column := range u.Named {
		why := ""
		if column.Guessed() {
			why = "; guessed, " + column.Why.String()
		}
		say("  column %d, %q, such as %q: %s%s", i+1, column.Name, strings.Join(column.Samples, " "), cmp.Or(column.Meaning, "?"), why)
		if column.Ask.English != "" {
			say("    %s", column.Ask)
		}
	}
	say("  cells apart by %s; first line names the columns: %s; decimal mark: %s", u.Separator, u.Header, cmp.Or(u.Decimal, "not known"))
	if u.Dates {
		say("  dates with the %s first", cmp.Or(u.Order, "day or the month"))
	}
	if u.Local {
		say("  times without a zone are those of %s", ingest.ZoneName(u.Zone))
	}
	for _, row := range batchfile.Summary(u.Found.Log) {
		say("  %s", row)
	}
	for _, note := range u.Notes {
		say("  %s", note)
	}
	for i, b := range u.Bad {
		if i == mostTold {
			say("  and %d more that cannot be read", len(u.Bad)-i)
			break
		}
		say("  line %d: %s %q: %s", b.Line, b.Column, b.Cell, b.Why)
	}
	for _, a := range u.Asks {
		if _, err := strconv.Atoi(a.Of); err != nil { // else it stands with its column
			say("  %s", a.Says)
		}
	}
}

// plainWord needs no quotes in a shell.
var plainWord = regexp.MustCompile(`^[\w./:+@-]+$`)

func shellWord(text string) string {
	if plainWord.MatchString(text) {
		return text
	}
	return "'" + strings.ReplaceAll(text, "'", `'\''`) + "'"
}

// again is the command line that keeps the file as it was understood.
func (c *ImportCmd) again(u *ingest.Understood) string {
	words := []string{"spile", "import", "--data", c.Data, "--batch", c.Batch, c.File, "--columns", ingest.WriteColumns(u.Choices.Columns)}
	if u.Local {
		words = append(words, "--zone", ingest.ZoneName(u.Zone))
	}
	if u.Dates {
		words = append(words, map[string]string{"day": "--day-first", "month": "--month-first", "": "--day-first?"}[u.Order])
	}
	if u.Decimal == "comma" {
		words = append(words, "--decimal", u.Decimal)
	}
	if len(u.Bad) > 0 && u.Sure() {
		words = append(words, "--skip-bad")
	}
	for i := range words {
		words[i] = shellWord(words[i])
	}
	line := strings.Join(words, " ")
	if !u.Sure() {
		line += "\nPut the answer in the place of each question mark. A column can be " + ingest.Codes() + "."
	}
	return line
}
