package estimate

import (
	"math"

	"spile/batch"
	"spile/co2"
	"spile/portable"
	"spile/unit"
	"spile/vessel"
	"spile/wort"
	"spile/yeast"
)

// world is one batch as one set of unknowns would have it; one per worker, reused.
type world struct {
	batch     *batch.Batch
	tl        *timeline
	prior     Prior
	sim       *vessel.Averaged
	params    vessel.Params
	controls  vessel.Controls
	z         []float64
	course    []float64 // K, the measured part of the temperature under z
	predicted []float64 // by datum, what its instrument would show
	hands     []float64 // by channel, Pa gauge where the hand of a dial hangs
	heard     []float64 // by note, how far the vessel is from what was noticed, in its scatter
	failed    bool
}

func newWorld(b *batch.Batch, tl *timeline, prior Prior) *world {
	w := &world{batch: b, tl: tl, prior: prior, sim: vessel.NewAveraged()}
	w.predicted, w.hands = make([]float64, len(tl.data)), make([]float64, len(tl.channels))
	return w
}

// studentNu is the tail of the errors of a reading: outliers are expected.
const studentNu = 5

// likelihood is a world seen from those unknowns that its readings can speak of; the others rest at their prior mean.
type likelihood struct {
	*world
	active    []int
	full      []float64 // all unknowns
	residuals []float64
}

func newLikelihood(b *batch.Batch, tl *timeline, prior Prior, active []int) *likelihood {
	l := &likelihood{world: newWorld(b, tl, prior), active: active, full: make([]float64, tl.dim())}
	l.sim.Unseen = true
	return l
}

// LogLikelihood of the active unknowns z given all readings, up to a constant.
func (l *likelihood) LogLikelihood(z []float64) float64 {
	var sum float64
	l.residuals = l.Residuals(z, l.residuals)
	for _, r := range l.residuals {
		sum += logStudent(r)
	}
	if math.IsNaN(sum) {
		return math.Inf(-1)
	}
	return sum
}

// Nu is the number of degrees of freedom of the errors.
func (l *likelihood) Nu() float64 { return studentNu }

// Residuals are (predicted - read)/scatter of every datum under the active unknowns z.
func (l *likelihood) Residuals(z, dst []float64) []float64 {
	for i, k := range l.active {
		l.full[k] = z[i]
	}
	l.past(l.full)
	dst = dst[:0]
	for i := range l.tl.data {
		d := &l.tl.data[i]
		r := (l.predicted[i] - d.value) / d.scatter
		if l.failed {
			r = math.NaN()
		}
		dst = append(dst, r)
	}
	dst = append(dst, l.heard...)
	for _, s := range l.tl.saws {
		dst = append(dst, (l.prior.natural(ReliefReseat, l.z[ReliefReseat])-s)/sawScatter)
	}
	for _, g := range l.tl.forced {
		dst = append(dst, (float64(vessel.TerminalGravity(&l.params))+l.channelOffset(batch.Gravity)-g)/forcedScatter)
	}
	return dst
}

// forcedScatter is the sd of the end of a sample fermented out warm about the batch's own limit: two readings of a hydrometer,
// and half a point of difference between the two (assumption). The hydrometer is the one that reads the others, and shares its offset.
const forcedScatter = 1.3 * gravityPoint

// past runs from pitching to the last datum, predicting each.
func (w *world) past(z []float64) {
	w.start(z)
	left := len(w.tl.data) + w.tl.notes
	for i := range w.tl.items {
		if left == 0 {
			return
		}
		it := &w.tl.items[i]
		w.apply(it)
		if it.reading >= 0 || it.note() {
			left--
		}
	}
}

// unknown gives u under the z in force.
func (w *world) unknown(u Unknown) float64 { return w.prior.value(u, w.z[u]) }

// original is the original gravity under the z in force.
func (w *world) original() unit.Gravity {
	return w.batch.Wort.Gravity + unit.Gravity(gravityPoint*w.unknown(OriginalGravity))
}

