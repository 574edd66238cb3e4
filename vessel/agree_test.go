package vessel

import (
	"math"
	"testing"
	"time"

	"spile/unit"
)

type means struct{ gravity, psi, kelvin, mass, volumes float64 }

// look runs sim from t for a day and gives what instruments would show: means over the day where a valve or a
// thermostat cycles, the rest at its end.
func look(t testing.TB, sim Simulator, from, span float64) means {
	t.Helper()
	const n = 48
	var m means
	for i := 1; i <= n; i++ {
		if err := sim.Advance(from + span*float64(i)/n); err != nil {
			t.Fatal(err)
		}
		s := sim.State()
		m.psi += float64(s.Gauge()) / unit.PSI / n
		m.kelvin += s.Temperature / n
		m.mass += float64(s.MassTotal()) / n
	}
	s := sim.State()
	m.gravity, m.volumes = float64(s.Gravity()), float64(s.Volumes())
	return m
}

func TestZZ(t *testing.T) {
	p := usual()
	f := NewFull(p)
	a := NewAveraged()
	a.Reset(&p)
	c := Controls{Hold: unit.Celsius(20), Relief: 10 * unit.PSI, Gas: GasOff}
	f.Set(c)
	a.Set(c)
	start := time.Now()
	for d := 0.0; d < 14; d += 0.5 {
		if d == 7 {
			c = Controls{Hold: unit.Celsius(1), Relief: 15 * unit.PSI, Gas: 10 * unit.PSI}
			f.Set(c)
			a.Set(c)
		}
		mf, ma := look(t, f, d*86400, 43200), look(t, a, d*86400, 43200)
		t.Logf("%4.1f d SG %.5f (%+.5f) psi %6.3f (%+.3f) C %7.3f (%+.3f) kg %.4f (%+.4f) vol %.4f (%+.4f) pops %d", d+0.5, mf.gravity, ma.gravity-mf.gravity, mf.psi, ma.psi-mf.psi, mf.kelvin-273.15, ma.kelvin-mf.kelvin, mf.mass, ma.mass-mf.mass, mf.volumes, ma.volumes-mf.volumes, f.Popped())
		_ = math.Pi
	}
	t.Log(time.Since(start))
	conserved(t, &f.s, &f.l, f.s.Wort)
	l := f.Ledger()
	t.Logf("%+v", l)
	t.Log(l.Start + l.Made + l.Supplied - l.Dissolved - l.Headspace - l.Vented - l.Leaked - l.Drawn)
}
