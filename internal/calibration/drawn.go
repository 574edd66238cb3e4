package calibration

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"sort"
	"strings"
	"time"

	"gonum.org/v1/gonum/stat"

	"spile/batch"
	"spile/bayes"
	"spile/estimate"
	"spile/internal/ferment"
	"spile/unit"
	"spile/yeast"
)

// groups of batches drawn from the prior, by their instruments; a thermometer comes last.
var groups = [numGroups]struct {
	name        string
	reads       []batch.Quantity
	thermometer string  // empty for none
	chillDay    float64 // on which it is chilled under gas
}{
	{"hydrometer", []batch.Quantity{batch.Gravity}, "", 10},
	{"with dial and strip", []batch.Quantity{batch.Gravity, batch.Pressure}, "strip", 10},
	{"with weight", []batch.Quantity{batch.Gravity, batch.VesselMass}, "", 10},
	{"with all", []batch.Quantity{batch.Gravity, batch.Pressure, batch.VesselMass, batch.VentedGas, batch.AirTemperature}, "strip", 10},
	{"with dial and probe", []batch.Quantity{batch.Gravity, batch.Pressure}, "probe", 10},
	{"cold under gas, with dial and cylinder's weight", []batch.Quantity{batch.Gravity, batch.Pressure, batch.CylinderMass}, "", 3},
}

const numGroups = 6

const (
	mostReadings = 12
	coldDays     = 3 // of cold under gas, after which the carbonation is asked for
	step         = 2 // h, of the series of a sample
)

// ranked is where the truths of one batch lie among what is believed of them.
type ranked struct {
	PIT    map[string]float64 `json:"pit,omitempty"`
	Narrow map[string]float64 `json:"narrow,omitempty"` // the same with a belief a fifth too narrow
	Method string             `json:"method,omitempty"`
	Failed string             `json:"failed,omitempty"`
}

// Names of what is asked beside the unknowns.
const (
	askedFinish     = "time to finish"
	askedTerminal   = "terminal gravity"
	askedCO2        = "carbonation three days after chilling"
	askedLikelihood = "log likelihood"
	askedWarmth     = "mean temperature so far"
)

// drawn is simulation-based calibration: truths drawn from the prior, readings
// simulated, inferred; the truths' ranks must be uniform.
//
// References: [Talts2018], [Sailynoja2022], [Holm1979]
func drawn(r *run) error {
	for g := range numGroups {
		var err error
		r.ranks[g], err = gather(r, "drawn "+groups[g].name, r.Budget.Drawn[g], func(i int) (ranked, error) { return r.rank(g, i), nil })
		if err != nil {
			return err
		}
	}
	r.reportDrawn()
	return nil
}

// rank draws batch i of group g, infers it and ranks its truths.
func (r *run) rank(g, i int) ranked {
	rng := r.rng(streamDrawn, g<<24|i)
	b, hours := design(groups[g].chillDay, rng)
	if slices.Contains(groups[g].reads, batch.AirTemperature) {
		b.Place.Belt = 0 // beside a belt the air says nothing
	}
	truth, log, heat, err := simulate(b, hours, g, rng)
	if err != nil {
		return ranked{Failed: "simulating: " + err.Error()}
	}
	at := ferment.At(hours[len(hours)-1])
	bl, err := estimate.Condition(b, log, at, estimate.Options{Seed: uint64(i) + 1, Members: r.Budget.Members, Workers: 1})
	if err != nil {
		return ranked{Failed: "inferring: " + err.Error()}
	}
	if heat != nil {
		truth.Z = append(truth.Z, bl.Thermometer(heat.course, heat.offset)...)
	}
	samples, err := bl.Samples()
	if err != nil {
		return ranked{Failed: "running on: " + err.Error()}
	}
	truth.LogLikelihood = bl.LogLikelihood(truth.Z)
	out := ranked{PIT: map[string]float64{}, Narrow: map[string]float64{}, Method: bl.Method()}
	w := weights(samples)
	ranks := r.rng(streamRanks, g<<24|i)
	for _, q := range asked(bl, int(hours[len(hours)-1])/step+1, int(groups[g].chillDay+coldDays)*24/step) {
		x := each(samples, q.of)
		y := q.of(&truth)
		out.PIT[q.name] = bayes.PIT(x, w, y, ranks)
		if q.name != askedFinish { // "never" has no middle to draw in to
			out.Narrow[q.name] = bayes.PIT(narrowed(x, w, tooNarrow), w, y, ranks)
		}
	}
	return out
}

