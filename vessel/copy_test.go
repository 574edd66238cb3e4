package vessel

import (
	"testing"

	"spile/unit"
	"spile/yeast"
)

// A copy goes on to the last bit as the vessel it was taken from, and neither moves the other.
func TestCopyFromGoesItsOwnWay(t *testing.T) {
	p := Standard(26*unit.Litre, 0.3, 20*unit.Litre, unit.Plato(11.4), yeast.Ale, unit.Celsius(20), unit.Celsius(18), unit.Atmosphere)
	one, two := NewAveraged(), NewAveraged()
	one.Reset(&p)
	one.Set(Controls{Hold: unit.Celsius(20), Relief: 10 * unit.PSI, Gas: GasOff})
	if err := one.Advance(60 * unit.Hour); err != nil {
		t.Fatal(err)
	}
	at60 := one.State().Gravity()
	two.CopyFrom(one)
	if err := two.Advance(90 * unit.Hour); err != nil {
		t.Fatal(err)
	}
	if got := one.State().Gravity(); got != at60 {
		t.Errorf("expected the first to stand at %v, got %v", at60, got)
	}
	if err := one.Advance(90 * unit.Hour); err != nil {
		t.Fatal(err)
	}
	if a, b := one.State(), two.State(); a.Gravity() != b.Gravity() || a.Gauge() != b.Gauge() || one.Ledger() != two.Ledger() || a.Gravity() >= at60 {
		t.Errorf("expected %v, %v from both, got %v, %v", a.Gravity(), a.Gauge(), b.Gravity(), b.Gauge())
	}
}
