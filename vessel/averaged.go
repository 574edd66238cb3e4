package vessel

import (
	"math"

	"spile/co2"
	"spile/unit"
	"spile/wort"
	"spile/yeast"
)

const (
	longestStep = 3600.0 // s
	heatUsed    = wort.HeatOfFermentation
	// clearing of yeast in still beer, 1/s: e-fold in two and a half days (assumption, carried as uncertain).
	cpBeer   = 4050.0 // J/(kg K) of beer; error 3 %
	clearing = 1 / (2.5 * unit.Day)
)

// Averaged is the closure for inference and planning: the thermostat is a duty,
// the valve and the regulator are levels, the gas film is solved exactly over each
// step. Reusable: Reset starts another batch without allocating.
type Averaged struct {
	p        Params
	brew     brew
	s        State
	c        Controls
	l        ledger
	pace     yeast.Pace
	paceT    float64 // K at which pace was worked out
	paceOver float64 // Pa
}

// NewAveraged makes a simulator; call Reset before use.
func NewAveraged() *Averaged { return &Averaged{} }

// Reset starts p at pitching. p is copied.
func (a *Averaged) Reset(p *Params) {
	a.p = *p
	a.brew = newBrew(float64(p.Original), p.Attenuation)
	a.paceT = 0
	a.s = start(&a.p, &a.brew)
	a.c = Controls{Relief: 0, Gas: GasOff}
	a.l = ledger{startCO2: a.s.HeadCO2 + a.s.Dissolved, startAir: a.s.HeadAir}
}

// start is the state at pitching: wort without gas under air.
func start(p *Params, b *brew) State {
	s := State{X: p.Yeast.Start, Suspended: p.Yeast.Start, Left: 1, Temperature: float64(p.Start), Around: float64(p.Ambient),
		Usable: b.usable, Cylinder: float64(p.Cylinder), p: p, brew: b}
	s.Wort = float64(p.Liquid) / b.flat(0, s.Temperature)
	g := s.gasAt()
	n := g.beta * (float64(p.Atmosphere) - g.vapour)
	s.HeadAir, s.HeadCO2 = n*p.Air, n*(1-p.Air)
	s.derive()
	return s
}

// Set changes the controls from now on.
func (a *Averaged) Set(c Controls) { a.c = c }

// State is the state now, valid until the next call.
func (a *Averaged) State() *State {
	a.s.derive()
	return &a.s
}

// Advance runs to t seconds since pitching; a t that has passed is no step. The
// error says where the figures left the physical.
func (a *Averaged) Advance(t float64) error {
	span := t - a.s.Time
	if span <= 0 {
		return nil
	}
	n := math.Ceil(span/longestStep - 1e-9)
	h := span / n
	for range int(n) {
		a.step(h)
	}
	a.s.Time = t
	if !(a.s.Temperature > 0 && a.s.HeadCO2 >= 0 && a.s.Left >= 0) || math.IsInf(a.s.HeadCO2, 0) {
		return &StateError{Time: t, Kelvin: a.s.Temperature, CO2: a.s.HeadCO2}
	}
	return nil
}

// step advances by h seconds: yeast at the temperature of mid-step, then heat, then gas.
func (a *Averaged) step(h float64) {
	s := &a.s
	t0 := s.Temperature
	tMid := t0
	if a.c.Track != nil {
		tMid = a.c.Track(s.Time + h/2)
	}
	used := a.ferment(tMid, h)
	heat := used * heatUsed / h // W
	s.Temperature = a.warm(t0, heat, h)
	s.Time += h
	a.gas(used*molPerExtract, h)
}

