package batchfile

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"spile/batch"
	"spile/unit"
	"spile/yeast"
)

var pitchTimes = rapid.Custom(func(t *rapid.T) time.Time {
	return time.Unix(rapid.Int64Range(1e9, 3e9).Draw(t, "unix"), 0).In(time.FixedZone("", 60*rapid.IntRange(-600, 600).Draw(t, "zone")))
})

func drawn[T ~float64](t *rapid.T, what string, s span) T {
	return T(rapid.Float64Range(s.low, s.high).Draw(t, what))
}

func maybe[T any](t *rapid.T, what string, v T) *T {
	if rapid.Bool().Draw(t, what+" given") {
		return &v
	}
	return nil
}

// anyBatch draws a batch that fits.
func anyBatch(t *rapid.T) *batch.Batch {
	b := &batch.Batch{
		Name:    rapid.StringMatching(`[A-Za-z][A-Za-z:#'"{}\[\], é-]{0,20}[A-Za-z]`).Draw(t, "name"),
		Pitched: pitchTimes.Draw(t, "pitched"),
		Wort:    batch.Wort{Volume: drawn[unit.Volume](t, "wort", span{low: 0.2 * unit.Litre, high: spanWort.high}), Gravity: drawn[unit.Gravity](t, "og", spanOriginal), Bitterness: drawn[float64](t, "ibu", spanBitterness)},
		Yeast: batch.Yeast{Kind: yeast.Kind(rapid.SampledFrom(yeastKinds).Draw(t, "kind")), Form: rapid.SampledFrom(append([]string{""}, yeastForms...)).Draw(t, "form"),
			Mass: drawn[unit.Mass](t, "mass", spanYeast), Attenuation: drawn[unit.Ratio](t, "attenuation", spanShare)},
		Place: batch.Place{Ambient: drawn[unit.Temperature](t, "ambient", spanAir), Altitude: drawn[unit.Length](t, "altitude", spanAltitude), Belt: drawn[unit.Power](t, "belt", spanPower),
			Fridge: maybe(t, "fridge", batch.Fridge{Coldest: drawn[unit.Temperature](t, "coldest", spanAir)})},
		Target: maybe(t, "target", batch.Target{CO2: drawn[unit.Volumes](t, "co2", spanVolumes), Temperature: drawn[unit.Temperature](t, "cold", spanBeer)}),
	}
	b.Vessel = batch.Vessel{Capacity: b.Wort.Volume * unit.Volume(rapid.Float64Range(1.01, 1.9).Draw(t, "room")), Diameter: drawn[unit.Length](t, "diameter", spanDiameter),
		Rating: maybe(t, "rating", drawn[unit.Gauge](t, "rating", span{low: spanRating.low, high: 10 * unit.Bar})), SafetyRelief: maybe(t, "safety", drawn[unit.Gauge](t, "safety", span{low: spanRating.low, high: 10 * unit.Bar}))}
	cylinder := drawn[unit.Mass](t, "cylinder", spanCylinder)
	b.Gas = maybe(t, "gas", batch.Gas{Cylinder: cylinder, Content: cylinder * unit.Mass(rapid.Float64Range(0, 1).Draw(t, "content"))})
	for range rapid.IntRange(0, 4).Draw(t, "steps") {
		b.Programme = append(b.Programme, anyStep(t))
	}
	for range rapid.IntRange(0, 2).Draw(t, "faults") {
		b.Faults = append(b.Faults, batch.Fault{Kind: "leak", Rate: drawn[unit.MassRate](t, "leak", spanLeak), At: drawn[unit.Duration](t, "from", spanHours)})
	}
	return b
}

