package estimate

import (
	"errors"
	"math"
	"time"

	"spile/bayes"
	"spile/unit"
	"spile/vessel"
	"spile/wording"
)

// jointDraws is how many pairings of members are weighed: enough that a sum known to a tenth of its spread keeps hundreds.
const jointDraws = 20_000

// beyond is how many sds from the sum no pairing is taken for true.
const beyond = 10

// CylinderLoss is what one cylinder that feeds several vessels lost between two weighings, with what the weighings are
// unsure by, a standard deviation.
type CylinderLoss struct {
	From, To time.Time
	Mass     unit.Mass
	SD       unit.Mass
}

// ShareCylinder ties beliefs about vessels that hang on one cylinder: its loss is one sum, of which each vessel took its part.
// The beliefs come back with their members weighed anew; an error where the loss contradicts all of them.
func ShareCylinder(bs []*Belief, loss CylinderLoss) ([]*Belief, error) {
	sd := math.Max(float64(loss.SD), 0.001) // of a scale that shows grams
	return together(bs, func(bl *Belief, w *world, z []float64) float64 {
		from := float64(bl.followed(w, z, loss.From).Supplied)
		return float64(bl.followed(w, z, loss.To).Supplied) - from
	}, func(taken []float64) float64 {
		sum := 0.0
		for _, x := range taken {
			sum += x
		}
		d := (float64(loss.Mass) - sum) / sd
		if math.Abs(d) > beyond {
			return math.Inf(-1)
		}
		return logStudent(d)
	})
}

// alikeSD is how far the air around two vessels in one fridge differs, K (assumption).
const alikeSD = 0.5

// ShareAir ties beliefs about vessels in one fridge: what stands between wanted and kept temperature is nearly the same for all.
func ShareAir(bs []*Belief) ([]*Belief, error) { return alike(bs, HoldOffset, alikeSD) }

// oneRegulatorSD is how far the gas from one regulator differs between two vessels that hang on it, Pa: their valves
// against backflow open at a little (assumption).
const oneRegulatorSD = 0.2 * psi

// ShareRegulator ties beliefs about vessels that hang on one regulator: it errs by nearly the same for all.
func ShareRegulator(bs []*Belief) ([]*Belief, error) {
	return alike(bs, RegulatorOffset, oneRegulatorSD)
}

// alike ties beliefs in which one unknown differs by no more than sd about what they have in common.
func alike(bs []*Belief, u Unknown, sd float64) ([]*Belief, error) {
	return together(bs, func(bl *Belief, _ *world, z []float64) float64 {
		return bl.prior.value(u, z[u])
	}, func(own []float64) float64 {
		mean := 0.0
		for _, x := range own {
			mean += x / float64(len(own))
		}
		sum := 0.0
		for _, x := range own {
			sum -= (x - mean) * (x - mean) / (2 * sd * sd)
		}
		return sum
	})
}

var errApart = wording.Unsaid("what was measured of all vessels together does not fit what is believed of each: look for gas lost between them")

// together weighs pairings of members of all beliefs by what is known of one number of each, jointly.
func together(bs []*Belief, read func(bl *Belief, w *world, z []float64) float64, logWeight func(x []float64) float64) ([]*Belief, error) {
	values := make([][]float64, len(bs))
	posteriors := make([]*bayes.Posterior, len(bs))
	for k, bl := range bs {
		posteriors[k] = bl.posterior
		values[k] = make([]float64, len(bl.posterior.Z))
		bl.each(len(values[k]), func(w *world, i int) { values[k][i] = read(bl, w, bl.posterior.Z[i]) })
	}
	x := make([]float64, len(bs))
	tied, err := bayes.Together(posteriors, jointDraws, bs[0].options.Seed, func(members []int) float64 {
		for k, m := range members {
			x[k] = values[k][m]
		}
		return logWeight(x)
	})
	if errors.Is(err, bayes.ErrTooFew) {
		return nil, errApart
	}
	if err != nil {
		return nil, err
	}
	out := make([]*Belief, len(bs))
	for k, bl := range bs {
		b := *bl
		b.posterior = tied[k]
		out[k] = &b
	}
	return out, nil
}

// followed is the ledger of one member at a time up to now.
func (bl *Belief) followed(w *world, z []float64, at time.Time) vessel.Ledger {
	until := math.Max(math.Min(at.Sub(bl.batch.Pitched).Seconds(), bl.tl.now), 0)
	(&pilot{bl: bl, w: w}).start(z, until)
	return w.sim.Ledger()
}
