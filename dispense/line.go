// Package dispense holds how beer leaves a vessel: the line, the tap and their flow, and why it foams.
//
// # Equations
//
//	v    = Q/(pi D^2/4),  Re = rho v D/mu
//	dP/L = k f rho v^2/(2 D)
//	f    = 8 [ (8/Re)^12 + 1/(A + B)^1.5 ]^(1/12)                                    [Churchill1977]
//	A    = [2.457 ln(1/((7/Re)^0.9 + 0.27 e/D))]^16,  B = (37530/Re)^16
//	P    = (dP/L) L + rho g h + K rho vt^2/2        P gauge in the vessel, vt in the tap's bore
//
// Beer of 1010 kg/m3 [LigerBelair2021]. Re is mostly 3000 to 8000; between 2100 and 4000 the friction is known to 30 %.
package dispense

import (
	"math"

	"spile/portable"
	"spile/unit"
	"spile/wording"
	"spile/working"
	"spile/wort"
)

const density = 1010.0 // kg/m3 of beer at 6 C. References: [LigerBelair2021]

// Line is a line with its tap.
type Line struct {
	Bore    unit.Length
	Length  unit.Length
	Rise    unit.Length // of the tap above the middle of the beer
	Rough   unit.Length // height of the roughness; plastic 0.0015 mm (memory)
	Tube    float64     // factor on friction, as of Hard or SoftVinyl; 0: that of hard tube
	Loss    float64     // K of disconnect, shank and tap, 3 to 8 (memory)
	TapBore unit.Length // to which Loss belongs
}

// Usual is a picnic tap on 2 m of 4.76 mm tube (common practice, no source).
func Usual() Line {
	return Line{Bore: 4.76 * unit.Millimetre, Length: 2, Rise: 0.5, Rough: 1.5e-6, Tube: Hard.Factor, Loss: 5, TapBore: 6 * unit.Millimetre}
}

// Friction is the Darcy factor at a Reynolds number and a relative roughness. Any flow; error 5 %, in transition 30 %.
// References: [Churchill1977]
func Friction(reynolds, roughness float64) float64 {
	square := func(x float64) float64 { return x * x }
	fourth := func(x float64) float64 { return square(square(x)) }
	a := fourth(fourth(-2.457 * math.Log(portable.Pow(7/reynolds, 0.9)+0.27*roughness)))
	b := fourth(fourth(37530 / reynolds))
	laminar := fourth(8 / reynolds)
	return 8 * math.Sqrt(math.Sqrt(math.Cbrt(laminar*laminar*laminar+1/((a+b)*math.Sqrt(a+b)))))
}

// Reynolds is the Reynolds number at a flow in m3/s.
func (l Line) Reynolds(flow float64, t unit.Temperature) float64 {
	d := float64(l.Bore)
	return density * flow / (math.Pi / 4 * d) / wort.BeerViscosity(t)
}

// speed is the velocity in m/s of a flow in m3/s through a bore.
func speed(flow float64, bore unit.Length) float64 {
	return flow / (math.Pi / 4 * float64(bore) * float64(bore))
}

// Drop is the pressure lost a metre of tube at a flow in m3/s, Pa/m. Error 10 % for hard tube, 30 % in transition.
// References: [Churchill1977], [LigerBelair2021]
func (l Line) Drop(flow float64, t unit.Temperature) float64 {
	if flow <= 0 {
		return 0
	}
	d, v := float64(l.Bore), speed(flow, l.Bore)
	return l.factor() * Friction(l.Reynolds(flow, t), float64(l.Rough)/d) * density * v * v / (2 * d)
}

func (l Line) factor() float64 {
	if l.Tube == 0 {
		return Hard.Factor
	}
	return l.Tube
}

// Head is the pressure of the beer between vessel and tap, negative if the tap is lower: 9.9 kPa a metre. Exact for 1010 kg/m3.
func (l Line) Head() unit.Gauge { return unit.Gauge(density * unit.StandardGravity * float64(l.Rise)) }

// tap is the pressure lost in disconnect, shank and tap at a flow in m3/s.
func (l Line) tap(flow float64) unit.Gauge {
	v := speed(flow, l.TapBore)
	return unit.Gauge(l.Loss * density * v * v / 2)
}

