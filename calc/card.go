package calc

import (
	"errors"
	"math"
	"slices"
	"strings"

	"spile/working"
)

// Grid is a result over two flags, as it hangs on a door.
type Grid struct {
	Calculation      *Calculation
	Down, Across     Flag
	DownAt, AcrossAt []float64 // in SI
	Inputs           []Given   // all others
	Of               Result
	Values           [][]float64 // [down][across], in the unit of the key; NaN where there is no answer
	Passed           [][]bool    // a safety limit would be exceeded there
	Cautions         []string    // of all answers within the limits, each once
	Why              error       // why the first place without an answer has none
	Units            Units
}

// ErrNoCard says that a calculation has no table for the door.
var ErrNoCard = errors.New("no table for the door")

// Grid answers for every pair of the two flags of the card, in round steps of the units
// chosen. Everything else, the altitude say, is as given.
func (c *Calculation) Grid(values map[string]string, chosen Units) (*Grid, error) {
	if c.Card.Of == "" {
		return nil, ErrNoCard
	}
	down, err := c.readSteps("--table", c.Card.Down)
	if err != nil {
		return nil, err
	}
	across, err := c.readSteps("--table", c.Card.Across)
	if err != nil {
		return nil, err
	}
	in, err := c.open(values, down.flag, across.flag)
	if err != nil {
		return nil, err
	}
	t := &Grid{Calculation: c, Down: down.flag, Across: across.flag, Of: Result{Key: c.Card.Of}}
	t.Inputs = in.others(c, down.flag.Name, across.flag.Name)
	t.Units = unitsOf(chosen, t.Inputs)
	t.DownAt, t.AcrossAt = down.round(t.Units), across.round(t.Units)
	t.fill(in)
	if t.Of.Name == "" {
		return nil, t.Why
	}
	return t, nil
}

// fill answers for every place.
func (t *Grid) fill(in Inputs) {
	out := &Answer{Calculation: t.Calculation, Sheet: &working.Sheet{}, style: in.style}
	for _, y := range t.DownAt {
		values, passed := make([]float64, len(t.AcrossAt)), make([]bool, len(t.AcrossAt))
		for j, x := range t.AcrossAt {
			in.given[t.Down.Name] = Given{Flag: t.Down, Value: y}
			in.given[t.Across.Name] = Given{Flag: t.Across, Value: x}
			values[j] = math.NaN()
			a, err := out.again(in)
			if err != nil {
				if t.Why == nil {
					t.Why = err
				}
				continue
			}
			values[j], passed[j] = a.Value(t.Of.Key), a.Passed
			t.note(a)
		}
		t.Values, t.Passed = append(t.Values, values), append(t.Passed, passed)
	}
}

// note keeps the name of the result and the cautions that hold for a place on the table.
func (t *Grid) note(a *Answer) {
	for _, r := range a.Results {
		if r.Key == t.Of.Key {
			t.Of.Name = r.Name
		}
	}
	for _, c := range a.Cautions {
		if !a.Passed && !slices.Contains(t.Cautions, c) {
			t.Cautions = append(t.Cautions, c)
		}
	}
}

// round gives the values of the steps; in another unit than they are written in, round
// values of that unit between the same ends, about as many.
func (s steps) round(u Units) []float64 {
	own := Units{}
	own.typed(s.flag.JSONKey(), s.from)
	m := u.Of(s.flag.JSONKey())
	var out []float64
	if own.Of(s.flag.JSONKey()) == m {
		for i := range s.count + 1 {
			out = append(out, s.at(i))
		}
		return out
	}
	k := s.flag.Kind
	low, high := m.Shown(k.InKey(s.low)), m.Shown(k.InKey(s.high))
	step := RoundStep((high - low) / float64(s.count))
	for i := math.Ceil(low/step - 1e-9); i*step <= high*(1+1e-9); i++ {
		out = append(out, m.inKey(i*step)*k.Scale+k.Zero)
	}
	return out
}

// RoundStep is the smallest of 1, 2 and 5 times a power of ten that is not below x.
func RoundStep(x float64) float64 {
	decade := math.Pow10(int(math.Floor(math.Log10(x))))
	for _, m := range []float64{1, 2, 5} {
		if m*decade >= x*(1-1e-9) {
			return m * decade
		}
	}
	return 10 * decade
}

// Cards names the calculations that have a table for the door.
func Cards() string {
	var names []string
	for _, c := range table {
		if c.Card.Of != "" {
			names = append(names, c.Name)
		}
	}
	return strings.Join(names, ", ")
}
