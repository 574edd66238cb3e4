package yeast

import (
	"math"

	"spile/portable"
	"spile/unit"
	"spile/wording"
	"spile/working"
)

// Form is how yeast comes.
type Form string

// The forms that a pack can have.
const (
	Dry    Form = "dry"
	Liquid Form = "liquid"
	Slurry Form = "slurry"
)

// Wording is the form as it is read.
func (f Form) Wording() wording.Text { return wording.Text(f) }

// Band is the 5th, 50th and 95th percentile of a belief.
type Band struct{ P05, P50, P95 float64 }

// lognormal is a band about a median whose 5th and 95th percentiles lie a factor away.
func lognormal(median, factor float64) Band { return Band{median / factor, median, median * factor} }

// Pack is yeast as bought or saved.
type Pack struct {
	Kind    Kind
	Form    Form
	Mass    unit.Mass        // dry: of granules; slurry: of thick slurry; liquid: 0, one pack is packed with a count
	Packs   float64          // liquid: how many; 0: one
	Age     unit.Duration    // since made or harvested
	Storage unit.Temperature // 0: refrigerated, 4 C
}

// form is what a form of yeast holds and how it keeps.
type form struct {
	cells  float64 // per kg, or per pack for liquid, when fresh
	factor float64 // between the median and the 5th or 95th percentile
	keeps  float64 // share lost a day at 4 C
	warms  float64 // by how much faster ten kelvin warmer
}

// Dry: six products held 8e9 to 18e9 cells a gram [VandenBerg2003], makers promise 5e9 to 6e9 viable; 4 % a year is
// lost at 4 C and 20 % at 20 C (forum, weak). Liquid: 100e9 a pack, 0.7 % of the first count a day in the cold (trade
// rule). Slurry: 7 % lost in six days at 1 C and 14 % at 5 C [McCaig1985]; cells in a kilogram of thick slurry from memory.
var forms = map[Form]form{
	Dry:    {cells: 10e12, factor: 1.8, keeps: 1.1e-4, warms: 2.8},
	Liquid: {cells: 100e9, factor: 1.4, keeps: 7e-3, warms: 2.5},
	Slurry: {cells: 1.2e12, factor: 1.8, keeps: 2.2e-2, warms: 4.5},
}

// Viable is the number of living cells in p: a wide band, since packs differ and nobody counts at home. An unknown form
// counts as dry. Ages to two years, storage 0 to 25 C; the error is the band.
// References: [VandenBerg2003], [McCaig1985]
func (p Pack) Viable(w *working.Sheet) (Band, error) {
	amount, f, err := p.amount()
	if err != nil {
		return Band{}, err
	}
	storage := p.Storage
	if storage == 0 {
		storage = unit.Celsius(4)
	}
	days := float64(p.Age) / unit.Day
	rate := f.keeps * portable.Pow(f.warms, (storage.Celsius()-4)/10)
	alive := portable.Exp(-rate * days)
	factor := f.factor * portable.Exp(0.5*rate*days) // the older, the less is known
	b := lognormal(amount*f.cells*alive, factor)
	w.Input("age", "age", days, "days", working.Given)
	w.Input("t", "kept at", storage.Celsius(), "°C", working.Given)
	w.Step("n0", "cells when fresh", "mass times cells a gram, or packs times cells a pack", amount*f.cells/1e9, "10⁹", "VandenBerg2003")
	w.Step("r", "lost a day", "by form, faster the warmer", 100*rate, "%", "McCaig1985")
	w.Step("n", "living cells", "n = n0 exp(-r · age)", b.P50/1e9, "10⁹", "")
	w.Range("kept at 0 to 25 °C", storage.Celsius(), 0, 25)
	w.Range("up to two years old", days, 0, 730)
	w.Error(b.P05/1e9, b.P95/1e9, "packs differ, and what storage does to yeast is known by rules of the trade only")
	return b, nil
}

// amount is the mass in kg or the number of packs.
func (p Pack) amount() (float64, form, error) {
	f, ok := forms[p.Form]
	if !ok {
		f = forms[Dry]
	}
	amount := float64(p.Mass)
	if p.Form == Liquid {
		if amount = p.Packs; amount == 0 {
			amount = 1
		}
	}
	if !(amount > 0 && amount < 1e3) {
		return 0, f, wording.Unsaid("%.4g kg of yeast: accepted is any mass above zero, for example 11.5 g", amount)
	}
	if !(p.Age >= 0) {
		return 0, f, wording.Unsaid("an age of %.0f days: accepted is zero or more, for example 90 days", float64(p.Age)/unit.Day)
	}
	return amount, f, nil
}

// Needed is the living cells wanted for v of wort of extract p0: 0.75 million a millilitre and degree Plato for ales,
// 1.5 for lagers, 0.5 for warm farmhouse yeast (common practice, no source). Ferments go well from half to twice that.
func (k Kind) Needed(v unit.Volume, p0 unit.Extract, w *working.Sheet) float64 {
	per := k.traits().cells
	n := per * 1e6 * float64(v) / unit.Millilitre * p0.Plato()
	w.Input("V", "wort", float64(v)/unit.Litre, "L", working.Given)
	w.Input("P", "extract", p0.Plato(), "°P", working.Given)
	w.Input("c", "cells wanted a mL and °P", per, "10⁶", working.Constant)
	w.Step("N", "cells wanted", "N = c · V · P", n/1e9, "10⁹", "")
	return n
}

// MassFor is the dry yeast, fresh, that holds n living cells at the median.
func MassFor(n float64) unit.Mass { return unit.Mass(n / forms[Dry].cells) }

// lagAtNeed is the lag at the wanted pitch at 20 C, h: the median of measured ferments of one laboratory.
const lagAtNeed = 29.0

// Lag is the hours until half the crop has grown, for a pitch of living cells where needed are wanted, at t: each
// halving of the pitch adds a doubling time. Outside the growing range it is endless. Uncertain by a factor of 1.8.
// References: [Rosso1993], [Verbelen2009]
func (k Kind) Lag(living, needed float64, t unit.Temperature) Band {
	kin := k.Kinetics()
	growth := kin.Pace(float64(t), 0).Growth * unit.Hour
	if !(growth > 0) || !(living > 0) {
		return Band{math.Inf(1), math.Inf(1), math.Inf(1)}
	}
	reference := kin.Growth * unit.Hour
	hours := lagAtNeed*reference/growth + math.Log(needed/living)/growth
	return lognormal(math.Max(hours, 0.1*lagAtNeed*reference/growth), 1.8)
}

// StartFor is X at pitching that gives the lag of l hours at 20 C for growth k.Growth.
func (k *Kinetics) StartFor(hours float64) float64 {
	return 1 / (1 + portable.Exp(math.Min(k.Growth*unit.Hour*hours, 60)))
}
