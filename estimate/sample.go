package estimate

import (
	"math"
	"time"

	"spile/batch"
	"spile/bayes"
	"spile/unit"
)

// Sample is one course of the batch that the readings leave possible, with its weight: for scoring a belief.
type Sample struct {
	Weight        float64
	LogLikelihood float64   // of all readings, up to a constant
	Z             []float64 // by unknown, standard normal beforehand
	// What its instruments would show without scatter, by reading in order of time; temperatures are left out.
	Shown                    []float64
	Terminal                 float64   // SG
	Attenuated90, Finished   float64   // h since pitching, +Inf where it does not come within Hours
	Hours                    []float64 // since pitching, of the series below
	Gravity, Volumes, Kelvin []float64
}

// Samples runs every member of the belief to the end of the programme and beyond.
// It returns an error where none can be run.
func (bl *Belief) Samples() ([]Sample, error) {
	grid := bl.grid()
	futures := make([]future, len(bl.posterior.Z))
	bl.each(len(futures), func(w *world, i int) { bl.run(w, bl.posterior.Z[i], i, grid, &futures[i]) })
	hours := make([]float64, len(grid))
	for i, t := range grid {
		hours[i] = t / unit.Hour
	}
	var out []Sample
	for i := range futures {
		f := &futures[i]
		if f.failed || bl.posterior.Weight[i] == 0 {
			continue
		}
		out = append(out, Sample{
			Weight: bl.posterior.Weight[i], LogLikelihood: bl.posterior.LogLik[i], Z: f.z, Shown: f.now.predicted, Terminal: f.terminal,
			Attenuated90: f.reach[reachAttenuated90] / unit.Hour, Finished: f.reach[reachFinished] / unit.Hour,
			Hours: hours, Gravity: f.gravity, Volumes: f.volumes, Kelvin: f.kelvin,
		})
	}
	if len(out) == 0 {
		return nil, errNoFuture
	}
	return out, nil
}

// Known is the belief of one who knows all of b: a single member, its unknowns
// drawn from the prior with the standard normal numbers given, and the temperature up to then, K by s since pitching; nil where
// it is as kept. The values of the readings of log count for nothing.
func Known(b *batch.Batch, log batch.Log, at time.Time, o Options, course func(s float64) float64, normal func() float64) (*Belief, error) {
	if at.Before(b.Pitched) {
		return nil, ErrBeforePitch
	}
	prior := GenericPrior(b.Yeast.Kind)
	if o.Prior != nil {
		prior = *o.Prior
	}
	tl := newTimeline(b, log, at, nil)
	if course != nil {
		tl.track.follows(course, tl.now)
		tl.heedAir(b) // whose slope is that of the course
	}
	z := make([]float64, tl.dim())
	for i := range z {
		z[i] = normal()
	}
	return &Belief{
		batch: b, tl: tl, prior: prior.forBatch(b), options: o.withDefaults(), at: at, chills: chills(b),
		posterior: &bayes.Posterior{Z: [][]float64{z}, Weight: []float64{1}, LogLik: []float64{0}},
	}, nil
}

// LogLikelihood of the unknowns z given the readings of the belief, as conditioning sees it: unknowns that no reading speaks of rest at their mean.
func (bl *Belief) LogLikelihood(z []float64) float64 {
	p, active := bl.problem()
	x := make([]float64, len(active))
	for i, k := range active {
		x[i] = z[k]
	}
	return p.NewModel().LogLikelihood(x)
}

// Thermometer gives the unknowns of the measured temperature for a truth: those of the fixed offsets of the thermometers, K,
// and of the course of the beer, K by s since pitching, in the order in which they stand in Z.
func (bl *Belief) Thermometer(course func(s float64) float64, offsets ...float64) []float64 {
	return bl.tl.track.unknowns(offsets, course)
}

// Active names the unknowns that the readings can speak of, by their place in Z.
func (bl *Belief) Active() map[int]string {
	names := map[int]string{}
	for _, k := range bl.tl.active() {
		if k < int(numUnknowns) {
			names[k] = Unknown(k).Name()
			continue
		}
		for i := range bl.tl.channels {
			c := &bl.tl.channels[i]
			switch k {
			case c.offset:
				names[k] = c.name + " offset"
			case c.more:
				names[k] = c.name + " " + c.errsMoreBy()
			}
		}
	}
	return names
}

// Widened is p with the spreads of what batches of one yeast share widened by a factor.
func (p Prior) Widened(by float64) Prior {
	for u := range numUnknowns {
		if table[u].of == OfYeast {
			p[u].SD *= by
		}
	}
	return p
}

// ReadingSpread is the sd of the fixed offset of the instrument of r, and that of one reading about it, SI, with the line
// open to a regulator set to gas; nil where it is shut.
func ReadingSpread(r batch.Reading, gas *unit.Gauge) (offset, scatter float64) {
	_, ins := lookup(r.Quantity, r.Instrument)
	if gas != nil {
		ins.Scatter = math.Hypot(ins.Scatter, lineAdds(r.Quantity, *gas))
	}
	if r.Quantity == batch.AirTemperature {
		ins.Scatter = math.Hypot(ins.Scatter, airPasses)
	}
	return ins.Offset, ins.Scatter
}

// ReadingTail is the number of degrees of freedom of the errors of readings.
const ReadingTail = studentNu

// Method is how the belief was found, one of bayes.Importance and bayes.Tempered.
func (bl *Belief) Method() string { return bl.posterior.Method }
