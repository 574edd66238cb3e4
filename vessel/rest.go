package vessel

import (
	"math"

	"spile/co2"
	"spile/unit"
	"spile/wording"
	"spile/working"
	"spile/wort"
)

// Gas is beer and the gas above it, both at rest: a closed sum of carbon dioxide.
type Gas struct {
	Beer   unit.Volume
	Head   unit.Volume // above the beer, all of it CO2 and water vapour
	Factor co2.BeerFactor
}

// Content is the CO2 in beer and gas together, mol, at t and an absolute pressure above that of water vapour. -2 to
// 40 C, to 6 bar; error 3 %, that of the solubility. References: [Weiss1974]
func (g Gas) Content(t unit.Temperature, p unit.Pressure) float64 { return g.at(t).content(float64(p)) }

// isotherm is gas and beer at one temperature: what depends on that alone is worked out once, since AtRest asks often.
type isotherm struct {
	Gas
	henry, virial, kelvin, vapour float64
}

func (g Gas) at(t unit.Temperature) isotherm {
	return isotherm{g, g.Factor.Henry(t), co2.SecondVirial(t), float64(t), float64(co2.VapourPressure(t))}
}

func (i isotherm) content(p float64) float64 { return i.dissolved(p)*float64(i.Beer) + i.above(p) }

// dissolved is the CO2 in a cubic metre of beer, mol.
func (i isotherm) dissolved(p float64) float64 {
	return co2.SolutionKernel(i.henry, i.virial, i.kelvin, max(p-i.vapour, 0), p)
}

// above is the CO2 in the gas, mol.
func (i isotherm) above(p float64) float64 {
	pc, rt := max(p-i.vapour, 0), gasR*i.kelvin
	return pc / (rt + i.virial*pc) * float64(i.Head)
}

// AtRest is the absolute pressure at which beer and gas hold mol of CO2: the inverse of Content, to 1e-9.
func (g Gas) AtRest(t unit.Temperature, mol float64) unit.Pressure {
	i := g.at(t)
	return unit.Pressure(i.atRest(mol, i.vapour+unit.Bar))
}

// atRest searches along the slope at a pressure that is near, above that of the vapour: the content is nearly a straight line.
func (i isotherm) atRest(mol, near float64) float64 {
	p := max(near, i.vapour+unit.Kilopascal)
	held := i.content(p)
	slope := held / (p - i.vapour)
	for range 50 {
		step := (mol - held) / slope
		if p = max(p+step, i.vapour); math.Abs(step) < 1e-9*p {
			break
		}
		held = i.content(p)
	}
	return p
}

// pourSteps is into how many steps a pour is cut. Each takes the gas of its middle along and is right to the second order:
// 100 times as many change the pressure by less than 0.1 %.
const pourSteps = 10

// Poured is the absolute pressure at rest once so much of the beer has left with its gas, no other gas coming in. It
// fails where there is not so much beer. References: [Weiss1974]
func (g Gas) Poured(t unit.Temperature, p unit.Pressure, volume unit.Volume) (unit.Pressure, error) {
	if volume >= g.Beer {
		return 0, wording.Unsaid("%.1f L cannot be poured from %.1f L", float64(volume)/unit.Litre, float64(g.Beer)/unit.Litre)
	}
	step, i, at := volume/pourSteps, g.at(t), float64(p)
	for range pourSteps {
		middle, _ := i.less(at, at, step/2)
		at, i = i.less(at, middle, step)
	}
	return unit.Pressure(at), nil
}

// less is the pressure at rest, from p, without so much beer that holds what is dissolved at the pressure carried.
func (i isotherm) less(p, carried float64, volume unit.Volume) (float64, isotherm) {
	left := i.content(p) - i.dissolved(carried)*float64(volume)
	i.Beer -= volume
	i.Head += volume
	return i.atRest(left, p), i
}

// LetDown is the absolute pressure to which the dial climbs again after the gas above beer at rest under from was let
// out to to, absolute: the beer gives back, dead yeast or not. References: [Weiss1974]
func (g Gas) LetDown(t unit.Temperature, from, to unit.Pressure) unit.Pressure {
	return g.GivesBack(t, from, to, 1)
}

// GivesBack is LetDown of beer that was not at rest under from: it holds so many times what it would.
func (g Gas) GivesBack(t unit.Temperature, from, to unit.Pressure, times float64) unit.Pressure {
	i := g.at(t)
	return unit.Pressure(i.atRest(times*i.dissolved(float64(from))*float64(g.Beer)+i.above(float64(to)), float64(from)))
}

