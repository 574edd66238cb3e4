package estimate

import (
	"math"

	"spile/batch"
	"spile/portable"
)

// Instrument is how one instrument errs, SI: a fixed offset for the batch and a scatter of each reading.
type Instrument struct {
	Mean    float64 // of the offset, as learnt
	Offset  float64 // sd
	Scatter float64 // sd, beside what its hand hangs
	// Stick is how far the hand of a dial hangs behind the pressure either way, its median; 0: it does not.
	Stick float64
	// Scale is the sd of a relative error of the whole instrument, for meters that add up.
	Scale float64
	// InBeer says that it swims in the vessel: it feels dissolved gas, and drifts by Drift a day, sd.
	InBeer bool
	Drift  float64
	// Broken says that some are far off: the offset has tails heavier than normal, with the same sd.
	Broken bool
}

const gravityPoint = 0.001

// usual instruments by quantity: the name that an empty name stands for.
var usual = map[batch.Quantity]string{
	batch.Gravity: "hydrometer", batch.Pressure: "dial", batch.Temperature: "strip",
	batch.VesselMass: "scale", batch.CylinderMass: "scale", batch.VentedGas: "meter",
	batch.AirTemperature: "probe",
}

// instruments lists what is known of each. Offsets of weights are those of a tare that nobody wrote down.
var instruments = map[batch.Quantity]map[string]Instrument{
	batch.Gravity: {
		// of a sample that was spun free of bubbles and corrected for its temperature where it was told
		"hydrometer": {Offset: 1 * gravityPoint, Scatter: 0.7 * gravityPoint, Broken: true},
		// 0.3 of its own and 0.4 that ferments wander about any smooth curve (median misfit of the measured ferments)
		"density meter": {Offset: 0.2 * gravityPoint, Scatter: 0.5 * gravityPoint},
		"floating":      {Offset: 3 * gravityPoint, Scatter: 0.3 * gravityPoint, InBeer: true, Drift: 0.2 * gravityPoint},
	},
	batch.Pressure: {
		// its hand sticks by about half a mark; what it sticks and what it scatters make half a psi
		"dial":       {Offset: 1 * psi, Scatter: math.Sqrt(0.5*0.5-0.2*0.2) * psi, Stick: 0.2 * psi, Broken: true},
		"transducer": {Offset: 0.3 * psi, Scatter: 0.05 * psi},
	},
	batch.Temperature: {
		"strip": {Offset: 0.7, Scatter: 0.7},
		"probe": {Offset: 0.3, Scatter: 0.1},
	},
	batch.VesselMass: {
		"scale":         {Offset: 5, Scatter: 0.03},
		"hanging scale": {Offset: 5, Scatter: 0.05}, // it swings on its hook, and shows steps of 50 g
	},
	batch.CylinderMass: {"scale": {Offset: 3, Scatter: 0.01}},
	batch.VentedGas:    {"meter": {Offset: 0.002, Scatter: 0.002, Scale: 0.05}},
	// in the air of a fridge it shows half a degree of the wrong place (common practice, no source)
	batch.AirTemperature: {"probe": {Offset: 0.5, Scatter: 0.5}},
}

// channel is one instrument of one quantity in one batch, with the places of its errors among the unknowns.
type channel struct {
	quantity batch.Quantity
	name     string
	Instrument
	offset int // index in z
	more   int // index in z of its Scale, Drift or Stick, of which no instrument has two; 0: it has none
}

// errsMoreBy names what stands at more.
func (c *channel) errsMoreBy() string {
	switch {
	case c.Drift > 0:
		return "drift"
	case c.Stick > 0:
		return "stick"
	}
	return "scale"
}

// stickSpread is the sd of the logarithm of how far a dial sticks (assumption).
const stickSpread = 0.5

// spread is the sd of a reading about the truth and the fixed offset, where nobody follows how the hand hangs.
func (ins *Instrument) spread() float64 { return math.Hypot(ins.Scatter, ins.Stick) }

// lookup finds the instrument of a reading; a name that is not known counts as the usual one.
func lookup(q batch.Quantity, name string) (string, Instrument) {
	if ins, ok := instruments[q][name]; ok {
		return name, ins
	}
	if name == "" {
		name = usual[q]
	}
	return name, instruments[q][usual[q]]
}

// shows is what the channel would show of a true value.
func (c *channel) shows(truth float64, z []float64) float64 {
	if c.Scale > 0 {
		truth *= portable.Exp(c.Scale * z[c.more])
	}
	return truth + c.off(z)
}

// off is the channel's fixed offset, SI.
func (c *channel) off(z []float64) float64 {
	x := z[c.offset]
	if c.Broken {
		x = portable.Sinh(heavyTail*x) / heavyTail / heavySpread
	}
	return c.Mean + c.Offset*x
}

// NineInTen is how many standard deviations to either side nine cases of ten lie within, where errors are normal.
const NineInTen = 1.645

// ReadingError is the error of one reading by its instrument, nine times in ten
// to either side, in SI: its fixed offset and its scatter together.
func ReadingError(r batch.Reading) float64 {
	_, ins := lookup(r.Quantity, r.Instrument)
	return NineInTen * math.Hypot(ins.Offset, ins.spread())
}

// ReadingScatter is the same where the fixed offset is known and taken out.
func ReadingScatter(r batch.Reading) float64 {
	_, ins := lookup(r.Quantity, r.Instrument)
	return NineInTen * ins.spread()
}

// Shown is the band of what the instrument of r would show where the truth has band b: its errors in quadrature.
func Shown(r batch.Reading, b Band) Band {
	e := ReadingError(r)
	return Band{b.P50 - math.Hypot(b.P50-b.P05, e), b.P50, b.P50 + math.Hypot(b.P95-b.P50, e)}
}
