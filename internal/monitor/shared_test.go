package monitor

import (
	"bytes"
	"math"
	"testing"

	"spile/batch"
	"spile/estimate"
	"spile/unit"
)

func weight(h, kg float64) batch.Reading {
	return batch.Reading{Time: hours(h), Quantity: batch.CylinderMass, Value: kg}
}

// From the first weighing to the last: what is before the last batch ended does not count, and a refill begins anew.
func TestWhatACylinderLost(t *testing.T) {
	for what, c := range map[string]struct {
		weighed     []batch.Reading
		since, till float64
		from, to    float64
		lost        float64
	}{
		"two":                               {[]batch.Reading{weight(1, 9), weight(5, 8.8)}, 0, 100, 1, 5, 0.2},
		"in any order":                      {[]batch.Reading{weight(5, 8.8), weight(1, 9)}, 0, 100, 1, 5, 0.2},
		"since a batch ended":               {[]batch.Reading{weight(1, 9), weight(5, 8.8), weight(9, 8.7)}, 2, 100, 5, 9, 0.1},
		"up to now":                         {[]batch.Reading{weight(1, 9), weight(5, 8.8), weight(9, 8.7)}, 0, 6, 1, 5, 0.2},
		"refilled":                          {[]batch.Reading{weight(1, 8), weight(5, 7), weight(6, 9), weight(9, 8.9)}, 0, 100, 6, 9, 0.1},
		"it rose by the error of the scale": {[]batch.Reading{weight(1, 8), weight(5, 8.02)}, 0, 100, 1, 5, -0.02},
		"one":                               {[]batch.Reading{weight(1, 9)}, 0, 100, 0, 0, 0},
		"none":                              {},
	} {
		l := lossOf(c.weighed, hours(c.since), hours(c.till))
		if c.to == 0 {
			if !l.From.IsZero() {
				t.Errorf("%s: got %+v, want none", what, l)
			}
		} else if !l.From.Equal(hours(c.from)) || !l.To.Equal(hours(c.to)) || math.Abs(float64(l.Mass)-c.lost) > 1e-9 {
			t.Errorf("%s: got %+v, want %v kg from %v to %v", what, l, c.lost, hours(c.from), hours(c.to))
		}
	}
}

// shed is a cellar with two vessels on one cylinder, in one place.
type shed struct {
	w        *Watch
	cylinder batch.ID
	vessels  [2]batch.ID
	batches  [2]batch.ID
	place    batch.ID
}

func (s *shed) thing(t testing.TB, is, name string, facts map[string]any) batch.ID {
	t.Helper()
	facts["is"], facts["name"] = is, name
	e := entry(t, batch.ID{}, batch.KindThing, hours(-1), facts)
	keep(t, s.w, e)
	return e.ID
}

// twoOnOne fills the shed: both batches are finished, cold, and take gas at 12 psi (invented).
func twoOnOne(t testing.TB, w *Watch, place map[string]any, shared bool) *shed {
	t.Helper()
	s := &shed{w: w}
	s.place = s.thing(t, "place", "Shed", place)
	s.cylinder = s.thing(t, "cylinder", "Big grey", map[string]any{"capacity_kg": 5, "tare_kg": 8})
	var ids []string
	for i, name := range []string{"Dunlin", "Godwit"} {
		s.vessels[i] = s.thing(t, "vessel", name, map[string]any{"capacity_m3": 0.025, "diameter_m": 0.3, "place": s.place})
		if shared || i == 0 {
			ids = append(ids, s.vessels[i].String())
		}
	}
	s.thing(t, "regulator", "Brass", map[string]any{"cylinder": s.cylinder, "vessels": ids})
	for i, v := range s.vessels {
		r := pale([]string{"One", "Two"}[i], v)
		r.Gas = &batch.Gas{Cylinder: 5, Content: 3}
		id := begin(t, w, r)
		s.batches[i] = id
		keep(t, w, read(t, id, hours(150), batch.Gravity, 1.0105), did(t, id, hours(160), batch.Event{Kind: batch.HoldAt, Temperature: unit.Celsius(3)}),
			did(t, id, hours(200), batch.Event{Kind: batch.GasOn, Pressure: 12 * unit.PSI}))
	}
	return s
}

