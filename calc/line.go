package calc

import (
	"fmt"
	"slices"
	"strings"

	"spile/co2"
	"spile/dispense"
	"spile/limit"
	"spile/unit"
	"spile/vessel"
	"spile/wording"
	"spile/working"
)

const litrePerMinute = unit.Litre / unit.Minute

// The kinds that only a line has.
var (
	flowKind = &Kind{Name: "flow", Example: "3 L/min", Suffix: "l_per_min", Scale: litrePerMinute, parse: positive(number(unit.ParseVolumeRate)),
		Words: in(litrePerMinute, "L/min")}
	runKind = &Kind{Name: "length", Example: "2 m", Suffix: "m", Scale: 1, parse: positive(number(unit.ParseLength)), Words: in(1, "m")}
	// secondsKind is a time short enough to be told in seconds.
	secondsKind = &Kind{Name: "time", Example: "9 s", Suffix: "s", Scale: 1, parse: positive(number(unit.ParseDuration)), Words: in(1, "s")}
	lossKind    = &Kind{Name: "number", Example: "5", Scale: 1, parse: loss, Words: func(s unit.Style, v float64) string { return compact(v, 3) }}
	tubeKind    = tubes()
)

// loss reads the loss of a tap as a plain number, 0 to 1000.
func loss(s string) (float64, error) {
	v, err := amount(s)
	if err != nil || v > 1000 {
		return 0, wording.Unsaid("read %q; a plain number from 0 to 1000 is accepted, for example 5", s)
	}
	return v, nil
}

// tubes is the choice of a tube; one word of two is enough: soft, vinyl or soft-vinyl.
func tubes() *Kind {
	var names []wording.Text
	for _, t := range dispense.Tubes() {
		names = append(names, t.Name)
	}
	k := choice("tube", names...)
	whole := k.parse
	k.parse = func(s string) (float64, error) {
		for i, name := range names {
			if slices.Contains(strings.Fields(string(name)), strings.ToLower(strings.TrimSpace(s))) {
				return float64(i), nil
			}
		}
		return whole(s)
	}
	return k
}

// tubeFlags are those of the tube that beer runs through.
func tubeFlags(rise string) []Flag {
	return []Flag{
		{Name: "bore", Kind: lengthKind, Label: "bore of the tube", Beside: "of the tube inside", Sample: "4.76 mm", Default: "4.76 mm"},
		{Name: "rise", Kind: altitudeKind, Label: "rise of the far end above the middle of the beer", Beside: "of the far end above the middle of the beer; below is minus", Hint: "Below is minus.", Sample: "0.5 m", Default: rise},
		{Name: "temperature", Kind: temperatureKind, Label: "temperature of the beer", Beside: "of the beer", Sample: "3 C", Default: "3 C"},
		{Name: "tube", Kind: tubeKind, Label: "kind of tube", Beside: "hard (polyethylene, barrier) or soft vinyl", Hint: "Hard is polyethylene or barrier tube.", Default: string(dispense.Hard.Name)},
		{Name: "tap-loss", Kind: lossKind, Label: "loss of couplings and tap", Beside: "of couplings and tap, K on a bore of 6 mm, 3 to 8", Hint: "K on a bore of 6 mm, mostly 3 to 8.", Default: "5"},
	}
}

var lineRow = &Calculation{
	Name: "line", Stage: Pouring, Question: "Why does it foam, and which tube?",
	About: "Give two of --length, --flow and --pressure, and the third comes out, with the first thing to look at if it foams. Tell the gas in the beer (--volumes) and the warmest spot of the line (--warmest) if you can. " +
		"With a glass of known size timed (--pour, --pour-time), --length and --pressure being those of that pour, the tube is known better; --flow is then the flow you want, and the length for it comes out.",
	Flags: append([]Flag{
		{Name: "length", Kind: runKind, Label: "length of the tube", Beside: "of the tube"},
		{Name: "flow", Kind: flowKind, Label: "flow from the tap"},
		{Name: "pressure", Kind: setKind, Label: "pressure in the vessel", Beside: "in the vessel", Sample: "12 psi"},
	}, append(tubeFlags("0.5 m"),
		Flag{Name: "volumes", Kind: volumesKind, Label: "gas in the beer", Beside: "gas in the beer; left out, what it holds at rest", Hint: "Left out, what it holds at rest."},
		Flag{Name: "warmest", Kind: temperatureKind, Label: "temperature of the warmest spot of the line", Beside: "of any spot of the line"},
		Flag{Name: "pour", Kind: volumeKind, Label: "beer in a timed pour", Sample: "500 mL"},
		Flag{Name: "pour-time", Kind: secondsKind, Label: "time that the pour took", Beside: "that it took"},
		altitudeFlag, ratingFlag)...),
	Example: []string{"pressure", "12 psi", "flow", "3 L/min", "temperature", "4 C", "volumes", "2.5 volumes", "rating", "2.5 bar"},
	Plot:    Plot{"flow=1 L/min:5 L/min:40", "length_m"},
	run:     line,
}

