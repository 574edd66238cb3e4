package calc

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"

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
	Band        string      // key of the result whose error is known, or empty
	Low, High   []float64   // of that result, nine times in ten; NaN where it is not known
	Passed      []bool      // a safety limit would be exceeded there
	Outside     []bool      // a relation is used outside the range in which it holds
	Why         error       // why the first point without an answer has none
	Now         float64     // where the value asked for lies, in SI; NaN if none was
	ends        steps
}

// Units are those somebody chose, then those in which the ends of the sweep and the
// other flags were typed.
func (v *Curve) Units(chosen Units) Units { return unitsOf(chosen, v.Inputs, v.ends) }

// typedAlike are the suffixes of which the results are said in the unit of the inputs.
var typedAlike = []string{"c", "sg", "volumes", "l"}

// Units are those somebody chose, then those in which the inputs were typed where that is not the usual unit.
// Pressures are said as both dials show them unless one was chosen; lengths and masses of one answer differ too much in
// size to share a unit.
func (a *Answer) Units(chosen Units) Units {
	u := unitsOf(chosen, a.Inputs)
	for suffix, m := range u {
		if chosen[suffix] == nil && (!slices.Contains(typedAlike, suffix) || m == Units(nil).Of(suffix)) {
			delete(u, suffix)
		}
	}
	return u
}

// unitsOf adds to the units that were chosen those in which values were typed.
func unitsOf(chosen Units, inputs []Given, all ...steps) Units {
	u := maps.Clone(chosen)
	if u == nil {
		u = Units{}
	}
	for _, s := range all {
		u.typed(s.flag.JSONKey(), s.from)
		u.typed(s.flag.JSONKey(), s.to)
	}
	for _, in := range inputs {
		if !in.Default {
			u.typed(in.Flag.JSONKey(), in.Text)
		}
	}
	return u
}

// Index is the place of a result in Keys; of the first for a key that is not among them.
func (v *Curve) Index(key string) int {
	return max(slices.IndexFunc(v.Keys, func(r Result) bool { return r.Key == key }), 0)
}

// Sweep answers for a flag that goes in equal steps from one value to another, written
// as "temperature=0 C:20 C:40": 40 steps, 41 points. It keeps no working.
func (c *Calculation) Sweep(values map[string]string, sweep string) (*Curve, error) {
	s, err := c.readSteps("--sweep", sweep)
	if err != nil {
		return nil, err
	}
	in, err := c.open(values, s.flag)
	if err != nil {
		return nil, err
	}
	n := s.count + 1
	curve := &Curve{Calculation: c, Flag: s.flag, Now: math.NaN(), ends: s, X: make([]float64, n), Passed: make([]bool, n), Outside: make([]bool, n)}
	curve.Inputs = in.others(c, s.flag.Name)
	next := 0
	for one := c.follower(in, s); next < n && curve.Keys == nil; next++ {
		curve.Why = cmp.Or(curve.Why, one(curve, next))
	}
	if curve.Keys == nil {
		return nil, curve.Why
	}
	curve.rest(c, in, s, next)
	return curve, nil
}

// follower answers one point after the other on inputs of its own, and says why where there is no answer.
func (c *Calculation) follower(in Inputs, s steps) func(v *Curve, i int) error {
	in = Inputs{maps.Clone(in.given), in.style}
	out := &Answer{Calculation: c, Sheet: &working.Sheet{}, style: c.style}
	return func(v *Curve, i int) error {
		v.X[i] = s.at(i)
		in.given[s.flag.Name] = Given{Flag: s.flag, Value: v.X[i]}
		a, err := out.again(in)
		if err == nil {
			v.put(i, a)
		}
		return err
	}
}

// shared is how many points are worth a second pair of hands.
const shared = 500

// rest answers the points from next on, on all processors where they are many; each point has its own place.
func (v *Curve) rest(c *Calculation, in Inputs, s steps, next int) {
	hands := 1
	if len(v.X)-next > shared {
		hands = runtime.GOMAXPROCS(0)
	}
	why := make([]error, len(v.X))
	var wg sync.WaitGroup
	for k := range hands {
		wg.Go(func() {
			one := c.follower(in, s)
			for i := next + k; i < len(v.X); i += hands {
				why[i] = one(v, i)
			}
		})
	}
	wg.Wait()
	for _, err := range why {
		v.Why = cmp.Or(v.Why, err)
	}
}