// design draws what the brewer does, which the inference is told: wort, temperature,
// relief, and the hours of up to twelve readings. On a day it is chilled under gas.
func design(chillDay float64, rng *rand.Rand) (*batch.Batch, []float64) {
	kind, hold := yeast.Ale, unit.Celsius(17+6*rng.Float64())
	if rng.IntN(4) == 0 {
		kind, hold = yeast.Lager, unit.Celsius(10+5*rng.Float64())
	}
	relief, gas := unit.Gauge(5+10*rng.Float64())*unit.PSI, unit.Gauge(12*unit.PSI)
	valve, cold := unit.Gauge(20*unit.PSI), unit.Celsius(2)
	b := &batch.Batch{
		Name: "drawn", Pitched: ferment.Pitched,
		Wort:   batch.Wort{Volume: 20 * unit.Litre, Gravity: unit.Gravity(1.038 + 0.024*rng.Float64())},
		Yeast:  batch.Yeast{Kind: kind},
		Vessel: batch.Vessel{Capacity: 26 * unit.Litre, Diameter: 0.3},
		Place:  batch.Place{Ambient: unit.Celsius(18), Fridge: &batch.Fridge{Coldest: unit.Celsius(0)}, Belt: 30},
		Gas:    &batch.Gas{Cylinder: 2.6, Content: 2},
		Programme: []batch.Step{
			{AtSet: true, Set: batch.Setting{Hold: &hold, Relief: &relief}},
			{At: unit.Duration(chillDay * unit.Day), AtSet: true, Set: batch.Setting{Hold: &cold, Relief: &valve, Gas: &gas}},
		},
	}
	span := 12 * (2 + rng.IntN(15)) // h: from one to eight days
	taken := map[int]bool{}
	for range 1 + rng.IntN(mostReadings) {
		taken[step*rng.IntN(span/step)] = true
	}
	var hours []float64
	for h := range taken {
		hours = append(hours, float64(h))
	}
	sort.Float64s(hours)
	return b, hours
}

// simulate draws the truth of b and what its instruments show; measured is nil without a thermometer.
func simulate(b *batch.Batch, hours []float64, g int, rng *rand.Rand) (truth estimate.Sample, log batch.Log, measured *measuredHeat, err error) {
	for _, h := range hours {
		for _, q := range groups[g].reads {
			log.Readings = append(log.Readings, batch.Reading{Time: ferment.At(h), Quantity: q})
		}
	}
	last := hours[len(hours)-1]
	var course func(s float64) float64
	if groups[g].thermometer != "" {
		measured = stray(b, last, rng)
		course = measured.course
	}
	known, err := estimate.Known(b, log, ferment.At(last), estimate.Options{Workers: 1}, course, rng.NormFloat64)
	if err != nil {
		return truth, log, nil, err
	}
	courses, err := known.Samples()
	if err != nil {
		return truth, log, nil, err
	}
	truth = courses[0]
	for i := range log.Readings {
		m := &log.Readings[i]
		_, scatter := estimate.ReadingSpread(*m, gasAt(b, m.Time))
		m.Value = truth.Shown[i] + scatter*student(rng, estimate.ReadingTail)
	}
	if measured != nil {
		log.Readings = append(log.Readings, measured.read(hours, groups[g].thermometer, rng)...)
	}
	return truth, log, measured, nil
}

// gasAt is what the regulator is set to at a time; nil where it is shut.
func gasAt(b *batch.Batch, t time.Time) (gas *unit.Gauge) {
	for i := range b.Programme {
		if s := &b.Programme[i]; !t.Before(b.After(s.At)) && s.Set.Gas != nil {
			gas = s.Set.Gas
		}
	}
	return gas
}

// measuredHeat is the true temperature of a batch, K by hour, and how far its thermometer is off, K.
type measuredHeat struct {
	hourly []float64
	offset float64
}

