package wort

import (
	"math"

	"spile/unit"
	"spile/wording"
	"spile/working"
)

// glassExpansion by volume of a hydrometer, 1/K. References: [ISO1975]
const glassExpansion = 25e-6

// Hydrometer is a floating glass instrument marked in specific gravity t0/t0.
// The zero value is one for 20 C that reads true.
type Hydrometer struct {
	Calibrated unit.Temperature // t0, as printed on the scale; 0 means 20 C
	Offset     unit.Gravity     // what it reads in water at t0, less 1; learnt or 0
}

func (h Hydrometer) calibrated() unit.Temperature {
	if h.Calibrated == 0 {
		return standard
	}
	return h.Calibrated
}

// scale turns a density in kg/m3 at t into what the scale shows.
func (h Hydrometer) scale(rho float64, t unit.Temperature) unit.Gravity {
	t0 := h.calibrated()
	return unit.Gravity(rho*(1+glassExpansion*float64(t-t0))/WaterDensity(t0)) + h.Offset
}

// liquid is wort or beer of the given true gravity: a path of compositions, one parameter long.
type liquid func(parameter float64, t unit.Temperature) float64 // density, kg/m3

// liquidOf gives the path and its ends: unfermented wort over its extract, or
// beer of an original gravity over the extract used.
func liquidOf(original unit.Gravity) (path liquid, low, high float64) {
	if original == 0 {
		return func(e float64, t unit.Temperature) float64 { return BeerDensity(unit.Extract(e), 0, t) }, -0.04, 0.35
	}
	p0 := ExtractFromGravity(original)
	path = func(used float64, t unit.Temperature) float64 {
		f := FromUsed(p0, used)
		return BeerDensity(f.Real, f.Ethanol, t)
	}
	const overshoot = 0.03 // a reading may lie above the original gravity by its error
	return path, float64(p0) + overshoot, -overshoot
}

// True is the true specific gravity 20/20 of a degassed sample that reads as it
// does at t. Give the original gravity for beer, whose alcohol expands more than
// sugar does, or 0 for wort. It inverts the densities and the expansion of the
// glass. Range 0 to 40 C; error 0.0002 of the relation, 0.0007 with the eye and the thermometer.
// References: [ISO1975], [Tanaka2001], [OIML1975], [Bubnik1995]
func (h Hydrometer) True(reading unit.Gravity, t unit.Temperature, original unit.Gravity, w *working.Sheet) (unit.Gravity, error) {
	path, x, err := h.find(reading, t, original, func(path liquid, x float64) unit.Gravity { return h.scale(path(x, t), t) })
	if err != nil {
		return 0, err
	}
	g := unit.Gravity(path(x, standard) / WaterDensity(standard))
	if w != nil {
		h.explain(reading, t, path(x, t), g, w)
	}
	return g, nil
}

// Reading is what the hydrometer would show at t in a degassed sample of true
// gravity g: the inverse of True. Range and error as True.
// References: [ISO1975], [Tanaka2001], [OIML1975], [Bubnik1995]
func (h Hydrometer) Reading(g unit.Gravity, t unit.Temperature, original unit.Gravity) (unit.Gravity, error) {
	path, x, err := h.find(g, t, original, func(path liquid, x float64) unit.Gravity {
		return unit.Gravity(path(x, standard) / WaterDensity(standard))
	})
	if err != nil {
		return 0, err
	}
	return h.scale(path(x, t), t), nil
}

// find solves for the liquid on the path whose gravity, as shown, is g.
func (h Hydrometer) find(g unit.Gravity, t unit.Temperature, original unit.Gravity, shown func(liquid, float64) unit.Gravity) (liquid, float64, error) {
	if err := CheckGravity("hydrometer reading", g); err != nil {
		return nil, 0, err
	}
	if c := t.Celsius(); !(c >= 0 && c <= 40) {
		return nil, 0, wording.Unsaid("sample at %.1f °C: accepted are 0 to 40 °C, best 15 to 25 °C", c)
	}
	if t0 := h.calibrated().Celsius(); !(t0 >= 0 && t0 <= 40) {
		return nil, 0, wording.Unsaid("hydrometer calibrated at %.1f °C: accepted are 0 to 40 °C, most are 15 or 20 °C", t0)
	}
	if original != 0 {
		if err := CheckGravity("original gravity", original); err != nil {
			return nil, 0, err
		}
	}
	path, low, high := liquidOf(original)
	if least, most := shown(path, low), shown(path, high); g < least || g > most {
		return nil, 0, wording.Unsaid("hydrometer reading %.4f: from an original gravity of %.4f it can only be %.3f to %.3f", float64(g), float64(original), float64(least), float64(most))
	}
	return path, secant(low, high, func(x float64) float64 { return float64(shown(path, x) - g) }), nil
}

func (h Hydrometer) explain(reading unit.Gravity, t unit.Temperature, rho float64, g unit.Gravity, w *working.Sheet) {
	const eye, thermometer = 0.0004, 0.5 // 9 in 10: less than half a mark of 0.001; K
	t0 := h.calibrated()
	w.Input("R", "reading", float64(reading), "", working.Given)
	w.Input("t", "temperature of the sample", t.Celsius(), "°C", working.Given)
	w.Input("t0", "temperature on the scale", t0.Celsius(), "°C", working.Given)
	w.Input("o", "offset in water", float64(h.Offset), "", working.Learnt)
	w.Step("rho", "density of the sample", "rho = (R - o) · rho_w(t0)/(1 + 25e-6 (t - t0))", rho, "kg/m³", "ISO1975")
	w.Step("S", "true gravity 20/20", "that liquid at 20 °C over water at 20 °C", float64(g), "", "Bubnik1995")
	w.Range("a sample of 0 to 40 °C", t.Celsius(), 0, 40)
	const perKelvin = 0.0003
	half := math.Hypot(math.Hypot(eye, thermometer*perKelvin), 0.0005) // and 0.0005 of the instrument itself
	w.Error(float64(g)-half, float64(g)+half, "the eye, the thermometer and the instrument")
	w.Caution("Shake the bubbles out of the sample first: they lift the hydrometer and it reads high.")
}

// secant finds the zero of a smooth, nearly straight f from two starts.
func secant(a, b float64, f func(float64) float64) float64 {
	const steps = 30 // five are enough; the last ones find nothing left to do
	fa, fb := f(a), f(b)
	for range steps {
		if fb == fa {
			break
		}
		a, b, fa = b, b-fb*(b-a)/(fb-fa), fb
		fb = f(b)
	}
	return b
}