// ferment advances the yeast and gives the extract used, kg.
func (a *Averaged) ferment(kelvin, h float64) float64 {
	s := &a.s
	over := a.overpressure()
	if math.Abs(kelvin-a.paceT) > 1e-9 || math.Abs(over-a.paceOver) > 100 {
		a.pace, a.paceT, a.paceOver = a.p.Yeast.Pace(kelvin, over), kelvin, over
	}
	x0, s0 := s.X, s.Left
	if s0 <= 0 {
		return 0
	}
	k := &a.p.Yeast
	n := 1 + math.Floor(math.Min(a.pace.Uptake*math.Max(x0, 0.3)/(k.HalfLeft+s0)*h/0.4, 30))
	dt := h / n
	for range int(n) {
		s.X, s.Left = rungeKutta(k, a.pace, s.X, s.Left, dt)
	}
	grown, used := s.X-x0, (s0-s.Left)*s.Usable*s.Wort
	a.settle(grown, used/h, h)
	return used
}

// rungeKutta is one classical fourth-order step of the kinetics.
func rungeKutta(k *yeast.Kinetics, p yeast.Pace, x, s, h float64) (float64, float64) {
	x1, s1 := k.Slopes(p, x, s)
	x2, s2 := k.Slopes(p, x+h/2*x1, s+h/2*s1)
	x3, s3 := k.Slopes(p, x+h/2*x2, s+h/2*s2)
	x4, s4 := k.Slopes(p, x+h*x3, s+h*s3)
	x += h / 6 * (x1 + 2*x2 + 2*x3 + x4)
	s += h / 6 * (s1 + 2*s2 + 2*s3 + s4)
	return x, math.Max(s, 0)
}

// settle moves yeast out of suspension where little gas stirs it, and the diketones along.
func (a *Averaged) settle(grown, rate, h float64) {
	s := &a.s
	stir := rate / s.Wort / 2e-7 // 1 at 17 g of extract per kg and day
	s.Suspended = (s.Suspended + grown) * math.Exp(-clearing*h/(1+stir*stir))
	convert, reduce := yeast.DiketoneRates(s.Temperature, s.Suspended)
	s.Acetolactate += yeast.AcetolactateFormed(grown)
	changed := s.Acetolactate * -math.Expm1(-convert*h)
	s.Acetolactate -= changed
	s.Diacetyl = (s.Diacetyl + changed) * math.Exp(-reduce*h)
}

// overpressure is the partial pressure of CO2 over one atmosphere that the yeast feels: that of the gas dissolved.
func (a *Averaged) overpressure() float64 {
	if a.s.HeadAir > 20*a.s.HeadCO2 {
		return 0
	}
	n := a.s.HeadCO2 + a.s.HeadAir
	return a.s.HeadCO2/n*a.lastPressure() - unit.Atmosphere
}

func (a *Averaged) lastPressure() float64 {
	return (a.s.HeadCO2 + a.s.HeadAir) * gasR * a.s.Temperature / a.s.headspace()
}

// warm gives the beer temperature after h seconds with the heat of the ferment (W):
// an exact step of C dT/dt = heat + control - UA (T - air), with the control that just reaches the wanted temperature, within its means.
func (a *Averaged) warm(t0, heat, h float64) float64 {
	s, p := &a.s, &a.p
	if a.c.Track != nil {
		return a.c.Track(s.Time + h)
	}
	room := p.room(s.Time + h/2)
	ua := float64(p.UA)
	decay := math.Exp(-ua * h / (s.Wort * cpBeer))
	toward := room + heat/ua
	air := room
	if a.c.Hold > 0 {
		wanted := (float64(a.c.Hold) - t0*decay) / (1 - decay)
		switch {
		case wanted > toward:
			power := math.Min(float64(p.Belt), ua*(wanted-toward))
			toward += power / ua
			a.l.heated += power * h
		case p.Fridge != nil:
			air = math.Max(p.Fridge.least(t0, room, ua), room-(toward-wanted))
			air = math.Min(air, room)
			toward = air + heat/ua
		}
	}
	s.Around = air
	return toward + (t0-toward)*decay
}

// least is the coldest air, K, that f can keep around beer at t0 in a room: its own limit, or where its capacity ends.
func (f *Fridge) least(t0, room, ua float64) float64 {
	byPower := (ua*t0 + float64(f.UA)*room - float64(f.Capacity)) / (ua + float64(f.UA))
	return math.Max(float64(f.Coldest), byPower)
}