// weigh notes the cylinder's mass in the cellar's own log.
func (s *shed) weigh(t testing.TB, h, kg float64) {
	t.Helper()
	e := read(t, batch.ID{}, hours(h), batch.CylinderMass, kg)
	e.Thing = s.cylinder
	keep(t, s.w, e)
}

// What one cylinder lost is the sum of what two vessels took: where it lost more than was believed, they took more.
func TestOneCylinderTwoVessels(t *testing.T) {
	supplied := func(lost float64) (sum float64) {
		c := &clock{now: hours(300)}
		w := inMemory(t, c)
		w.members = 300
		s := twoOnOne(t, w, map[string]any{"ambient_k": 283}, true)
		if lost != 0 {
			s.weigh(t, 199, 11)
			s.weigh(t, 299, 11-lost)
		}
		renewAll(t, w)
		for _, id := range s.batches {
			told := see(t, w, id).Told
			if told.Apart != "" {
				t.Errorf("%g kg: %s", lost, told.Apart)
			}
			sum += told.Forecast.Ledger.Supplied.P50
		}
		return sum
	}
	free := supplied(0)
	const more = 0.03 // kg, two sds of what is believed of both together, and of two weighings
	if moved := supplied(free+more) - free; moved < 0.004 || moved > more {
		t.Errorf("the cylinder lost %.0f g more than believed: expected what the vessels took to move by 4 to %.0f g, got %.1f g", 1000*more, 1000*more, 1000*moved)
	}
}

// What a cylinder lost before a batch on it had ended is not asked of those that are left.
func TestLossCountsFromTheLastEnd(t *testing.T) {
	w := inMemory(t, &clock{now: hours(300)})
	s := twoOnOne(t, w, map[string]any{"ambient_k": 283}, true)
	gone := begin(t, w, pale("Gone", s.vessels[0]))
	keep(t, w, entry(t, gone, batch.KindJudgement, hours(150), &batch.Judgement{Verdict: batch.Emptied}))
	for i, h := range []float64{100, 199, 299} {
		s.weigh(t, h, 11-0.1*float64(i))
	}
	c, err := w.cellar(ctx)
	if err != nil {
		t.Fatal(err)
	}
	ties, err := w.ties(ctx, c, see(t, w, s.batches[0]), hours(300))
	if err != nil || !ties.loss.From.Equal(hours(199)) || !ties.loss.To.Equal(hours(299)) {
		t.Errorf("got %+v, %v; want the loss from hour 199 to 299", ties, err)
	}
}

// A loss that no vessel can have taken is left out, and said.
func TestGasLostBetween(t *testing.T) {
	c := &clock{now: hours(300)}
	w := inMemory(t, c)
	s := twoOnOne(t, w, map[string]any{"ambient_k": 283}, true)
	s.weigh(t, 199, 11)
	s.weigh(t, 299, 9)
	renewAll(t, w)
	if told := see(t, w, s.batches[0]).Told; told == nil || told.Apart == "" {
		t.Errorf("two kilograms are gone and nothing is said: %+v", told)
	}
}

// Weighings of a cylinder that feeds one vessel alone are readings of its batch; those of a shared one are not, wherever they stand.
func TestWhoseWeighings(t *testing.T) {
	for _, shared := range []bool{false, true} {
		c := &clock{now: hours(300)}
		w := inMemory(t, c)
		s := twoOnOne(t, w, map[string]any{"ambient_k": 283}, shared)
		s.weigh(t, 199, 11)
		s.weigh(t, -5, 12) // before its batch
		keep(t, w, read(t, s.batches[0], hours(210), batch.CylinderMass, 10.9))
		things, err := w.cellar(ctx)
		if err != nil {
			t.Fatal(err)
		}
		var got []float64
		log := things.logOf(see(t, w, s.batches[0]))
		for _, r := range log.Readings {
			if r.Quantity == batch.CylinderMass {
				got = append(got, r.Value)
			}
		}
		if shared && len(got) != 0 || !shared && (len(got) != 2 || got[0] != 11 || got[1] != 10.9) {
			t.Errorf("shared %v: the batch has the weighings %v", shared, got)
		}
		if ties, err := w.ties(ctx, things, see(t, w, s.batches[0]), c.now); err != nil || (ties.cylinder != nil) != shared {
			t.Errorf("shared %v: ties %+v, %v", shared, ties, err)
		}
	}
}