// tube is the line of the flags, and its kind of tube.
func (in Inputs) tube() (dispense.Line, dispense.Tube) {
	l, kind := dispense.Usual(), dispense.Tubes()[int(in.number("tube"))]
	l.Bore, l.Rise = unit.Length(in.number("bore")), unit.Length(in.number("rise"))
	l.Tube, l.Loss = kind.Factor, in.number("tap-loss")
	if in.Has("length") {
		l.Length = unit.Length(in.number("length"))
	}
	return l, kind
}

var errPour = wording.Unsaid("a timed pour needs --pour, --pour-time, --length and --pressure, as they were")

// stream is beer that runs through a line.
type stream struct {
	dispense.Line
	kind     dispense.Tube
	pressure unit.Gauge
	flow     float64 // m3/s
	beer     unit.Temperature
}

// calibrated is the stream of a timed pour, its tube known from it.
func (s stream) calibrated(in Inputs, w *working.Sheet) (stream, error) {
	kind, err := s.Calibrate(s.pressure, s.beer, in.volume("pour"), unit.Duration(in.number("pour-time")))
	if err != nil {
		return s, err
	}
	s.kind, s.Tube, s.flow = kind, kind.Factor, in.number("pour")/in.number("pour-time")
	w.Input("Vp", "beer in the timed pour", in.volume("pour").Litres(), "L", working.Given)
	w.Input("tp", "time of it", in.number("pour-time"), "s", working.Given)
	w.Step("k", "factor of the tube on friction", "k = (P - lift - tap)/(friction of a smooth tube), at Vp/tp", kind.Factor, "", "Churchill1977")
	return s, nil
}

// solve works out the unknown for a line of which the rest is known.
func (s stream) solve(unknown string) (stream, error) {
	var err error
	switch unknown {
	case "length":
		s.Length, err = s.LengthFor(s.pressure, s.flow, s.beer)
	case "pressure":
		s.pressure = s.Needs(s.flow, s.beer)
	default:
		if s.flow = s.Flow(s.pressure, s.beer); s.flow == 0 {
			err = wording.Unsaid("%.1f kPa drives nothing: a rise of %.2f m takes %.1f kPa; lower the far end", s.pressure.Kilopascals(), float64(s.Rise), s.Head().Kilopascals())
		}
	}
	return s, err
}

// answer is the number that was sought, in the unit of its key.
func (s stream) answer(unknown string) float64 {
	switch unknown {
	case "length":
		return float64(s.Length)
	case "pressure":
		return s.pressure.Kilopascals()
	}
	return s.flow / litrePerMinute
}

func line(in Inputs, out *Answer) error {
	now, unknown, err := in.stream(out.Sheet)
	if err != nil {
		return err
	}
	s, timed := now, in.Has("pour")
	if in.Has("flow") {
		s.flow = in.number("flow")
	}
	if s, err = s.solve(unknown); err != nil {
		return err
	}
	if !timed {
		now = s
	}
	s.show(in, unknown, out.Sheet)
	low, high, highest, err := s.edges(unknown)
	if err != nil {
		return err
	}
	out.Sheet.Error(low, high, tubeDoubt)
	out.band(streamKeys[unknown], 0)
	s.results(unknown, out)
	if timed {
		out.add("tube_factor", "Its tube holds back, beside a smooth one", s.Tube, out.style.Say("%s times", compact(s.Tube, 2)))
	}
	if err := now.foam(in, out); err != nil {
		return err
	}
	out.caution("c.regulator")
	out.rate(in, highest)
	return nil
}