// Gauges is how far the instruments of a quiet-gauge test scatter, as standard deviations.
type Gauges struct {
	Pressure    unit.Gauge
	Temperature unit.TemperatureDifference
}

// What is at hand: a dial with a strip thermometer; a pressure transducer with a probe. From memory.
var (
	DialAndStrip       = Gauges{0.5 * unit.PSI, 0.7}
	TransducerAndProbe = Gauges{0.05 * unit.PSI, 0.25}
)

// QuietGauge is a test of whether beer still works, without a sample: the relief valve stays at its setting, the pressure is
// let down well below it, and once the beer has given back what it held the gauge is read twice. Nothing is shut.
type QuietGauge struct {
	Gas
	Original      unit.Gravity // of the wort
	First, Second co2.State
	Rebound       unit.Pressure // to which dead beer would climb after the let-down, absolute; 0: not known
	Leak          co2.LeakRate  // of the vessel, as proved; 0: not known, the answer is net of it
	Gauges        Gauges
}

// What a test is judged by: one false alarm in twenty, four in five cases found. Normal quantiles.
const (
	falseAlarm = 1.644854
	power      = 0.841621
	nineInTen  = 1.644854
)

// Quiet is what a quiet-gauge test says, in points of gravity a day.
type Quiet struct {
	Points    float64 // fall of gravity a day
	SD        float64 // of its error
	Limit     float64 // a fall that the test would find in four cases of five
	Unsettled float64 // part of Points that may be gas still coming back after the let-down
}

// Between is the fall a day, nine times in ten: what may be gas coming back is taken off the lower edge.
func (q Quiet) Between() (low, high float64) {
	return q.Points - q.Unsettled - nineInTen*q.SD, q.Points + nineInTen*q.SD
}

const (
	// QuietEnough is the upper edge of a fall, points a day, below which a gauge has proved a finish.
	QuietEnough = 0.5
	// QuietRoom is the fall for which a let-down leaves room below the valve, points over the test: a faster one makes it hiss.
	QuietRoom = 0.5
)

// QuietVerdict is what a quiet-gauge test says.
type QuietVerdict int

// The verdicts.
const (
	QuietUnknown   QuietVerdict = iota // a longer test would tell
	QuietUnsettled                     // the beer was still giving gas back at the first reading
	QuietDone                          // at most QuietEnough
	QuietWorks                         // it surely falls
)

// Verdict is what the test says.
func (q Quiet) Verdict() QuietVerdict {
	low, high := q.Between()
	switch {
	case q.Unsettled > q.Limit/2:
		return QuietUnsettled
	case high <= QuietEnough:
		return QuietDone
	case low > 0:
		return QuietWorks
	}
	return QuietUnknown
}

// Points gives the fall of gravity a day that made the gas found. Temperatures -2 to 40 C, up to 6 bar, readings at least an hour apart.
// References: [Weiss1974], [Balling1865]
func (q QuietGauge) Points(w *working.Sheet) (Quiet, error) {
	days := float64(q.Second.At-q.First.At) / unit.Day
	if !(days > 0 && q.Beer > 0 && q.Head > 0) {
		return Quiet{}, wording.Unsaid("readings %.1f h apart over %.1f L of beer with %.1f L of gas: each must be above zero, for example 24 h, 20 L and 6 L", days*24, float64(q.Beer)/unit.Litre, float64(q.Head)/unit.Litre)
	}
	first, second := q.Content(q.First.Temperature, q.First.Pressure), q.Content(q.Second.Temperature, q.Second.Pressure)
	perPoint := float64(q.Beer) * GasPerPoint(q.Original) / molarCO2
	leaked := float64(q.Leak) * days * unit.Day
	r := Quiet{Points: (second - first + leaked) / perPoint / days}
	sd := q.scatter() / perPoint / days
	r.SD, r.Limit = sd, (falseAlarm+power)*sd
	if q.Rebound > q.First.Pressure {
		back := q.Content(q.First.Temperature, q.Rebound) - first
		r.Unsettled = min(max(back/perPoint/days, 0), max(r.Points, 0))
	}
	q.explain(w, first, second, perPoint, r)
	return r, nil
}

