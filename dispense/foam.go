package dispense

import (
	"spile/co2"
	"spile/unit"
	"spile/wording"
)

// Pour is a pour that foams, as far as it is known.
type Pour struct {
	Line     Line
	Pressure unit.Gauge // in the vessel
	Flow     float64    // m3/s
	Beer     unit.Temperature
	Warmest  unit.Temperature // of any spot of the line
	Volumes  unit.Volumes     // 0: what the beer holds at rest under Pressure
	Air      unit.Pressure    // outside
}

// Cause is why beer foams.
type Cause string

// Wording is the cause as it is read.
func (c Cause) Wording() wording.Text { return wording.Text(c) }

// The causes, in the order in which they are looked for.
const (
	TooMuchGas  Cause = "too much gas in the beer"
	OutInVessel Cause = "gas comes out in the vessel"
	OutInLine   Cause = "gas comes out in a warm line"
	TooFast     Cause = "it runs too fast"
	Dirty       Cause = "line, tap or glass"
)

// Diagnosis is the one cause to look at first, the number that shows it, and the cheapest thing to do.
type Diagnosis struct {
	Cause      Cause
	Shown, Fix wording.Sentence
	Hold       unit.Gauge // what keeps the gas in the beer in the vessel
	HoldWarm   unit.Gauge // the same at the warmest spot of the line
	BreakOut   unit.Length
	Volumes    unit.Volumes // gas in the beer, given or at rest
	// What puts right a cause that lies in the vessel: to be let down to Rests, or cooled to Cools where that is not zero.
	Rests unit.Volumes
	Cools unit.Temperature
}

const (
	// UsualPour is two US fluid ounces a second, m3/s: 3.5 L/min (common practice, read in a page of the trade).
	UsualPour = 2 * unit.GallonUS / 128
	// fastPour is one US gallon a minute, m3/s: the same norm in its other wording (memory).
	fastPour = unit.GallonUS / unit.Minute
	// MostGas is the carbonation that foams from nearly any tap (common practice, no source); usualGas is that of many beers.
	MostGas, usualGas unit.Volumes = 3.0, 2.5
	// dialError is how far a dial and the solubility of gas in beer may be off together (assumption).
	dialError unit.Gauge = 1 * unit.PSI
	// coldest beer that is still safe from ice (common practice, no source).
	coldest = 273.15 // K
	// longest line that is still handy, m; longer ones are better made of narrower tube of 4 mm (common practice, no source).
	longest    = 4
	narrowBore = 4 * unit.Millimetre
)

// Foam names the first cause of foam. It needs temperatures of -2 to 40 C and up to 6 bar absolute at rest; gas in the beer
// is known to 6 %, flow as Drop. References: [Weiss1974], [Churchill1977]
func (p Pour) Foam() (Diagnosis, error) {
	d, found, err := p.FoamInVessel()
	if err != nil {
		return d, err
	}
	d.BreakOut = p.Line.BreakOut(p.Pressure, p.Flow, p.Beer, d.HoldWarm)
	if found {
		return d, nil
	}
	p.Volumes = d.Volumes
	switch inLine := p.Pressure - max(p.Line.Head(), 0); {
	case p.Warmest > p.Beer && inLine < d.HoldWarm-dialError:
		err = d.outInLine(p, inLine)
	case p.Flow > fastPour:
		err = d.tooFast(p)
	default:
		d.Cause = Dirty
		d.Shown = wording.Unsaid("The gas is held, and %s is not too fast.", litresPerMinute(p.Flow))
		d.Fix = wording.Unsaid("Clean line and tap. Rinse the glass with cold water. Open the tap fully at once.")
	}
	return d, err
}

// FoamInVessel names a cause of foam that lies in the vessel, before any line: neither Line nor Flow need be known. found is
// false where the vessel holds its gas, and the cause is further on. Its range and its error are those of Foam.
func (p Pour) FoamInVessel() (d Diagnosis, found bool, err error) {
	cold, warm, err := p.hold()
	if err != nil {
		return Diagnosis{}, false, err
	}
	d = Diagnosis{Hold: cold.Gauge(p.Air), HoldWarm: warm.Gauge(p.Air), Volumes: p.Volumes}
	switch {
	case p.Volumes > MostGas:
		d.tooMuchGas(p)
	case p.Pressure < d.Hold-dialError:
		err = d.outInVessel(p)
	default:
		return d, false, nil
	}
	return d, true, err
}

