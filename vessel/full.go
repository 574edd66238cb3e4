package vessel

import (
	"math"

	"spile/ode"
	"spile/unit"
	"spile/wort"
	"spile/yeast"
)

// Components of the full closure's state.
const (
	yActivity     = iota // X
	yLeft                // share of extract left
	yBeer                // K, of the beer
	yAround              // K, of the air around the vessel
	yDissolved           // mol
	yHeadCO2             // mol
	yHeadAir             // mol
	yVented              // mol of CO2
	yLeaked              // mol of CO2
	ySupplied            // mol of CO2
	yAirOut              // mol
	yAirIn               // mol
	yWaterLost           // kg
	ySuspended           // share of a full crop
	yAcetolactate        // kg/m3
	yDiacetyl            // kg/m3
	numY
)

// Full is the closure that resolves valve, thermostat and gas film: for simulation, for lessons, and as the judge of
// Averaged. Valves, regulator, belt, compressor and cylinder are events; between them the slopes are smooth.
type Full struct {
	core
	fit     settings
	solver  *ode.Solver
	events  []ode.Event
	y       [numY]float64
	mode    mode
	opened  int         // times the working valve has opened
	pouring unit.Volume // still to come from the open tap
}

// mode is which fittings flow and run now.
type mode struct {
	relief, safety    bool    // open
	belt, compressor  bool    // running
	heating, chilling bool    // which of belt and compressor ran last
	wanting           bool    // the thermostat asks for cold
	cold              bool    // the air of the fridge is as cold as it gets
	rested            float64 // s since pitching when the compressor may run again
}

const (
	fullRelative  = 1e-6
	fullMostSteps = 20_000_000
	fullLongest   = 1800 // s; two changes of an event within one step would go unseen
)

// tolerances of the full closure, in the units of its state.
var tolerances = [numY]float64{
	yActivity: 1e-9, yLeft: 1e-9, yBeer: 1e-5, yAround: 1e-4, yDissolved: 1e-7, yHeadCO2: 1e-8, yHeadAir: 1e-8,
	yVented: 1e-6, yLeaked: 1e-6, ySupplied: 1e-6, yAirOut: 1e-6, yAirIn: 1e-6, yWaterLost: 1e-7,
	ySuspended: 1e-6, yAcetolactate: 1e-9, yDiacetyl: 1e-9,
}

// NewFull starts p at pitching.
func NewFull(p Params) *Full {
	f := &Full{}
	f.core.reset(&p)
	f.solver = ode.NewSolver(numY, ode.Options{Relative: fullRelative, Absolute: tolerances[:], MaxStep: fullLongest, MaxSteps: fullMostSteps})
	f.events = f.allEvents()
	f.fit = f.fitted()
	return f
}

// Set changes the controls from now on.
func (f *Full) Set(c Controls) {
	if c.Relief != f.c.Relief {
		f.mode.relief = false
	}
	f.c = c
	f.fit = f.fitted()
}

// Popped is how many times the working valve has opened since pitching.
func (f *Full) Popped() int { return f.opened }

// Advance runs to t seconds since pitching; a t that has passed is no step. The error says where it failed.
func (f *Full) Advance(t float64) error {
	if t <= f.s.Time {
		return nil
	}
	if err := f.drawTo(t); err != nil {
		return err
	}
	if t <= f.s.Time {
		return nil
	}
	return f.integrate(t)
}

// integrate runs to t with the tap shut.
func (f *Full) integrate(t float64) error {
	f.pack()
	f.agree(f.s.Time, f.y[:])
	sys := ode.System{Slope: f.slope, Autonomous: f.c.Track == nil && f.p.Swing == 0}
	if _, err := f.solver.Integrate(sys, f.events, f.s.Time, t, f.y[:], nil, nil); err != nil {
		return err
	}
	f.unpack(t)
	return f.sane()
}

// pack lays the state out for the solver; totals start at zero, so that they lose no digits.
func (f *Full) pack() {
	s := &f.s
	f.y = [numY]float64{
		yActivity: s.X, yLeft: s.Left, yBeer: s.Temperature, yAround: s.Around,
		yDissolved: s.Dissolved, yHeadCO2: s.HeadCO2, yHeadAir: s.HeadAir,
		ySuspended: s.Suspended, yAcetolactate: s.Acetolactate, yDiacetyl: s.Diacetyl,
	}
	if f.p.around(&f.c) == nil {
		f.y[yAround] = float64(f.p.Ambient)
	}
}

// unpack books what the solver found at t.
func (f *Full) unpack(t float64) {
	s, l, y := &f.s, &f.l, &f.y
	made := (s.Left - y[yLeft]) * s.Usable * s.Wort * molPerExtract
	s.Made += made
	l.made += made
	for _, k := range []int{yVented, yLeaked} { // what has left comes back by an error of the integrator alone
		if y[k] < 0 {
			y[yHeadCO2], y[k] = y[yHeadCO2]+y[k], 0
		}
	}
	l.vented += y[yVented]
	l.leaked += y[yLeaked]
	l.airOut += y[yAirOut]
	l.airIn += y[yAirIn]
	l.supplied += y[ySupplied]
	s.Cylinder = math.Max(s.Cylinder-y[ySupplied]*molarCO2, 0)
	f.dry(y[yWaterLost])
	s.Time, s.X, s.Left, s.Temperature, s.Around = t, y[yActivity], math.Max(y[yLeft], 0), f.beer(t, y[:]), y[yAround]
	if f.p.around(&f.c) == nil {
		s.Around = f.p.room(t)
	}
	s.Dissolved, s.HeadCO2, s.HeadAir = y[yDissolved], y[yHeadCO2], y[yHeadAir]
	if s.HeadAir < 0 { // swept out to rounding
		l.airOut += s.HeadAir
		s.HeadAir = 0
	}
	s.Suspended, s.Acetolactate, s.Diacetyl = y[ySuspended], y[yAcetolactate], y[yDiacetyl]
	f.beta = s.headAt().beta
	_, ds := f.p.Yeast.Slopes(f.p.Yeast.Pace(s.Temperature, f.over()), s.X, s.Left)
	s.Rate = -ds * s.Usable * s.Wort * molPerExtract
}

