package batch

import (
	"bytes"
	"encoding/hex"
	"encoding/json"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"spile/internal/oracle"
	"spile/unit"
)

func TestFormRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := anyEntry(t, 3, 5)
		e.By = rapid.String().Draw(t, "by")
		form, err := e.Form()
		if err != nil {
			t.Fatal(err)
		}
		plain, err := json.Marshal(&e)
		if err != nil {
			t.Fatal(err)
		}
		if same, err := Canonical(plain); err != nil || !bytes.Equal(same, form) {
			t.Fatalf("expected %s, got %s, %v", same, form, err)
		}
		back, err := ReadForm(form)
		if err != nil {
			t.Fatal(err)
		}
		again, err := back.Form()
		if err != nil || !bytes.Equal(again, form) {
			t.Fatalf("expected %s, got %s, %v", form, again, err)
		}
	})
}

// The form is frozen: what is on somebody's disk was summed in it.
func TestFormIsFrozen(t *testing.T) {
	e := entry(2, KindReading, `{"temperature_k":2.9315e2, "pressure_pa":68947.57293168361}`)
	e.Uncertain, e.Clock, e.Thing, e.With = 7200, "start 7", id(3), id(4)
	got, err := e.Form()
	const want = `{"at":"2026-11-21T12:02:00Z","batch":"01a1fdfa-49e8-7000-8000-000000000001","body":{"pressure_pa":68947.57293168361,"temperature_k":293.15},` +
		`"by":"Ada","clock":"start 7","id":"01a1fdfa-4dd0-7000-8000-000000000002","kind":"reading","made":"2026-11-21T12:00:02Z",` +
		`"thing":"01a1fdfa-51b8-7000-8000-000000000003","uncertain_s":7200,"with":"01a1fdfa-55a0-7000-8000-000000000004"}`
	if string(got) != want || err != nil {
		t.Errorf("expected\n%s\ngot\n%s, %v", want, got, err)
	}
	first := FirstSum()
	sum := first.Next([]byte(want))
	// The general library that the chain is held against: Python's hashlib.
	const python = "/usr/bin/python3"
	script := "import hashlib\nf=hashlib.sha256(b'spile log 1').digest()\nprint(hashlib.sha256(f+'''" + want + "'''.encode()).hexdigest())"
	if out := strings.TrimSpace(oracle.Run(t, []string{python, "--version"}, script, python, "-")); hex.EncodeToString(sum[:]) != out {
		t.Errorf("checksum: expected %s, got %x, tolerance none", out, sum)
	}
}

func TestCheckRefuses(t *testing.T) {
	good := pressure(2, 5)
	if err := good.Check(); err != nil {
		t.Fatalf("a good entry: %v", err)
	}
	for _, c := range []struct {
		what   string
		change func(*Entry)
		say    string
	}{
		{"no id", func(e *Entry) { e.ID = ID{} }, "UUID of version 7"},
		{"year", func(e *Entry) { e.At = e.At.AddDate(400, 0, 0) }, "years 1970 to 2200"},
		{"uncertain", func(e *Entry) { e.Uncertain = -1 }, "0 to ten years"},
		{"long name", func(e *Entry) { e.By = strings.Repeat("é", 201) }, "a short name"},
		{"kind", func(e *Entry) { e.Kind = "thought" }, "accepted: reading, action"},
		{"supersedes", func(e *Entry) { e.Supersedes = id(1) }, "correction and taken-back alone"},
		{"nothing to take back", func(e *Entry) { e.Kind = KindTakenBack }, "correction and taken-back alone"},
		{"itself", func(e *Entry) { e.With = e.ID }, "points at itself"},
		{"import of import", func(e *Entry) { e.Kind, e.With = KindImport, id(1) }, "stand for themselves"},
		{"thing in a batch", func(e *Entry) { e.Kind = KindThing }, "wrong log"},
		{"no body", func(e *Entry) { e.Body = nil }, "an object"},
		{"not JSON", func(e *Entry) { e.Body = json.RawMessage(`{"pressure_pa":1`) }, "unexpected end"},
		{"a list", func(e *Entry) { e.Body = json.RawMessage(`[1]`) }, "an object with its keys"},
		{"a word for a number", func(e *Entry) { e.Body = json.RawMessage(`{"pressure_pa":"high"}`) }, "pressure_pa"},
		{"nothing read", func(e *Entry) { e.Body = json.RawMessage(`{"words":"hm"}`) }, "a reading without a value"},
		{"nothing done", func(e *Entry) { e.Kind = KindAction }, "an action without its event"},
		{"unknown event", func(e *Entry) { e.Kind, e.Body = KindAction, json.RawMessage(`{"event":{"kind":"danced"}}`) }, "danced"},
		{"no words", func(e *Entry) { e.Kind = KindNote }, "a note without words"},
		{"no verdict", func(e *Entry) { e.Kind, e.Body = KindJudgement, json.RawMessage(`{}`) }, "no verdict"},
		{"seen nothing", func(e *Entry) { e.Kind, e.Body = KindJudgement, json.RawMessage(`{"verdict":"limit seen"}`) }, "without its limits"},
		{"seen a limit of no kind", func(e *Entry) {
			e.Kind, e.Body = KindJudgement, json.RawMessage(`{"verdict":"limit seen","limits":[{"kind":"over-rating"},{"value_si":1}]}`)
		}, "without its limits"},
		{"over, and nobody saw it", func(e *Entry) {
			e.Kind, e.Body = KindJudgement, json.RawMessage(`{"verdict":"limit over","limits":[{"kind":"over-rating"}]}`)
		}, "of nothing"},
		{"no clock", func(e *Entry) { e.Kind, e.Body = KindClockShift, json.RawMessage(`{}`) }, "no clock"},
		{"no batch", func(e *Entry) { e.Kind, e.ID, e.Body = KindBatch, e.Batch, json.RawMessage(`{"name":"x"}`) }, "without the time of pitching"},
		{"no such thing", func(e *Entry) { e.Kind, e.Batch, e.Body = KindThing, ID{}, json.RawMessage(`{"is":"lamp","name":"x"}`) }, "accepted: place, vessel"},
	} {
		e := good
		c.change(&e)
		if err := e.Check(); err == nil || !strings.Contains(err.Error(), c.say) {
			t.Errorf("%s: expected a refusal with %q, got %v", c.what, c.say, err)
		}
	}
	for _, bad := range []string{``, `{}`, `{"id":"x"}`, `{"new":1}`, `[]`, `{"id":"017f22e2-79b0-7cc3-98c4-dc0c0c07398f"} {}`} {
		if _, err := ParseEntry([]byte(bad)); err == nil {
			t.Errorf("%q was read; expected a refusal", bad)
		}
	}
}