// start lays the vessel out as z says, at pitching.
func (w *world) start(z []float64) {
	w.z, w.failed, w.heard = z, false, w.heard[:0]
	clear(w.hands)
	w.course = w.tl.track.course(z, w.course)
	b, p := w.batch, &w.params
	*p = vessel.Standard(b.Vessel.Capacity, b.Vessel.Diameter, b.Wort.Volume, wort.ExtractFromGravity(w.original()),
		b.Yeast.Kind, w.startTemperature(), b.Place.Ambient, atmosphere(b))
	if w.tl.leftToRoom() {
		p.Ambient += unit.Temperature(roomOff(b) * z[HoldOffset])
		p.Start = p.Ambient
	}
	p.Attenuation = math.Max(w.unknown(AttenuationLimit), w.reached(p.Original))
	p.Yeast = w.kinetics()
	p.Air = w.unknown(StartAir)
	p.Beer = co2.BeerFactor{Level: w.unknown(BeerLevel), Slope: w.unknown(BeerSlope)}
	p.KLaStill *= w.unknown(StillTransfer)
	p.KLaBubbling *= w.unknown(BubblingTransfer)
	p.UA *= unit.Conductance(w.unknown(HeatLoss))
	p.Leak = leakConductance(w.unknown(Leak))
	p.ReliefOffset = unit.Gauge(w.unknown(ReliefOffset))
	p.ReliefReseat = unit.Gauge(w.unknown(ReliefReseat))
	if b.Vessel.SafetyRelief != nil {
		p.SafetyRelief = *b.Vessel.SafetyRelief
	}
	p.Cylinder = w.gas()
	w.heating(p)
	w.controls = vessel.Controls{Relief: defaultRelief(w.tl), Gas: vessel.GasOff}
	if w.tl.track.end() >= 0 {
		w.controls.Track = w.tracked
	}
	w.sim.Reset(p)
	w.sim.Set(w.controls)
}

// unnamedCylinder is the gas in a cylinder that somebody turned on and nobody told of: a home brewer's, full. Common
// practice, no source.
const unnamedCylinder unit.Mass = 2.6

// gas is what the cylinder held at pitching, 0 where there is none.
func (w *world) gas() unit.Mass {
	switch {
	case w.batch.Gas != nil:
		return w.batch.Gas.Content
	case w.tl.gassed:
		return unnamedCylinder
	}
	return 0
}

// reached is the attenuation that a sample of this wort has reached in the warm, less what two such samples may differ by: the
// limit is no lower, whatever the vessel does. 0 without a sample.
func (w *world) reached(original unit.Extract) float64 {
	var most float64
	for _, g := range w.tl.forced {
		end := wort.ExtractFromGravity(unit.Gravity(g - w.channelOffset(batch.Gravity) + 2*forcedScatter))
		most = math.Max(most, 1-float64(end/original))
	}
	return most
}

// kinetics is the yeast under the z in force.
func (w *world) kinetics() yeast.Kinetics {
	k := w.batch.Yeast.Kind.Kinetics()
	growth, lag := w.unknown(Growth), w.unknown(Lag)
	k.Growth = growth / unit.Hour
	k.Uptake = w.unknown(Uptake) / unit.Hour
	k.Start = 1 / (1 + portable.Exp(math.Min(growth*lag, 60)))
	k.HalfLeft = w.unknown(TailSpeed)
	k.ColdSlope = w.unknown(ColdSlope)
	k.Wander = [yeast.WanderModes]float64{w.unknown(WanderSlope), w.unknown(WanderBend), w.unknown(WanderTwist)}
	return k
}

// atmosphere is the local air pressure by the standard atmosphere.
func atmosphere(b *batch.Batch) unit.Pressure { return unit.StandardAtmosphere(b.Place.Altitude) }

// leakConductance turns g/day at one bar above the air into mol/(s Pa).
func leakConductance(gramsPerDay float64) float64 {
	return gramsPerDay * unit.Gram / co2.MolarMass / unit.Day / unit.Bar
}

// heating gives the vessel its belt and fridge. Where neither is named, a wanted
// temperature is taken as kept, since somebody keeps it.
func (w *world) heating(p *vessel.Params) {
	pl := &w.batch.Place
	p.Belt = pl.Belt
	if pl.Fridge != nil {
		p.Fridge = vessel.UsualFridge(pl.Fridge.Coldest)
	}
	if pl.Belt == 0 && pl.Fridge == nil {
		p.Belt = 200
		p.Fridge = vessel.UsualFridge(unit.Celsius(-5))
		p.Fridge.Aside = true
	}
}

