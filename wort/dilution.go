package wort

import (
	"fmt"
	"math"

	"spile/unit"
	"spile/wording"
	"spile/working"
)

// Portion is wort or water at 20 C with what is not known of it.
type Portion struct {
	Volume, VolumeSD   unit.Volume
	Gravity, GravitySD unit.Gravity
	Bitterness         float64 // in any unit per volume, such as IBU (mg/L)
}

// Water is a portion of water.
func Water(v, sd unit.Volume) Portion { return Portion{Volume: v, VolumeSD: sd, Gravity: 1} }

// mass in kg.
func (p Portion) mass() float64 {
	return float64(p.Volume) * float64(p.Gravity) * WaterDensity(standard)
}

// Extract is the mass of extract in the portion.
func (p Portion) Extract() unit.Mass {
	return unit.Mass(p.mass() * float64(ExtractFromGravity(p.Gravity)))
}

func (p Portion) check() error {
	if !(p.Volume > 0) {
		return wording.Unsaid("volume %.2f L: must be above zero, for example 23 L", float64(p.Volume)/unit.Litre)
	}
	return CheckGravity("gravity", p.Gravity)
}

// Blend mixes portions: masses, extract and bitterness add, the volume follows
// from the density of the blend. What is not known of volumes and gravities is
// taken as independent. Range 0 to 30 P; error of the relation itself 0.0001 in gravity.
// References: [Bates1942]
func Blend(parts []Portion, w *working.Sheet) (Portion, error) {
	var mass, extract, bitter, volumeVariance float64
	for _, p := range parts {
		if err := p.check(); err != nil {
			return Portion{}, err
		}
		mass += p.mass()
		extract += float64(p.Extract())
		bitter += p.Bitterness * float64(p.Volume)
		volumeVariance += float64(p.VolumeSD) * float64(p.VolumeSD)
	}
	if len(parts) == 0 {
		return Portion{}, wording.Unsaid("nothing to blend: give at least one portion")
	}
	x := extract / mass
	g := GravityFromExtract(unit.Extract(x))
	v := mass / (float64(g) * WaterDensity(standard))
	blend := Portion{
		Volume: unit.Volume(v), VolumeSD: unit.Volume(math.Sqrt(volumeVariance)),
		Gravity: g, GravitySD: blendSD(parts, mass, g), Bitterness: bitter / v,
	}
	explainBlend(parts, mass, extract, blend, w)
	return blend, nil
}

// blendSD carries the deviations of volumes and gravities into the gravity of the blend, to first order.
func blendSD(parts []Portion, mass float64, g unit.Gravity) unit.Gravity {
	x, variance := float64(ExtractFromGravity(g)), 0.0
	for _, p := range parts {
		xi := float64(ExtractFromGravity(p.Gravity))
		byVolume := p.mass() / float64(p.Volume) * (xi - x) / mass * float64(p.VolumeSD)
		byGravity := p.mass() / mass * (extractSlope(float64(p.Gravity)) + (xi-x)/float64(p.Gravity)) * float64(p.GravitySD)
		variance += byVolume*byVolume + byGravity*byGravity
	}
	return unit.Gravity(math.Sqrt(variance) / extractSlope(float64(g)))
}

func explainBlend(parts []Portion, mass, extract float64, blend Portion, w *working.Sheet) {
	if w == nil {
		return
	}
	for i, p := range parts {
		n := fmt.Sprint(i + 1)
		w.Input("V"+n, "volume of portion %s", float64(p.Volume)/unit.Litre, "L", working.Given, n)
		w.Input("S"+n, "gravity of portion %s", float64(p.Gravity), "", working.Given, n)
	}
	w.Step("M", "mass", "M = sum of V · S · 0.998207 kg/L", mass, "kg", "Tanaka2001")
	w.Step("E", "extract", "E = sum of mass · extract, by the table", extract, "kg", "Bates1942")
	w.Step("S", "gravity of the blend", "the gravity of extract E/M", float64(blend.Gravity), "", "Bates1942")
	w.Step("V", "volume of the blend", "V = M/(S · 0.998207 kg/L)", float64(blend.Volume)/unit.Litre, "L", "")
	const nineInTen = 1.645
	half := nineInTen * float64(blend.GravitySD)
	w.Error(float64(blend.Gravity)-half, float64(blend.Gravity)+half, "the volumes and gravities that went in")
	w.Caution("Mix well before the sample: water floats on wort.")
}

// WaterToGravity is the water that brings a portion down to the target gravity.
// References: [Bates1942]
func WaterToGravity(have Portion, target unit.Gravity, w *working.Sheet) (unit.Volume, error) {
	if err := have.check(); err != nil {
		return 0, err
	}
	if !(target > 1 && target <= have.Gravity) {
		return 0, wording.Unsaid("target gravity %.4f: water can only bring %.4f down, to above 1.000", float64(target), float64(have.Gravity))
	}
	x, wanted, water := ExtractFromGravity(have.Gravity), ExtractFromGravity(target), ExtractFromGravity(1)
	add := have.mass() * float64((x-wanted)/(wanted-water))
	v := unit.Volume(add / WaterDensity(standard))
	w.Step("W", "water to add", "W = V · S · (p - pt)/pt / 0.998207 kg/L, extracts by the table", float64(v)/unit.Litre, "L", "Bates1942")
	return v, nil
}

// WaterToVolume is the water that brings a portion up to the target volume:
// a little more than the difference, for dilution shrinks wort.
// References: [Bates1942]
func WaterToVolume(have Portion, target unit.Volume, w *working.Sheet) (unit.Volume, error) {
	if err := have.check(); err != nil {
		return 0, err
	}
	if !(target >= have.Volume) {
		return 0, wording.Unsaid("target volume %.2f L: below the %.2f L there are", float64(target)/unit.Litre, float64(have.Volume)/unit.Litre)
	}
	water := target - have.Volume
	for range 30 { // each step leaves less than a tenth of the error
		blend, err := Blend([]Portion{have, Water(max(water, 1e-12), 0)}, nil)
		if err != nil {
			return 0, err
		}
		water = max(water+target-blend.Volume, 0)
	}
	w.Step("W", "water to add", "the water at which the volume of the blend is the target", float64(water)/unit.Litre, "L", "Bates1942")
	return water, nil
}

// WortToTarget is the wort of have's gravity and the water that make a target volume of a target gravity.
// References: [Bates1942]
func WortToTarget(gravity, target unit.Gravity, volume unit.Volume, w *working.Sheet) (wort, water unit.Volume, err error) {
	one := Portion{Volume: unit.Litre, Gravity: gravity}
	perLitre, err := WaterToGravity(one, target, nil)
	if err != nil {
		return 0, 0, err
	}
	if !(volume > 0) {
		return 0, 0, wording.Unsaid("target volume %.2f L: must be above zero, for example 23 L", float64(volume)/unit.Litre)
	}
	mixed := (one.mass() + float64(perLitre)*WaterDensity(standard)) / (float64(target) * WaterDensity(standard))
	wort = unit.Volume(float64(volume) / mixed * unit.Litre)
	water = wort * perLitre / unit.Litre
	w.Step("V", "wort", "its extract is the extract of the blend", float64(wort)/unit.Litre, "L", "Bates1942")
	w.Step("W", "water", "its mass is the rest of the mass of the blend", float64(water)/unit.Litre, "L", "Tanaka2001")
	return wort, water, nil
}
