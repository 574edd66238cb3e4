package batch

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"spile/unit"
)

var noon = time.Date(2026, 11, 21, 12, 0, 0, 0, time.UTC)

func id(n int) ID {
	var chance [10]byte
	chance[8], chance[9] = byte(n>>8), byte(n)
	return NewID(noon.Add(time.Duration(n)*time.Second), chance)
}

// entry n, made n seconds after noon, with a body.
func entry(n int, k Kind, body string) Entry {
	return Entry{ID: id(n), Batch: id(1), Kind: k, At: noon.Add(time.Duration(n) * time.Minute), Made: noon.Add(time.Duration(n) * time.Second), By: "Ada", Body: json.RawMessage(body)}
}

const made = `{"name":"Odd Glove Red","pitched":"2026-11-21T10:00:00+01:00","place":{"altitude_m":4,"ambient_k":289.15},"vessel":{"capacity_m3":0.026,"diameter_m":0.3,"rating_pa":250000},"wort":{"gravity_sg":1.046,"volume_m3":0.02},"yeast":{"kind":"ale"}}`

func supersedes(e Entry, target int) Entry { e.Supersedes = id(target); return e }

func pressure(n int, pa float64) Entry {
	return entry(n, KindReading, fmt.Sprintf(`{"pressure_pa":%g}`, pa))
}

// shown is the state in short: name, rating, readings and events with their minute after noon.
func shown(s State) string {
	var out []string
	if s.Record != nil {
		rating := "none"
		if s.Record.Vessel.Rating != nil {
			rating = fmt.Sprint(float64(*s.Record.Vessel.Rating))
		}
		out = append(out, s.Record.Name+" "+rating)
	}
	for _, r := range s.Log.Readings {
		text := fmt.Sprintf("%v@%v", r.Value, r.Time.Sub(noon).Minutes())
		if r.Uncertain > 0 {
			text += fmt.Sprintf("~%v", float64(r.Uncertain))
		}
		out = append(out, text)
	}
	for _, e := range s.Log.Events {
		word, _ := e.Kind.MarshalText()
		out = append(out, fmt.Sprintf("%s@%v", word, e.Time.Sub(noon).Minutes()))
	}
	for _, n := range s.Notes {
		out = append(out, n.Words)
	}
	for _, x := range s.Trouble {
		out = append(out, "trouble "+fmt.Sprint(x.Entry == id(9)))
	}
	return strings.Join(out, ", ")
}