func TestLogAsEntries(t *testing.T) {
	log := Log{
		Readings: []Reading{{Time: noon, Quantity: Gravity, Value: 1.046}, {Time: noon, Quantity: Temperature, Value: 293}, {Time: noon, Quantity: Temperature, Value: 294, Instrument: "probe"},
			{Time: noon.Add(1), Quantity: Temperature, Value: 295}, {Time: noon.Add(1), Quantity: Temperature, Value: 296}},
		Events: []Event{{Time: noon, Kind: VentedTo, From: 7e4, To: 5e4}, {Time: noon, Kind: GasOn, Pressure: unit.Gauge(unit.Bar)}},
	}
	n := 10
	entries, err := EntriesOf(log, Entry{Batch: id(1), Made: noon, With: id(2), By: "Ada"}, func() ID { n++; return id(n) })
	if err != nil || len(entries) != 6 {
		t.Fatalf("expected 6 entries, got %d, %v", len(entries), err)
	}
	for _, e := range entries {
		if err := e.Check(); err != nil {
			t.Errorf("%s: %v", e.Body, err)
		}
	}
	got := Derive(id(1), entries).Log
	for i := range got.Readings {
		if !got.Readings[i].Unattended {
			t.Errorf("reading %d came with an import, and can clear an alarm", i)
		}
		got.Readings[i].Entry, got.Readings[i].Unattended = ID{}, false
	}
	for i := range got.Events {
		got.Events[i].Entry = ID{}
	}
	if !reflect.DeepEqual(got, log) {
		t.Errorf("expected %v, got %v", log, got)
	}
}

// A cylinder has its own weighings, and not those of another.
func TestWeighingsOfACylinder(t *testing.T) {
	weighed := func(n, cylinder int, kg string) Entry {
		e := entry(n, KindReading, `{"cylinder_kg":`+kg+`}`)
		e.Batch, e.Thing = ID{}, id(cylinder)
		return e
	}
	back := supersedes(entry(20, KindTakenBack, ""), 11)
	back.Batch, back.Body = ID{}, nil
	got := Weighings([]Entry{weighed(12, 4, "7.2"), weighed(9, 4, "7.4"), weighed(10, 5, "9.1"), weighed(11, 4, "3"), pressure(13, 7e4), back}, id(4))
	if len(got) != 2 || got[0].Value != 7.4 || got[1].Value != 7.2 || got[0].Entry != id(9) || !got[1].Time.Equal(noon.Add(12*time.Minute)) {
		t.Errorf("expected 7.4 kg and then 7.2 kg, got %+v", got)
	}
}

