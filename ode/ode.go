// Package ode integrates stiff initial-value problems y' = f(t, y) with events.
//
// Two one-step methods are offered. The default is RODAS5P, a Rosenbrock method
// of order 5 that is L-stable: a relief valve that answers within a second and a
// ferment that takes two weeks are advanced in one go, with steps chosen for the
// slow part. DormandPrince is an explicit method of order 5, cheaper where
// nothing is stiff. Both carry an error estimate and a dense output, so output
// times and events cost no extra steps.
//
// The package knows nothing of beer. A System is a pure function of time and
// state; an Event is a function that changes sign, a direction and an action,
// and the integration restarts there.
//
// What is read off the Jacobian: states that do not feed back on each other are
// sorted into blocks (strongly connected components), and only the blocks are
// factorised. A total that nothing depends on costs one division.
//
// References: [Steinebach2023], [HairerWanner1996], [HairerNorsettWanner1993]
package ode

import "math"

// System is y' = f(t, y).
type System struct {
	// Slope writes f(t, y) to dydt. It must be pure in (t, y) between events.
	Slope func(t float64, y, dydt []float64)
	// Jacobian writes df_i/dy_k to j[i*n+k]; j arrives zeroed. Nil means finite
	// differences, which cost n calls of Slope for every step.
	Jacobian func(t float64, y []float64, j []float64)
	// Autonomous says that Slope does not read t. It saves one call of Slope a
	// step; set wrongly, it costs the method its order.
	Autonomous bool
}

// Event is a place where the integration stops, acts and restarts.
//
// It fires when Value changes sign within a step. A dip through zero and back
// inside one step is looked for where the values of this and the last step suggest
// one; a Value that swings more than once within a step needs MaxStep. An event
// whose Value is already past zero at the start, or is put there by an Act, does
// not fire: the modes an Act sets must agree with the state it leaves.
type Event struct {
	// Value is continuous in (t, y) between events.
	Value func(t float64, y []float64) float64
	// Direction is +1 for rising values, -1 for falling ones, 0 for both.
	Direction int
	// Act may change y and whatever Slope reads. True ends the integration.
	Act func(t float64, y []float64) (stop bool)
}

// Method names the formula that advances the solution.
type Method int

const (
	// RODAS5P is the Rosenbrock method of order 5(4), eight stages, L-stable, with a
	// dense output of order 4. References: [Steinebach2023]
	RODAS5P Method = iota
	// DormandPrince is the explicit Runge-Kutta method of order 5(4), six calls
	// of Slope a step, with a dense output of order 4. A stiff problem makes it
	// slow, not wrong. References: [DormandPrince1980], [HairerNorsettWanner1993]
	DormandPrince
)

// Options say how closely and how far to step. Zero values choose the default.
type Options struct {
	// Relative is the relative tolerance of every component. Default 1e-6.
	Relative float64
	// Absolute holds one absolute tolerance a component, or one for all, in the
	// units of y. Default 1e-9.
	Absolute []float64
	// FirstStep is the first step to try; 0 lets the solver choose.
	FirstStep float64
	// MaxStep bounds every step; 0 means no bound.
	MaxStep float64
	// MaxSteps bounds the steps tried in one Integrate. Default 1,000,000.
	MaxSteps int
	// Method is the formula. Default RODAS5P.
	Method Method
}

// Stats says what an integration cost and how far it came.
type Stats struct {
	Steps          int     // steps accepted
	Rejected       int     // steps tried and thrown away
	Slopes         int     // calls of Slope, those for finite differences included
	Jacobians      int     // Jacobians formed
	Factorizations int     // matrices factorised
	Events         int     // events fired
	End            float64 // time reached: t1, or where an Act stopped or an error struck
}

const (
	defaultRelative = 1e-6
	defaultAbsolute = 1e-9
	defaultMaxSteps = 1_000_000
	epsilon         = 0x1p-52
)

// Solver is a reusable workspace for systems of one size. It is not safe for
// concurrent use; give each goroutine its own. What it learns during one
// Integrate (block structure, restart steps) is forgotten at the next, so a
// result never depends on what was solved before.
type Solver struct {
	n          int
	rtol       float64
	atol       []float64
	firstStep  float64
	maxStep    float64
	maxSteps   int
	method     Method
	run        run
	stages     [8][]float64 // increments (RODAS5P) or slopes (DormandPrince) of the step in hand
	y1         []float64    // state at the end of the step tried
	f0, ft     []float64    // slope and its derivative with respect to time at the start
	arg, fs    []float64    // argument and value of Slope inside a stage
	rhs        []float64
	c2, c3, c4 []float64 // coefficients of the dense output
	dense      []float64 // state inside the step
	jac        []float64
	blocks     blocks
}

// NewSolver prepares a workspace for n equations. It panics when n or the
// options make no sense, for that is a mistake in the program.
func NewSolver(n int, o Options) *Solver {
	if n < 1 {
		panic("ode: a system needs at least one equation")
	}
	s := &Solver{n: n, rtol: o.Relative, firstStep: o.FirstStep, maxStep: o.MaxStep, maxSteps: o.MaxSteps, method: o.Method}
	s.setDefaults()
	s.atol = tolerances(n, o.Absolute)
	for _, v := range []*[]float64{&s.y1, &s.f0, &s.ft, &s.arg, &s.fs, &s.rhs, &s.c2, &s.c3, &s.c4, &s.dense} {
		*v = make([]float64, n)
	}
	for i := range s.stages {
		s.stages[i] = make([]float64, n)
	}
	if s.method == RODAS5P {
		s.jac = make([]float64, n*n)
		s.blocks = newBlocks(n)
	}
	return s
}

func (s *Solver) setDefaults() {
	if s.rtol == 0 {
		s.rtol = defaultRelative
	}
	if s.maxStep == 0 {
		s.maxStep = math.Inf(1)
	}
	if s.maxSteps == 0 {
		s.maxSteps = defaultMaxSteps
	}
	if !(s.rtol > 0 && s.rtol < 1) || !(s.maxStep > 0) || s.maxSteps < 0 || !(s.firstStep >= 0) {
		panic("ode: tolerances, steps and step counts must be positive, the relative tolerance below 1")
	}
	if s.method != RODAS5P && s.method != DormandPrince {
		panic("ode: unknown method")
	}
}

// tolerances spreads what Options.Absolute gives over n components.
func tolerances(n int, given []float64) []float64 {
	a := make([]float64, n)
	switch len(given) {
	case 0:
		given = []float64{defaultAbsolute}
	case 1, n:
	default:
		panic("ode: Options.Absolute needs one tolerance, or one for each component")
	}
	for i := range a {
		a[i] = given[i%len(given)]
		if !(a[i] > 0) {
			panic("ode: absolute tolerances must be positive")
		}
	}
	return a
}