// stream reads the flags, calibrates where a pour was timed, and tells what is unknown.
func (in Inputs) stream(w *working.Sheet) (stream, string, error) {
	l, kind := in.tube()
	s := stream{l, kind, in.gauge("pressure"), in.number("flow"), in.temperature("temperature")}
	if !in.Has("pour") && !in.Has("pour-time") {
		unknown, err := in.oneLeftOut("length", "flow", "pressure")
		return s, unknown, err
	}
	if !in.exactly(4, "pour", "pour-time", "length", "pressure") {
		return s, "", errPour
	}
	now, err := s.calibrated(in, w)
	if err != nil || !in.Has("flow") {
		return now, "flow", err
	}
	return now, "length", nil
}

// show opens the working of the line.
func (s stream) show(in Inputs, unknown string, w *working.Sheet) {
	origin := func(name string) working.Origin {
		if name == unknown {
			return working.Computed
		}
		return in.origin(name)
	}
	w.Input("Q", "flow", s.flow/litrePerMinute, "L/min", origin("flow"))
	w.Input("L", "tube", float64(s.Length), "m", origin("length"))
	w.Input("D", "bore", float64(s.Bore)/unit.Millimetre, "mm", origin("bore"))
	w.Input("h", "rise", float64(s.Rise), "m", origin("rise"))
	w.Input("t", "temperature of the beer", s.beer.Celsius(), "°C", origin("temperature"))
	w.Input("k", "factor of the tube on friction", s.Tube, "", origin("tube"))
	w.Input("K", "loss of couplings and tap", s.Loss, "", origin("tap-loss"))
	s.Explain(s.flow, s.beer, w)
}

// streamKeys are the keys of the results by what is sought.
var streamKeys = map[string]string{"length": "length_m", "flow": "flow_l_per_min", "pressure": "pressure_kpa"}

const tubeDoubt wording.Text = "how much a tube holds back differs from tube to tube; a timed pour tells"

// edges is the band of what was sought, and the highest pressure within it.
func (s stream) edges(unknown string) (low, high float64, highest unit.Gauge, err error) {
	free, tight := s.Edges(s.kind, s.flow, s.beer)
	low, high, highest = s.answer(unknown), s.answer(unknown), s.pressure
	for _, l := range []dispense.Line{free, tight} {
		edge := s
		edge.Line = l
		if edge, err = edge.solve(unknown); err != nil {
			return 0, 0, 0, err
		}
		low, high, highest = min(low, edge.answer(unknown)), max(high, edge.answer(unknown)), max(highest, edge.pressure)
	}
	return low, high, highest, nil
}

// results lists what was sought first; the rest is for machines.
func (s stream) results(unknown string, out *Answer) {
	all := []Result{
		{"length_m", "Length of the tube", float64(s.Length), out.style.With(fmt.Sprintf("%.1f", float64(s.Length)), "m")},
		{"flow_l_per_min", "It runs at", s.flow / litrePerMinute, out.style.With(fmt.Sprintf("%.1f", s.flow/litrePerMinute), "L/min")},
		{"pressure_kpa", "Pressure in the vessel", s.pressure.Kilopascals(), out.style.Dials(s.pressure, 0)},
	}
	for _, r := range all {
		if r.Key == streamKeys[unknown] {
			out.Results = append(out.Results, r)
		}
	}
	for _, r := range all {
		if r.Words = ""; r.Key != streamKeys[unknown] {
			out.Results = append(out.Results, r)
		}
	}
}

// foam names the first cause of foam, and what goes with putting it right.
func (s stream) foam(in Inputs, out *Answer) error {
	p := dispense.Pour{Line: s.Line, Pressure: s.pressure, Flow: s.flow, Beer: s.beer, Warmest: s.beer, Volumes: in.volumes("volumes"), Air: in.atmosphere(out.Sheet)}
	if in.Has("warmest") {
		p.Warmest = in.temperature("warmest")
	}
	d, err := p.Foam()
	if err != nil {
		return err
	}
	if in.Has("volumes") || in.Has("warmest") {
		out.Sheet.Input("tw", "warmest spot of the line", p.Warmest.Celsius(), "°C", in.origin("warmest"))
		out.addGauge("hold_kpa", "The gas stays in the beer from", d.HoldWarm)
		out.add("breakout_m", "That warm spot may be so far from the vessel", float64(d.BreakOut), "")
		out.Sheet.Input("V", "gas in the beer", float64(d.Volumes), "volumes", in.origin("volumes"))
		out.Sheet.Step("pe", "pressure that holds the gas at the warmest spot", "equilibrium of the beer and its gas, less pa", d.HoldWarm.Kilopascals(), "kPa", "Weiss1974")
		out.Sheet.Step("x", "so far from the vessel that spot may be while beer runs", "x = L (P - pe)/(d L + ph), 0 to L", float64(d.BreakOut), "m", "")
	}
	out.note("If it foams, first: %s. %s", d.Cause, d.Shown)
	out.note(d.Fix.English, d.Fix.Slots...)
	out.open(s.pressure)
	switch d.Cause {
	case dispense.TooMuchGas:
		out.caution("c.room")
	case dispense.Dirty:
		out.caution("c.clean")
	case dispense.OutInVessel:
		s.moreGas(in, d.Hold, out)
	}
	return nil
}

