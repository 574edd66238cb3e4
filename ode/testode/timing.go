package testode

import (
	"math"

	"spile/ode"
)

// Timing is a problem that integrators are timed on: the kinetics of Beer, alone
// (P1) or in a closed vessel with thermostat and relief valve (P2). It restarts
// from Start as often as wanted.
type Timing struct {
	Name      string
	Number    int // 1 or 2
	N         int
	Absolute  []float64 // absolute tolerances that go with a relative one of 1e-6
	Weights   []float64 // errors are counted in these units
	System    ode.System
	Events    []ode.Event
	Start     func(y []float64) // writes the state at t = 0 and switches the heater off
	Slopes    *int              // counts calls of the slope
	Variables []string
}

// Output times of the timing problems: every 6 h to 336 h, the start included.
const (
	Hours   = 336.0
	Every   = 6.0
	Outputs = 57
)

// OutputTimes lists them.
func OutputTimes() []float64 {
	at := make([]float64, Outputs)
	for i := range at {
		at[i] = float64(i) * Every
	}
	return at
}

// Member varies a timing problem for ensembles; Nominal is the problem itself.
type Member struct {
	Growth, Uptake, Pitch float64 // factors
	Sugar0                float64 // g/L
	UA                    float64 // heat loss, W/K
	Air                   float64 // surroundings, K
}

// Nominal is the problem as defined.
func Nominal() Member { return Member{1, 1, 1, 130, 1.5, 289.15} }

// RandomMember is member k of the ensemble, the same in every program that
// follows the definition. References: [SteeleLeaFlood2014] for the generator
func RandomMember(k int) Member {
	s := 0x5EED0000 + uint64(k)*1000003
	u := func() float64 { return float64(splitmix(&s)>>11) / (1 << 53) }
	return Member{Growth: 0.95 + 0.1*u(), Uptake: 0.8 + 0.4*u(), Pitch: 0.7 + 0.6*u(),
		Sugar0: 110 + 40*u(), UA: 1.2 + 0.6*u(), Air: 286.15 + 6*u()}
}

func splitmix(state *uint64) uint64 {
	*state += 0x9E3779B97F4A7C15
	z := *state
	z = (z ^ z>>30) * 0xBF58476D1CE4E5B9
	z = (z ^ z>>27) * 0x94D049BB133111EB
	return z ^ z>>31
}

// Settings are what the problem is timed with: P1 is not stiff and goes to the
// explicit method; P2 keeps within an error of 1e-5 with a relative tolerance of
// 3e-6.
func (p *Timing) Settings() ode.Options {
	if p.Number == 1 {
		return ode.Options{Relative: 5e-6, Absolute: scaled(p.Absolute, 5), Method: ode.DormandPrince}
	}
	return ode.Options{Relative: 3e-6, Absolute: scaled(p.Absolute, 3)}
}

// scaled is v times f.
func scaled(v []float64, f float64) []float64 {
	out := make([]float64, len(v))
	for i, x := range v {
		out[i] = f * x
	}
	return out
}

// P1 is the kinetics alone, seven states, not stiff: a temperature that rises
// smoothly from 11 to 14 C.
func P1() *Timing {
	b := NewBeer(func(t float64) float64 { return 284.15 + 3/(1+math.Exp(-(t-48)/8)) })
	slopes := new(int)
	sys := b.System()
	inner := sys.Slope
	sys.Slope = func(t float64, y, d []float64) { *slopes++; inner(t, y, d) }
	return &Timing{Name: "P1", Number: 1, N: beerStates, System: sys, Slopes: slopes,
		Absolute:  []float64{1e-8},
		Weights:   []float64{1, 1, 1, 100, 50, 0.5, 1},
		Variables: []string{"XA", "XL", "XD", "S", "E", "EA", "DY"},
		Start:     func(y []float64) { copy(y, b.Start()) },
	}
}

// P2 is the closed vessel, thirteen states, stiff, with heater switches as events.
func P2(m Member) *Timing {
	k := newKeg(m)
	return &Timing{Name: "P2", Number: 2, N: kegStates, Slopes: &k.slopes,
		System:    ode.System{Slope: k.slope, Jacobian: k.jacobian, Autonomous: true},
		Events:    k.events(),
		Absolute:  []float64{1e-8, 1e-8, 1e-8, 1e-8, 1e-8, 1e-8, 1e-8, 1e-6, 1e-9, 1e-9, 1e-6, 1e-7, 1e-6},
		Weights:   []float64{1, 1, 1, 100, 50, 0.5, 1, 50, 0.4, 0.25, 1, 30, 1000},
		Variables: []string{"XA", "XL", "XD", "S", "E", "EA", "DY", "c", "nC", "nA", "T", "nV", "Qh"},
		Start:     k.start,
	}
}

// Error is the largest weighted difference of a row of values from a reference row.
func (p *Timing) Error(y, reference []float64) float64 {
	worst := 0.0
	for i, w := range p.Weights {
		worst = math.Max(worst, math.Abs(y[i]-reference[i])/w) // NaN stays NaN
	}
	return worst
}