// stray draws the temperature of b up to an hour: as kept from the beginning, with what strays from that. What comes and goes
// is stepped from hour to hour by its own law of motion, of which the covariance that the inference takes is the outcome.
//
// References: [Hartikainen2010] equations 8 to 12
func stray(b *batch.Batch, until float64, rng *rand.Rand) *measuredHeat {
	hold := *b.Programme[0].Set.Hold
	s := estimate.StrayingOf(b, hold)
	kept, pitched := float64(hold)+s.Mean+s.Constant*rng.NormFloat64(), s.Pitched*rng.NormFloat64()
	x, rate := s.Wander*rng.NormFloat64(), s.Wander/s.Passes*rng.NormFloat64() // K, K/s
	const dt = float64(unit.Hour)
	l := 1 / s.Passes
	e := math.Exp(-l * dt)
	a, c, d, f := e*(1+l*dt), e*dt, -e*l*l*dt, e*(1-l*dt)
	p, q := s.Wander*s.Wander, s.Wander*s.Wander*l*l // variances at rest
	xx, xr, rr := p-a*a*p-c*c*q, -a*d*p-c*f*q, q-d*d*p-f*f*q
	sx := math.Sqrt(xx)
	m := &measuredHeat{}
	for h := 0.0; h <= until; h++ {
		m.hourly = append(m.hourly, kept+pitched*math.Exp(-h*dt/s.Cools)+x)
		u, v := rng.NormFloat64(), rng.NormFloat64()
		x, rate = a*x+c*rate+sx*u, d*x+f*rate+xr/sx*u+math.Sqrt(rr-xr*xr/xx)*v
	}
	return m
}

// course is the temperature at s seconds since pitching, K.
func (m *measuredHeat) course(s float64) float64 {
	h := math.Max(s/unit.Hour, 0)
	i := int(h)
	if i >= len(m.hourly)-1 {
		return m.hourly[len(m.hourly)-1]
	}
	return m.hourly[i] + (h-float64(i))*(m.hourly[i+1]-m.hourly[i])
}

// read draws the offset of a thermometer and what it shows.
func (m *measuredHeat) read(hours []float64, thermometer string, rng *rand.Rand) []batch.Reading {
	var out []batch.Reading
	for i, h := range hours {
		r := batch.Reading{Time: ferment.At(h), Quantity: batch.Temperature, Instrument: thermometer}
		offset, scatter := estimate.ReadingSpread(r, nil)
		if i == 0 {
			m.offset = offset * rng.NormFloat64()
		}
		r.Value = m.hourly[int(h)] + m.offset + scatter*rng.NormFloat64()
		out = append(out, r)
	}
	return out
}

// question is one figure of a course of the batch.
type question struct {
	name string
	of   func(*estimate.Sample) float64
}

// asked lists the unknowns that the readings speak of, and what a brewer waits for; so many steps of the series lie behind,
// and so many until it has been cold for long enough.
func asked(bl *estimate.Belief, behind, cold int) []question {
	out := []question{
		{askedFinish, func(s *estimate.Sample) float64 { return s.Finished }},
		{askedTerminal, func(s *estimate.Sample) float64 { return s.Terminal }},
		{askedCO2, func(s *estimate.Sample) float64 { return s.Volumes[cold] }},
		{askedWarmth, func(s *estimate.Sample) float64 { return stat.Mean(s.Kelvin[:behind], nil) }},
		{askedLikelihood, func(s *estimate.Sample) float64 { return s.LogLikelihood }},
	}
	active := bl.Active()
	places := make([]int, 0, len(active))
	for k := range active {
		places = append(places, k)
	}
	sort.Ints(places)
	for _, k := range places {
		out = append(out, question{active[k], func(s *estimate.Sample) float64 { return s.Z[k] }})
	}
	return out
}

func weights(samples []estimate.Sample) []float64 {
	return each(samples, func(s *estimate.Sample) float64 { return s.Weight })
}

// each gives one figure of everything in all.
func each[T any](all []T, of func(*T) float64) []float64 {
	x := make([]float64, len(all))
	for i := range all {
		x[i] = of(&all[i])
	}
	return x
}

