package calibration

import (
	"fmt"
	"slices"
	"strings"

	"spile/batch"
	"spile/estimate"
	"spile/internal/ferment"
	"spile/unit"
	"spile/vessel"
)

// planted is one row of the table of faults.
type planted struct {
	fault, size, instruments string
	judged                   float64 // h since pitching
	parts                    int     // the batches of the fault are shared by so many rows
	answers                  []estimate.FindingKind
	reads                    func(*plant, float64)
	plan                     func(*plant) // what is done, healthy or not; nil: nothing more
	plant                    func(*plant)
}

// Sets of instruments, each read until the hour of judgement.
func dialStripSamples(p *plant, until float64) {
	p.read(batch.Gravity, 0, until, 48)
	dialStrip(p, until)
}

func dialStrip(p *plant, until float64) {
	p.read(batch.Pressure, 0, until, 24)
	p.read(batch.Temperature, 0, until, 24)
}

func samplesStrip(p *plant, until float64) {
	p.read(batch.Gravity, 0, until, 24)
	p.read(batch.Temperature, 0, until, 24)
}

func samplesDialStrip(p *plant, until float64) {
	p.read(batch.Pressure, 0, until, 24)
	samplesStrip(p, until)
}

const (
	withDialStrip = "hydrometer every other day, dial, strip"
	withSamples   = "hydrometer, strip"
	withAll       = "hydrometer, dial, strip"
)

// leaking plants a leak of so many grams a day at one bar.
func leaking(grams float64) func(*plant) {
	return func(p *plant) {
		p.at(0, func(p *plant) {
			p.sim.Break(vessel.Fault{Kind: vessel.Leaking, Leak: unit.MassRate(grams * unit.Gram / unit.Day)})
		})
	}
}

// chilled under gas on the eighth day.
func chilled(p *plant) {
	cold, gas, valve := unit.Celsius(3), unit.Gauge(12*unit.PSI), unit.Gauge(20*unit.PSI)
	p.set(192, batch.Setting{Hold: &cold, Gas: &gas, Relief: &valve})
}

// forced is a sample fermented out warm, which ends where fresh yeast would.
func forced(p *plant) {
	end := vessel.TerminalGravity(&p.params)
	p.at(216, func(p *plant) {
		g := end + unit.Gravity(p.hydrometer+0.0007*p.rng.NormFloat64())
		p.log.Events = append(p.log.Events, batch.Event{Time: ferment.At(216), Kind: batch.ForcedSample, Gravity: g})
	})
}

// stall cools the beer once half its extract is gone; this yeast works less in the cold than most.
func stall(p *plant) {
	p.params.Yeast.ColdSlope = p.even(95e3, 140e3)
	for h := 24.0; h < 168; h += 4 {
		p.at(h, func(p *plant) {
			if p.sim.State().Left < 0.5 {
				p.controls.Hold = unit.Celsius(3)
				p.sim.Set(p.controls)
			}
		})
	}
}

func tired(p *plant) { p.left = 6 }

// either sign.
func (p *plant) sign() float64 {
	if p.rng.IntN(2) == 0 {
		return -1
	}
	return 1
}

func says(k ...estimate.FindingKind) []estimate.FindingKind { return k }

