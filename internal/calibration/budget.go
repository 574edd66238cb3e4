package calibration

import (
	"fmt"
	"strings"
)

// Budget is how much work a run is given.
type Budget struct {
	Name     string
	Exact    int            // posteriors of each shape with a known answer
	Drawn    [numGroups]int // batches drawn from the prior, by their instruments
	Ferments int            // measured ferments
	Hours    []float64
	Noise    int // draws of the hydrometer's errors on each measured ferment
	Faulty   int // batches with each fault
	Healthy  int
	Members  int // of a belief
}

var full = Budget{Name: "full", Exact: 20, Drawn: [numGroups]int{1000, 250, 250, 250, 0, 0}, Ferments: 27, Hours: []float64{24, 48, 60, 72}, Noise: 20, Faulty: 200, Healthy: 1000, Members: 250}

// wide is full, and batches with instruments that fewer people have.
func wide() Budget {
	b := full
	b.Name, b.Drawn[4], b.Drawn[5] = "wide", 250, 150
	return b
}

// budgets by name: about a minute, ten minutes, an hour, and some minutes more on two cores.
var budgets = []Budget{
	{Name: "quick", Exact: 1, Drawn: [numGroups]int{6, 1, 1, 1, 1, 1}, Ferments: 3, Hours: []float64{48}, Noise: 1, Faulty: 1, Healthy: 1, Members: 60},
	{Name: "ci", Exact: 5, Drawn: [numGroups]int{120, 30, 30, 30, 30, 18}, Ferments: 27, Hours: []float64{24, 48, 60, 72}, Noise: 2, Faulty: 12, Healthy: 60, Members: 250},
	full,
	wide(),
}

// part is the first k of n parts of b, by seed: its batches are the first ones of the whole.
// Ferments are measured, and answers exact, in the first part already.
func (b Budget) part(k, n int) Budget {
	of := func(whole int) int { return (whole*k + n - 1) / n }
	for g, whole := range b.Drawn {
		b.Drawn[g] = of(whole)
	}
	b.Noise, b.Faulty, b.Healthy = of(b.Noise), of(b.Faulty), of(b.Healthy)
	return b
}

// ParseBudget finds a budget by name.
func ParseBudget(name string) (Budget, error) {
	var names []string
	for _, b := range budgets {
		if b.Name == name {
			return b, nil
		}
		names = append(names, b.Name)
	}
	return Budget{}, fmt.Errorf("budget %q: expected one of %s", name, strings.Join(names, ", "))
}
