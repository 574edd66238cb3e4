package working

import (
	"fmt"
	"slices"
	"testing"
)

// A nil sheet takes everything and keeps nothing, so that a relation need not ask.
func TestNilSheet(t *testing.T) {
	var s *Sheet
	s.Input("a", "an input", 1, "m", Given)
	s.Step("b", "a result", "b = 2 a", 2, "m", "Somebody1999")
	s.Range("0 to 1 m", 2, 0, 1)
	s.Caution("hot")
	s.Error(1, 3, "the ruler")
	if got := s.Sources(); got != nil {
		t.Errorf("a nil sheet has sources %v", got)
	}
	if n := testing.AllocsPerRun(100, func() { s.Step("b", "", "", 2, "m", "") }); n != 0 {
		t.Errorf("a step on a nil sheet allocates %g times; expected none", n)
	}
}

func TestRange(t *testing.T) {
	for _, c := range []struct {
		x       float64
		outside int
	}{{-0.1, 1}, {0, 0}, {0.5, 0}, {1, 0}, {1.1, 1}} {
		var s Sheet
		s.Range("0 to 1", c.x, 0, 1)
		if len(s.Valid) != 1 || len(s.Outside) != c.outside {
			t.Errorf("%g within 0 to 1: expected %d outside, got %d", c.x, c.outside, len(s.Outside))
		}
	}
}

func TestSourcesOnceInOrder(t *testing.T) {
	var s Sheet
	for _, key := range []string{"B2001", "", "A1999", "B2001"} {
		s.Step("x", "", "", 0, "", key)
	}
	if got := s.Sources(); !slices.Equal(got, []string{"B2001", "A1999"}) {
		t.Errorf("expected B2001 then A1999, got %v", got)
	}
}

func ExampleSheet() {
	area := func(a float64, s *Sheet) float64 {
		s.Input("a", "side", a, "m", Given)
		s.Step("A", "area", "A = a²", a*a, "m²", "")
		return a * a
	}
	var s Sheet
	area(3, &s)
	for _, st := range s.Steps {
		fmt.Printf("%s %g %s (%s)\n", st.Symbol, st.Value, st.Unit, st.Origin)
	}
	// Output:
	// a 3 m (given)
	// A 9 m² (computed)
}
