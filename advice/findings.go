package advice

import (
	"math"
	"slices"

	"spile/batch"
	"spile/estimate"
	"spile/unit"
	"spile/wording"
)

// findingKeys are the keys of the sentence and of what settles it.
var findingKeys = map[estimate.FindingKind][2]string{
	estimate.FindingLeak:             {"find leak", "settle leak"},
	estimate.FindingReliefStuck:      {"find relief", "settle relief"},
	estimate.FindingHydrometerOffset: {"find hydrometer", "settle hydrometer"},
	estimate.FindingDialOffset:       {"find dial", "settle dial"},
	estimate.FindingMissingVent:      {"find vent", "settle vent"},
	estimate.FindingSealSlow:         {"find seal", "settle seal"},
	estimate.FindingColdStall:        {"find cold", "settle cold"},
	estimate.FindingTiredYeast:       {"find tired", "settle tired"},
	estimate.FindingCannotTell:       {"find cannot", "settle cannot"},
}

// findings puts words to what may be amiss. A batch that only cannot be told
// finished from stopped gets that said too.
func (v *view) findings() []Finding {
	var out []Finding
	for _, f := range v.f.Findings {
		keys, known := findingKeys[f.Kind]
		switch f.Of {
		case estimate.FindingHydrometerOffset:
			keys = [2]string{"find label", "settle hydrometer"}
		case estimate.FindingDialOffset:
			keys = [2]string{"find dial perhaps", "settle dial"}
		}
		if !known {
			continue
		}
		out = append(out, Finding{f.Kind, f.Probability, f.Since, f.Size, v.findingSentence(keys[0], f), v.say(keys[1])})
	}
	return out
}

func (v *view) findingSentence(key string, f estimate.Finding) string {
	way := wording.Text("high")
	if f.Size.P50 < 0 {
		way = "low"
	}
	return v.say(key, "n", v.findingSize(f), "way", v.style.Word(way), "time", v.since(f))
}

// findingSize writes how much, in the unit of its kind.
func (v *view) findingSize(f estimate.Finding) string {
	size := math.Abs(f.Size.P50)
	if f.Of == estimate.FindingDialOffset {
		return v.style.Pressure(unit.Gauge(size), unit.Gauge(width(f.Size)))
	}
	switch f.Kind {
	case estimate.FindingLeak:
		return v.style.Mass(unit.Mass(size*unit.Day), unit.Mass(width(f.Size)*unit.Day))
	case estimate.FindingHydrometerOffset, estimate.FindingCannotTell:
		return v.points(size*1000, width(f.Size)*1000)
	case estimate.FindingMissingVent:
		return v.style.Mass(unit.Mass(size), unit.Mass(width(f.Size)))
	}
	return v.style.Pressure(unit.Gauge(size), unit.Gauge(width(f.Size)))
}

func (v *view) since(f estimate.Finding) string {
	if f.Since.IsZero() {
		return v.style.Word("a while ago")
	}
	return v.clock.part(f.Since)
}

// far is the first reading that does not fit, of a quantity or of any.
func (v *view) far(of ...batch.Quantity) *estimate.Flag {
	for i := range v.f.Flags {
		if f := &v.f.Flags[i]; f.Kind == estimate.FlagFar && (len(of) == 0 || slices.Contains(of, f.Reading.Quantity)) {
			return f
		}
	}
	return nil
}

func (v *view) whyOdd(f estimate.Flag) string {
	q := f.Reading.Quantity
	return v.say("why odd", "what", v.named(&f.Reading),
		"lo", v.read(q, f.Expected.P05), "hi", v.read(q, f.Expected.P95))
}

// named writes a reading as people read it, and of what where its unit leaves that open.
func (v *view) named(r *batch.Reading) string {
	text := v.read(r.Quantity, r.Value)
	if r.Quantity == batch.AirTemperature {
		return v.style.Say("%s of the air", text)
	}
	return text
}

// read writes a value as people read it.
func (v *view) read(q batch.Quantity, x float64) string { return Shown(q, x, 0, v.style) }

// Shown writes a reading in SI, no finer than its band allows.
func Shown(q batch.Quantity, x, band float64, style unit.Style) string {
	switch q {
	case batch.Gravity:
		return style.Gravity(unit.Gravity(x), unit.Gravity(band))
	case batch.Pressure:
		return style.Pressure(unit.Gauge(x), unit.Gauge(band))
	case batch.Temperature, batch.AirTemperature:
		return style.Temperature(unit.Temperature(x), unit.TemperatureDifference(band))
	}
	return style.Mass(unit.Mass(x), unit.Mass(band))
}

// instruments are what reads each quantity, in the words of the trade.
var instruments = map[batch.Quantity]wording.Text{
	batch.Gravity:        "a sample for gravity",
	batch.Pressure:       "the gauge",
	batch.Temperature:    "the thermometer",
	batch.VesselMass:     "the weight of the vessel",
	batch.CylinderMass:   "the weight of the cylinder",
	batch.VentedGas:      "the gas let out",
	batch.AirTemperature: "the temperature of the air around the vessel",
}

// bestReading is the one reading worth taking, or that none is; empty once the
// beer is ready.
func (v *view) bestReading() string {
	n := v.f.Next
	switch v.state {
	case Ready, Pouring, Empty:
		return ""
	}
	if n.None {
		return v.say("no more", "time", v.clock.at(n.At, 24*3600e9))
	}
	if n.Forced {
		return v.say("best forced")
	}
	return v.say("best", "instrument", v.style.Word(instruments[n.Instrument]), "time", v.clock.part(n.At))
}
