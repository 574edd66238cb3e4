package batchfile

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"spile/batch"
	"spile/unit"
	"spile/yeast"
)

const goodBatch = `name: Sluice Gate Pale, third
pitched: 2026-11-20T18:30:00+01:00
wort:   {volume: 20 L, gravity: "1.046", bitterness: 28 IBU}
yeast:  {kind: ale, form: dry, mass: 11.5 g, attenuation: 77 %}
vessel: {capacity: 26 L, diameter: 0.30 m, rating: 2.5 bar, safety_relief: 2.2 bar}
place:  {ambient: 16 C, altitude: 40 m, fridge: {coldest: 1 C}, belt: 30 W}
gas:    {cylinder: 2.6 kg, content: 1.9 kg}
target: {co2: 2.5 volumes, temperature: 3 C, ready: 2026-12-04T18:00:00+01:00}
programme:
  - {at: pitch, hold: 20 C, relief: 10 psi}
  - {at: 96 h, relief: 0 psi, action: dry hop 60 g}
  - {at: 2026-11-26T18:30:00+01:00, gas: off}
  - {when: gravity <= 1.014, hold: 22 C}
  - {when: finished for 24 h, hold: 1 C, gas: 10 psi}
  - {when: carbonated, gas: off}
faults: {leak: 10 g/day, relief: stuck}
`

func decodeGood(t testing.TB) *batch.Batch {
	t.Helper()
	b, err := DecodeBatch("BATCH.yaml", strings.NewReader(goodBatch))
	if err != nil {
		t.Fatalf("the example of the file format: expected to be read, got %v", err)
	}
	return b
}

func TestDecodeBatchReadsTheExample(t *testing.T) {
	b := decodeGood(t)
	same := func(what string, got, want any) {
		t.Helper()
		if fmt.Sprint(got) != fmt.Sprint(want) {
			t.Errorf("%s: expected %v, got %v", what, want, got)
		}
	}
	same("name", b.Name, "Sluice Gate Pale, third")
	same("pitched", b.Pitched.UTC(), time.Date(2026, 11, 20, 17, 30, 0, 0, time.UTC))
	same("wort", b.Wort, batch.Wort{Volume: 20 * unit.Litre, Gravity: 1.046, Bitterness: 28})
	same("yeast", b.Yeast, batch.Yeast{Kind: yeast.Ale, Form: "dry", Mass: 11.5 * unit.Gram, Attenuation: 0.77})
	same("rating", *b.Vessel.Rating, unit.Gauge(2.5e5))
	same("safety valve", *b.Vessel.SafetyRelief, unit.Gauge(2.2e5))
	same("fridge", b.Place.Fridge.Coldest, unit.Celsius(1))
	same("gas", *b.Gas, batch.Gas{Cylinder: 2.6, Content: 1.9})
	same("target", b.Target.CO2, unit.Volumes(2.5))
	same("steps", len(b.Programme), 6)
	same("at pitch", b.Programme[0].AtSet, true)
	same("relief", *b.Programme[0].Set.Relief, unit.Gauge(10*unit.PSI))
	same("hours", b.Programme[1].At, unit.Duration(96*unit.Hour))
	same("open valve", *b.Programme[1].Set.Relief, unit.Gauge(0))
	same("action", b.Programme[1].Set.Action, "dry hop 60 g")
	same("date", b.Programme[2].At, unit.Duration(6*unit.Day))
	same("gas off", b.Programme[2].Set.GasOff, true)
	same("gravity", b.Programme[3].When, batch.Condition{Kind: batch.GravityAtMost, Gravity: 1.014})
	same("finished", b.Programme[4].When, batch.Condition{Kind: batch.FinishedFor, For: 24 * unit.Hour})
	same("carbonated", b.Programme[5].When.Kind, batch.Carbonated)
	same("line", b.Programme[4].Line, 14)
	same("faults", len(b.Faults), 2)
	same("fault", b.Faults[1], batch.Fault{Kind: "relief", How: "stuck"})
}

func TestDecodeBatchReadsJSON(t *testing.T) {
	b, err := DecodeBatch("BATCH.json", strings.NewReader(`{"name": "Odd Glove Red", "pitched": "2026-11-20T18:30:00Z",
 "wort": {"volume": "20 L", "gravity": 1.046, "bitterness": "28 IBU"}, "yeast": {"kind": "lager", "form": "dry"},
 "vessel": {"capacity": "26 L", "diameter": "30 cm"}, "place": {"ambient": "16 C", "altitude": "40 m"}}`))
	if err != nil {
		t.Fatal(err)
	}
	if b.Wort.Gravity != 1.046 || b.Yeast.Kind != yeast.Lager || b.Vessel.Rating != nil {
		t.Errorf("expected 1.046, lager and no rating, got %v, %v, %v", b.Wort.Gravity, b.Yeast.Kind, b.Vessel.Rating)
	}
}

// refusalOf is the one-line refusal that err must be.
func refusalOf(t *testing.T, err error) *Refusal {
	t.Helper()
	var r *Refusal
	if !errors.As(err, &r) {
		t.Fatalf("expected a refusal with file and line, got %v", err)
	}
	if strings.ContainsAny(r.Error(), "\n\r") {
		t.Errorf("expected one line, got %q", r.Error())
	}
	return r
}

