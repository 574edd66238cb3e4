package calc

import (
	"errors"
	"math"

	"spile/co2"
	"spile/limit"
	"spile/unit"
	"spile/vessel"
	"spile/wording"
)

// sealedFlags are those of chill and warming.
var sealedFlags = []Flag{
	{Name: "from", Kind: temperatureKind, Label: "temperature at the start"},
	{Name: "to", Kind: temperatureKind, Label: "temperature at the end"},
	{Name: "volume", Kind: volumeKind, Label: "beer in the vessel", Required: true},
	{Name: "capacity", Kind: volumeKind, Label: "size of the vessel to the brim", Beside: "of the vessel to the brim", Required: true},
	{Name: "pressure", Kind: gaugeKind, Label: "pressure on the dial at the start", Beside: "on the dial at the start"},
	{Name: "volumes", Kind: volumesKind, Label: "gas in the beer at the start"},
	{Name: "end-pressure", Kind: gaugeKind, Label: "pressure on the dial at the end", Beside: "on the dial at the end, to find the start or a temperature", Hint: "To find the start or a temperature.", Sample: "5 psi"},
	{Name: "gravity", Kind: gravityKind, Label: "gravity now", Beside: "gravity now, if it may still work", Hint: "If it may still work.", Sample: "1.012"},
	{Name: "final", Kind: gravityKind, Label: "gravity where it would end", Sample: "1.010"},
	{Name: "gas", Kind: setKind, Label: "setting of the regulator, if it stays open", Beside: "regulator open meanwhile, set to this", Sample: "9 psi"},
	altitudeFlag, ratingFlag, safetyFlag,
}

var (
	errPressureOrVolumes = wording.Unsaid("give --pressure or --volumes at the start, one of them")
	errSealed            = wording.Unsaid("give --from, --to and one of --pressure and --volumes; or --end-pressure and all of these but one")
)

// sealed answers chill and warming alike, for the end or for what leads to a given end.
func sealed(in Inputs, out *Answer) error {
	if in.Has("pressure") && in.Has("volumes") {
		return errPressureOrVolumes
	}
	volume, capacity := in.volume("volume"), in.volume("capacity")
	if volume >= capacity {
		return wording.Unsaid("%s of beer does not fit into %s; leave at least %.0f %% for gas",
			out.style.Volume(volume, 0), out.style.Volume(capacity, 0), float64(limit.LeastHeadspace)*100)
	}
	air := in.atmosphere(out.Sheet)
	x := vessel.Sealed{Volume: volume, Capacity: capacity, From: in.temperature("from"), To: in.temperature("to"), Volumes: in.volumes("volumes")}
	if in.Has("pressure") {
		x.Pressure = in.gauge("pressure").Absolute(air)
		if x.Pressure <= co2.VapourPressure(x.From) && in.Has("from") {
			return in.onlyVapour(in.gauge("pressure"))
		}
	}
	solved, err := in.completeSealed(&x, air)
	if err != nil {
		return err
	}
	r, err := x.Equilibrium(out.Sheet)
	if err != nil {
		return err
	}
	highest := sealedBand(out, x, r, air)
	sealedResults(out, x, r, air, solved)
	if err := gasTaken(in, out, x, r, air); err != nil {
		return err
	}
	return sealedCautions(in, out, x, r, air, highest)
}

// completeSealed finds what was left out of x, and names it; "" where nothing was.
func (in Inputs) completeSealed(x *vessel.Sealed, air unit.Pressure) (string, error) {
	start := in.Has("pressure") || in.Has("volumes")
	if !in.Has("end-pressure") {
		if !start && in.Has("from") && in.Has("to") {
			return "", errPressureOrVolumes
		}
		if !(start && in.Has("from") && in.Has("to")) {
			return "", errSealed
		}
		return "", nil
	}
	wanted := in.gauge("end-pressure").Absolute(air)
	end := func() (float64, error) { r, err := x.Equilibrium(nil); return float64(r.End - wanted), err }
	var missing string
	var err error
	var v float64
	switch {
	case !start && in.Has("from") && in.Has("to"):
		missing = "pressure"
		lowest := float64(co2.VapourPressure(x.From)) + 100
		v, err = solve(lowest, 9.9*unit.Bar, func(p float64) (float64, error) { x.Pressure = unit.Pressure(p); return end() })
		x.Pressure = unit.Pressure(v)
	case start && in.Has("from") && !in.Has("to"):
		missing = "to"
		v, err = solve(coldestSealed, warmestSealed, func(t float64) (float64, error) { x.To = unit.Temperature(t); return end() })
		x.To = unit.Temperature(v)
	case in.Has("pressure") && !in.Has("from") && in.Has("to"):
		missing = "from"
		v, err = solve(coldestSealed, warmestSealed, func(t float64) (float64, error) { x.From = unit.Temperature(t); return end() })
		x.From = unit.Temperature(v)
	default:
		return "", errSealed
	}
	if errors.Is(err, errNoRoot) {
		err = wording.Unsaid("no --%s within -2 to 60 °C and up to 9.9 bar ends at %s", missing, in.style.Dials(in.gauge("end-pressure"), 0))
	}
	return missing, err
}

// Temperatures that a sealed change knows, K.
const (
	coldestSealed = 273.15 - 2
	warmestSealed = 273.15 + 60
)

