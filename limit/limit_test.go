package limit

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
	"spile/unit"
)

func bar(v float64) *unit.Gauge           { g := unit.Gauge(v * unit.Bar); return &g }
func celsius(c float64) *unit.Temperature { t := unit.Celsius(c); return &t }
func share(v float64) *unit.Ratio         { r := unit.Ratio(v); return &r }

// sound is a vessel that passes no limit: the example vessel of the demo.
func sound() Vessel {
	return Vessel{
		Rating: bar(2.5), SafetyRelief: bar(2.2), WorkingValve: bar(0.7), Regulator: bar(0.8),
		Measured: bar(0.7), Low: bar(0.6), High: bar(0.8), AheadHigh: bar(1), AheadLow: bar(0.2),
		WorstCase: bar(1.8), RegulatorOpen: bar(2), Gas: true, Headspace: share(0.2), Coldest: celsius(1), Freezes: celsius(-2),
	}
}

func kinds(found []Finding) []Kind {
	var k []Kind
	for _, f := range found {
		k = append(k, f.Kind)
	}
	return k
}

func TestSoundVesselHasNoFinding(t *testing.T) {
	if found := Check(sound()); len(found) != 0 || Passed(found) {
		t.Errorf("got %v, want none", found)
	}
}

// Each row spoils one thing of a sound vessel; want lists every finding that must follow.
var spoilt = []struct {
	name   string
	spoil  func(*Vessel)
	want   []Kind
	passed bool
	say    string // the first sentence
}{
	{"reading at the rating, belief low", func(v *Vessel) { v.Measured = bar(2.5) }, []Kind{OverRating, OverSafety}, true,
		"Pressure 2.50 bar is at or above the rating 2.50 bar. Keep faces away. Do not undo anything. See Something is wrong."},
	{"belief's edge over the rating, reading low", func(v *Vessel) { v.High = bar(2.6) }, []Kind{OverRating, OverSafety}, true,
		"Pressure 2.60 bar is at or above the rating 2.50 bar. Keep faces away. Do not undo anything. See Something is wrong."},
	{"reading at the safety valve", func(v *Vessel) { v.Measured = bar(2.3) }, []Kind{OverSafety}, true,
		"Pressure 2.30 bar is at or above the safety valve's setting 2.20 bar. Keep faces away. See Something is wrong."},
	{"no reading and no belief", func(v *Vessel) { v.Measured, v.High = nil, nil }, []Kind{PressureUnknown, OverRating, OverSafety}, true,
		"The pressure is not known. Read the gauge before anything else."},
	{"no reading but a belief", func(v *Vessel) { v.Measured = nil }, nil, false, ""},
	{"a reading but no belief", func(v *Vessel) { v.High, v.Low = nil, nil }, nil, false, ""},
	{"a broken belief does not hide behind a reading", func(v *Vessel) { v.High = bar(math.NaN()) }, []Kind{PressureUnknown, OverRating, OverSafety}, true, ""},
	{"a broken reading does not hide behind a belief", func(v *Vessel) { v.Measured = bar(math.NaN()) }, []Kind{PressureUnknown, OverRating, OverSafety, PullsIn}, true, ""},
	{"no rating", func(v *Vessel) { v.Rating = nil }, []Kind{RatingUnknown, SafetyHigh, OverRating, OverRating, ValveHigh, RegulatorHigh, WorstCase, RegulatorFailure}, true,
		"No rating known, so no pressure advice. Look for a plate, a moulded mark or the maker's sheet."},
	{"rating is no number", func(v *Vessel) { v.Rating = bar(math.NaN()) }, []Kind{RatingUnknown, SafetyHigh, OverRating, OverRating, ValveHigh, RegulatorHigh, WorstCase, RegulatorFailure}, true, ""},
	{"no safety valve", func(v *Vessel) { v.SafetyRelief = nil }, []Kind{SafetyUnknown, OverSafety, OverSafety, ValveOverSafety, RegulatorOverSafety}, true,
		"No safety valve known. Fit one before gas goes in, set no higher than the rating."},
	{"safety valve above the rating", func(v *Vessel) { v.SafetyRelief = bar(3) }, []Kind{SafetyHigh}, true,
		"The safety valve opens at 3.00 bar, above the rating 2.50 bar. Have the right one fitted before gas goes in."},
	{"safety valve at the rating", func(v *Vessel) { v.SafetyRelief = bar(2.5) }, nil, false, ""},
	{"working valve at the rating", func(v *Vessel) { v.WorkingValve = bar(2.5) }, []Kind{ValveHigh, ValveOverSafety}, true,
		"The working valve is set to 2.50 bar. Set it below the rating 2.50 bar. Never plug, tape or screw down a valve."},
	{"working valve over the safety valve", func(v *Vessel) { v.WorkingValve = bar(2.2) }, []Kind{ValveOverSafety}, true,
		"The working valve is set to 2.20 bar. Set it below 2.20 bar, where the safety valve opens."},
	{"no working valve", func(v *Vessel) { v.WorkingValve = nil }, nil, false, ""},
	{"regulator over the rating", func(v *Vessel) { v.Regulator = bar(4) }, []Kind{RegulatorHigh, RegulatorOverSafety}, true,
		"The regulator is set to 4.00 bar. Back it off below the rating 2.50 bar."},
	{"regulator over the safety valve", func(v *Vessel) { v.Regulator = bar(2.3) }, []Kind{RegulatorOverSafety}, true,
		"The regulator is set to 2.30 bar. Back it off below 2.20 bar, where the safety valve opens."},
	{"no room for the working valve between gas and safety valve", func(v *Vessel) { v.OverGas = bar(2.2) }, []Kind{GasNearSafety}, true,
		"Over this gas the working valve would stand at 2.20 bar. The safety valve opens at 2.20 bar. Set the gas lower."},
	{"no room for the working valve between gas and rating", func(v *Vessel) { v.OverGas, v.SafetyRelief = bar(2.6), bar(2.5) }, []Kind{GasNearRating, GasNearSafety}, true,
		"Over this gas the working valve would stand at 2.60 bar. The rating is 2.50 bar. Set the gas lower."},
	{"room enough over the gas", func(v *Vessel) { v.OverGas = bar(2.1) }, nil, false, ""},
	{"the plan reaches the rating", func(v *Vessel) { v.AheadHigh = bar(2.6) }, []Kind{OverRating, OverSafety}, true,
		"This would reach 2.60 bar. The weakest part allows 2.50 bar. Do not do it."},
	{"the plan reaches the safety valve", func(v *Vessel) { v.AheadHigh = bar(2.3) }, []Kind{OverSafety}, true,
		"This would reach 2.30 bar, where the safety valve opens (2.20 bar). Do not do it."},
	{"nothing planned", func(v *Vessel) { v.AheadHigh, v.AheadLow = nil, nil }, nil, false, ""},
	{"worst case over the rating, a safety valve against it", func(v *Vessel) { v.WorstCase = bar(9) }, []Kind{WorstCase}, false,
		"Worst case 9.00 bar, if the working valve sticks. Weakest part 2.50 bar. See that the safety valve is free."},
	{"worst case over the rating, no safety valve", func(v *Vessel) { v.WorstCase, v.SafetyRelief = bar(9), nil },
		[]Kind{SafetyUnknown, OverSafety, OverSafety, ValveOverSafety, RegulatorOverSafety, WorstCase}, true, ""},
	{"worst case not known", func(v *Vessel) { v.WorstCase = nil }, []Kind{WorstCase}, false,
		"What to compare with 2.50 bar is not known, and counts as too high."},
	{"regulator failure not known", func(v *Vessel) { v.RegulatorOpen = nil }, []Kind{RegulatorFailure}, false, ""},
	{"no gas connected", func(v *Vessel) { v.RegulatorOpen, v.Gas, v.Regulator = nil, false, nil }, nil, false, ""},
	{"regulator fails open", func(v *Vessel) { v.RegulatorOpen = bar(4) }, []Kind{RegulatorFailure}, false,
		"If the regulator fails open it reaches 4.00 bar. Weakest part 2.50 bar. See that the safety valve is free."},
	{"the dial shows less than nothing", func(v *Vessel) { v.Measured = bar(-0.1) }, []Kind{PullsIn}, true,
		"The vessel pulls in. Stop the cold. Gas on, low, a little at a time. Do not open the lid."},
	{"belief's lower edge pulls in", func(v *Vessel) { v.Low = bar(-0.1) }, []Kind{PullsIn}, true, ""},
	{"the plan pulls in", func(v *Vessel) { v.AheadLow = bar(-0.1) }, []Kind{WouldPullIn}, true,
		"Gas on first, then the cold. Without gas the vessel would pull in on itself."},
	{"a plan that is no number pulls in", func(v *Vessel) { v.AheadLow = bar(math.NaN()) }, []Kind{WouldPullIn}, true, ""},
	{"less vacuum than a dial shows", func(v *Vessel) { v.Measured = bar(-0.005) }, nil, false, ""},
	{"too full", func(v *Vessel) { v.Headspace = share(0.04) }, []Kind{HeadspaceSmall}, true,
		"Gas space 4 % at the warmest. Leave at least 5 %, or the liquid itself can burst the vessel."},
	{"fill not known", func(v *Vessel) { v.Headspace = nil }, []Kind{HeadspaceSmall}, true,
		"Gas space (not known) at the warmest. Leave at least 5 %, or the liquid itself can burst the vessel."},
	{"fill is no number", func(v *Vessel) { v.Headspace = share(math.NaN()) }, []Kind{HeadspaceSmall}, true, ""},
	{"exactly enough room", func(v *Vessel) { v.Headspace = share(0.05) }, nil, false, ""},
	{"at the freezing point", func(v *Vessel) { v.Coldest = celsius(-2) }, []Kind{Freezing}, true,
		"It may freeze: -2 °C, and ice begins at -2 °C. Set the cold higher. Ice can break the vessel."},
	{"freezing point not known: water's", func(v *Vessel) { v.Freezes, v.Coldest = nil, celsius(0) }, []Kind{Freezing}, true, ""},
	{"freezing point is no number: water's", func(v *Vessel) { v.Freezes, v.Coldest = celsius(math.NaN()), celsius(0) }, []Kind{Freezing}, true, ""},
	{"a temperature that is no number may freeze", func(v *Vessel) { v.Coldest = celsius(math.NaN()) }, []Kind{Freezing}, true, ""},
	{"temperature not known", func(v *Vessel) { v.Coldest = nil }, nil, false, ""},
	{"to be opened under pressure", func(v *Vessel) {
		v.ToBeOpened = true
		d := unit.Length(0.10)
		v.Opening = &d
		v.Measured, v.High = bar(10*unit.PSI/unit.Bar), nil
	}, []Kind{OpenUnderGas}, true, "At 0.70 bar this lid pushes with about 55 kg. " + string(Caution("c.open"))},
	{"to be opened at zero: a gauge can stick", func(v *Vessel) { v.ToBeOpened, v.Measured, v.High, v.Low = true, bar(0), bar(0), bar(0) }, []Kind{OpenUnderGas}, true, string(Caution("c.open"))},
	{"has been frozen", func(v *Vessel) { v.Frozen = true }, []Kind{WasFrozen}, true, string(Caution("c.frozen"))},
	{"check is due", func(v *Vessel) { v.CheckDue = true }, []Kind{CheckDue}, true, "This vessel is due for its check (overdue). Until then, no pressure."},
}