// Needs is the gauge pressure that drives a flow in m3/s through the line and its tap, up to a rise. Error as Drop.
func (l Line) Needs(flow float64, t unit.Temperature) unit.Gauge {
	return unit.Gauge(l.Drop(flow, t)*float64(l.Length)) + l.Head() + l.tap(flow)
}

// LengthFor is the length of this tube at which a gauge pressure drives just that flow in m3/s: the inverse of Needs. It
// fails where lift and tap alone take all the pressure, and without flow. Error as Drop.
func (l Line) LengthFor(p unit.Gauge, flow float64, t unit.Temperature) (unit.Length, error) {
	left := p - l.Head() - l.tap(flow)
	if !(flow > 0 && left > 0) {
		return 0, wording.Unsaid("%.1f L/min: lift and tap alone need %s, and %s is there; ask for less flow or a lower tap",
			flow*unit.Minute/unit.Litre, unit.FormatDials(l.Head()+l.tap(flow), 0), unit.FormatDials(p, 0))
	}
	return unit.Length(float64(left) / l.Drop(flow, t)), nil
}

// Flow is the flow in m3/s that a gauge pressure drives: the inverse of Needs, to 1e-11; 0 where it does not reach the tap,
// +Inf where nothing holds it back. By the secant rule in logarithms, where what is lost is nearly straight over the flow.
func (l Line) Flow(p unit.Gauge, t unit.Temperature) float64 {
	drive := float64(p - l.Head())
	if drive <= 0 {
		return 0
	}
	if l.Length == 0 && l.Loss == 0 {
		return math.Inf(1)
	}
	over := func(x float64) float64 { return math.Log(float64(l.Needs(portable.Exp(x), t)-l.Head()) / drive) }
	x, slope := math.Log(5e-5), 1.75 // 3 L/min; what is lost goes with the flow, or its square
	at := over(x)
	for range 60 {
		step := -at / slope
		if math.Abs(at) < 1e-12 || x+step == x {
			break
		}
		next := over(x + step)
		slope = min(max((next-at)/step, 1), 4)
		x, at = x+step, next
	}
	return portable.Exp(x)
}

// Explain records how a flow in m3/s and the pressure in the vessel hang together.
func (l Line) Explain(flow float64, t unit.Temperature, w *working.Sheet) {
	if w == nil {
		return
	}
	reynolds := l.Reynolds(flow, t)
	w.Input("rho", "density of beer", density, "kg/m³", working.Constant)
	w.Input("e", "roughness of plastic (memory)", float64(l.Rough)/unit.Millimetre, "mm", working.Constant)
	w.Step("mu", "viscosity of beer", "mu = 1.645 times that of water", wort.BeerViscosity(t)*1e3, "mPa s", "LigerBelair2021")
	w.Step("v", "speed in the line", "v = Q/(pi/4 D²)", speed(flow, l.Bore), "m/s", "")
	w.Step("Re", "Reynolds number", "Re = rho v D/mu", reynolds, "", "")
	w.Step("f", "friction factor of a smooth pipe", "f = 8 [(8/Re)^12 + (A + B)^-1.5]^(1/12)", Friction(reynolds, float64(l.Rough/l.Bore)), "", "Churchill1977")
	w.Step("d", "pressure lost a metre", "d = k f rho v²/(2 D)", l.Drop(flow, t)/unit.Kilopascal, "kPa/m", "Churchill1977")
	w.Step("ph", "lift", "ph = rho g h", l.Head().Kilopascals(), "kPa", "")
	w.Step("pk", "lost in couplings and tap, 6 mm inside (memory)", "pk = K rho vt²/2", l.tap(flow).Kilopascals(), "kPa", "")
	w.Step("P", "pressure that drives it", "P = d L + ph + pk", l.Needs(flow, t).Kilopascals(), "kPa", "")
	w.Range("beer from 0 to 25 °C", t.Celsius(), 0, 25)
	w.Range("tube of 3 to 6.5 mm inside; figures for wider tube scatter by two", float64(l.Bore)/unit.Millimetre, 3, widest/unit.Millimetre)
}