func (w *world) startTemperature() unit.Temperature {
	tl := w.tl
	if tl.track.end() >= 0 {
		return unit.Temperature(w.tracked(0))
	}
	for _, it := range tl.items {
		if it.set != nil && it.set.Hold != nil && it.at <= unit.Hour {
			return *it.set.Hold
		}
	}
	return w.batch.Place.Ambient
}

// tracked is the temperature of the beer at t, as the thermometers tell it.
func (w *world) tracked(t float64) float64 { return w.tl.track.between(w.course, t) }

// defaultRelief is the working valve where nobody named its setting: open, or
// just above the highest pressure seen.
func defaultRelief(tl *timeline) unit.Gauge {
	high := 0.0
	for i := range tl.data {
		if tl.channels[tl.data[i].channel].quantity == batch.Pressure {
			high = math.Max(high, tl.data[i].value)
		}
	}
	return unit.Gauge(high)
}

// apply brings the vessel to the time of it and does what it says.
func (w *world) apply(it *item) {
	w.advance(it.when(w.z))
	w.drag()
	if it.event != nil {
		e := it.letDown(w.z)
		w.do(&e)
		w.drag()
	}
	if it.set != nil {
		w.set(it.set)
	}
	if it.fault != nil {
		w.sim.Break(*it.fault)
	}
	if it.reading >= 0 {
		w.predicted[it.reading] = w.shows(&w.tl.data[it.reading])
	}
}

// advance runs to t, leaving the measured temperature behind at its last reading.
func (w *world) advance(t float64) {
	end := w.tl.track.end()
	if w.controls.Track != nil && t > end {
		w.advanceTo(end)
		w.controls.Track = nil
		if w.controls.Hold == 0 { // nobody named a temperature: it is kept where it was
			w.controls.Hold = w.sim.State().Beer()
		}
		w.sim.Set(w.actual(w.controls))
	}
	w.advanceTo(t)
}

func (w *world) advanceTo(t float64) {
	if t <= w.sim.State().Time {
		return
	}
	if err := w.sim.Advance(t); err != nil {
		w.failed = true
	}
}

// hissMargin is how far above the gas a working valve must open for nobody to hear it, Pa (assumption).
const hissMargin = 0.5 * psi

// A ferment that nothing cools warms itself: it stands 1 to 3 K above its air while
// brisk, part of which the last reading shows already. In the cold it makes little heat.
// Assumption; HoldOffset carries the error.
const (
	fermentWarmth                  = 0.7    // K
	warmHold      unit.Temperature = 288.15 // K
)

// actual is what comes of the controls as set: the temperature kept is not quite
// the one wanted, nor is the gas quite what the regulator shows; and a valve that hisses away the cylinder's gas is heard and set higher,
// as far as the vessel allows.
func (w *world) actual(c vessel.Controls) vessel.Controls {
	if c.Hold != 0 && c.Track == nil {
		kept := w.unknown(HoldOffset)
		if !thermostat(w.batch) && c.Hold > warmHold {
			kept += fermentWarmth
		}
		c.Hold += unit.Temperature(kept)
	}
	if c.Gas > 0 {
		c.Gas = max(c.Gas+unit.Gauge(w.unknown(RegulatorOffset)), 0)
	}
	if c.Gas > 0 { // a valve at work stands half way between its opening and its closing
		silent, plate := c.Gas+hissMargin+w.params.ReliefReseat/2-w.params.ReliefOffset, &w.batch.Vessel
		if highest, rated := vessel.HighestValve(plate.Rating, plate.SafetyRelief); rated {
			silent = min(silent, highest)
		}
		c.Relief = max(c.Relief, silent)
	}
	return c
}

// set changes the controls as s says.
func (w *world) set(s *batch.Setting) {
	Turn(&w.controls, s)
	w.sim.Set(w.actual(w.controls))
}

