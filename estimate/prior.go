package estimate

import (
	"math"

	"spile/batch"
	"spile/co2"
	"spile/portable"
	"spile/unit"
	"spile/yeast"
)

// Unknown is one thing about a batch that no label says exactly.
type Unknown int

// The unknowns of a batch. Those of its instruments come after them.
const (
	OriginalGravity  Unknown = iota // points off the label or the first sample
	AttenuationLimit                // apparent, fraction
	Lag                             // h at 20 C until half the crop has grown
	Growth                          // 1/h at 20 C
	Uptake                          // 1/h at 20 C
	TailSpeed                       // share of extract left at which uptake is halved
	WanderSlope                     // slow wander of the rate along the ferment, three modes
	WanderBend
	WanderTwist
	ColdSlope        // J/mol below 15 C
	StillTransfer    // factor on the gas transfer of still beer
	BubblingTransfer // factor on the gas transfer of working beer
	HeatLoss         // factor on the heat loss of a bare vessel of this size
	Leak             // g/day at one bar above the air
	ReliefOffset     // Pa
	StartAir         // share of the headspace that is air at pitching
	BeerLevel        // error of the beer factor for carbon dioxide
	BeerSlope        // the same, cold to warm
	HoldOffset       // K between the wanted and the kept temperature from now on
	RegulatorOffset  // Pa between what the regulator keeps and what it is set to
	ReliefReseat     // Pa below its opening pressure at which the working valve closes
	numUnknowns
)

// Group says what an unknown belongs to: past batches with the same yeast, or in the same vessel, sharpen its prior.
type Group int

// The groups.
const (
	OfBatch  Group = iota // nothing carries over
	OfYeast               // the strain, under its name
	OfVessel              // vessel, seals and working valve
)

// shape says how a standard normal variable becomes an unknown.
type shape int

const (
	plain     shape = iota // mean + sd z
	lognormal              // exp(mean + sd z)
	heavy                  // mean + sd sinh(z/2)/(1/2): tails heavier than normal
)

// Normal is the prior of one unknown: Mean and SD of itself, or of its logarithm where the unknown is a rate or a factor.
type Normal struct{ Mean, SD float64 }

// Prior is what is expected of a batch before its first reading.
type Prior [numUnknowns]Normal

// row is one line of the table of priors: every prior with the reason for it.
type row struct {
	name    string
	shape   shape
	prior   Normal
	low     float64 // credible range, in the unknown's own unit
	high    float64
	of      Group // whose past batches sharpen it
	gas     bool  // of the gas alone: no gravity reading speaks of it
	because string
}

// heavyTail is a of the heavy shape: odds of three sd are those of 1.9 normal ones.
const heavyTail = 0.8

const psi = unit.PSI

// table states every prior once. "measured": posterior moments over the measured
// ferments in testdata, widened by a third since they come from one laboratory.
var table = [numUnknowns]row{
	OriginalGravity:  {"original gravity error, points", plain, Normal{0, 1.2}, -8, 8, OfBatch, false, "one reading of a glass hydrometer, or a label with the error of the volume"},
	AttenuationLimit: {"attenuation limit", heavy, Normal{0.77, 0.028}, 0.05, 0.97, OfYeast, false, "measured; kinds differ in the mean (memory)"},
	Lag:              {"ln lag, h", lognormal, Normal{math.Log(28), 0.48}, 1, 1000, OfYeast, false, "measured; shifted by the pitch"},
	Growth:           {"ln growth rate, 1/h", lognormal, Normal{math.Log(0.155), 0.57}, 1e-3, 5, OfYeast, false, "measured"},
	Uptake:           {"ln uptake rate, 1/h", lognormal, Normal{math.Log(0.0191), 0.44}, 1e-4, 1, OfYeast, false, "measured"},
	TailSpeed:        {"ln tail speed", lognormal, Normal{math.Log(0.2), 0.60}, 1e-3, 10, OfYeast, false, "measured"},
	WanderSlope:      {"rate wander, slope", plain, Normal{0, 0.45}, -3, 3, OfYeast, false, "measured"},
	WanderBend:       {"rate wander, bend", plain, Normal{-0.1, 0.38}, -3, 3, OfYeast, false, "measured"},
	WanderTwist:      {"rate wander, twist", plain, Normal{0.12, 0.45}, -3, 3, OfYeast, false, "measured"},
	ColdSlope:        {"uptake slope below 15 C, J/mol", plain, Normal{85e3, 20e3}, 20e3, 180e3, OfYeast, false, "60 to 105 kJ/mol read from chilled ferments, which mix settling with pace"},
	StillTransfer:    {"ln factor on still gas transfer", lognormal, Normal{0, 0.5}, 1e-2, 1e2, OfVessel, true, "reported 5 to 28 days where the convective law gives 11"},
	BubblingTransfer: {"ln factor on bubbling gas transfer", lognormal, Normal{0, 0.6}, 1e-2, 1e2, OfVessel, true, "working beer holds 10 to 30 % more than equilibrium"},
	HeatLoss:         {"ln factor on heat loss", lognormal, Normal{0, 0.25}, 0.05, 5, OfVessel, false, "3 to 4.5 W/K for a bare 20 to 23 L vessel"},
	Leak:             {"ln leak, g/day at 1 bar", lognormal, Normal{math.Log(0.1), 1.6}, 1e-5, 500, OfVessel, true, "most vessels hold, a few weep: assumption"},
	ReliefOffset:     {"relief set point error, Pa", heavy, Normal{0, 1.5 * psi / heavySpread}, -8 * psi, 40 * psi, OfVessel, true, "scale of a working valve where it opens, now and then stuck: assumption"},
	StartAir:         {"air in the headspace at pitching", plain, Normal{1, 0.01}, 0, 1, OfBatch, true, "filled through an open lid"},
	BeerLevel:        {"beer factor, level", plain, Normal{0, co2.BeerLevelSD}, -0.2, 0.2, OfBatch, true, "published values for beer scatter to 0.90"},
	BeerSlope:        {"beer factor, slope", plain, Normal{0, co2.BeerSlopeSD}, -0.1, 0.1, OfBatch, true, "published values for beer scatter to 0.90"},
	HoldOffset:       {"kept minus wanted temperature, K", plain, Normal{0, 1.5}, -8, 8, OfBatch, false, "strip, room and habit: assumption; nearer with a thermostat"},
	ReliefReseat:     {"ln relief reseat, Pa", lognormal, Normal{math.Log(0.4 * psi), 0.5}, 0.02 * psi, 2 * psi, OfVessel, true, "a working valve pops, and closes a little lower (common practice, no source); its spread: assumption"},
	RegulatorOffset:  {"regulator error, Pa", plain, Normal{0, psi}, -6 * psi, 6 * psi, OfBatch, true, "its own gauge is no better than a vessel's dial: assumption"},
}