func TestEachLimit(t *testing.T) {
	for _, s := range spoilt {
		v := sound()
		s.spoil(&v)
		found := Check(v)
		if got := kinds(found); !slices.Equal(got, s.want) {
			t.Errorf("%s: got %v, want %v", s.name, got, s.want)
		}
		if Passed(found) != s.passed {
			t.Errorf("%s: passed %v, want %v", s.name, Passed(found), s.passed)
		}
		if said := Sentences(found, In(style(t, "bar"))); s.say != "" && said[0] != s.say {
			t.Errorf("%s:\ngot  %s\nwant %s", s.name, said[0], s.say)
		}
	}
}

func TestEmptyVesselIsNeverSafe(t *testing.T) {
	for _, want := range []Kind{RatingUnknown, SafetyUnknown, PressureUnknown, WorstCase, HeadspaceSmall} {
		if !slices.Contains(kinds(Check(Vessel{})), want) {
			t.Errorf("nothing known: no finding %s; what is not known counts as exceeded", want)
		}
	}
}

func TestRated(t *testing.T) {
	for _, c := range []struct {
		p      unit.Gauge
		rating *unit.Gauge
		kind   Kind
		ok     bool
	}{
		{*bar(2.4), bar(2.5), "", true}, {*bar(2.5), bar(2.5), OverRating, false}, {*bar(9), bar(2.5), OverRating, false},
		{*bar(1), nil, RatingUnknown, false}, {*bar(1), bar(math.NaN()), RatingUnknown, false}, {*bar(math.NaN()), bar(2.5), OverRating, false},
	} {
		if f, ok := Rated(c.p, c.rating); ok != c.ok || f.Kind != c.kind {
			t.Errorf("Rated(%v, %v): got %v %v, want %q %v", c.p, c.rating, f.Kind, ok, c.kind, c.ok)
		}
	}
}