// scatter is the standard deviation of the difference of two contents, mol.
func (q QuietGauge) scatter() float64 {
	var sd float64
	for _, s := range []co2.State{q.First, q.Second} {
		at := q.Content(s.Temperature, s.Pressure)
		byPressure := q.Content(s.Temperature, s.Pressure+unit.Kilopascal) - at
		byTemperature := q.Content(s.Temperature+1, s.Pressure) - at
		sd = math.Hypot(sd, math.Hypot(byPressure*float64(q.Gauges.Pressure)/unit.Kilopascal, byTemperature*float64(q.Gauges.Temperature)))
	}
	return sd
}

func (q QuietGauge) explain(w *working.Sheet, first, second, perPoint float64, r Quiet) {
	if w == nil {
		return
	}
	grams := molarCO2 / unit.Gram
	w.Input("VL", "beer", float64(q.Beer)/unit.Litre, "L", working.Given)
	w.Input("VG", "gas above it", float64(q.Head)/unit.Litre, "L", working.Given)
	w.Step("m1", "carbon dioxide at the first reading", "m = s(T) VL p + p VG M/(Z R T)", first*grams, "g", "Weiss1974")
	w.Step("m2", "carbon dioxide at the second", "the same at its pressure and temperature", second*grams, "g", "Weiss1974")
	w.Step("g", "gas for a point of gravity", "g = 0.9565 g for each g of alcohol made", perPoint*grams, "g", "Balling1865")
	w.Step("r", "fall of gravity", "r = (m2 - m1 + leak · dt)/(g dt)", r.Points, "points a day", "")
	w.Step("sd", "error of the readings", "of both pressures and both temperatures", r.SD, "points a day", "")
	w.Step("d", "smallest fall that it would find", "d = (1.645 + 0.842) sd: one false alarm in 20, four of five found", r.Limit, "points a day", "")
	for _, s := range []co2.State{q.First, q.Second} {
		w.Range("beer from -2 to 40 °C", s.Temperature.Celsius(), -2, 40)
		w.Range("absolute pressure up to 600 kPa", float64(s.Pressure), 0, 6*unit.Bar)
	}
	low, high := r.Between()
	w.Error(low, high, "how finely pressure and temperature are read, and gas still coming back")
}

// GasPerPoint is the CO2, kg per m3 of beer, that comes of one point of gravity (0.001) of wort of this original gravity.
// 1.000 to 1.120, error 3 %. References: [Balling1865], [Rischbieter1977]
func GasPerPoint(original unit.Gravity) float64 {
	return MadeBetween(original, original-0.010, original-0.011)
}

// MadeBetween is the CO2, kg per m3 of beer, made while wort of this original gravity falls from one gravity to another.
// References: [Balling1865], [Rischbieter1977]
func MadeBetween(original, from, to unit.Gravity) float64 {
	p0 := float64(wort.ExtractFromGravity(original))
	used := wort.UsedKernel(p0, float64(to)) - wort.UsedKernel(p0, float64(from))
	return used * wort.CO2PerExtract * float64(original) * wort.WaterDensity(unit.Celsius(20))
}

// ValveSD is how far the setting of a working valve may be off: the valve and whoever sets it. From memory.
var ValveSD = unit.Gauge(math.Hypot(1.5, 0.5)) * unit.PSI

// mostLetDowns is how often a person would let gas out and wait before a test.
const mostLetDowns = 6

// LetDownTo proposes to which absolute pressure to let the gas down from from, and how often with a rest between, so that a
// valve that opens at opens cannot open before the second reading: what comes back, and a fall of gravity by so many points,
// stay below its setting less its error. Never below air, so that nothing is drawn in; times is 0 where nothing need be
// let down, and -1 where no letting down suffices.
func (g Gas) LetDownTo(t unit.Temperature, from, opens, air unit.Pressure, original unit.Gravity, points float64) (to unit.Pressure, times int) {
	made := points * GasPerPoint(original) * float64(g.Beer) / molarCO2
	highest := opens - unit.Pressure(nineInTen*float64(ValveSD))
	reaches := func(to unit.Pressure) float64 {
		back := g.LetDown(t, from, to)
		return float64(g.AtRest(t, g.Content(t, back)+made) - highest)
	}
	if reaches(from) <= 0 {
		return from, 0
	}
	for times = 1; reaches(air) > 0; times++ {
		if from = g.LetDown(t, from, air); times == mostLetDowns {
			return air, -1
		}
	}
	i := g.at(t) // what may stay above the beer: the highest content that may be, less what the beer holds and makes
	above := i.content(float64(highest)) - made - i.dissolved(float64(from))*float64(g.Beer)
	to = unit.Pressure(i.vapour + co2.PressureKernel(above/float64(g.Head), i.kelvin))
	return min(max(to, air), from), times
}
