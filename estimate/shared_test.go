package estimate

import (
	"math"
	"testing"

	"spile/batch"
	"spile/unit"
)

// One cylinder feeds two vessels in the cold. What both took together is weighed: the parts add up to it, each is known better
// than before, and a loss that neither could have taken is refused.
func TestShareCylinder(t *testing.T) {
	var bs []*Belief
	for k := range 2 {
		b := usualWay()
		log := batch.Log{Readings: []batch.Reading{{Time: hour(160), Quantity: batch.Gravity, Value: 1.010}}}
		bl, err := Condition(b, log, hour(168+72), Options{Seed: uint64(k + 1), Members: 300})
		if err != nil {
			t.Fatal(err)
		}
		bs = append(bs, bl)
	}
	taken := func(bl *Belief) Band {
		fc, err := bl.Forecast()
		if err != nil {
			t.Fatal(err)
		}
		return fc.Ledger.Supplied
	}
	before := []Band{taken(bs[0]), taken(bs[1])}
	loss := CylinderLoss{From: hour(100), To: hour(168 + 72), Mass: unit.Mass(before[0].P95 + before[1].P50), SD: 2 * unit.Gram}
	tied, err := ShareCylinder(bs, loss)
	if err != nil {
		t.Fatal(err)
	}
	after := []Band{taken(tied[0]), taken(tied[1])}
	if sum := after[0].P50 + after[1].P50; sum < float64(loss.Mass)-0.006 || sum > float64(loss.Mass)+0.006 {
		t.Errorf("the cylinder lost %.0f g, both took %.0f g together; tolerance 6 g", loss.Mass.Grams(), sum*1000)
	}
	for k := range after {
		if after[k].P50 <= before[k].P50 {
			t.Errorf("vessel %d: more was lost than expected, so it took more: %.1f g before, %.1f g after", k, before[k].P50*1000, after[k].P50*1000)
		}
	}
	loss.Mass = 5
	if _, err := ShareCylinder(bs, loss); err == nil {
		t.Error("5 kg cannot have gone into two vessels")
	}
}

// Two vessels in one fridge: where one is known to be kept warmer than wanted, so is the other.
func TestShareAir(t *testing.T) {
	make := func(seed uint64, warm float64) *Belief {
		b := usualWay()
		log := batch.Log{Readings: []batch.Reading{{Time: hour(100), Quantity: batch.Gravity, Value: 1.012}}}
		if warm > 0 {
			log.Readings = append(log.Readings, batch.Reading{Time: hour(30), Quantity: batch.Temperature, Instrument: "probe", Value: 293.15})
		}
		bl, err := Condition(b, log, hour(100), Options{Seed: seed, Members: 400})
		if err != nil {
			t.Fatal(err)
		}
		return bl
	}
	bs := []*Belief{make(1, 0), make(2, 1)}
	tied, err := ShareAir(bs)
	if err != nil {
		t.Fatal(err)
	}
	gap := func(bs []*Belief) float64 {
		mean := func(bl *Belief) (m float64) {
			for i, z := range bl.posterior.Z {
				m += bl.posterior.Weight[i] * bl.prior.value(HoldOffset, z[HoldOffset])
			}
			return m
		}
		d := mean(bs[0]) - mean(bs[1])
		return d * d
	}
	if gap(tied) > gap(bs)+0.01 {
		t.Errorf("tied, the offsets differ by %.3f K², apart by %.3f", gap(tied), gap(bs))
	}
}

// under is a belief about the usual batch with gas on, looked at with a transducer where shown is not 0.
func under(t *testing.T, seed uint64, shown float64) *Belief {
	t.Helper()
	log := batch.Log{Readings: []batch.Reading{{Time: hour(160), Quantity: batch.Gravity, Value: 1.010}}}
	for h := 210.0; h < 240 && shown > 0; h += 6 {
		log.Readings = append(log.Readings, batch.Reading{Time: hour(h), Quantity: batch.Pressure, Instrument: "transducer", Value: shown})
	}
	bl, err := Condition(usualWay(), log, hour(240), Options{Seed: seed, Members: 400})
	if err != nil {
		t.Fatal(err)
	}
	return bl
}

// regulator is what is believed of the regulator's error, psi.
func regulator(bl *Belief) (mean, sd float64) {
	var m, mm float64
	for i, z := range bl.posterior.Z {
		x := bl.prior.value(RegulatorOffset, z[RegulatorOffset]) / psi
		m, mm = m+bl.posterior.Weight[i]*x, mm+bl.posterior.Weight[i]*x*x
	}
	return m, math.Sqrt(mm - m*m)
}

// A gauge on open gas shows the regulator. One that is set to 10 psi and stands 2 psi higher by a good instrument errs by
// that: 2 psi shrunk by the errors of the two, 1 psi against 0.3 and what it locks up by.
func TestRegulatorErrs(t *testing.T) {
	set := float64(gasOf(usualWay()))
	m, sd := regulator(under(t, 1, set+2*psi))
	if m < 1.4 || m > 2.1 || sd > 0.5 {
		t.Errorf("regulator's error: expected 1.4 to 2.1 psi, to 0.5 psi at the most; got %.2f ± %.2f", m, sd)
	}
	if m, sd := regulator(under(t, 1, 0)); math.Abs(m) > 0.2 || math.Abs(sd-1) > 0.2 {
		t.Errorf("without a gauge: expected the prior's 0 ± 1 psi, tolerance 0.2; got %.2f ± %.2f", m, sd)
	}
}

// gasOf is what the regulator is set to in the programme of b.
func gasOf(b *batch.Batch) unit.Gauge {
	for _, s := range b.Programme {
		if s.Set.Gas != nil {
			return *s.Set.Gas
		}
	}
	return 0
}

// What one vessel's gauge tells of a regulator holds for the other that hangs on it.
func TestShareRegulator(t *testing.T) {
	set := float64(gasOf(usualWay()))
	bs := []*Belief{under(t, 1, 0), under(t, 2, set+2*psi)}
	tied, err := ShareRegulator(bs)
	if err != nil {
		t.Fatal(err)
	}
	seen, _ := regulator(bs[1])
	if m, sd := regulator(tied[0]); math.Abs(m-seen) > 0.4 || sd > 0.6 {
		t.Errorf("the vessel without a gauge: expected %.2f psi, tolerance 0.4, to 0.6 at the most; got %.2f ± %.2f", seen, m, sd)
	}
}