func anyStep(t *rapid.T) batch.Step {
	s := batch.Step{Set: batch.Setting{Hold: maybe(t, "hold", drawn[unit.Temperature](t, "hold", spanBeer)), Relief: maybe(t, "relief", drawn[unit.Gauge](t, "relief", spanSetting)),
		GasOff: rapid.Bool().Draw(t, "gas off"), Action: rapid.StringMatching(`[a-z]([a-z: ]{0,10}[a-z])?`).Draw(t, "action")}}
	switch rapid.IntRange(0, 3).Draw(t, "when") {
	case 0:
		s.AtSet, s.At = true, drawn[unit.Duration](t, "at", spanHours)
	case 1:
		s.When = batch.Condition{Kind: batch.GravityAtMost, Gravity: drawn[unit.Gravity](t, "gravity", spanGravity)}
	case 2:
		s.When = batch.Condition{Kind: batch.FinishedFor, For: drawn[unit.Duration](t, "for", spanHours)}
	case 3:
		s.When = batch.Condition{Kind: batch.Carbonated}
	}
	return s
}

func TestBatchRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := anyBatch(t)
		var file bytes.Buffer
		if err := EncodeBatch(&file, b); err != nil {
			t.Fatal(err)
		}
		back, err := DecodeBatch("b.yaml", bytes.NewReader(file.Bytes()))
		if err != nil {
			t.Fatalf("%v in\n%s", err, file.String())
		}
		if !back.Pitched.Equal(b.Pitched) {
			t.Fatalf("pitched: expected %v, got %v", b.Pitched, back.Pitched)
		}
		back.Pitched = b.Pitched // the same instant; zones print alike but compare apart
		for i := range back.Programme {
			back.Programme[i].Line = 0
		}
		if !reflect.DeepEqual(back, b) {
			t.Fatalf("expected %+v\ngot %+v\nthrough\n%s", b, back, file.String())
		}
	})
}

func TestEncodedBatchReadsLikeWritten(t *testing.T) {
	b := decodeGood(t)
	var file bytes.Buffer
	if err := EncodeBatch(&file, b); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"volume: 20 L", "rating: 2.5 bar", "hold: 20 C", "relief: 10 psi", "at: 96 h", "when: finished for 24 h", "mass: 11.5 g", "attenuation: 77 %", "relief: 0 bar"} {
		if !strings.Contains(file.String(), want) {
			t.Errorf("expected %q in\n%s", want, file.String())
		}
	}
}

func anyLog(t *rapid.T, pitched time.Time) batch.Log {
	var log batch.Log
	bounds := map[batch.Quantity]span{batch.Gravity: spanGravity, batch.Pressure: {low: -1e5, high: 1e6}, batch.Temperature: {low: 250, high: 330},
		batch.VesselMass: {low: 0, high: 100}, batch.CylinderMass: {low: 0, high: 100}, batch.VentedGas: {low: 0, high: 10}, batch.AirTemperature: {low: 250, high: 330}}
	at := pitched
	for range rapid.IntRange(0, 5).Draw(t, "readings") {
		at = at.Add(time.Duration(rapid.Int64Range(1, 1e14).Draw(t, "later")))
		q := batch.Quantity(rapid.IntRange(0, int(batch.Quantities)-1).Draw(t, "quantity"))
		log.Readings = append(log.Readings, batch.Reading{Time: at, Quantity: q, Value: drawn[float64](t, "value", bounds[q]), Instrument: rapid.StringMatching(`[a-z,"]{0,5}`).Draw(t, "instrument")})
	}
	at = pitched
	for range rapid.IntRange(1, 5).Draw(t, "events") {
		at = at.Add(time.Duration(rapid.Int64Range(1, 1e14).Draw(t, "later")))
		e := batch.Event{Time: at, Kind: batch.EventKind(rapid.IntRange(0, 11).Draw(t, "event"))}
		fillEvent(t, &e)
		log.Events = append(log.Events, e)
	}
	return log
}

