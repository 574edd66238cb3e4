package estimate

import (
	"errors"
	"math"
	"reflect"
	"testing"

	"spile/batch"
)

// What is put away and recalled, once or twice, tells the same to the digit; and what the belief itself tells, but for rounding.
func TestRecall(t *testing.T) {
	b, log := usualWay(), batch.Log{Readings: renewLog}
	o := Options{Seed: 5, Members: 200}
	bl, err := Condition(b, log, hour(86), o)
	if err != nil {
		t.Fatal(err)
	}
	recalled := func(m Memory) *Belief {
		t.Helper()
		bl, err := Recall(b, log, hour(87), o, m)
		if err != nil {
			t.Fatal(err)
		}
		return bl
	}
	half := bl.Remember()
	half.Kept = 0.625
	if kept := recalled(half).Remember().Kept; kept != 0.625 {
		t.Errorf("of the members 0.625 still counted, and %g are recalled", kept)
	}
	first := recalled(bl.Remember())
	second := recalled(first.Remember())
	f, err := first.Forecast()
	if err != nil {
		t.Fatal(err)
	}
	g, err := second.Forecast()
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(f.Series, g.Series) || !reflect.DeepEqual(f.Now, g.Now) || f.Diagnostics != g.Diagnostics {
		t.Error("recalled twice: another forecast")
	}
	own, err := Condition(b, log, hour(87), o)
	if err != nil {
		t.Fatal(err)
	}
	h, err := own.Forecast()
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(f.Now.Gravity.P50-h.Now.Gravity.P50) > 1e-6 || math.Abs(f.TerminalGravity.P95-h.TerminalGravity.P95) > 1e-6 {
		t.Errorf("recalled: gravity %+v, its own %+v", f.Now.Gravity, h.Now.Gravity)
	}
}

// Members that do not belong to the records are not taken for theirs.
func TestRecallRefuses(t *testing.T) {
	b, log := usualWay(), batch.Log{Readings: renewLog}
	bl, err := Condition(b, log, hour(86), Options{Seed: 5, Members: 50})
	if err != nil {
		t.Fatal(err)
	}
	m := bl.Remember()
	more := append(renewLog[:len(renewLog):len(renewLog)], batch.Reading{Time: hour(85), Quantity: batch.Pressure, Value: 5 * psi})
	if _, err := Recall(b, batch.Log{Readings: more}, hour(86), Options{}, m); !errors.Is(err, ErrRefit) {
		t.Errorf("an instrument more: got %v", err)
	}
	if _, err := Recall(b, log, hour(86), Options{}, Memory{}); !errors.Is(err, ErrRefit) {
		t.Errorf("no members: got %v", err)
	}
	m.Members[3][2] = float32(math.NaN())
	if _, err := Recall(b, log, hour(86), Options{}, m); err == nil || errors.Is(err, ErrRefit) {
		t.Errorf("a member that is no number: got %v", err)
	}
}

// Shares of members that count multiply: what two readings each leave enough of, both together may not.
func TestRenewalsAddUp(t *testing.T) {
	b, o := usualWay(), Options{Seed: 5, Members: 400}
	bl, err := Condition(b, batch.Log{Readings: renewLog[:3]}, hour(80), o)
	if err != nil {
		t.Fatal(err)
	}
	log := batch.Log{Readings: renewLog[:3:3]}
	for i := range 40 {
		m, before := bl.Remember(), log
		log.Readings = append(log.Readings, batch.Reading{Time: hour(81 + float64(i)/10), Quantity: batch.Gravity, Value: 1.0178 + 0.001*float64(i%2)})
		next, err := bl.Stand(400).Renew(log, hour(81+float64(i)/10))
		if err == nil {
			bl = next.Belief()
			if now := bl.Remember().Kept; now > m.Kept || now < keepsHalf {
				t.Fatalf("kept %.3f after %.3f", now, m.Kept)
			}
			continue
		}
		m.Kept = 1
		forgetful, recallErr := Recall(b, before, bl.at, o, m)
		if recallErr != nil {
			t.Fatal(recallErr)
		}
		if _, again := forgetful.Stand(400).Renew(log, hour(81+float64(i)/10)); !errors.Is(err, ErrRefit) || i == 0 || again != nil {
			t.Errorf("reading %d: %v; with the shares before it forgotten: %v", i, err, again)
		}
		return
	}
	t.Error("forty readings and never a refit")
}
