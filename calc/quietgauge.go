package calc

import (
	"fmt"

	"spile/co2"
	"spile/unit"
	"spile/vessel"
	"spile/wording"
)

// safetyFlag is what stands against a working valve that sticks.
var safetyFlag = Flag{Name: "safety-relief", Kind: ratingKind, Label: "setting of the safety valve", Hint: "From its stamp. It is never guessed.", Sample: "2.2 bar"}

// Instruments with which a quiet-gauge test is read.
var (
	gaugesKind = choice("instruments", "dial", "transducer")
	gauges     = []vessel.Gauges{vessel.DialAndStrip, vessel.TransducerAndProbe}
)

var instrumentsFlag = Flag{Name: "instruments", Kind: gaugesKind, Label: "what you read with", Beside: "dial with strip thermometer, or transducer with probe", Hint: "A dial with a strip thermometer, or a transducer with a probe.", Default: "dial"}

var quietGaugeRow = &Calculation{
	Name: "quiet-gauge", Stage: Working, Question: "Is it finished?",
	About: "Proof without a sample. The working valve stays at its setting. Let the pressure down well below it. Wait some hours, until the beer has given back what it holds. Then read the gauge twice. A valve that hisses before the second reading: it is not finished. Give what you let down as --vented-from and --vented-to, and the valve's setting as --relief for how far to let down next time.",
	Flags: []Flag{
		{Name: "from-pressure", Kind: gaugeKind, Label: "pressure at the first reading", Beside: "first reading", Required: true},
		{Name: "to-pressure", Kind: gaugeKind, Label: "pressure at the second reading", Beside: "second reading", Required: true},
		{Name: "from-temperature", Kind: temperatureKind, Label: "temperature of the beer at the first reading", Beside: "of the beer at the first reading", Required: true},
		{Name: "to-temperature", Kind: temperatureKind, Label: "temperature of the beer at the second reading", Beside: "of the beer at the second reading", Required: true},
		{Name: "time", Kind: durationKind, Label: "time between the readings", Beside: "between the readings", Required: true},
		{Name: "volume", Kind: volumeKind, Label: "how much beer", Beside: "beer", Required: true},
		{Name: "capacity", Kind: volumeKind, Label: "size of the vessel to the brim", Beside: "of the vessel to the brim", Required: true},
		{Name: "vented-from", Kind: gaugeKind, Label: "pressure before you let it down", Beside: "before it was let down"},
		{Name: "vented-to", Kind: gaugeKind, Label: "pressure you let it down to", Beside: "let down to"},
		{Name: "relief", Kind: setKind, Label: "setting of the working valve", Sample: "12 psi"},
		{Name: "leak", Kind: massRateKind, Label: "what the vessel loses", Beside: "what the vessel loses, as proved", Hint: "As proved.", Sample: "2 g/day"},
		{Name: "og", Kind: gravityKind, Label: "original gravity", Default: "1.046"},
		instrumentsFlag, altitudeFlag, ratingFlag,
	},
	Example: []string{"from-pressure", "7 psi", "to-pressure", "7.5 psi", "from-temperature", "20 C", "to-temperature", "20 C", "time", "24 h",
		"volume", "20 L", "capacity", "27 L", "vented-from", "10 psi", "vented-to", "0 psi", "relief", "15 psi", "rating", "2.5 bar"},
	Plot: Plot{Sweep: "time=6 h:72 h:66", Of: "detection_limit_points_per_day"},
	run:  quietGauge,
}

