package vessel

import (
	"math"
	"testing"

	"spile/unit"
)

// Gradients of the averaged closure are taken by differences, so what it shows must move smoothly with its parameters:
// halving the difference must not change the slope by more than a twentieth of the greatest slope of that quantity.
func TestAveragedIsSmooth(t *testing.T) {
	changes := map[string]func(*Params, float64){
		"growth":        func(p *Params, d float64) { p.Yeast.Growth *= math.Exp(d) },
		"uptake":        func(p *Params, d float64) { p.Yeast.Uptake *= math.Exp(d) },
		"start":         func(p *Params, d float64) { p.Yeast.Start *= math.Exp(d) },
		"attenuation":   func(p *Params, d float64) { p.Attenuation *= math.Exp(0.1 * d) },
		"still film":    func(p *Params, d float64) { p.KLaStill *= math.Exp(d) },
		"bubbles":       func(p *Params, d float64) { p.KLaBubbling *= math.Exp(d) },
		"walls":         func(p *Params, d float64) { p.UA *= unit.Conductance(math.Exp(d)) },
		"valve":         func(p *Params, d float64) { p.ReliefOffset += unit.Gauge(d * unit.PSI) },
		"leak":          func(p *Params, d float64) { p.Leak *= math.Exp(d) },
		"air":           func(p *Params, d float64) { p.Air *= math.Exp(-math.Abs(0.3) + 0.3*d) },
		"beer's factor": func(p *Params, d float64) { p.Beer.Level += 0.1 * d },
	}
	hours := []float64{6, 20, 31, 48, 80, 150, 170, 190, 250, 330}
	run := func(change func(*Params, float64), d float64) (out []float64) {
		p := usual()
		p.Leak = 1e-11
		change(&p, d)
		a := NewAveraged()
		a.Reset(&p)
		a.Set(Controls{Hold: unit.Celsius(20), Relief: 10 * unit.PSI, Gas: GasOff})
		for _, h := range hours {
			if h == 170 {
				a.Set(Controls{Hold: unit.Celsius(2), Relief: 25 * unit.PSI, Gas: 12 * unit.PSI})
			}
			if err := a.Advance(h * unit.Hour); err != nil {
				t.Fatal(err)
			}
			s := a.State()
			out = append(out, s.Gravity().Points(), float64(s.Gauge())/unit.PSI, float64(s.Volumes())*10, s.Temperature, float64(s.MassTotal())*100)
		}
		return out
	}
	const step = 2e-3
	for name, change := range changes {
		mid := run(change, 0)
		wide, narrow := run(change, step), run(change, step/2)
		most := 1e-2 // per unit of change; below it nothing counts
		for i := range mid {
			most = math.Max(most, math.Abs(wide[i]-mid[i])/step)
		}
		for i := range mid {
			w, n := (wide[i]-mid[i])/step, (narrow[i]-mid[i])/(step/2)
			if math.Abs(w-n) > 0.05*most {
				t.Errorf("%s, %g h, quantity %d: slope %.4g over a wide and %.4g over a narrow difference, greatest %.4g", name, hours[i/5], i%5, w, n, most)
			}
		}
	}
}