// moreGas tells the pressure that would hold the gas, where a rating allows it.
func (s stream) moreGas(in Inputs, hold unit.Gauge, out *Answer) {
	if _, ok := limit.Rated(hold, in.rating()); ok {
		out.note("Or leave the gas on at %s, which the rating allows.", out.style.Dials(hold, 0))
	}
}

var transferRow = &Calculation{
	Name: "transfer", Stage: Pouring, Question: "How do I move it to a keg?",
	About: "Through a hose, by a small difference in pressure, into a keg flushed with gas whose valve holds --to-pressure: how long it takes, and what gas the beer gives to the room left in the keg. Both as cold as each other.",
	Flags: append([]Flag{
		{Name: "from-pressure", Kind: setKind, Label: "pressure in the vessel", Beside: "in the vessel, held by gas", Hint: "Held by gas.", Required: true},
		{Name: "to-pressure", Kind: gaugeKind, Label: "pressure in the keg", Beside: "in the keg, held by its valve", Hint: "Held by its valve.", Sample: "9 psi", Required: true},
		{Name: "volume", Kind: volumeKind, Label: "beer to move", Sample: "18 L", Required: true},
		{Name: "keg", Kind: volumeKind, Label: "size of the keg to the brim", Sample: "19 L", Required: true},
		{Name: "volumes", Kind: volumesKind, Label: "gas in the beer", Required: true},
		{Name: "length", Kind: runKind, Label: "length of the hose", Beside: "of the hose", Default: "2 m"},
	}, append(tubeFlags("0 m"), altitudeFlag, ratingFlag)...),
	Example: []string{"from-pressure", "12 psi", "to-pressure", "10 psi", "volume", "18 L", "keg", "19 L", "temperature", "3 C", "volumes", "2.5 volumes", "rating", "2.5 bar"},
	Plot:    Plot{"volume=1 L:18.5 L:35", "lost_volumes"},
	run:     transfer,
}

func transfer(in Inputs, out *Answer) error {
	l, kind := in.tube()
	s := stream{l, kind, in.gauge("from-pressure") - in.gauge("to-pressure"), 0, in.temperature("temperature")}
	if s.pressure <= 0 {
		return wording.Unsaid("--from-pressure %s is not above --to-pressure %s: nothing runs; accepted is for example 12 psi to 10 psi", out.style.Dials(in.gauge("from-pressure"), 0), out.style.Dials(in.gauge("to-pressure"), 0))
	}
	volume := in.volume("volume")
	gas, err := in.gasOver("beer", volume, in.volume("keg"))
	if err != nil {
		return err
	}
	if s, err = s.solve("flow"); err != nil {
		return err
	}
	w := out.Sheet
	w.Input("pf", "pressure in the vessel", in.gauge("from-pressure").Kilopascals(), "kPa", working.Given)
	w.Input("pt", "pressure in the keg", in.gauge("to-pressure").Kilopascals(), "kPa", working.Given)
	s.show(in, "flow", w)
	slow, fast, _, err := s.edges("flow")
	if err != nil {
		return err
	}
	minutes := volume.Litres() / s.answer("flow")
	w.Step("tm", "time", "tm = beer/flow", minutes, "min", "")
	w.Error(volume.Litres()/fast, volume.Litres()/slow, tubeDoubt)
	out.band("time_min", 0)
	out.add("time_min", "It takes", minutes, out.style.Duration(unit.Duration(minutes*unit.Minute), unit.Duration(out.width()*unit.Minute)))
	out.add("flow_l_per_min", "It runs at", s.flow/litrePerMinute, "")
	if err := in.lost(out, gas); err != nil {
		return err
	}
	out.note("Stop by weight. Never open the keg's valve wide to speed it: the beer foams.")
	out.caution("c.regulator")
	out.caution("c.room")
	out.lift(volume)
	return nil
}