// 10 psi on a 10 cm opening: 55 kg, computed for voice.md from psi and standard gravity.
func TestLidForce(t *testing.T) {
	want := 10 * 6894.757293168361 * math.Pi * 0.05 * 0.05
	if got := LidForce(10*unit.PSI, 0.10); math.Abs(got-want) > 1e-9 || math.Round(got/9.80665) != 55 {
		t.Errorf("got %.3f N, want %.3f N (55 kg)", got, want)
	}
}

// acting are the pressures that act on a vessel; raising any of them never helps it.
func acting(v *Vessel) []**unit.Gauge {
	return []**unit.Gauge{&v.Measured, &v.High, &v.AheadHigh, &v.WorkingValve, &v.Regulator, &v.WorstCase, &v.RegulatorOpen}
}

// drawn is any vessel at all: every number may be missing, broken, huge or negative.
func drawn(t *rapid.T) Vessel {
	g := func(name string) *unit.Gauge {
		if rapid.IntRange(0, 4).Draw(t, name+"?") == 0 {
			return nil
		}
		return bar(rapid.OneOf(rapid.Float64Range(-1, 5), rapid.Float64(), rapid.Just(math.NaN()), rapid.Just(math.Inf(1))).Draw(t, name))
	}
	return Vessel{
		Rating: g("rating"), SafetyRelief: g("safety"), WorkingValve: g("valve"), Regulator: g("regulator"), Measured: g("measured"),
		High: g("high"), Low: g("low"), AheadHigh: g("ahead"), AheadLow: g("aheadlow"), WorstCase: g("worst"), RegulatorOpen: g("open"),
		Gas: rapid.Bool().Draw(t, "gas"), ToBeOpened: rapid.Bool().Draw(t, "opened"), Frozen: rapid.Bool().Draw(t, "frozen"),
	}
}