// beer is the temperature of the beer at t, K.
func (f *Full) beer(t float64, y []float64) float64 {
	if f.c.Track != nil {
		return f.c.Track(t)
	}
	return y[yBeer]
}

// at writes y into a copy of the state and gives it with its gas constants and pressure.
func (f *Full) at(t float64, y []float64) (s State, g gas, p float64) {
	s = f.s
	s.X, s.Left, s.Temperature = y[yActivity], math.Max(y[yLeft], 0), f.beer(t, y)
	s.Dissolved, s.HeadCO2, s.HeadAir, s.WaterLost = y[yDissolved], y[yHeadCO2], y[yHeadAir], s.WaterLost+y[yWaterLost]
	g = s.gasAt()
	return s, g, g.vapour + (s.HeadCO2+s.HeadAir)/g.beta
}

// slope is the right-hand side, in the order of the package comment. It is pure between events.
func (f *Full) slope(t float64, y, d []float64) {
	s, g, p := f.at(t, y)
	k := &f.p.Yeast
	over := s.HeadCO2/g.beta - atmosphere
	dx, ds := k.Slopes(k.Pace(s.Temperature, over), s.X, s.Left)
	used := -ds * s.Usable * s.Wort // kg/s
	made := used * molPerExtract    // mol/s
	d[yActivity], d[yLeft] = dx, ds
	f.heat(t, y, d, used*wort.HeatOfFermentation)

	films := s.films(&g, made, 0)
	flux := films.k * (s.Dissolved - g.alpha*(p-films.p0)) // mol/s out of the beer
	d[yDissolved] = made - flux
	f.leave(&s, &g, f.through(p), flux, d)
	f.linger(&s, y, d, dx, used)
}

// through is the flow of each fitting at pressure p. Valves are open or shut by the mode they are in; the regulator's
// flow and that of what is open to the air are continuous where they turn, and events restart the solver there.
func (f *Full) through(p float64) (q flows) {
	fit := &f.fit
	q.leak = fit.leak * (p - fit.air)
	if f.mode.relief {
		q.relief = fit.relief * (p - f.shuts(fit.opens))
	}
	if f.mode.safety {
		q.safety = fit.safety * (p - f.shuts(fit.safe))
	}
	if p < fit.set {
		q.supply = fit.regulator * (fit.set - p)
	}
	return q
}

// shuts is where the flow of an open valve that opened at opens would end: half the hysteresis below where it reseats.
func (f *Full) shuts(opens float64) float64 {
	if f.fit.bothWays && opens == f.fit.opens {
		return opens
	}
	return opens - 1.5*f.reseats(opens)
}

// leave is the balance of the headspace: CO2 from the beer and the cylinder, gas out at its composition, air in.
func (f *Full) leave(s *State, g *gas, q flows, flux float64, d []float64) {
	share := s.HeadCO2 / (s.HeadCO2 + s.HeadAir)
	valve, leak, in := q.relief+q.safety, q.leak, 0.0
	out := valve + leak
	if valve+leak < 0 { // below the air, what is open to it lets air in
		in, out, valve, leak = -out, 0, 0, 0
	}
	d[yHeadCO2] = flux + q.supply - out*share
	d[yHeadAir] = in - out*(1-share)
	d[yVented], d[yLeaked], d[ySupplied] = valve*share, leak*share, q.supply
	d[yAirOut], d[yAirIn] = out*(1-share), in
	d[yWaterLost] = vapour(out, (s.HeadCO2+s.HeadAir)/g.beta, g.vapour)
}

// linger is what matures and settles.
func (f *Full) linger(s *State, y, d []float64, grown, used float64) {
	convert, reduce := yeast.DiketoneRates(s.Temperature, y[ySuspended])
	d[ySuspended] = grown - s.settling(used)*y[ySuspended]
	d[yAcetolactate] = yeast.AcetolactateFormed(grown) - convert*y[yAcetolactate]
	d[yDiacetyl] = convert*y[yAcetolactate] - reduce*y[yDiacetyl]
}

// heat is the balance of beer and air: ferment, belt, compressor, walls.
func (f *Full) heat(t float64, y, d []float64, power float64) {
	room, ua := f.p.room(t), float64(f.p.UA)
	around := room
	if fr := f.p.around(&f.c); fr != nil {
		around = y[yAround]
		into := ua*(f.beer(t, y)-around) + float64(fr.UA)*(room-around)
		if f.mode.compressor {
			into -= float64(fr.Capacity)
		}
		d[yAround] = into / fr.Heat
	}
	if f.c.Track != nil {
		return
	}
	if f.mode.belt {
		power += float64(f.p.Belt)
	}
	d[yBeer] = (power + ua*(around-y[yBeer])) / (f.s.Wort * cpBeer)
}