// sealedResults lists what was asked for first.
func sealedResults(out *Answer, x vessel.Sealed, r vessel.SealedResult, air unit.Pressure, solved string) {
	start, end := r.Start.Gauge(air), r.End.Gauge(air)
	out.Sheet.Step("pg2", "pressure on the dial at the end", "pg2 = p2 - pa", end.Kilopascals(), "kPa", "")
	switch solved {
	case "to":
		out.add("to_c", "Temperature at the end", x.To.Celsius(), out.style.Temperature(x.To, 0))
	case "from":
		out.add("from_c", "Temperature at the start", x.From.Celsius(), out.style.Temperature(x.From, 0))
	}
	endPressure := Result{"end_pressure_kpa", "Pressure at the end", end.Kilopascals(), out.style.Dials(end, unit.Gauge(out.width()*unit.Kilopascal))}
	startPressure := Result{"start_pressure_kpa", "Pressure at the start", start.Kilopascals(), out.style.Dials(start, 0)}
	if solved == "pressure" {
		out.Results = append(out.Results, startPressure, endPressure)
	} else {
		out.Results = append(out.Results, endPressure, startPressure)
	}
	out.add("co2_volumes", "Gas in the beer at the end", float64(r.Volumes), out.style.Gas(r.Volumes, 0))
}

// gasTaken is what the beer takes from an open regulator, or would need to end no lower than the air outside.
func gasTaken(in Inputs, out *Answer, x vessel.Sealed, r vessel.SealedResult, air unit.Pressure) error {
	held := air
	if in.Has("gas") {
		held = in.gauge("gas").Absolute(air)
		out.rate(in, in.gauge("gas"))
	}
	if r.End >= held {
		return nil
	}
	gas, err := in.gas()
	if err != nil {
		return err
	}
	grams := (gas.Content(x.To, held) - gas.Content(x.From, r.Start)) * co2.MolarMass / unit.Gram
	out.Sheet.Step("ma", "gas to add", "ma = content at the end under that pressure - content at the start", grams, "g", "Weiss1974")
	if in.Has("gas") {
		out.add("gas_g", "The beer takes from the cylinder", grams, out.style.With(compact(grams, 2), "g"))
	} else {
		out.add("gas_g", "Gas to add, so that it does not pull in", grams, out.style.With(compact(grams, 2), "g"))
	}
	return nil
}

// sealedBand is the error of the end: it moves the two errors of the solubility of gas in beer, each to its edge, and
// adds what they do as independent. It replaces the band of the relation.
func sealedBand(out *Answer, x vessel.Sealed, r vessel.SealedResult, air unit.Pressure) (highest unit.Gauge) {
	half := 0.01 * float64(r.End) // of the relation itself
	for _, beer := range []co2.BeerFactor{{Level: nineInTen * co2.BeerLevelSD}, {Slope: nineInTen * co2.BeerSlopeSD}} {
		x.Beer = beer
		if moved, err := x.Equilibrium(nil); err == nil {
			half = math.Hypot(half, float64(moved.End-r.End))
		}
	}
	p := float64(r.End.Gauge(air))
	out.Sheet.Error((p-half)/unit.Kilopascal, (p+half)/unit.Kilopascal, "how much less gas beer takes up than water is known to about 3 % only")
	out.band("end_pressure_kpa", 0)
	return unit.Gauge(p + half)
}

// sealedCautions holds the ends of a change, and the worst that could come, against every limit that the flags tell about.
func sealedCautions(in Inputs, out *Answer, x vessel.Sealed, r vessel.SealedResult, air unit.Pressure, highest unit.Gauge) error {
	start, end := r.Start.Gauge(air), r.End.Gauge(air)
	rated := in.Has("rating")
	room := 1 - unit.Ratio(x.Volume/x.Capacity)
	if r.Full { // the working has its caution already
		out.Passed = out.Passed || rated
	} else {
		out.headspace(room)
	}
	if min(start, end) < 0 {
		out.caution("l.would-pull-in")
		out.Passed = out.Passed || rated
	}
	out.mayFreeze(min(x.From, x.To))
	out.rate(in, max(start, highest))
	return worstSealed(in, out, x, r, air)
}

// worstSealed is the same vessel with all that may still ferment fermented, its valve stuck, in the hottest place.
func worstSealed(in Inputs, out *Answer, x vessel.Sealed, r vessel.SealedResult, air unit.Pressure) error {
	if in.Has("gravity") != in.Has("final") {
		return wording.Unsaid("give both --gravity and --final for beer that may still work, or neither")
	}
	if in.Has("gravity") {
		if err := in.checkFall(in.gravity("gravity"), in.gravity("final")); err != nil {
			return err
		}
		// The error of a hydrometer counts against the vessel.
		made := vessel.MadeBetween(usualOriginal, in.gravity("gravity")+hydrometerOff, in.gravity("final"))
		x.Made = unit.Mass(made * float64(x.Volume))
	}
	x.To = max(limit.HottestPlace, x.From, x.To)
	r, err := x.Onward(r)
	if err != nil {
		return err
	}
	if r.Full {
		out.stuck(in, unit.Gauge(math.Inf(1)))
	} else {
		out.worst(in, r.End.Gauge(air))
	}
	return nil
}

// usualOriginal is the original gravity taken where none is asked for; gas for a point varies by 2 % between worts.
const usualOriginal = unit.Gravity(1.046)