// reportDrawn judges the ranks: uniform by quantity, all together at 1 %, and the share within the 90 % band.
func (r *run) reportDrawn() {
	r.doc.heading("Batches drawn from the prior")
	r.doc.say("Truths drawn from the prior, readings simulated with the errors of their instruments, inferred. p is the chance that uniform ranks stray as far; cover is the share of truths within the 90 %% band. Where there is a thermometer, the temperature strays from the wanted one, and is inferred from what the thermometer shows.")
	tests := ranksOf(r.ranks, func(x *ranked) map[string]float64 { return x.PIT })
	rejected := tests.holm()
	for g := range numGroups {
		if r.Budget.Drawn[g] == 0 {
			continue
		}
		r.reportGroup(g, r.ranks[g], tests, rejected)
	}
	var names []string
	for i, t := range tests {
		if rejected[i] {
			names = append(names, fmt.Sprintf("%s (%s, p = %.1g)", t.quantity, groups[t.group].name, math.Max(t.p, 1e-12)))
		}
	}
	r.doc.bar("drawn", "ranks uniform, Holm at 1 % over all", "none rejected", len(names) == 0, strings.Join(names, "; "), "%d of %d rejected", len(names), len(tests))
}

func (r *run) reportGroup(g int, batches []ranked, tests tests, rejected []bool) {
	var rows [][]string
	inside, n := 0, 0
	for i, t := range tests {
		if t.group != g {
			continue
		}
		in := within(t.pit)
		if t.quantity != askedLikelihood { // high likelihood is no miss
			inside, n = inside+in, n+len(t.pit)
		}
		verdict := ""
		if rejected[i] {
			verdict = "rejected"
		}
		rows = append(rows, []string{t.quantity, fmt.Sprint(len(t.pit)), fmt.Sprintf("%.3f", t.p), percent(share(in, len(t.pit))), verdict})
	}
	failed, tempered := 0, 0
	why := ""
	for i := range batches {
		if batches[i].Failed != "" {
			failed, why = failed+1, batches[i].Failed
		}
		if batches[i].Method == bayes.Tempered {
			tempered++
		}
	}
	r.doc.say("**%s**: %d batches, %d of them by the tempered ensemble, %d not inferred%s.", groups[g].name, len(batches), tempered, failed, reason(why))
	if n > 0 {
		r.doc.table([]string{"quantity", "batches", "p", "cover", ""}, rows)
		c := share(inside, n)
		r.doc.bar("drawn", "90 % band, "+groups[g].name, "88 to 92 %", c >= 0.88 && c <= 0.92, fmt.Sprintf("%d batches; by quantity below", len(batches)), "%s", percent(c))
	}
	if failed > 0 {
		r.doc.bar("drawn", "every batch inferred, "+groups[g].name, "all", false, why, "%d of %d", len(batches)-failed, len(batches))
	}
}

func reason(why string) string {
	if why == "" {
		return ""
	}
	return " (such as: " + why + ")"
}

// within counts ranks in the middle nine tenths.
func within(pit []float64) (n int) {
	for _, u := range pit {
		if u >= 0.05 && u <= 0.95 {
			n++
		}
	}
	return n
}

// uniformity is the test of one quantity in one group.
type uniformity struct {
	group    int
	quantity string
	pit      []float64
	p        float64
}

type tests []uniformity

// rankPoints is the number of places at which an empirical distribution is compared.
const rankPoints = 39

// leastRanks is the fewest ranks that a test is made of.
const leastRanks = 5

// ranksOf gathers ranks by quantity, in a fixed order.
func ranksOf(all [numGroups][]ranked, of func(*ranked) map[string]float64) (out tests) {
	for g := range all {
		by := map[string][]float64{}
		for i := range all[g] {
			for q, u := range of(&all[g][i]) {
				by[q] = append(by[q], u)
			}
		}
		var names []string
		for q := range by {
			names = append(names, q)
		}
		sort.Strings(names)
		for _, q := range names {
			if len(by[q]) >= leastRanks {
				out = append(out, uniformity{g, q, by[q], bayes.UniformP(by[q], rankPoints)})
			}
		}
	}
	return out
}

// holm tells which tests fail at 1 % overall.
func (t tests) holm() []bool {
	p := make([]float64, len(t))
	for i := range t {
		p[i] = t[i].p
	}
	return bayes.HolmRejects(p, 0.01)
}