// Two vessels in one fridge are tied by its air, each to the same digits whoever is renewed first; two in a room are not.
func TestOneFridge(t *testing.T) {
	c := &clock{now: hours(300)}
	dir := t.TempDir()
	s := twoOnOne(t, inFile(t, dir, c), map[string]any{"ambient_k": 283, "fridge": map[string]any{"coldest_k": 272}}, false)
	told := func(w *Watch, order ...batch.ID) (out []*Told) {
		t.Helper()
		things, err := w.cellar(ctx)
		if err != nil {
			t.Fatal(err)
		}
		for _, id := range order {
			if _, err := w.renewClaimed(ctx, things, id, see(t, w, id).Position); err != nil {
				t.Fatal(err)
			}
		}
		return []*Told{see(t, w, s.batches[0]).Told, see(t, w, s.batches[1]).Told}
	}
	forth := told(inFile(t, crash(t, dir), c), s.batches[0], s.batches[1])
	back := told(inFile(t, crash(t, dir), c), s.batches[1], s.batches[0])
	for i := range forth {
		same(t, "the other first", back[i], forth[i])
	}
	s.w = inFile(t, crash(t, dir), c)
	warm := entry(t, batch.ID{}, batch.KindThing, hours(-1), map[string]any{"fridge": nil})
	warm.Thing = s.place
	keep(t, s.w, warm)
	if apart := told(s.w, s.batches[0]); bytes.Equal(digits(t, forth[0].Forecast), digits(t, apart[0].Forecast)) {
		t.Error("the fridge ties nothing")
	}
}

// A gauge on one vessel tells of the regulator, and so of the gas in the other vessel that hangs on it.
func TestOneRegulatorTwoVessels(t *testing.T) {
	told := func(shared bool) estimate.Band {
		w := inMemory(t, &clock{now: hours(300)})
		w.members = 300
		s := twoOnOne(t, w, map[string]any{"ambient_k": 283}, shared)
		keep(t, w, did(t, s.batches[0], hours(199), batch.Event{Kind: batch.SetRelief, Pressure: 20 * unit.PSI}))
		for _, h := range []float64{220, 240, 260, 280} {
			keep(t, w, read(t, s.batches[1], hours(h), batch.Pressure, 14.5*unit.PSI))
		}
		renewAll(t, w)
		see := see(t, w, s.batches[0]).Told
		if see.Apart != "" {
			t.Error(see.Apart)
		}
		return see.Forecast.Now.Pressure
	}
	apart, tied := told(false), told(true)
	if tied.P50 < apart.P50+0.2*unit.PSI { // 0.4 to 1.0 over 80 draws of ids, and so of seeds
		t.Errorf("12 psi set, 14.5 shown on the other vessel: expected at least 0.2 psi more than %.2f psi, got %.2f", apart.P50/unit.PSI, tied.P50/unit.PSI)
	}
}

// What ties others alone does not tie a batch: gas from one regulator that is not on for it yet.
func TestTiesAreItsOwn(t *testing.T) {
	own, others := batch.ID{3}, []batch.ID{{2}, {1}}
	for what, c := range map[string]struct {
		gas  []batch.ID
		want int
	}{"others alone": {others, 0}, "with others": {append(others, own), 3}, "alone": {[]batch.ID{own}, 0}} {
		x := ties{gas: c.gas}
		x.settle(own)
		if len(x.gas) != c.want || c.want > 0 && x.gas[0] != others[1] {
			t.Errorf("%s: expected %d in their order, got %v", what, c.want, x.gas)
		}
	}
}