// cases is the table of faults. Where it may not be identifiable, "cannot tell" is right as well.
var cases = []planted{
	{"leak", "5 g/day", withDialStrip, 288, 4, says(estimate.FindingLeak), dialStripSamples, nil, leaking(5)},
	{"leak", "10 g/day", withDialStrip, 288, 4, says(estimate.FindingLeak), dialStripSamples, nil, leaking(10)},
	{"leak", "20 g/day", withDialStrip, 288, 4, says(estimate.FindingLeak), dialStripSamples, nil, leaking(20)},
	{"leak", "30 g/day", withDialStrip, 288, 4, says(estimate.FindingLeak), dialStripSamples, nil, leaking(30)},
	{"leak while it vents", "5 g/day", withDialStrip, 96, 2, says(estimate.FindingCannotTell, estimate.FindingLeak), dialStripSamples, nil, leaking(5)},
	{"leak, gas on in the first cold day", "5 g/day", withDialStrip, 216, 2, says(estimate.FindingCannotTell, estimate.FindingLeak), dialStripSamples, chilled, leaking(5)},
	{"stuck relief", "from 30 h", withAll, 96, 1, says(estimate.FindingReliefStuck), samplesDialStrip, nil, func(p *plant) {
		p.at(30, func(p *plant) { p.sim.Break(vessel.Fault{Kind: vessel.ReliefStuckShut}) })
	}},
	{"hydrometer off, a label to hold it against", "4 points", withAll, 72, 1, says(estimate.FindingHydrometerOffset, estimate.FindingCannotTell), samplesDialStrip, nil, func(p *plant) { p.hydrometer = 0.004 * p.sign() }},
	{"dial off, read once at the open vessel", "2 psi", withAll, 72, 1, says(estimate.FindingDialOffset, estimate.FindingCannotTell), samplesDialStrip, nil, func(p *plant) { p.dial = 2 * unit.PSI * p.sign() }},
	{"forgotten vent", "to nothing, 2 h before a reading", withDialStrip, 240, 1, says(estimate.FindingMissingVent), dialStripSamples, nil, func(p *plant) {
		p.at(214, func(p *plant) { p.sim.Vent(p.sim.State().Gauge(), 0) })
	}},
	{"slow lid seal", "2 kg/day at 1 bar until 80 h", withAll, 120, 1, says(estimate.FindingSealSlow), samplesDialStrip, nil, func(p *plant) {
		leaking(2000)(p)
		p.at(80, func(p *plant) { p.sim.SetLeak(p.params.Leak) })
	}},
	{"cold stall", "3 C with half left", withSamples, 216, 1, says(estimate.FindingColdStall), samplesStrip, nil, stall},
	{"tired yeast, forced sample", "6 points left", withSamples, 240, 1, says(estimate.FindingTiredYeast), samplesStrip, forced, tired},
	{"tired yeast, no forced sample", "6 points left", withSamples, 240, 2, says(estimate.FindingCannotTell, estimate.FindingTiredYeast), samplesStrip, nil, tired},
}

// diagnosis is what was said first of one batch.
type diagnosis struct {
	First  estimate.FindingKind `json:"first"`        // "" for nothing
	Of     estimate.FindingKind `json:"of,omitempty"` // what cannot be told, where First says so of something
	All    []estimate.FindingKind
	Leak   estimate.Verdict `json:"leak"` // of whether it loses gas, asked for by itself
	Failed string           `json:"failed,omitempty"`
}

const (
	rightAtLeast = 0.80
	alarmsAtMost = 0.02
)

// faults plants faults in batches of the full closure and asks what is amiss.
func faults(r *run) error {
	var index []int
	for k, c := range cases {
		for i := range max(1, r.Budget.Faulty/c.parts) {
			index = append(index, k<<caseBits|i)
		}
	}
	all, err := gatherAt(r, "fault", index, func(i int) (diagnosis, error) {
		return r.diagnose(&cases[i>>caseBits], streamFault, i, true), nil
	})
	if err != nil {
		return err
	}
	healthy, err := gather(r, "healthy", r.Budget.Healthy, func(i int) (diagnosis, error) {
		return r.diagnose(&cases[i%len(cases)], streamHealthy, i, false), nil
	})
	if err != nil {
		return err
	}
	r.reportFaults(index, all, healthy)
	return nil
}

// caseBits of an index hold the number of the batch, those above the case.
const caseBits = 20

func (r *run) reportFaults(index []int, all, healthy []diagnosis) {
	r.doc.heading("Planted faults")
	r.doc.say("Batches simulated by the full closure, with truths of their own: even spreads of other widths than the priors', a room that swings, cycling valves and thermostats, readings to the nearest mark, a dial whose hand hangs. Judged once, at the hour given.")
	var rows [][]string
	for k := range cases {
		of := diagnosed(index, all, func(other int) bool { return other == k })
		same := diagnosed(index, all, func(other int) bool { return cases[other].fault == cases[k].fault })
		rows = append(rows, r.judge(&cases[k], of, same))
	}
	r.doc.table([]string{"fault", "size", "instruments", "hour", "batches", "right first", "nothing said", "said instead"}, rows)
	r.reportHealthy(healthy)
}

// diagnosed are those of the cases wanted.
func diagnosed(index []int, all []diagnosis, wanted func(k int) bool) (out []diagnosis) {
	for at, i := range index {
		if wanted(i >> caseBits) {
			out = append(out, all[at])
		}
	}
	return out
}