// gas advances the gas by h seconds in which made mol of CO2 were made.
func (a *Averaged) gas(made, h float64) {
	s := &a.s
	s.Made += made
	s.Rate = made / h
	a.l.made += made
	g := s.gasAt()
	if a.feed(&g) { // compressibility is that of the pressure fed to
		g = s.gasAt()
		a.feed(&g)
	}
	low, high, open := a.levels(&g)
	left := h
	for range 3 { // sealed, then at a level, then perhaps sealed again
		if left <= 1e-6 {
			break
		}
		left = a.piece(&g, low, high, open, s.Rate, left)
	}
	a.leak(&g, h)
}

// levels gives the head gas, mol, at which the regulator feeds (low) and the valve blows (high); open lets air back in.
func (a *Averaged) levels(g *gas) (low, high float64, open bool) {
	p := &a.p
	atm := float64(p.Atmosphere)
	top := math.Inf(1)
	switch {
	case a.c.Relief == 0:
		top, open = atm, true
	case !math.IsInf(float64(a.c.Relief), 1):
		top = math.Max(p.opens(a.c.Relief)-float64(p.ReliefReseat)/2, atm)
	}
	if p.SafetyRelief > 0 {
		top = math.Min(top, atm+float64(p.SafetyRelief)-float64(p.ReliefReseat)/2)
	}
	bottom := math.Inf(-1)
	if a.c.Gas >= 0 && a.s.Cylinder > 0 {
		bottom = math.Min(atm+float64(a.c.Gas), top)
	}
	return g.beta * (bottom - g.vapour), g.beta * (top - g.vapour), open
}

// feed brings the headspace to the regulator at once where it is below (seconds,
// beside a step of an hour), and says whether that was much.
func (a *Averaged) feed(g *gas) (much bool) {
	low, _, _ := a.levels(g)
	n := a.s.HeadCO2 + a.s.HeadAir
	lack := low - n
	if lack > 0 {
		a.s.HeadCO2 += a.supply(lack)
	}
	return lack > 0.01*n
}

// supply takes up to mol from the cylinder and gives what it gave.
func (a *Averaged) supply(mol float64) float64 {
	given := math.Min(mol, a.s.Cylinder/molarCO2)
	a.s.Cylinder = math.Max(a.s.Cylinder-given*molarCO2, 0)
	a.l.supplied += given
	return given
}

// piece runs the gas for up to h seconds in one regime and gives what time is left.
func (a *Averaged) piece(g *gas, low, high float64, open bool, rate, h float64) float64 {
	s := &a.s
	n0 := s.HeadCO2 + s.HeadAir
	d1, c1 := a.sealed(g, rate, h)
	n1 := c1 + s.HeadAir
	const grain = 1e-9
	switch {
	case n1 > high && n0 >= high*(1-grain):
		a.level(g, high, open, rate, h)
		return 0
	case n1 < low && n0 <= low*(1+grain):
		a.level(g, low, false, rate, h)
		return 0
	case open && n1 < high:
		a.level(g, high, true, rate, h)
		return 0
	case n1 > high || n1 < low:
		edge := math.Min(math.Max(n1, low), high)
		share := math.Min(math.Max((edge-n0)/(n1-n0), 0), 1)
		total := s.Dissolved + s.HeadCO2 + rate*share*h
		s.HeadCO2 = math.Min(math.Max(edge-s.HeadAir, 0), total)
		s.Dissolved = total - s.HeadCO2
		return h * (1 - share)
	}
	s.Dissolved, s.HeadCO2 = d1, c1
	return 0
}

// sealed gives dissolved and head CO2 after h seconds without flow: the gap from equilibrium decays exactly.
func (a *Averaged) sealed(g *gas, rate, h float64) (dissolved, head float64) {
	s := &a.s
	ratio := g.alpha / g.beta
	gap := s.Dissolved - ratio*s.HeadCO2
	k := s.transfer(gap, rate, s.volume()) * (1 + ratio)
	settled := rate / k
	gap = settled + (gap-settled)*math.Exp(-k*h)
	total := s.Dissolved + s.HeadCO2 + rate*h
	head = math.Max((total-gap)/(1+ratio), 0)
	return total - head, head
}