func TestWhatHolds(t *testing.T) {
	clocked := func(e Entry) Entry { e.Clock = "start 7"; return e }
	with := func(e Entry, n int) Entry { e.With = id(n); return e }
	about := entry(5, KindReading, `{"pressure_pa":7}`)
	about.Uncertain = 1800
	for _, c := range []struct {
		what string
		log  []Entry
		want string
	}{
		{"nothing", nil, ""},
		{"a batch", []Entry{entry(1, KindBatch, made)}, "Odd Glove Red 250000"},
		{"changed", []Entry{entry(1, KindBatch, made), entry(2, KindBatch, `{"name":"Red"}`), entry(3, KindBatch, `{"vessel":{"rating_pa":null}}`)}, "Red none"},
		{"a change without its batch", []Entry{entry(2, KindBatch, `{"name":"Red"}`)}, ""},
		{"a change that cannot be", []Entry{entry(1, KindBatch, made), entry(9, KindBatch, `{"wort":{"volume_m3":1}}`)}, "Odd Glove Red 250000, trouble true"},
		{"reading, action, note", []Entry{pressure(3, 5), entry(2, KindAction, `{"event":{"kind":"gas off"}}`), entry(4, KindNote, `{"words":"moved"}`)}, "5@3, gas off@2, moved"},
		{"one look, several values", []Entry{entry(2, KindReading, `{"gravity_sg":1.02,"temperature_k":290}`)}, "1.02@2, 290@2"},
		{"about half an hour", []Entry{about}, "7@5~1800"},
		{"taken back", []Entry{pressure(2, 5), supersedes(entry(3, KindTakenBack, ""), 2)}, ""},
		{"and given again", []Entry{pressure(2, 5), supersedes(entry(3, KindTakenBack, ""), 2), supersedes(entry(4, KindTakenBack, ""), 3)}, "5@2"},
		{"taken back twice, given once", []Entry{pressure(2, 5), supersedes(entry(3, KindTakenBack, ""), 2), supersedes(entry(4, KindTakenBack, ""), 2), supersedes(entry(5, KindTakenBack, ""), 3)}, ""},
		{"corrected, with its time", []Entry{pressure(2, 5), supersedes(entry(3, KindCorrection, `{"pressure_pa":6}`), 2)}, "6@3"},
		{"the last correction counts", []Entry{pressure(2, 5), supersedes(entry(4, KindCorrection, `{"pressure_pa":7}`), 2), supersedes(entry(3, KindCorrection, `{"pressure_pa":6}`), 2)}, "7@4"},
		{"a correction corrected", []Entry{pressure(2, 5), supersedes(entry(3, KindCorrection, `{"pressure_pa":6}`), 2), supersedes(entry(4, KindCorrection, `{"pressure_pa":8}`), 3)}, "8@4"},
		{"a correction taken back", []Entry{pressure(2, 5), supersedes(entry(3, KindCorrection, `{"pressure_pa":6}`), 2), supersedes(entry(4, KindTakenBack, ""), 3)}, "5@2"},
		{"a correction that says nothing", []Entry{pressure(9, 5), supersedes(entry(3, KindCorrection, `{}`), 9)}, "trouble true"},
		{"its target not there", []Entry{supersedes(entry(3, KindTakenBack, ""), 2)}, ""},
		{"a circle", []Entry{pressure(2, 5), supersedes(entry(3, KindTakenBack, ""), 4), supersedes(entry(4, KindTakenBack, ""), 3)}, "5@2"},
		{"an import in one step", []Entry{entry(2, KindImport, `{"file":"r.csv","entries":2}`), with(pressure(3, 5), 2), with(pressure(4, 6), 2)}, "5@3, 6@4"},
		{"taken back in one step", []Entry{entry(2, KindImport, `{"file":"r.csv","entries":2}`), with(pressure(3, 5), 2), pressure(5, 8), with(pressure(4, 6), 2), supersedes(entry(6, KindTakenBack, ""), 2)}, "8@5"},
		{"a wrong clock, not yet put right", []Entry{clocked(pressure(2, 5)), pressure(3, 6)}, "5@2, 6@3"},
		{"put right", []Entry{clocked(pressure(2, 5)), pressure(3, 6), entry(4, KindClockShift, `{"clock":"start 7","shift_s":600,"uncertain_s":3}`)}, "6@3, 5@12~3"},
		{"the last shift counts", []Entry{clocked(pressure(2, 5)), entry(5, KindClockShift, `{"clock":"start 7","shift_s":60}`), entry(4, KindClockShift, `{"clock":"start 7","shift_s":600}`)}, "5@3"},
		{"a shift taken back", []Entry{clocked(pressure(2, 5)), entry(4, KindClockShift, `{"clock":"start 7","shift_s":600}`), supersedes(entry(5, KindTakenBack, ""), 4)}, "5@2"},
	} {
		if got := shown(Derive(id(1), c.log)); got != c.want {
			t.Errorf("%s: expected %q, got %q", c.what, c.want, got)
		}
	}
}

// anyEntry n points at what it likes, at itself and in circles too.
func anyEntry(t *rapid.T, n, of int) Entry {
	bodies := map[Kind]string{KindReading: `{"pressure_pa":%d}`, KindAction: `{"event":{"kind":"vent","from_pa":%d}}`, KindNote: `{"words":"%d"}`, KindBatch: `{"name":"%d"}`,
		KindJudgement: `{"verdict":"%d"}`, KindCorrection: `{"pressure_pa":%d,"words":"corrected"}`, KindClockShift: `{"clock":"a","shift_s":%d}`, KindImport: `{"file":"%d"}`, KindTakenBack: ""}
	kind := rapid.SampledFrom([]Kind{KindReading, KindAction, KindNote, KindBatch, KindJudgement, KindCorrection, KindCorrection, KindTakenBack, KindTakenBack, KindTakenBack, KindClockShift, KindImport}).Draw(t, "kind")
	body := bodies[kind]
	if body != "" {
		body = fmt.Sprintf(body, n)
	}
	e := entry(n, kind, body)
	e.At = noon.Add(time.Duration(rapid.IntRange(0, 5).Draw(t, "at")) * time.Minute)
	e.Made = noon.Add(time.Duration(rapid.IntRange(0, 5).Draw(t, "made")) * time.Second)
	e.Clock = rapid.SampledFrom([]string{"", "", "a"}).Draw(t, "clock")
	e.Uncertain = unit.Duration(rapid.IntRange(0, 2).Draw(t, "uncertain"))
	target := id(rapid.IntRange(1, of+1).Draw(t, "target"))
	if kind.supersedes() {
		e.Supersedes = target
	}
	if rapid.IntRange(0, 3).Draw(t, "with") == 0 {
		e.With = target
	}
	return e
}

func anyLog(t *rapid.T) []Entry {
	n := rapid.IntRange(1, 14).Draw(t, "entries")
	log := []Entry{entry(1, KindBatch, made)}
	for i := range n {
		log = append(log, anyEntry(t, i+2, n+1))
	}
	return log
}

