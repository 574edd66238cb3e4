package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"spile/calc"
)

// CalcCmd works a single question out. Its flags come from the table in package
// calc, so that everything after the command's name is read here and not by kong.
type CalcCmd struct {
	Args []string `arg:"" optional:""`
}

// calcOptions are the flags that every calculation has.
type calcOptions struct {
	format  string
	working bool
	help    bool
	list    bool
	table   bool
	sweep   string
	svg     string
	units   calc.Units
}

const calcUsage = "spile calc [--list | NAME [--flag VALUE]...] [--format text|json] [--working] [--sweep FLAG=from:to:steps] [--svg FILE] [--table] [--units LIST]"

// Run answers, lists or explains.
func (c *CalcCmd) Run(ctx *Context) error {
	opts, rest := calcOptions{format: "text"}, c.Args
	name := ""
	if len(rest) > 0 && !strings.HasPrefix(rest[0], "-") {
		name, rest = rest[0], rest[1:]
	}
	values, err := readFlags(rest, &opts)
	if err != nil {
		return badInput(err)
	}
	if name == "" {
		if len(values) > 0 {
			return badInput(errors.New("a calculation is missing: " + calcUsage))
		}
		return printList(ctx.Stdout)
	}
	row, ok := calc.Find(name)
	if !ok {
		return badInput(noSuchCalculation(name))
	}
	switch {
	case opts.list:
		return printList(ctx.Stdout)
	case opts.help:
		return printFlags(ctx.Stdout, row)
	case opts.table:
		return printGrid(ctx, row, values, opts)
	case opts.sweep != "":
		return sweep(ctx, row, values, opts)
	case len(values) == 0:
		return explain(ctx.Stdout, row, opts)
	}
	return answer(ctx, row, values, opts)
}

func answer(ctx *Context, row *calc.Calculation, values map[string]string, opts calcOptions) error {
	a, err := row.Evaluate(values)
	if err != nil {
		return badInput(err)
	}
	if err := draw(row, values, opts); err != nil {
		return err
	}
	return limitOr(printAnswer(ctx.Stdout, a, opts), a.Passed)
}

func noSuchCalculation(name string) error {
	var names []string
	for _, row := range calc.Table() {
		names = append(names, row.Name)
	}
	if near := calc.Nearest(name, names); near != "" {
		return fmt.Errorf("there is no calculation %q, did you mean %q? spile calc --list shows all", name, near)
	}
	return fmt.Errorf("there is no calculation %q; accepted: %s", name, strings.Join(names, ", "))
}

// readFlags reads --name value and --name=value. What follows up to the next flag
// belongs to the value, so that --pressure 10 psi needs no quotes; a minus sign
// before a digit is a number, not a flag.
func readFlags(args []string, opts *calcOptions) (map[string]string, error) {
	values := map[string]string{}
	for i := 0; i < len(args); i++ {
		name, value, joined := strings.Cut(args[i], "=")
		name, isFlag := strings.CutPrefix(name, "--")
		if args[i] == "-h" {
			name, isFlag = "help", true
		}
		if !isFlag || name == "" {
			return nil, fmt.Errorf("read %q where a flag was expected; usage: %s", args[i], calcUsage)
		}
		if done, err := opts.toggle(name, joined); err != nil {
			return nil, err
		} else if done {
			continue
		}
		var words []string
		for i+1 < len(args) && !strings.HasPrefix(args[i+1], "--") {
			i++
			words = append(words, args[i])
		}
		if joined {
			words = append([]string{value}, words...)
		}
		if err := setFlag(values, opts, name, strings.Join(words, " ")); err != nil {
			return nil, err
		}
	}
	return values, nil
}

// toggle takes the flags without a value.
func (o *calcOptions) toggle(name string, joined bool) (bool, error) {
	target := map[string]*bool{"working": &o.working, "help": &o.help, "list": &o.list, "table": &o.table}[name]
	if target == nil {
		return false, nil
	}
	if joined {
		return false, fmt.Errorf("--%s takes no value", name)
	}
	*target = true
	return true, nil
}

// setFlag keeps the value of one flag.
func setFlag(values map[string]string, opts *calcOptions, name, value string) error {
	if strings.TrimSpace(value) == "" {
		return fmt.Errorf("--%s needs a value with its unit", name)
	}
	if done, err := opts.take(name, value); done || err != nil {
		return err
	}
	if _, twice := values[name]; twice {
		return fmt.Errorf("--%s is given twice", name)
	}
	values[name] = value
	return nil
}

// take keeps the value of a flag that every calculation has.
func (o *calcOptions) take(name, value string) (done bool, err error) {
	switch name {
	case "format":
		if !slices.Contains([]string{"text", "json"}, value) {
			return false, fmt.Errorf("--format: read %q; accepted: text, json", value)
		}
		o.format = value
	case "units":
		o.units, err = calc.ParseUnits(value)
	case "sweep":
		o.sweep = value
	case "svg":
		o.svg = value
	default:
		return false, nil
	}
	return true, err
}
