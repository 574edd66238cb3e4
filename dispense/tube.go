package dispense

import (
	"math"

	"spile/unit"
	"spile/wording"
)

// Tube is a kind of tube by how much more than a smooth pipe it holds back.
type Tube struct {
	Name      wording.Text
	Factor    float64 // on friction
	Low, High float64 // nine times in ten
}

// Kinds of tube. Published figures for hard tube agree with a smooth pipe within 10 %, those for soft vinyl are 1.05 to
// 1.58 times higher: its bore varies. A timed pour tells more. References: [BrewersAssociation2019]
var (
	Hard      = Tube{"hard", 1.0, 0.9, 1.1}
	SoftVinyl = Tube{"soft vinyl", 1.45, 1.0, 1.6}
)

// Tubes lists the kinds.
func Tubes() []Tube { return []Tube{Hard, SoftVinyl} }

// Figure is what the trade publishes of a tube: the pressure lost a metre at one US gallon a minute.
type Figure struct {
	Tube   wording.Text // name of the kind
	Bore   unit.Length
	Drop   float64 // Pa/m
	Source string
}

const psiPerFoot = unit.PSI / unit.Foot // Pa/m

// Figures are those of the bores that people pour through at home, as read; testdata holds all of them.
// References: [BrewersAssociation2019]
func Figures() []Figure {
	vinyl, hard := SoftVinyl.Name, Hard.Name
	return []Figure{
		{vinyl, 4.76 * unit.Millimetre, 3.0 * psiPerFoot, "a beer-chiller manual of 2010 and two pages of the trade"},
		{vinyl, 4.76 * unit.Millimetre, 2.2 * psiPerFoot, "a page of the trade"},
		{vinyl, 6.35 * unit.Millimetre, 0.85 * psiPerFoot, "BrewersAssociation2019"},
		{hard, 4.76 * unit.Millimetre, 2.2 * psiPerFoot, "a page of the trade"},
		{hard, 6.35 * unit.Millimetre, 0.5 * psiPerFoot, "a page of the trade"},
	}
}

const (
	widest     = 6.5 * unit.Millimetre // bore up to which the figures agree; beyond they scatter by two in both directions
	transition = 0.3                   // how well friction is known where the flow is neither smooth nor rough
	timing     = 0.1                   // how well a tube is known that was calibrated (assumption)
)

// Edges are the line that holds back least and the one that does most, nine times in ten: by what is known of the tube,
// and by how well friction is known at that flow in m3/s.
func (l Line) Edges(tube Tube, flow float64, t unit.Temperature) (free, tight Line) {
	down, up := 1-tube.Low/tube.Factor, tube.High/tube.Factor-1
	if l.Bore > widest {
		down, up = 0.5, 1
	}
	if re := l.Reynolds(flow, t); re > 2100 && re < 4000 {
		down, up = math.Hypot(down, transition), math.Hypot(up, transition)
	}
	free, tight = l, l
	free.Tube, tight.Tube = l.factor()*(1-down), l.factor()*(1+up)
	return free, tight
}

// Calibrate is the tube of a line by one pour of v in d at a gauge pressure: what friction is left after lift and tap, over
// that of a smooth pipe. It fails where nothing is left, and where the factor is outside 0.2 to 5, which no tube explains.
func (l Line) Calibrate(p unit.Gauge, t unit.Temperature, v unit.Volume, d unit.Duration) (Tube, error) {
	l.Tube = Hard.Factor
	flow := float64(v) / float64(d)
	smooth := l.Drop(flow, t) * float64(l.Length)
	left := float64(p - l.Head() - l.tap(flow))
	factor := left / smooth
	if !(factor >= 0.2 && factor <= 5) {
		return Tube{}, wording.Unsaid("a pour of %s in %.0f s is %.1f L/min: at %s a smooth tube would give %.1f L/min; check pressure, bore, length and seconds",
			unit.FormatVolume(v, 0), float64(d), flow*unit.Minute/unit.Litre, unit.FormatDials(p, 0), l.Flow(p, t)*unit.Minute/unit.Litre)
	}
	return Tube{"calibrated", factor, factor * (1 - timing), factor * (1 + timing)}, nil
}