func fillEvent(t *rapid.T, e *batch.Event) {
	switch e.Kind {
	case batch.SetRelief, batch.GasOn:
		e.Pressure = drawn[unit.Gauge](t, "pressure", spanSetting)
	case batch.VentedTo:
		e.From = drawn[unit.Gauge](t, "from", spanSetting)
		e.To = e.From * unit.Gauge(rapid.Float64Range(0, 1).Draw(t, "to"))
	case batch.SampleTaken, batch.Poured:
		e.Volume = drawn[unit.Volume](t, "volume", spanDrawn)
	case batch.HoldAt:
		e.Temperature = drawn[unit.Temperature](t, "temperature", spanBeer)
	case batch.Shaken:
		e.For = drawn[unit.Duration](t, "for", spanShake)
	case batch.DryHopped:
		e.Mass = drawn[unit.Mass](t, "mass", spanHops)
	case batch.ForcedSample:
		e.Gravity = drawn[unit.Gravity](t, "gravity", spanGravity)
	case batch.Noticed:
		e.Words = rapid.SampledFrom(noticedWords).Draw(t, "words")
	}
}

func TestLogRoundTrip(t *testing.T) {
	b := decodeGood(t)
	rapid.Check(t, func(t *rapid.T) {
		log := anyLog(t, b.Pitched)
		var file bytes.Buffer
		if err := EncodeLog(&file, log); err != nil {
			t.Fatal(err)
		}
		back, err := DecodeLog("r.csv", bytes.NewReader(file.Bytes()), b)
		if err != nil {
			t.Fatalf("%v in\n%s", err, file.String())
		}
		if len(back.Readings) != len(log.Readings) || len(back.Events) != len(log.Events) {
			t.Fatalf("expected %d readings and %d events, got %d and %d", len(log.Readings), len(log.Events), len(back.Readings), len(back.Events))
		}
		for i, r := range back.Readings {
			want := log.Readings[i]
			if !r.Time.Equal(want.Time) || r.Quantity != want.Quantity || r.Instrument != want.Instrument || math.Abs(r.Value-want.Value) > 1e-11*(1e3+math.Abs(want.Value)) {
				t.Fatalf("reading: expected %+v, got %+v, tolerance 1e-11", want, r)
			}
		}
		for i, e := range back.Events {
			want := log.Events[i]
			if !e.Time.Equal(want.Time) {
				t.Fatalf("event: expected %v, got %v", want.Time, e.Time)
			}
			e.Time, e.Line = want.Time, 0
			if e != want {
				t.Fatalf("event: expected %+v, got %+v", want, e)
			}
		}
	})
}

func TestReadFiles(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "b.yaml")
	if err := WriteAtomic(path, []byte(goodBatch)); err != nil {
		t.Fatal(err)
	}
	b, err := ReadBatch(path)
	if err != nil {
		t.Fatal(err)
	}
	_, err = ReadBatch(filepath.Join(dir, "none.yaml"))
	if r := refusalOf(t, err); !strings.Contains(r.Error(), "no such file") {
		t.Errorf("expected no such file, got %v", r)
	}
	if _, err = ReadLog(dir, b); err == nil {
		t.Error("a folder: expected a refusal")
	}
	large := filepath.Join(dir, "large.csv")
	if err := os.Truncate(create(t, large), 200<<20); err != nil { // sparse: costs no disk
		t.Fatal(err)
	}
	_, err = ReadLog(large, b)
	if r := refusalOf(t, err); !strings.Contains(r.Error(), "a file of 200 MB") || !strings.Contains(r.Error(), "at most 32 MB") {
		t.Errorf("expected a refusal by size, got %v", r)
	}
}

func create(t *testing.T, path string) string {
	t.Helper()
	if err := os.WriteFile(path, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestWriteAtomicLeavesNothingBehind(t *testing.T) {
	dir := t.TempDir()
	target := filepath.Join(dir, "taken")
	if err := os.Mkdir(target, 0o700); err != nil {
		t.Fatal(err)
	}
	if err := WriteAtomic(target, []byte("x")); err == nil {
		t.Error("onto a folder: expected an error")
	}
	left, err := os.ReadDir(dir)
	if err != nil || len(left) != 1 {
		t.Errorf("expected nothing but the folder, got %v, %v", left, err)
	}
}
