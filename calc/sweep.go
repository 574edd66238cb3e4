package calc

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"spile/working"
)

// mostPoints is how many points a sweep may have.
const mostPoints = 100_000

// Curve is a calculation over one of its flags.
type Curve struct {
	Calculation *Calculation
	Flag        Flag
	Inputs      []Given // all others
	X           []float64
	Keys        []Result    // one for each result: key and name
	Y           [][]float64 // [result][point], in the unit of the key; NaN where there is no answer
	Passed      []bool      // a safety limit would be passed there
	Why         error       // why the first point without an answer has none
}

// Sweep answers for a flag that goes in equal steps from one value to another, written
// as "temperature=0 C:20 C:40": 40 steps, 41 points. It keeps no working.
func (c *Calculation) Sweep(values map[string]string, sweep string) (*Curve, error) {
	f, low, high, steps, err := c.readSweep(sweep)
	if err != nil {
		return nil, err
	}
	at := make(map[string]string, len(values)+1)
	for name, value := range values {
		at[name] = value
	}
	if _, twice := values[f.Name]; twice {
		return nil, fmt.Errorf("--%s is given and swept; give one of them", f.Name)
	}
	at[f.Name] = f.Example()
	in, err := c.read(at)
	if err != nil {
		return nil, err
	}
	curve := &Curve{Calculation: c, Flag: f, X: make([]float64, steps+1), Passed: make([]bool, steps+1)}
	for _, other := range c.Flags {
		if given, ok := in.given[other.Name]; ok && other.Name != f.Name {
			curve.Inputs = append(curve.Inputs, given)
		}
	}
	for i := range curve.X {
		x := low + (high-low)*float64(i)/float64(steps)
		curve.X[i] = x
		in.given[f.Name] = Given{Flag: f, Value: x}
		curve.put(i, in)
	}
	if curve.Keys == nil {
		return nil, curve.Why
	}
	return curve, nil
}

// put answers for one point.
func (v *Curve) put(i int, in Inputs) {
	a, err := v.Calculation.answer(in, nil)
	if err != nil {
		if v.Why == nil {
			v.Why = err
		}
		for _, y := range v.Y {
			y[i] = math.NaN()
		}
		return
	}
	v.Passed[i] = a.Passed
	if v.Keys == nil {
		v.Keys = a.Results
		v.Y = make([][]float64, len(v.Keys))
		for k := range v.Y {
			v.Y[k] = make([]float64, len(v.X))
			for j := range i {
				v.Y[k][j] = math.NaN()
			}
		}
	}
	for k, r := range v.Keys {
		v.Y[k][i] = a.Value(r.Key)
	}
}

// readSweep understands FLAG=from:to:steps.
func (c *Calculation) readSweep(sweep string) (f Flag, low, high float64, steps int, err error) {
	name, bounds, _ := strings.Cut(sweep, "=")
	parts := strings.Split(bounds, ":")
	if len(parts) != 3 {
		return f, 0, 0, 0, fmt.Errorf("--sweep: read %q; accepted is FLAG=from:to:steps, for example %q", sweep, c.Plot.Sweep)
	}
	name = strings.TrimPrefix(strings.TrimSpace(name), "--")
	if err := c.known(map[string]string{name: ""}); err != nil {
		return f, 0, 0, 0, fmt.Errorf("--sweep: %w", err)
	}
	for _, f = range c.Flags {
		if f.Name == name {
			break
		}
	}
	if f.Kind.Choices != nil {
		return f, 0, 0, 0, fmt.Errorf("--sweep: --%s is a word and has no steps; take a flag with a number", name)
	}
	if low, err = f.Kind.parse(parts[0]); err == nil {
		high, err = f.Kind.parse(parts[1])
	}
	if err != nil {
		return f, 0, 0, 0, fmt.Errorf("--sweep %s: %w", name, err)
	}
	steps, err = strconv.Atoi(strings.TrimSpace(parts[2]))
	if err != nil || steps < 1 || steps >= mostPoints || low == high {
		return f, 0, 0, 0, fmt.Errorf("--sweep: read %q; accepted are two different ends and 1 to %d steps", sweep, mostPoints-1)
	}
	return f, low, high, steps, nil
}

// Value is the result of that key, in its unit; NaN if there is none.
func (a *Answer) Value(key string) float64 {
	for _, r := range a.Results {
		if r.Key == key {
			return r.Value
		}
	}
	return math.NaN()
}

// Grid answers for every pair of two flags, [down][across], in the unit of the result's
// key; NaN where there is no answer. It is what a card for the door shows.
func (c *Calculation) Grid(values map[string]string, down, across []float64) (answers [][]*Answer, err error) {
	at := map[string]string{}
	for name, value := range values {
		at[name] = value
	}
	var flags [2]Flag
	for _, f := range c.Flags {
		switch f.Name {
		case c.Card.Down:
			flags[0] = f
		case c.Card.Across:
			flags[1] = f
		}
	}
	for _, f := range flags {
		at[f.Name] = f.Example()
	}
	in, err := c.read(at)
	if err != nil {
		return nil, err
	}
	for i, y := range down {
		answers = append(answers, make([]*Answer, len(across)))
		for j, x := range across {
			in.given[flags[0].Name] = Given{Flag: flags[0], Value: y}
			in.given[flags[1].Name] = Given{Flag: flags[1], Value: x}
			if a, err := c.answer(in, &working.Sheet{}); err == nil {
				answers[i][j] = a
			}
		}
	}
	return answers, nil
}