// diagnose grows batch i of a stream in the way of c, with or without its fault, and asks.
func (r *run) diagnose(c *planted, stream uint64, i int, faulty bool) diagnosis {
	p := newPlant(r.rng(stream, i))
	c.reads(p, c.judged)
	if c.plan != nil {
		c.plan(p)
	}
	if faulty {
		c.plant(p)
	}
	if err := p.grow(c.judged); err != nil {
		return diagnosis{Failed: "simulating: " + err.Error()}
	}
	bl, err := estimate.Condition(&p.batch, p.log, ferment.At(c.judged), estimate.Options{Seed: uint64(i) + 1, Members: r.Budget.Members, Workers: 1})
	if err != nil {
		return diagnosis{Failed: "inferring: " + err.Error()}
	}
	fc, err := bl.Forecast()
	if err != nil {
		return diagnosis{Failed: "running on: " + err.Error()}
	}
	var d diagnosis
	for _, f := range fc.Findings {
		d.All = append(d.All, f.Kind)
	}
	if len(d.All) > 0 {
		d.First, d.Of = d.All[0], fc.Findings[0].Of
	}
	d.Leak = fc.Questions.Leak.Verdict
	return d
}

// judge makes the row and the bar of one case; same are the batches with its fault in all sizes.
func (r *run) judge(c *planted, all, same []diagnosis) []string {
	right, silent, untold := 0, 0, 0
	instead := map[string]int{}
	for i := range all {
		d := &all[i]
		switch {
		case d.Failed != "":
			instead[d.Failed]++
		case c.answered(d):
			right++
		case d.First == "":
			if silent++; d.Leak == estimate.CannotTell {
				untold++
			}
		default:
			instead[string(d.First)]++
		}
	}
	s := share(right, len(all))
	lo, hi := wilson(right, len(all))
	others, sizes := counted(instead), ""
	if len(same) > len(all) {
		n := 0
		for i := range same {
			if c.answered(&same[i]) {
				n++
			}
		}
		sizes = fmt.Sprintf("; of this fault in all its sizes %s of %d are told", percent(share(n, len(same))), len(same))
	}
	r.doc.bar("faults", fmt.Sprintf("%s, %s", c.fault, c.size), fmt.Sprintf("%s first in 80 %%", c.wanted()), s >= rightAtLeast,
		fmt.Sprintf("interval %s to %s; nothing said %d times, %d of them because it cannot be told yet whether it leaks; said instead: %s%s", percent(lo), percent(hi), silent, untold, orElse(others, "nothing"), sizes), "%s of %d", percent(s), len(all))
	return []string{c.fault, c.size, c.instruments, fmt.Sprintf("%g", c.judged), fmt.Sprint(len(all)), percent(s), percent(share(silent, len(all))), others}
}

func (c *planted) wanted() string {
	var names []string
	for _, a := range c.answers {
		names = append(names, string(a))
	}
	return strings.Join(names, " or ")
}

func (c *planted) right(k estimate.FindingKind) bool { return slices.Contains(c.answers, k) }

// answered says whether what was said first is right. That something cannot be told answers only what it was said of; said
// of nothing it means whether the batch has finished or stopped.
func (c *planted) answered(d *diagnosis) bool {
	of, open := d.First, d.First == estimate.FindingCannotTell
	if open {
		of = d.Of
	}
	if open && of == "" {
		of = estimate.FindingTiredYeast
	}
	if c.hidden() && (open || of == "") && d.Leak == estimate.CannotTell {
		return true
	}
	return c.right(of) && (!open || c.right(estimate.FindingCannotTell))
}

// hidden says that the leak may not show: then nobody is alarmed, and the answer to whether it leaks must be that it cannot be told.
func (c *planted) hidden() bool {
	return c.right(estimate.FindingLeak) && c.right(estimate.FindingCannotTell)
}

// reportHealthy counts what was said of batches without a fault, in each scenario in turn.
func (r *run) reportHealthy(all []diagnosis) {
	alarms, kinds, where := 0, map[string]int{}, map[string]int{}
	for i := range all {
		first := string(all[i].First)
		if all[i].Failed != "" {
			first = all[i].Failed
		}
		if first == "" || first == string(estimate.FindingCannotTell) {
			continue
		}
		alarms++
		kinds[first]++
		c := &cases[i%len(cases)]
		where[fmt.Sprintf("%s to %g h", c.instruments, c.judged)]++
	}
	lo, hi := wilson(alarms, len(all))
	s := share(alarms, len(all))
	r.doc.say("Healthy batches: %d, in the scenarios above in turn; %d false alarms (%s): %s. By scenario: %s.", len(all), alarms, percent(s), orElse(counted(kinds), "none"), orElse(counted(where), "none"))
	r.doc.bar("faults", "false alarms on healthy batches", "under 2 %", s < alarmsAtMost, fmt.Sprintf("interval %s to %s: %s; by scenario: %s", percent(lo), percent(hi), counted(kinds), counted(where)), "%s of %d", percent(s), len(all))
}