// level keeps the head gas at n mol for h seconds: what the beer gives is vented, what it takes is fed.
func (a *Averaged) level(g *gas, n float64, open bool, rate, h float64) {
	s := &a.s
	a.release(s.HeadCO2+s.HeadAir-n, open)
	ratio := g.alpha / g.beta
	k := s.transfer(s.Dissolved-ratio*s.HeadCO2, rate, s.volume())
	settled, decay := rate/k, math.Exp(-k*h)
	after := func(head float64) float64 { return ratio*head + settled + (s.Dissolved-ratio*head-settled)*decay }
	out := s.Dissolved + rate*h - after(s.HeadCO2) // mol leaving the beer
	// air is swept out, or CO2 taken, along the step: once more with the head of mid-step
	mid := (s.HeadCO2 + a.headAfter(out, n)) / 2
	d1 := after(mid)
	out = s.Dissolved + rate*h - d1
	s.Dissolved = d1
	if out < 0 {
		a.draw(-out, open)
		return
	}
	air, head := s.HeadAir, s.HeadCO2
	s.HeadCO2 = a.headAfter(out, n)
	s.HeadAir = n - s.HeadCO2
	a.l.vented += head + out - s.HeadCO2
	a.l.airOut += air - s.HeadAir
	a.vapour(out)
}

// headAfter is the CO2 in a headspace of n mol after mol of CO2 swept through it, or was taken from it.
func (a *Averaged) headAfter(mol, n float64) float64 {
	s := &a.s
	if mol < 0 {
		return math.Max(s.HeadCO2+mol, 0)
	}
	return math.Max(n-s.HeadAir*math.Exp(-mol/n), 0)
}

// draw moves mol from the headspace into the beer (booked there already) and makes
// it up: from the cylinder, or from the air through an open valve.
func (a *Averaged) draw(mol float64, open bool) {
	s := &a.s
	if open {
		taken := math.Min(mol, s.HeadCO2)
		s.Dissolved -= mol - taken // the head has no more to give
		s.HeadCO2 -= taken
		s.HeadAir += taken
		a.l.airIn += taken
		return
	}
	given := a.supply(mol)
	short := math.Min(mol-given, s.HeadCO2)
	s.HeadCO2 -= short
	s.Dissolved -= mol - given - short
}

// release lets mol of head gas go at its composition; a negative amount comes in as air where open.
func (a *Averaged) release(mol float64, open bool) {
	s := &a.s
	switch {
	case mol > 0:
		n := s.HeadCO2 + s.HeadAir
		share := math.Min(mol/n, 1)
		co2Out, airOut := s.HeadCO2*share, s.HeadAir*share
		s.HeadCO2 -= co2Out
		s.HeadAir -= airOut
		a.l.vented += co2Out
		a.l.airOut += airOut
		a.vapour(co2Out + airOut)
	case mol < 0 && open:
		s.HeadAir -= mol
		a.l.airIn -= mol
	}
}

// vapour is the water that goes with dry gas let out.
func (a *Averaged) vapour(mol float64) {
	g := co2.VapourKernel(a.s.Temperature)
	dry := math.Max(float64(a.p.Atmosphere)-g, 1)
	lost := mol * g / math.Max(a.lastPressure(), dry) * molarH2O
	a.s.WaterLost += lost
	a.l.vapour += lost
}

// leak lets head gas out, or air in, through the leak over h seconds.
func (a *Averaged) leak(g *gas, h float64) {
	s := &a.s
	if a.p.Leak <= 0 {
		return
	}
	n := s.HeadCO2 + s.HeadAir
	settled := g.beta * (float64(a.p.Atmosphere) - g.vapour)
	out := (n - settled) * -math.Expm1(-a.p.Leak*h/g.beta)
	if out < 0 {
		s.HeadAir -= out
		a.l.airIn -= out
		return
	}
	share := out / n
	a.l.leaked += s.HeadCO2 * share
	a.l.airOut += s.HeadAir * share
	s.HeadCO2 *= 1 - share
	s.HeadAir *= 1 - share
}