func quietGauge(in Inputs, out *Answer) error {
	gas, err := in.gas()
	if err != nil {
		return err
	}
	if in.Has("vented-from") != in.Has("vented-to") {
		return wording.Unsaid("give both --vented-from and --vented-to, or neither")
	}
	air := in.atmosphere(out.Sheet)
	q := vessel.QuietGauge{
		Gas: gas, Original: in.gravity("og"), Gauges: gauges[int(in.number("instruments"))],
		First:  co2.State{Temperature: in.temperature("from-temperature"), Pressure: in.gauge("from-pressure").Absolute(air)},
		Second: co2.State{At: unit.Duration(in.number("time")), Temperature: in.temperature("to-temperature"), Pressure: in.gauge("to-pressure").Absolute(air)},
		Leak:   co2.LeakRate(in.number("leak") / co2.MolarMass),
	}
	var highest unit.Gauge
	for _, p := range []string{"from-pressure", "to-pressure", "vented-from", "vented-to"} {
		if !in.Has(p) {
			continue
		}
		if in.gauge(p).Absolute(air) <= co2.VapourPressure(q.First.Temperature) {
			return in.onlyVapour(in.gauge(p))
		}
		highest = max(highest, in.gauge(p))
	}
	if in.Has("vented-from") {
		q.Rebound = gas.LetDown(q.First.Temperature, in.gauge("vented-from").Absolute(air), in.gauge("vented-to").Absolute(air))
		out.Sheet.Step("pr", "pressure to which beer at rest climbs again, absolute", "what was dissolved, and the gas left above it, at rest", float64(q.Rebound)/unit.Kilopascal, "kPa", "Weiss1974")
	}
	r, err := q.Points(out.Sheet)
	if err != nil {
		return err
	}
	out.band("points_per_day", 0)
	out.add("points_per_day", "Gravity falls", r.Points, out.style.With(pointsWords(r.Points), "points a day"))
	out.add("detection_limit_points_per_day", "The least this test finds", r.Limit, out.style.With(pointsWords(r.Limit), "points a day"))
	if q.Rebound > 0 {
		out.addGauge("rebound_kpa", "Dead beer would climb to", q.Rebound.Gauge(air))
	}
	quietVerdict(in, out, q, r)
	out.stood(in, highest)
	proposeLetDown(in, out, q, air)
	return nil
}

// quietVerdict says what the numbers mean.
func quietVerdict(in Inputs, out *Answer, q vessel.QuietGauge, r vessel.Quiet) {
	low, high := r.Between()
	switch r.Verdict() {
	case vessel.QuietUnsettled:
		out.note("The beer was still giving gas back at the first reading. Wait until the gauge stands, then start again.")
	case vessel.QuietDone:
		out.note("No sign of work: at most %s points a day. If the gravity is where it should end, it is finished.", pointsWords(high))
	case vessel.QuietWorks:
		out.note("It still works: between %s points and %s points a day.", pointsWords(low), pointsWords(high))
	default:
		days := float64(q.Second.At) / unit.Day * (high - max(r.Points, 0)) / max(vessel.QuietEnough-max(r.Points, 0), 0.05)
		out.note("Cannot tell yet. A second reading after %s in all would settle it.", out.style.Duration(unit.Duration(days*unit.Day), 0))
	}
	if !in.Has("leak") {
		out.note("Net of any leak, which is not known: a vessel that loses gas hides work.")
	}
	out.warn("Leave the working valve as it is. If it hisses before the second reading, it is not finished.")
	out.caution("c.room")
}

// proposeLetDown says how far to let down next time, so that the valve cannot open during the test.
func proposeLetDown(in Inputs, out *Answer, q vessel.QuietGauge, air unit.Pressure) {
	if !in.Has("relief") {
		return
	}
	opens := in.gauge("relief")
	from := max(q.Second.Pressure, q.First.Pressure)
	to, times := q.LetDownTo(q.Second.Temperature, from, opens.Absolute(air), air, q.Original, vessel.QuietRoom)
	switch {
	case times < 0:
		out.note("A valve that opens at %s leaves no room for a point of gravity: test for a shorter time.", out.style.Dials(opens, 0))
	case times == 0:
		out.note("For the next test the pressure is low enough as it is.")
	default:
		out.addGauge("let_down_to_kpa", "Before the next test let it down to", to.Gauge(air))
		if times > 1 {
			out.note("Let it down %d times, with some hours of rest between; the last time to that.", times)
		}
	}
}

// pointsWords writes a fall of gravity.
func pointsWords(points float64) string { return fmt.Sprintf("%.2f", points) }