// A regulator that is gone feeds nothing.
func TestHangsOn(t *testing.T) {
	fed := func(cylinder int, gone bool, vessels ...int) Thing[RegulatorFacts] {
		r := Thing[RegulatorFacts]{Gone: gone, Facts: RegulatorFacts{Cylinder: id(cylinder)}}
		for _, v := range vessels {
			r.Facts.Vessels = append(r.Facts.Vessels, id(v))
		}
		return r
	}
	c := Cellar{Regulators: []Thing[RegulatorFacts]{fed(4, false, 2), fed(4, false, 3), fed(5, true, 2), fed(4, true, 6), fed(7, false, 8)}}
	if on, all := c.HangsOn(id(2)); on != id(4) || !slices.Equal(all, []ID{id(2), id(3)}) {
		t.Errorf("expected cylinder 4 with vessels 2 and 3, got %v with %v", on, all)
	}
	for _, v := range []ID{{}, id(6), id(9)} {
		if on, all := c.HangsOn(v); !on.IsZero() || all != nil {
			t.Errorf("%v hangs on nothing, got %v with %v", v, on, all)
		}
	}
}

func TestThingsOfTheCellar(t *testing.T) {
	thing := func(n int, body string, of int) Entry {
		e := entry(n, KindThing, body)
		e.Batch = ID{}
		if of > 0 {
			e.Thing = id(of)
		}
		return e
	}
	weighed := entry(9, KindReading, `{"cylinder_kg":7.4}`)
	weighed.Batch, weighed.Thing = ID{}, id(4)
	log := []Entry{
		thing(2, `{"is":"vessel","name":"Dunlin","capacity_m3":0.026,"diameter_m":0.3}`, 0),
		thing(3, `{"rating_pa":250000,"fittings":["working valve","tap"],"passport":{"ua_w_per_k":3.4}}`, 2),
		thing(4, `{"is":"cylinder","name":"Grey","capacity_kg":2.6,"tare_kg":5.6}`, 0),
		thing(5, `{"is":"regulator","name":"Twin","cylinder":"`+id(4).String()+`","vessels":["`+id(2).String()+`"]}`, 0),
		thing(6, `{"is":"place","name":"Shed","altitude_m":4,"ambient_k":285,"someone_sleeps_here":true}`, 0),
		thing(7, `{"is":"line","name":"Long","length_m":3,"bore_m":0.005}`, 0),
		thing(8, `{"is":"instrument","name":"Glass","reads":"gravity","offset":0.001}`, 0),
		thing(10, `{"is":"wort pack","name":"Pale","volume_m3":0.003,"gravity_sg":1.3}`, 0),
		thing(11, `{"is":"yeast pack","name":"Ale","kind":"ale","mass_kg":0.0115}`, 0),
		thing(12, `{"is":"vessel","name":"Godwit","capacity_m3":0.026,"diameter_m":0.3}`, 0),
		thing(13, `{"gone":true}`, 12),
		thing(14, `{"is":"lamp"}`, 12),
		weighed,
	}
	for _, e := range log {
		if err := e.Check(); err != nil {
			t.Errorf("%s: %v", e.Body, err)
		}
	}
	c := DeriveCellar(log)
	if len(c.Vessels) != 2 || c.Vessels[0].Name != "Dunlin" || *c.Vessels[0].Facts.Rating != 250000 || c.Vessels[0].Facts.Passport["ua_w_per_k"] != 3.4 || !c.Vessels[1].Gone {
		t.Errorf("vessels: got %+v", c.Vessels)
	}
	if content := c.Cylinders[0].Facts.Content; content == nil || float64(*content) < 1.7999 || float64(*content) > 1.8001 {
		t.Errorf("content by weighing, 7.4 kg with a tare of 5.6 kg: expected 1.8 kg, got %v, tolerance 0.1 g", content)
	}
	if c.Regulators[0].Facts.Vessels[0] != c.Vessels[0].ID || !*c.Places[0].Facts.Sleeper || c.Instruments[0].Facts.Reads != Gravity {
		t.Errorf("expected vessel on regulator, a sleeper and a hydrometer, got %+v", c)
	}
	if len(c.Lines) != 1 || len(c.WortPacks) != 1 || len(c.YeastPacks) != 1 || len(c.Trouble) != 1 || c.Trouble[0].Entry != id(14) {
		t.Errorf("expected one line, one pack of each and trouble with one change, got %+v", c)
	}
	taken := DeriveCellar(append(log, supersedes(entry(20, KindTakenBack, ""), 2)))
	if len(taken.Vessels) != 1 || taken.Vessels[0].Name != "Godwit" {
		t.Errorf("a vessel taken back: got %+v", taken.Vessels)
	}
}

// Every quantity has a name in the log, and is read back by it.
func TestQuantityNames(t *testing.T) {
	for q := range Quantities {
		text, err := q.MarshalText()
		if err != nil {
			t.Error(err)
			continue
		}
		var back Quantity
		if err := back.UnmarshalText(text); err != nil || back != q {
			t.Errorf("%q: expected quantity %d, got %d, %v", text, q, back, err)
		}
	}
}