// Draw is the sweep of the row's plot, with the value that was given for its flag marked.
func (c *Calculation) Draw(values map[string]string) (*Curve, error) {
	name, _, _ := strings.Cut(c.Plot.Sweep, "=")
	others := maps.Clone(values)
	delete(others, name)
	v, err := c.Sweep(others, c.Plot.Sweep)
	if err != nil {
		return nil, fmt.Errorf("%w (the plot goes over --%s; --sweep FLAG=from:to:steps takes another flag)", err, name)
	}
	if now, given := values[name]; given {
		v.Now, err = v.Flag.Kind.parse(now)
	}
	return v, err
}

// open reads the values of all flags but those that go in steps, which hold a sample.
func (c *Calculation) open(values map[string]string, free ...Flag) (Inputs, error) {
	at := maps.Clone(values)
	if at == nil {
		at = map[string]string{}
	}
	for _, f := range free {
		if _, twice := values[f.Name]; twice {
			return Inputs{}, fmt.Errorf("--%s is given and goes in steps; leave one of them out", f.Name)
		}
		at[f.Name] = f.Example()
	}
	return c.read(at)
}

// others are the inputs without those named, in the order of the flags.
func (in Inputs) others(c *Calculation, without ...string) []Given {
	var out []Given
	for _, f := range c.Flags {
		if given, ok := in.given[f.Name]; ok && !slices.Contains(without, f.Name) {
			out = append(out, given)
		}
	}
	return out
}

// again answers once more on the same paper, which costs no memory.
func (a *Answer) again(in Inputs) (*Answer, error) {
	s := a.Sheet
	*s = working.Sheet{Steps: s.Steps[:0], Valid: s.Valid[:0], Outside: s.Outside[:0], Cautions: s.Cautions[:0]}
	*a = Answer{Calculation: a.Calculation, Sheet: s, style: a.style, Results: a.Results[:0], Notes: a.Notes[:0], Cautions: a.Cautions[:0]}
	if err := a.Calculation.run(in, a); err != nil {
		return nil, fmt.Errorf("%s: %w", a.Calculation.Name, err)
	}
	return a, a.whole()
}

// put keeps the answer for one point.
func (v *Curve) put(i int, a *Answer) {
	if v.Keys == nil {
		v.prepare(a)
	}
	v.Passed[i], v.Outside[i] = a.Passed, len(a.Sheet.Outside) > 0
	for k, r := range v.Keys {
		v.Y[k][i] = a.Value(r.Key)
	}
	if b := a.Band; b != nil && b.Key == v.Band {
		v.Low[i], v.High[i] = b.Low, b.High
	}
}

// prepare makes room for the results of the first answer, all unknown as yet.
func (v *Curve) prepare(a *Answer) {
	unknown := func() []float64 { return slices.Repeat([]float64{math.NaN()}, len(v.X)) }
	v.Keys = slices.Clone(a.Results)
	for range v.Keys {
		v.Y = append(v.Y, unknown())
	}
	v.Low, v.High = unknown(), unknown()
	if a.Band != nil {
		v.Band = a.Band.Key
	}
}

// steps are equal steps of one flag.
type steps struct {
	flag      Flag
	from, to  string // as typed
	low, high float64
	count     int
}

func (s steps) at(i int) float64 {
	return s.low + (s.high-s.low)*float64(i)/float64(s.count)
}

// readSteps understands FLAG=from:to:steps, of the argument named what.
func (c *Calculation) readSteps(what, text string) (s steps, err error) {
	name, bounds, _ := strings.Cut(text, "=")
	parts := strings.Split(bounds, ":")
	if len(parts) != 3 {
		return s, fmt.Errorf("%s: read %q; accepted is FLAG=from:to:steps, for example %q", what, text, c.Plot.Sweep)
	}
	name = strings.TrimPrefix(strings.TrimSpace(name), "--")
	if err := c.known(map[string]string{name: ""}); err != nil {
		return s, fmt.Errorf("%s: %w", what, err)
	}
	s.flag = c.Flags[slices.Index(c.FlagNames(), name)]
	if s.flag.Kind.Choices != nil {
		return s, fmt.Errorf("%s: --%s is a word and has no steps; take a flag with a number", what, name)
	}
	s.from, s.to = parts[0], parts[1]
	if s.low, err = s.flag.Kind.parse(s.from); err == nil {
		s.high, err = s.flag.Kind.parse(s.to)
	}
	if err != nil {
		return s, fmt.Errorf("%s %s: %w", what, name, err)
	}
	s.count, err = strconv.Atoi(strings.TrimSpace(parts[2]))
	if err != nil || s.count < 1 || s.count >= mostPoints || s.low == s.high {
		return s, fmt.Errorf("%s: read %q; accepted are two different ends and 1 to %d steps", what, text, mostPoints-1)
	}
	return s, nil
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