// Errors are compared by their words; what an entry waits for says nothing of the state.
func comparable(s State) State {
	s.waits = false
	for i := range s.Trouble {
		s.Trouble[i].Err = fmt.Errorf("%s", s.Trouble[i].Err)
	}
	return s
}

func TestOrderOfArrivalDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		log := anyLog(t)
		want := comparable(Derive(id(1), log))
		chance := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		for range 4 {
			again := append(append([]Entry{}, log...), log[chance.IntN(len(log))]) // and one sent twice
			chance.Shuffle(len(again), func(i, j int) { again[i], again[j] = again[j], again[i] })
			if got := comparable(Derive(id(1), again)); !reflect.DeepEqual(got, want) {
				t.Fatalf("expected %s, got %s", shown(want), shown(got))
			}
		}
	})
}

func TestTakingEverythingBackGivesTheFirstState(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		log := anyLog(t)
		first := Derive(id(1), log[:1])
		for i, e := range log[1:] {
			log = append(log, supersedes(entry(100+i, KindTakenBack, ""), 2+i))
			if e.ID != id(2+i) {
				t.Fatal("the log is not numbered as thought")
			}
		}
		if got := comparable(Derive(id(1), log)); !reflect.DeepEqual(got, comparable(first)) {
			t.Fatalf("expected %s, got %s", shown(first), shown(got))
		}
	})
}

// A taking-back of a taking-back ...: the reading stands when their number is even.
func TestTakingBackForEver(t *testing.T) {
	log := []Entry{pressure(2, 5)}
	for n := range 400 {
		if got, want := len(Derive(id(1), log).Log.Readings), 1-n%2; got != want {
			t.Fatalf("after %d takings-back: expected %d readings, got %d", n, want, got)
		}
		log = append(log, supersedes(entry(n+3, KindTakenBack, ""), n+2))
	}
}

// Holding says the same as Hold of what supersedes nothing.
func TestHoldingAgreesWithHold(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		log := anyLog(t)
		held := map[ID]bool{}
		for _, h := range Hold(log) {
			held[h.ID] = true
		}
		for id, holds := range Holding(log) {
			i := slices.IndexFunc(log, func(e Entry) bool { return e.ID == id })
			if e := log[i]; !e.Kind.supersedes() && e.Kind != KindClockShift && holds != held[id] {
				t.Fatalf("%s: Holding says %v, Hold %v", id, holds, held[id])
			}
		}
	})
}

// What a person puts right is a person's reading, and can clear an alarm; until then, and if it is taken back, a device's or a file's is not.
func TestACorrectionIsOfWhoMadeIt(t *testing.T) {
	at := func(n int, k Kind, by string, change func(*Entry)) Entry {
		e := Entry{ID: id(n), Batch: id(1), Kind: k, At: noon.Add(time.Duration(n)), Made: noon.Add(time.Duration(n)), By: by, Body: []byte(`{"pressure_pa":70000}`)}
		change(&e)
		return e
	}
	none := func(*Entry) {}
	supersedes := func(n int) func(*Entry) { return func(e *Entry) { e.Supersedes = id(n) } }
	sent := at(2, KindReading, DeviceBy("dial"), none)
	filed := at(2, KindReading, "Ada", func(e *Entry) { e.With = id(9) })
	right := at(3, KindCorrection, "Ada", supersedes(2))
	nameless := at(3, KindCorrection, "", supersedes(2))
	device := at(4, KindCorrection, DeviceBy("dial"), supersedes(2))
	back := at(5, KindTakenBack, "Ada", func(e *Entry) { e.Supersedes, e.Body = id(3), nil })
	for _, c := range []struct {
		what string
		log  []Entry
		want bool
	}{
		{"sent by a device", []Entry{sent}, true},
		{"of a file", []Entry{filed}, true},
		{"sent, put right by a person", []Entry{sent, right}, false},
		{"of a file, put right by a person", []Entry{filed, right}, false},
		{"put right at this machine, with no login", []Entry{sent, nameless}, false},
		{"put right, which was taken back", []Entry{sent, right, back}, true},
		{"put right by a person, then by a device", []Entry{sent, right, device}, true},
		{"read by a person", []Entry{at(2, KindReading, "Ada", none)}, false},
		{"read by a person, put right by a device", []Entry{at(2, KindReading, "Ada", none), device}, true},
	} {
		got := Derive(id(1), c.log).Log.Readings
		if len(got) != 1 || got[0].Unattended != c.want {
			t.Errorf("%s: got %+v, want unattended %t", c.what, got, c.want)
		}
	}
}
