// Package yeast holds what yeast does: growth, sugar uptake and their pace by
// temperature and dissolved carbon dioxide.
//
// Two states: X, activity relative to a full crop, and s, the fermentable
// extract left as a share of what was fermentable at the start.
//
//	dX/dt =  kg g(T) fG X max(0, 1 - X/fG) s/(s + 0.05)
//	ds/dt = -kf a(T) fK X s/(Ks + s) exp(w(1-s))
//
// g(T) is the cardinal temperature model relative to 20 C, a(T) a two-slope
// Arrhenius law relative to 20 C, fG = 1/(1 + p/pG) and fK = 1/(1 + p/pK) slow
// growth and uptake by the pressure p of carbon dioxide above one atmosphere,
// and w is a slow wander of the rate along the ferment, zero for the base model.
// With X tied to the sugar used and first order in s the model is the logistic
// decline of the published fermentation assay.
//
// References: [Rosso1993], [Gause1932], [Speers2003]
package yeast

import "spile/portable"

// WanderModes is the number of smooth modes in which the rate may wander.
const WanderModes = 3

const (
	gasConstant     = 8.314462618 // J/(mol K)
	referenceKelvin = 293.15
	breakKelvin     = 288.15
	growthHalf      = 0.05 // share of extract left at which growth is halved
)

// Kinetics is one yeast in one wort. Times in seconds, temperatures in kelvin, pressures in pascals.
type Kinetics struct {
	Growth    float64 // kg, 1/s at 20 C
	Uptake    float64 // kf, 1/s at 20 C
	Start     float64 // X at pitching
	HalfLeft  float64 // Ks, share of extract left at which uptake per activity is halved
	TMin      float64 // K, no growth below
	TOpt      float64 // K, fastest growth
	TMax      float64 // K, no growth above
	WarmSlope float64 // J/mol, uptake above 15 C
	ColdSlope float64 // J/mol, uptake below 15 C
	// PressGrowth and PressUptake are the pressures of carbon dioxide above one
	// atmosphere that halve the growth and the uptake. An assumption shaped to
	// published statements, no source gives the curve.
	PressGrowth float64 // Pa
	PressUptake float64 // Pa
	Wander      [WanderModes]float64
}

// Pace is a Kinetics at one temperature and pressure, so that what changes slowly is worked out once.
type Pace struct {
	Growth float64 // 1/s
	Crop   float64 // X at which growth ends
	Uptake float64 // 1/s
}

// CTMI is the cardinal temperature model with inflection: 1 at tOpt, 0 outside tMin..tMax (all in K or all in C).
//
// References: [Rosso1993]
func CTMI(t, tMin, tOpt, tMax float64) float64 {
	if t <= tMin || t >= tMax {
		return 0
	}
	d := (tOpt - tMin) * ((tOpt-tMin)*(t-tOpt) - (tOpt-tMax)*(tOpt+tMin-2*t))
	return (t - tMax) * (t - tMin) * (t - tMin) / d
}

// uptakeFactor is a(T): Arrhenius with one slope above 15 C and a steeper one below, 1 at 20 C.
// Above tOpt it follows the cardinal model, since proteins fail there (not measured for beer).
func (k *Kinetics) uptakeFactor(kelvin float64) float64 {
	switch {
	case kelvin > k.TOpt:
		peak := portable.Exp(-k.WarmSlope / gasConstant * (1/k.TOpt - 1/referenceKelvin))
		return peak * CTMI(kelvin, k.TMin, k.TOpt, k.TMax)
	case kelvin >= breakKelvin:
		return portable.Exp(-k.WarmSlope / gasConstant * (1/kelvin - 1/referenceKelvin))
	}
	at15 := -k.WarmSlope / gasConstant * (1/breakKelvin - 1/referenceKelvin)
	return portable.Exp(at15 - k.ColdSlope/gasConstant*(1/kelvin-1/breakKelvin))
}

// Pace is k at a beer temperature (K) and a partial pressure of carbon dioxide above one atmosphere (Pa; less than zero counts as zero).
// Valid 0 to 42 C; the warm and the pressure branches have no measured check.
func (k *Kinetics) Pace(kelvin, over float64) Pace {
	norm := CTMI(referenceKelvin, k.TMin, k.TOpt, k.TMax)
	free := Pace{
		Growth: k.Growth * CTMI(kelvin, k.TMin, k.TOpt, k.TMax) / norm,
		Crop:   1,
		Uptake: k.Uptake * k.uptakeFactor(kelvin),
	}
	return k.Under(free, over)
}

// Under is a pace without pressure brought under a partial pressure of carbon dioxide above one atmosphere, Pa.
func (k *Kinetics) Under(free Pace, over float64) Pace {
	over = max(over, 0)
	free.Crop /= 1 + over/k.PressGrowth
	free.Uptake /= 1 + over/k.PressUptake
	return free
}

// Slopes gives dX/dt and ds/dt (1/s).
func (k *Kinetics) Slopes(p Pace, x, s float64) (dx, ds float64) {
	s = max(s, 0)
	dx, ds = k.Rates(p, x, s)
	return dx * x, ds * s
}

// Rates gives dX/dt as a share of X and ds/dt as one of s > 0 (1/s). X at or above the crop does not shrink: a
// valve raised late slows yeast that has grown but does not kill it.
func (k *Kinetics) Rates(p Pace, x, s float64) (dx, ds float64) {
	room := max(0, 1-x/p.Crop)
	dx = p.Growth * p.Crop * room * s / (s + growthHalf)
	ds = -p.Uptake * x / (k.HalfLeft + s) * k.wander(s)
	return dx, ds
}

// wander is exp of a low polynomial in the share used, orthogonal on 0..1, so that the modes act apart.
func (k *Kinetics) wander(s float64) float64 {
	w := &k.Wander
	if w[0] == 0 && w[1] == 0 && w[2] == 0 {
		return 1
	}
	x := 1 - 2*s // -1 at the start, 1 at the end
	return portable.Exp(w[0]*x + w[1]*(1.5*x*x-0.5) + w[2]*(2.5*x*x*x-1.5*x))
}