// hold is the absolute pressure that keeps the gas in the beer in the vessel, and at the warmest spot. It fills in the gas.
func (p *Pour) hold() (cold, warm unit.Pressure, err error) {
	cold = p.Pressure.Absolute(p.Air)
	if p.Volumes == 0 {
		p.Volumes = co2.Equilibrium(p.Beer, cold, co2.BeerFactor{}, nil)
	} else if cold, err = co2.EquilibriumPressure(p.Beer, p.Volumes, co2.BeerFactor{}, nil); err != nil {
		return 0, 0, err
	}
	if p.Warmest <= p.Beer {
		return cold, cold, nil
	}
	warm, err = co2.EquilibriumPressure(p.Warmest, p.Volumes, co2.BeerFactor{}, nil)
	return cold, warm, err
}

// BreakOut is how far from the vessel a spot of the line may be that needs that pressure to hold its gas while beer runs at
// a flow in m3/s; the whole length if it may be anywhere before the tap, 0 if nowhere. Rise and friction are taken as even
// along the line; what disconnects lose as lost in the tap.
func (l Line) BreakOut(p unit.Gauge, flow float64, t unit.Temperature, hold unit.Gauge) unit.Length {
	fall, left := l.Drop(flow, t)*float64(l.Length)+float64(l.Head()), float64(p-hold)
	switch {
	case left <= 0:
		return 0
	case left < fall:
		return unit.Length(left / fall * float64(l.Length))
	}
	return l.Length
}

func (d *Diagnosis) tooMuchGas(p Pour) {
	d.Cause, d.Rests = TooMuchGas, usualGas
	d.Shown = wording.Unsaid("At %s, the warmest, %s need %s.", celsius(max(p.Warmest, p.Beer)), volumes(p.Volumes), unit.FormatDials(d.HoldWarm, 0))
	d.Fix = wording.Unsaid("Let it down to about %s, a little at a time. A longer line does not help.", volumes(usualGas))
}

// outInVessel is put right by colder beer; where that would be ice, by less gas.
func (d *Diagnosis) outInVessel(p Pour) error {
	d.Cause = OutInVessel
	d.Shown = wording.Unsaid("At %s, %s need %s. The dial shows %s.", celsius(p.Beer), volumes(p.Volumes), unit.FormatDials(d.Hold, 0), unit.FormatDials(p.Pressure, 0))
	at := p.Pressure.Absolute(p.Air)
	if co2.Equilibrium(coldest, at, co2.BeerFactor{}, nil) < p.Volumes {
		d.Rests = co2.Equilibrium(p.Beer, at, co2.BeerFactor{}, nil)
		d.Fix = wording.Unsaid("Let it down to %s, which this pressure holds.", volumes(d.Rests))
		return nil
	}
	t, err := co2.EquilibriumTemperature(at, p.Volumes, co2.BeerFactor{}, nil)
	d.Cools = t
	d.Fix = wording.Unsaid("Cool the beer to %s. If it then runs too fast, slow it by line, never by less pressure.", celsius(t))
	return err
}

func (d *Diagnosis) outInLine(p Pour, inLine unit.Gauge) error {
	d.Cause = OutInLine
	d.Shown = wording.Unsaid("At %s, the warmest, %s need %s. The line holds %s.", celsius(p.Warmest), volumes(p.Volumes), unit.FormatDials(d.HoldWarm, 0), unit.FormatDials(inLine, 0))
	at := max(inLine.Absolute(p.Air), d.Hold.Absolute(p.Air))
	t, err := co2.EquilibriumTemperature(at, p.Volumes, co2.BeerFactor{}, nil)
	d.Fix = wording.Unsaid("Keep line and tap at %s or colder, beside the beer or wrapped up. Throw the first glass away.", celsius(t))
	return err
}

// tooFast is put right by line, never by pressure, which holds the gas.
func (d *Diagnosis) tooFast(p Pour) error {
	d.Cause = TooFast
	d.Shown = wording.Unsaid("It runs at %s. The norm of the trade is %s.", litresPerMinute(p.Flow), litresPerMinute(UsualPour))
	l, bore := p.Line, wording.Text("this tube")
	length, err := l.LengthFor(p.Pressure, UsualPour, p.Beer)
	if err == nil && length > longest && l.Bore > narrowBore {
		l.Bore, bore = narrowBore, "tube 4 mm inside"
		length, err = l.LengthFor(p.Pressure, UsualPour, p.Beer)
	}
	d.Fix = wording.Unsaid("Take %.1f m of %s. Leave the pressure as it is: it holds the gas.", float64(length), bore)
	return err
}

func litresPerMinute(flow float64) wording.Sentence {
	return wording.Unsaid("%.1f L/min", flow*unit.Minute/unit.Litre)
}

func celsius(t unit.Temperature) string { return unit.FormatCelsius(t, 0) }

func volumes(v unit.Volumes) wording.Sentence { return wording.Unsaid("%.1f volumes", float64(v)) }