// Turn changes controls as a setting says; what it leaves open stays.
func Turn(c *vessel.Controls, s *batch.Setting) {
	if s.Hold != nil {
		c.Hold = *s.Hold
	}
	if s.Relief != nil {
		c.Relief = *s.Relief
	}
	if s.Gas != nil {
		c.Gas = *s.Gas
	}
	if s.GasOff {
		c.Gas = vessel.GasOff
	}
}

// refill is how long the headspace takes to fill again after beer was drawn, s.
const refill = 60.0

// pourSD is the sd of the logarithm of how much more is poured than written: glasses are filled by eye (assumption).
const pourSD = 0.08

// do carries out an event. What only was noticed, or read, changes nothing.
func (w *world) do(e *batch.Event) {
	switch e.Kind {
	case batch.VentedTo:
		w.sim.Vent(e.From+unit.Gauge(w.hangs()), e.To)
	case batch.SampleTaken:
		w.sim.Sample(e.Volume)
		w.advanceTo(w.sim.State().Time + refill)
	case batch.Poured:
		w.sim.Pour(e.Volume * unit.Volume(portable.Exp(pourSD*w.z[w.tl.poured])))
		w.advanceTo(w.sim.State().Time + refill)
	case batch.Opened:
		w.sim.Open()
	case batch.Shaken:
		w.sim.Shake(float64(e.For))
	case batch.DryHopped:
		w.sim.DryHop(e.Mass, 0)
	case batch.Noticed:
		w.heard = append(w.heard, w.notice(e.Words))
	}
}

// shows is what the instrument of d would show now.
func (w *world) shows(d *datum) float64 {
	st, c := w.sim.State(), &w.tl.channels[d.channel]
	var truth float64
	switch c.quantity {
	case batch.Gravity:
		truth = float64(st.Gravity())
		if c.InBeer { // a float feels the gas that a degassed sample has lost, and drifts as yeast settles on it
			truth += float64(st.Volumes()) * perVolume
			truth += c.Drift * w.z[c.more] * d.at / unit.Day
		}
	case batch.Pressure:
		truth = float64(st.Gauge())
		if c.Stick > 0 {
			truth = w.hands[d.channel]
		}
	case batch.VesselMass:
		truth = float64(st.MassTotal()) + usualTare
	case batch.CylinderMass:
		truth = float64(w.params.Cylinder-w.sim.Ledger().Supplied) + usualTare
	case batch.VentedGas:
		truth = float64(w.sim.Ledger().Vented)
	case batch.AirTemperature:
		truth = w.airNow(d.course)
	}
	return c.shows(truth, w.z)
}

// drag takes the hand of every dial along: it stays where it hangs until the pressure has gone far enough from it, and then
// follows at that distance, behind a pressure that rises and ahead of one that falls: the play of [Krasnoselskii1989].
func (w *world) drag() {
	for i := range w.tl.channels {
		if c := &w.tl.channels[i]; c.Stick > 0 {
			gauge, play := float64(w.sim.State().Gauge()), w.play(c)
			w.hands[i] = math.Min(math.Max(w.hands[i], gauge-play), gauge+play)
		}
	}
}

// hangs is by how much more than its dial shows a vessel is let down: the hand hung behind the pressure, and hangs ahead of it then.
func (w *world) hangs() float64 {
	for i := range w.tl.channels {
		if c := &w.tl.channels[i]; c.Stick > 0 && c.name == usual[batch.Pressure] {
			return float64(w.sim.State().Gauge()) - w.hands[i] + w.play(c)
		}
	}
	return 0
}

// play is how far the hand of c hangs behind, or ahead of, the pressure, Pa.
func (w *world) play(c *channel) float64 { return c.Stick * portable.Exp(stickSpread*w.z[c.more]) }

// perVolume is by how much a volume of dissolved CO2 lifts what a float in the beer shows. References: [Weiss1974]
var perVolume = wort.Carbonated(water20, unit.Volumes(1).GramsPerLitre())/water20 - 1

// water20 is the density of water at 20 C, kg/m3.
var water20 = wort.WaterDensity(unit.Celsius(20))

// usualTare is kg; the tare that nobody wrote down is an offset around it.
const usualTare = 5.0