func TestDecodeBatchRefuses(t *testing.T) {
	for _, c := range []struct {
		what, old, new string
		line           int
		says           string // must stand in the message
	}{
		{"missing unit", "rating: 2.5 bar", "rating: 2.5", 5, "needs a unit"},
		{"unit of another quantity", "volume: 20 L", "volume: 20 kg", 3, "wort.volume"},
		{"unknown key at the top", "target:", "tarket:", 8, "did you mean target?"},
		{"unknown key below", "diameter:", "diametre:", 5, "did you mean diameter?"},
		{"unknown key deep down", "coldest:", "colder:", 6, "did you mean coldest?"},
		{"unknown key in a step", "hold: 22 C", "heat: 22 C", 13, "accepted: at, when, hold"},
		{"impossible gravity", `"1.046"`, "10.46", 3, "1.005 to 1.200"},
		{"gravity of water", `"1.046"`, "1.000", 3, "1.005 to 1.200"},
		{"too much wort", "volume: 20 L", "volume: 40 L", 3, "40 L of wort into a vessel of 26 L"},
		{"not a number", "volume: 20 L", "volume: NaN L", 3, "wort.volume"},
		{"yaml nan", "volume: 20 L", "volume: .nan", 3, "wort.volume"},
		{"infinite", "rating: 2.5 bar", "rating: 1e999 bar", 5, "vessel.rating"},
		{"key twice", "place:  {", "wort: {volume: 3 L}\nplace: {", 6, "a second time, first on line 3"},
		{"key twice below", "belt: 30 W", "belt: 30 W, ambient: 3 C", 6, "a second time"},
		{"no zone", "2026-11-20T18:30:00+01:00\nwort", "2026-11-20 18:30\nwort", 2, "with its zone"},
		{"kind", "kind: ale", "kind: ael", 4, "did you mean ale?"},
		{"both at and when", "{at: pitch,", "{at: pitch, when: carbonated,", 10, "both at and when"},
		{"neither at nor when", "{at: pitch, ", "{", 10, "neither at nor when"},
		{"step that sets nothing", "{when: carbonated, gas: off}", "{when: carbonated}", 15, "sets nothing"},
		{"condition", "gravity <= 1.014", "gravity < 1.014", 13, "gravity <= 1.014"},
		{"before pitching", "at: 2026-11-26T18:30:00+01:00", "at: 2026-11-16T18:30:00+01:00", 12, "from pitching"},
		{"ready before pitching", "ready: 2026-12-04", "ready: 2026-10-04", 8, "before the yeast went in"},
		{"mapping expected", "wort:   {volume: 20 L, gravity: \"1.046\", bitterness: 28 IBU}", "wort: 20 L", 3, "accepted: volume, gravity, bitterness"},
		{"missing key", "capacity: 26 L, ", "", 5, "no vessel.capacity"},
		{"value missing", "altitude: 40 m", "altitude: ", 6, "without a value"},
		{"negative relief", "relief: 10 psi", "relief: -1 psi", 10, "0 psi"},
		{"fault", "relief: stuck", "relief: broken", 16, "stuck, foamed shut, open"},
		{"anchor", "name: Sluice Gate Pale, third", "name: &a Sluice", 1, "plain values"},
		{"not YAML", "name: Sluice Gate Pale, third", "name: [", 1, "accepted"},
		{"more gas than the cylinder holds", "content: 1.9 kg", "content: 19 kg", 7, "at most"},
	} {
		t.Run(c.what, func(t *testing.T) {
			text := strings.Replace(goodBatch, c.old, c.new, 1)
			if text == goodBatch {
				t.Fatalf("%q is not in the example", c.old)
			}
			_, err := DecodeBatch("b.yaml", strings.NewReader(text))
			r := refusalOf(t, err)
			if r.Line != c.line && c.what != "not YAML" || !strings.Contains(r.Error(), c.says) {
				t.Errorf("expected line %d and %q, got %s", c.line, c.says, r.Error())
			}
		})
	}
}

func TestDecodeBatchRefusesWholeFiles(t *testing.T) {
	for what, text := range map[string]string{
		"empty":       "",
		"blank":       " \n\n",
		"not UTF-8":   "name: \xff\xfe\n",
		"zero byte":   "name: a\x00b\n",
		"a list":      "- 1\n- 2\n",
		"a word":      "hello",
		"two batches": goodBatch + "---\n" + goodBatch,
		"deep":        strings.Repeat("[", 50_000),
		"deep list":   strings.Repeat("- ", 50_000),
		"long":        "name: " + strings.Repeat("x", 1<<20),
	} {
		_, err := DecodeBatch("b.yaml", strings.NewReader(text))
		if r := refusalOf(t, err); len(r.Error()) > 600 {
			t.Errorf("%s: expected a short line, got %d bytes", what, len(r.Error()))
		}
	}
}

// What fits but is not safe is read: package limit answers for it.
func TestDecodeBatchLeavesSafetyToLimits(t *testing.T) {
	for what, change := range map[string][2]string{
		"no rating":              {", rating: 2.5 bar", ""},
		"no safety valve":        {", safety_relief: 2.2 bar", ""},
		"rated below its relief": {"rating: 2.5 bar", "rating: 0.3 bar"},
	} {
		_, err := DecodeBatch("b.yaml", strings.NewReader(strings.Replace(goodBatch, change[0], change[1], 1)))
		if err != nil {
			t.Errorf("%s: expected to be read, got %v", what, err)
		}
	}
}

func TestDecodeBatchTakesByteOrderMarkAndCRLF(t *testing.T) {
	text := "\ufeff" + strings.ReplaceAll(goodBatch, "\n", "\r\n")
	b, err := DecodeBatch("b.yaml", strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	if b.Name != "Sluice Gate Pale, third" || len(b.Programme) != 6 {
		t.Errorf("expected the example, got %q and %d steps", b.Name, len(b.Programme))
	}
}