// overs are the findings that a high pressure causes, with their severity.
func overs(found []Finding) map[Kind]Severity {
	m := map[Kind]Severity{}
	for _, f := range found {
		if f.Kind != PullsIn && f.Kind != WouldPullIn && f.Kind != PressureUnknown {
			m[f.Kind] = max(m[f.Kind], f.Severity)
		}
	}
	return m
}

func TestRaisingAPressureNeverRemovesAFinding(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := drawn(t)
		before := overs(Check(v))
		p := acting(&v)[rapid.IntRange(0, 6).Draw(t, "which")]
		if *p == nil || math.IsNaN(float64(**p)) {
			return
		}
		raised := **p + unit.Gauge(rapid.Float64Range(0, 1e7).Draw(t, "by"))
		*p = &raised
		after := overs(Check(v))
		for k, s := range before {
			if got, still := after[k]; !still || got < s {
				t.Fatalf("%s (%v) became %v, %v when a pressure was raised", k, s, got, still)
			}
		}
	})
}

// No combination of the other inputs silences a pressure that is over a known rating,
// nor a rating that is not known, nor a freezing or overfull vessel.
func TestNothingSilencesALimit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := drawn(t)
		v.Rating, v.Measured = bar(2.5), bar(rapid.Float64Range(2.5, 300).Draw(t, "over"))
		v.Headspace, v.Coldest = share(rapid.Float64Range(-1, 0.0499).Draw(t, "full")), celsius(-40)
		got := kinds(Check(v))
		for _, want := range []Kind{HeadspaceSmall, Freezing} {
			if !slices.Contains(got, want) {
				t.Fatalf("%s was silenced: %v", want, got)
			}
		}
		if !slices.Contains(got, OverRating) || !Passed(Check(v)) {
			t.Fatalf("%s was silenced: %v", OverRating, got)
		}
		v.Rating = nil
		if found := Check(v); !slices.Contains(kinds(found), RatingUnknown) || !Passed(found) {
			t.Fatalf("%s was silenced: %v", RatingUnknown, kinds(found))
		}
	})
}

// style is how somebody wants the numbers of a caution written.
func style(t interface{ Fatal(...any) }, list string) unit.Style {
	s, err := unit.ParseStyle(list, nil)
	if err != nil {
		t.Fatal(err)
	}
	return s
}
