package advice

import (
	"math"
	"strconv"

	"spile/batch"
	"spile/estimate"
	"spile/unit"
	"spile/wording"
)

// Taught is a line of a passport: what finished batches taught of a yeast, a vessel or an instrument.
type Taught struct{ What, Learnt, Before string }

// learnt are the unknowns that people ask of, with how their bands are written. The others are of the model alone.
var learnt = map[estimate.Unknown]struct {
	what  wording.Text
	write func(b estimate.Band, s unit.Style) string
}{
	estimate.AttenuationLimit: {"how far it ferments out", func(b estimate.Band, s unit.Style) string {
		return between(s, 100*b.P05, 100*b.P95, "between %s and %s %%")
	}},
	estimate.Lag: {"until half its crop has grown, at 20 °C", func(b estimate.Band, s unit.Style) string {
		return between(s, b.P05, b.P95, "between %s and %s hours")
	}},
	estimate.Uptake: {"how fast it then works, in percent of the usual", nil},
	estimate.Leak: {"gas it loses at one bar", func(b estimate.Band, s unit.Style) string {
		return between(s, b.P05, b.P95, "between %s and %s g a day")
	}},
	estimate.ReliefOffset: {"its working valve opens", func(b estimate.Band, s unit.Style) string {
		return offBy(s, b, thanSet, func(x float64) string { return s.Pressure(unit.Gauge(x), 0) })
	}},
	estimate.ReliefReseat: {"its working valve closes again", func(b estimate.Band, s unit.Style) string {
		return s.Say("between %s and %s lower than it opens", s.Pressure(unit.Gauge(b.P05), 0), s.Pressure(unit.Gauge(b.P95), 0))
	}},
	estimate.HeatLoss:      {"how fast it takes on the warmth of its air, in percent of the usual", nil},
	estimate.StillTransfer: {"how fast still beer in it takes up gas, in percent of the usual", nil},
}

// SayPassport is a line of a passport in words; false where it is of the model alone.
func SayPassport(p estimate.Passport, s unit.Style) (t Taught, ok bool) {
	row, ok := learnt[p.Unknown]
	if !ok {
		return t, false
	}
	write := row.write
	if write == nil { // against the middle of what is usual
		usual := p.Generic.P50
		write = func(b estimate.Band, s unit.Style) string {
			return between(s, 100*b.P05/usual, 100*b.P95/usual, "between %s and %s %%")
		}
	}
	return Taught{s.Word(row.what), write(p.Band, s), write(p.Generic, s)}, true
}

// SayTool is what was learnt of an instrument in words.
func SayTool(t estimate.Tool, learnt, usual estimate.Instrument, s unit.Style) Taught {
	write := func(ins estimate.Instrument) string {
		b := estimate.Band{P05: ins.Mean - estimate.NineInTen*ins.Offset, P50: ins.Mean, P95: ins.Mean + estimate.NineInTen*ins.Offset}
		return offBy(s, b, thanIs, func(x float64) string { return errorOf(t.Quantity, x, s) })
	}
	return Taught{s.Word("it shows"), write(learnt), write(usual)}
}

// errorOf writes how far an instrument is off, without its sign.
func errorOf(q batch.Quantity, x float64, s unit.Style) string {
	switch q {
	case batch.Gravity:
		m := s.Falls(0.1)
		return m.With(m.Number(unit.Gravity(1+x).Points(), 0))
	case batch.Pressure:
		return s.Pressure(unit.Gauge(x), 0)
	case batch.Temperature, batch.AirTemperature:
		return s.Difference(unit.TemperatureDifference(x), 0)
	}
	return s.Mass(unit.Mass(x), 0)
}

// aside is how a band about zero is said: wholly above it, wholly below, and on both sides.
type aside struct{ above, below, about wording.Text }

var (
	thanSet = aside{"between %s and %s higher than set", "between %s and %s lower than set", "from %s lower to %s higher than set"}
	thanIs  = aside{"between %s and %s higher than it is", "between %s and %s lower than it is", "from %s lower to %s higher than it is"}
)

// offBy writes a band about zero as lower and higher.
func offBy(s unit.Style, b estimate.Band, than aside, write func(x float64) string) string {
	low, high := write(math.Abs(b.P05)), write(math.Abs(b.P95))
	switch {
	case b.P05 >= 0:
		return s.Say(than.above, low, high)
	case b.P95 <= 0:
		return s.Say(than.below, high, low)
	}
	return s.Say(than.about, low, high)
}

func between(s unit.Style, low, high float64, text wording.Text) string {
	return s.Say(text, s.Decimal(twoDigits(low)), s.Decimal(twoDigits(high)))
}

// twoDigits writes a positive number with two digits that count.
func twoDigits(x float64) string {
	step := math.Pow10(int(math.Floor(math.Log10(math.Max(x, 1e-3)))) - 1)
	return strconv.FormatFloat(math.Round(x/step)*step, 'f', max(0, -int(math.Floor(math.Log10(step)))), 64)
}
