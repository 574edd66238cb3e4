// Package dispense holds how beer leaves a vessel: the line, the tap and their flow.
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

	"spile/unit"
	"spile/wort"
)

const (
	density = 1010.0  // kg/m3 of beer at 6 C. References: [LigerBelair2021]
	gravity = 9.80665 // m/s2
)

// Factors of friction over that of a smooth pipe: published figures for hard tube agree with the pipe within 10 %,
// those for soft vinyl are 1.4 to 1.6 times higher. One timed pour calibrates a line.
// References: [BrewersAssociation2019]
const (
	HardTube  = 1.0
	SoftVinyl = 1.45
)

// Line is a line with its tap.
type Line struct {
	Bore    unit.Length
	Length  unit.Length
	Rise    unit.Length // of the tap above the middle of the beer
	Rough   unit.Length // height of the roughness; plastic 0.0015 mm (memory)
	Tube    float64     // factor on friction, HardTube or SoftVinyl; 0: hard
	Loss    float64     // K of disconnect, shank and tap, 3 to 8 (memory)
	TapBore unit.Length // to which Loss belongs
}

// Usual is a picnic tap on 2 m of 4.76 mm tube (common practice, no source).
func Usual() Line {
	return Line{Bore: 4.76 * unit.Millimetre, Length: 2, Rise: 0.5, Rough: 1.5e-6, Tube: HardTube, Loss: 5, TapBore: 6 * unit.Millimetre}
}

// Friction is the Darcy factor at a Reynolds number and a relative roughness. Any flow; error 5 %, in transition 30 %.
// References: [Churchill1977]
func Friction(reynolds, roughness float64) float64 {
	a := math.Pow(2.457*math.Log(1/(math.Pow(7/reynolds, 0.9)+0.27*roughness)), 16)
	b := math.Pow(37530/reynolds, 16)
	return 8 * math.Pow(math.Pow(8/reynolds, 12)+math.Pow(a+b, -1.5), 1.0/12)
}

// Reynolds is the Reynolds number at a flow in m3/s.
func (l Line) Reynolds(flow float64, t unit.Temperature) float64 {
	d := float64(l.Bore)
	return density * flow / (math.Pi / 4 * d) / wort.BeerViscosity(t)
}

// Drop is the pressure lost a metre of tube at a flow in m3/s, Pa/m. Error 10 % for hard tube, 30 % in transition.
// References: [Churchill1977], [LigerBelair2021]
func (l Line) Drop(flow float64, t unit.Temperature) float64 {
	if flow <= 0 {
		return 0
	}
	d, tube := float64(l.Bore), l.Tube
	if tube == 0 {
		tube = HardTube
	}
	v := flow / (math.Pi / 4 * d * d)
	return tube * Friction(l.Reynolds(flow, t), float64(l.Rough)/d) * density * v * v / (2 * d)
}

// Needs is the gauge pressure that drives a flow in m3/s through the line and its tap, up to a rise.
func (l Line) Needs(flow float64, t unit.Temperature) unit.Gauge {
	b := float64(l.TapBore)
	v := flow / (math.Pi / 4 * b * b)
	return unit.Gauge(l.Drop(flow, t)*float64(l.Length) + density*gravity*float64(l.Rise) + l.Loss*density*v*v/2)
}

const fastest = 2e-3 // m3/s, beyond any tap

// Flow is the flow in m3/s that a gauge pressure drives: the inverse of Needs, to 1e-12; 0 where it does not reach the tap.
func (l Line) Flow(p unit.Gauge, t unit.Temperature) float64 {
	low, high := 0.0, fastest
	if l.Needs(1e-9, t) >= p {
		return 0
	}
	for range 50 {
		mid := 0.5 * (low + high)
		if l.Needs(mid, t) < p {
			low = mid
		} else {
			high = mid
		}
	}
	return low
}
