package estimate

import (
	"math"
	"slices"
	"testing"

	"spile/batch"
	"spile/portable"
	"spile/unit"
	"spile/vessel"
)

// The hand of a dial stays behind a pressure that rises, hangs above one that was let down, and hangs nowhere else: worked by hand
// from the play of [Krasnoselskii1989]; a transducer has no hand.
func TestHandHangs(t *testing.T) {
	b := usualWay()
	b.Programme = []batch.Step{{AtSet: true, Set: batch.Setting{Relief: gaugeAt(40 * psi)}}}
	log := batch.Log{Events: []batch.Event{{Time: hour(48), Kind: batch.VentedTo, From: 9 * psi, To: 2 * psi}}}
	at := []float64{30, 47, 48.5, 60}
	for _, h := range at {
		for _, instrument := range []string{"dial", "transducer"} {
			log.Readings = append(log.Readings, batch.Reading{Time: hour(h), Quantity: batch.Pressure, Instrument: instrument, Value: 5 * psi})
		}
	}
	tl := newTimeline(b, log, hour(60), nil)
	w := newWorld(b, tl, GenericPrior(b.Yeast.Kind).forBatch(b))
	z := make([]float64, tl.dim())
	for _, c := range tl.channels {
		if c.Stick > 0 {
			z[c.more] = math.Log(0.6*psi/c.Stick) / stickSpread
		}
	}
	w.past(z)
	shown := map[string][]float64{}
	for i, d := range tl.data {
		shown[tl.channels[d.channel].name] = append(shown[tl.channels[d.channel].name], w.predicted[i]/psi)
	}
	dial, truth := shown["dial"], shown["transducer"] // those of the let-down itself, at the dial, stand third and fourth
	if fall := dial[2] - dial[3]; math.Abs(fall-7) > 0.02 {
		t.Errorf("let down from 9 to 2 psi by a dial whose hand hangs: expected it to show a fall of 7 psi, got %.3f, tolerance 0.02", fall)
	}
	dial = append(dial[:2:2], dial[4:]...)
	const play = 0.6
	if rise := truth[3] - truth[2]; rise < 2*play {
		t.Fatalf("the pressure is to rise by more than twice the play after the let-down, and rose by %.2f psi", rise)
	}
	// It was let down from 9 to 2 psi on the dial, which then hung behind by the play, and hangs ahead of what it was let down to.
	low := truth[1] - play - 7 - play // where it hangs half an hour later, unless the gas made has taken it along
	for i, want := range []float64{truth[0] - play, truth[1] - play, math.Max(low+play, truth[2]-play), truth[3] - play} {
		if math.Abs(dial[i]-want) > 0.02 {
			t.Errorf("at %g h a dial that hangs %g psi behind: expected %.3f psi, got %.3f, tolerance 0.02 (the pressure is %.3f)", at[i], play, want, dial[i], truth[i])
		}
	}
}

// A dial that is read beside a transducer, before and after gas is let out, tells how far its hand hangs.
func TestStickIsLearnt(t *testing.T) {
	const hangs = 0.5 * psi
	b := usualWay()
	b.Programme = []batch.Step{{AtSet: true, Set: batch.Setting{Relief: gaugeAt(40 * psi)}}}
	f, hand := plant(40, nil), 0.0
	read := func(h float64) {
		if err := f.sim.Advance(h * unit.Hour); err != nil {
			t.Fatal(err)
		}
		p := float64(f.sim.State().Gauge())
		hand = math.Min(math.Max(hand, p-hangs), p+hangs)
		f.log.Readings = append(f.log.Readings,
			batch.Reading{Time: hour(h), Quantity: batch.Pressure, Instrument: "dial", Value: hand + 0.05*psi*f.noise()},
			batch.Reading{Time: hour(h), Quantity: batch.Pressure, Instrument: "transducer", Value: p + 0.05*psi*f.noise()})
	}
	for i := range 3 {
		h := 30 + 6*float64(i)
		read(h)
		from := f.sim.State().Gauge()
		f.sim.Vent(from, from/2)
		f.log.Events = append(f.log.Events, batch.Event{Time: hour(h + 0.01), Kind: batch.VentedTo, From: unit.Gauge(hand), To: from/2 + hangs})
		read(h + 0.02)
	}
	bl, err := Condition(b, f.log, hour(48), Options{Seed: 5, Members: 100})
	if err != nil {
		t.Fatal(err)
	}
	c := bl.tl.channels[bl.tl.channel(batch.Pressure, "dial")]
	var stick []float64
	for _, z := range bl.members() {
		stick = append(stick, c.Stick*portable.Exp(stickSpread*z[c.more])/psi)
	}
	got, before := bandOf(stick), math.Exp(2*NineInTen*stickSpread)
	if got.P05 > 0.5 || got.P95 < 0.5 || got.P95/got.P05 > 0.6*before {
		t.Errorf("a hand that hangs 0.5 psi: expected a band about it, no wider than a factor of %.1f, got %.2f", 0.6*before, got)
	}
}

// A gauge that reads often shows how far a working valve closes below where it opens; the truth is followed by the full closure,
// where it pops. Where it does not work, nothing is said of it.
func TestSawIsSeen(t *testing.T) {
	for _, c := range []struct {
		reseat, relief float64
		seen           bool
	}{{0.3, 10, true}, {0.8, 10, true}, {0.8, 400, false}} {
		f := plant(c.relief, func(p *vessel.Params) { p.ReliefReseat = unit.Gauge(c.reseat * psi) })
		for h := 40.0; h <= 76; h += 0.03 {
			if err := f.sim.Advance(h * unit.Hour); err != nil {
				t.Fatal(err)
			}
			p := float64(f.sim.State().Gauge()) + 0.05*psi*f.noise()
			f.log.Readings = append(f.log.Readings, batch.Reading{Time: hour(h), Quantity: batch.Pressure, Instrument: "transducer", Value: p})
		}
		b := usualWay()
		b.Programme = []batch.Step{{AtSet: true, Set: batch.Setting{Relief: gaugeAt(unit.Gauge(c.relief * psi))}}}
		tl := newTimeline(b, f.log, hour(76), nil)
		if heard := slices.Contains(tl.active(), int(ReliefReseat)); heard != c.seen || len(tl.saws) > 1 {
			t.Fatalf("a valve set to %g psi: heard of where it closes is %v, %d times", c.relief, heard, len(tl.saws))
		}
		if !c.seen {
			continue
		}
		prior := GenericPrior(b.Yeast.Kind).forBatch(b)
		l := newLikelihood(b, tl, prior, tl.active())
		z := make([]float64, len(l.active))
		z[slices.Index(l.active, int(ReliefReseat))] = (math.Log(c.reseat*psi) - prior[ReliefReseat].Mean) / prior[ReliefReseat].SD
		if off := l.Residuals(z, nil)[len(tl.data)]; math.Abs(off) > NineInTen {
			t.Errorf("a valve that closes %g psi lower: seen as %.2f psi, %.1f times its scatter away; tolerance %g", c.reseat, math.Exp(tl.saws[0])/psi, off, NineInTen)
		}
	}
}