// lost is the gas that beer gives to a flushed keg until both are at rest.
func (in Inputs) lost(out *Answer, gas vessel.Gas) error {
	air, t := in.atmosphere(out.Sheet), in.temperature("temperature")
	to := in.gauge("to-pressure").Absolute(air)
	if to <= co2.VapourPressure(t) {
		return in.onlyVapour(in.gauge("to-pressure"))
	}
	before := in.volumes("volumes")
	after, rest, hold, err := afterTransfer(gas, t, before, to)
	if err != nil {
		return err
	}
	low, high, err := lostBetween(gas, t, before, to, before-after, out.Sheet)
	if err != nil {
		return err
	}
	w := out.Sheet
	w.Input("V0", "gas in the beer before", float64(before), "volumes", working.Given)
	w.Input("VG", "gas space in the keg", gas.Head.Litres(), "L", working.Computed)
	w.Step("pr", "pressure in the keg at rest, absolute", "dissolved + gas space at to-pressure = both at rest", float64(rest)/unit.Kilopascal, "kPa", "Weiss1974")
	w.Step("Vl", "gas lost to the gas space", "Vl = V0 - V at rest", float64(before-after), "volumes", "Weiss1974")
	out.add("lost_volumes", "Gas lost to the room left in the keg", float64(before-after), lostWords(out.style, before-after, low, high))
	out.add("co2_volumes", "Gas in the beer then", float64(after), out.style.Gas(after, 0))
	out.addGauge("end_pressure_kpa", "The keg comes to", rest.Gauge(air))
	in.kegSays(out, hold.Gauge(air), rest.Gauge(air))
	return nil
}

// lostBetween is what the beer gives off nine times in ten; without a sheet nobody reads it.
func lostBetween(gas vessel.Gas, t unit.Temperature, before unit.Volumes, to unit.Pressure, lost unit.Volumes, w *working.Sheet) (low, high unit.Volumes, err error) {
	if w == nil {
		return 0, 0, nil
	}
	low, high = lost, lost
	for _, level := range []float64{-nineInTen, nineInTen} {
		gas.Factor = co2.BeerFactor{Level: level * co2.BeerLevelSD, Slope: level * co2.BeerSlopeSD}
		edge, _, _, err := afterTransfer(gas, t, before, to)
		if err != nil {
			return 0, 0, err
		}
		low, high = min(low, before-edge), max(high, before-edge)
	}
	return low, high, nil
}

// lostWords writes what beer gave off, with its band, or that it took gas up.
func lostWords(style unit.Style, v, low, high unit.Volumes) string {
	const finest = 0.01
	switch {
	case high < finest && low > -finest:
		return style.Word("next to none")
	case v < 0:
		return style.Say("none; it takes up %.2f volumes", -float64(v))
	}
	return style.Say("%.2f volumes (%.2f to %.2f)", float64(v), max(float64(low), 0), float64(high))
}

// afterTransfer is the carbonation and the absolute pressure at rest in a keg that was flushed and held at to, and the
// pressure that would have kept all gas in the beer.
func afterTransfer(gas vessel.Gas, t unit.Temperature, before unit.Volumes, to unit.Pressure) (after unit.Volumes, rest, hold unit.Pressure, err error) {
	if hold, err = co2.EquilibriumPressure(t, before, gas.Factor, nil); err != nil {
		return 0, 0, 0, err
	}
	rest = gas.LetDown(t, hold, to)
	return co2.Equilibrium(t, rest, gas.Factor, nil), rest, hold, nil
}

// kegSays tells whether it foams on its way in, and holds the keg against its limits.
func (in Inputs) kegSays(out *Answer, hold, rest unit.Gauge) {
	if to := in.gauge("to-pressure"); to < hold-unit.PSI {
		out.note("It foams on its way in: the keg stands at %s, and the gas stays in the beer from %s.", out.style.Dials(to, 0), out.style.Dials(hold, 0))
	}
	out.headspace(1 - unit.Ratio(in.number("volume")/in.number("keg")))
	out.rate(in, max(in.gauge("from-pressure"), rest))
}