// GenericPrior is the prior for a kind of yeast of which no batch has been followed yet.
func GenericPrior(k yeast.Kind) Prior {
	var p Prior
	for i, r := range table {
		p[i] = r.prior
	}
	a := k.Attenuation()
	p[AttenuationLimit] = Normal{a.Mean, a.SD / heavySpread}
	p[ColdSlope].Mean = k.Kinetics().ColdSlope
	return p
}

// forBatch narrows and shifts p by what the records say of this batch.
func (p Prior) forBatch(b *batch.Batch) Prior {
	if a := float64(b.Yeast.Attenuation); a > 0 {
		p[AttenuationLimit] = Normal{a, 0.03 / heavySpread} // the label speaks of the yeast, not of this wort
	}
	p[Lag].Mean += math.Log(pitchLag(b))
	switch {
	case thermostat(b):
		p[HoldOffset].SD = thermostatSD
	case b.Place.Assumed:
		p[HoldOffset].SD = assumedAirSD
	}
	if b.Wort.Assumed {
		p[OriginalGravity].SD = assumedGravitySD
	}
	return p
}

// What is not known where nobody knew the gravity of the wort, in points, or the air of the place, in K (assumptions:
// most packs of wort make 1.040 to 1.055, most sheds and rooms keep 15 to 22 C).
const (
	assumedGravitySD = 4
	assumedAirSD     = 3
)

// thermostat says whether something keeps the temperature by itself.
func thermostat(b *batch.Batch) bool { return b.Place.Fridge != nil || b.Place.Belt > 0 }

// thermostatSD is K between wanted and kept where something keeps it (assumption).
const thermostatSD = 0.6

// pitchLag is the factor on the lag by the yeast pitched: with exponential
// growth the lag changes by ln(pitch)/growth rate. 1 where the pitch is not known.
func pitchLag(b *batch.Batch) float64 {
	if b.Yeast.Mass <= 0 || b.Wort.Volume <= 0 || (b.Yeast.Form != "" && b.Yeast.Form != "dry") {
		return 1
	}
	const usual = 0.55 // kg/m3 of dry yeast: 11.5 g in 21 L, common practice, no source
	ratio := float64(b.Yeast.Mass) / float64(b.Wort.Volume) / usual
	ratio = math.Min(math.Max(ratio, 0.1), 10)
	factor := 1 - math.Log(ratio)/(0.155*28)
	return math.Min(math.Max(factor, 0.3), 2.5)
}

// value turns a standard normal z into unknown u.
func (p *Prior) value(u Unknown, z float64) float64 {
	r, n := &table[u], p[u]
	var v float64
	switch r.shape {
	case plain:
		v = n.Mean + n.SD*z
	case lognormal:
		v = portable.Exp(n.Mean + n.SD*z)
	case heavy:
		v = n.Mean + n.SD*portable.Sinh(heavyTail*z)/heavyTail
	}
	return math.Min(math.Max(v, r.low), r.high)
}

// natural gives unknown u on the scale of its prior (its logarithm where the prior is of one), from z.
func (p *Prior) natural(u Unknown, z float64) float64 {
	if table[u].shape == lognormal {
		return p[u].Mean + p[u].SD*z
	}
	return p.value(u, z)
}

// Name is what the working calls u.
func (u Unknown) Name() string { return table[u].name }
