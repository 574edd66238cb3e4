package ingest

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"
	"time"

	"spile/batch"
	"spile/internal/batchfile"
	"spile/internal/store"
)

// aCellar is a cellar in memory with a batch in it.
func aCellar(t testing.TB) (*store.Store, batch.ID) {
	t.Helper()
	s, err := store.OpenMemory()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s, pitch(t, s)
}

// pitch puts a batch into a cellar.
func pitch(t testing.TB, s *store.Store) batch.ID {
	t.Helper()
	e := batch.Entry{ID: store.NewID(), Kind: batch.KindBatch, At: pitched, Made: pitched}
	e.Batch = e.ID
	var err error
	if e.Body, err = batch.EncodeBody(batch.Record{Batch: *aBatch()}); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Append(t.Context(), e); err != nil {
		t.Fatal(err)
	}
	return e.ID
}

// state is what the log of a batch says, to the byte.
func state(t testing.TB, s *store.Store, id batch.ID) (batch.State, string) {
	t.Helper()
	entries, _, err := s.Log(t.Context(), id, 0)
	if err != nil {
		t.Fatal(err)
	}
	d := batch.Derive(id, entries)
	return d, fmt.Sprintf("%+v %+v %+v %+v", *d.Record, d.Log, d.Notes, d.Trouble)
}

func keep(t testing.TB, s *store.Store, to batch.ID, found Found) batch.ID {
	t.Helper()
	first := batch.Entry{ID: store.NewID(), Batch: to, Made: now, By: "Olga"}
	entries, err := Entries(found, first, "a.csv", store.NewID)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.Append(t.Context(), entries...); err != nil {
		t.Fatal(err)
	}
	return first.ID
}

func turn(t testing.TB, s *store.Store, id batch.ID) *Import {
	t.Helper()
	i, err := Find(t.Context(), s, id)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.Append(t.Context(), i.TurnRound(batch.Entry{Made: now}, store.NewID)...); err != nil {
		t.Fatal(err)
	}
	if i, err = Find(t.Context(), s, id); err != nil {
		t.Fatal(err)
	}
	return i
}

// Whatever is kept and in whatever order it is taken back, the state before is there again, to
// the byte; put back, so is the state with it.
func TestKeepAndTakeBack(t *testing.T) {
	for seed := range uint64(20) {
		random := rand.New(rand.NewPCG(seed, 1))
		s, id := aCellar(t)
		said := []string{}
		var imports []batch.ID
		for range 4 {
			_, before := state(t, s, id)
			said = append(said, before)
			var text strings.Builder
			text.WriteString("time,gravity,beer temp C,event,note\n")
			for range 1 + random.IntN(12) {
				at := pitched.Add(time.Duration(random.IntN(1000)) * time.Hour).In(berlin)
				fmt.Fprintf(&text, "%s,%.3f,%.1f,%s,%s\n", at.Format("2006-01-02 15:04"), 1+0.05*random.Float64(), 10+10*random.Float64(), []string{"", "gas off"}[random.IntN(2)], []string{"", "smells of apple"}[random.IntN(2)])
			}
			u := understood(t, text.String(), Choices{})
			there, _ := state(t, s, id)
			imports = append(imports, keep(t, s, id, u.Found.Unknown(&there)))
		}
		for n := len(imports) - 1; n >= 0; n-- {
			_, with := state(t, s, id)
			for _, want := range []struct {
				holds bool
				said  string
			}{{false, said[n]}, {true, with}, {false, said[n]}} {
				i := turn(t, s, imports[n])
				if _, got := state(t, s, id); got != want.said || i.Holds != want.holds || i.By != "Olga" || i.File != "a.csv" {
					t.Fatalf("seed %d, import %d: got %v\n%s\nwant %v\n%s", seed, n, i.Holds, got, want.holds, want.said)
				}
			}
		}
		all, err := All(t.Context(), s)
		if err != nil || len(all) != len(imports) || all[0].Holds {
			t.Fatalf("imports: %+v %v", all, err)
		}
	}
}

// The same file again brings nothing; with more rows, those.
func TestKnownIsLeftOut(t *testing.T) {
	s, id := aCellar(t)
	const text = "time,gravity,event,note\n2026-11-25 18:30,1.040,gas off,cloudy\n2026-11-25 19:30,1.030,,\n"
	keep(t, s, id, understood(t, text, Choices{}).Found)
	there, _ := state(t, s, id)
	for more, want := range map[string]string{"": "", "2026-11-25 20:30,1.020,,\n": "25T19:30:00 0 1.02"} {
		u := understood(t, text+more, Choices{})
		if fresh := u.Found.Unknown(&there); lines(&fresh) != want || !reflect.DeepEqual(fresh.Events, []batch.Event(nil)) {
			t.Errorf("got %s, want %s", lines(&fresh), want)
		}
	}
	if _, err := Find(t.Context(), s, id); err != ErrNoImport {
		t.Errorf("a batch is no import: %v", err)
	}
}

// A READINGS.csv that was brought in as such is known when it comes as any other file, and the other
// way round: the two ways of reading a number differ in its last bits.
func TestKnownEitherWay(t *testing.T) {
	from := map[string]float64{"gravity_sg": 1, "gravity_plato": 0, "pressure_psi": 0.1, "pressure_bar": 0.1, "pressure_kpa": 0.1,
		"temperature_c": 1, "temperature_f": 40, "mass_kg": 20, "cylinder_kg": 3, "vented_l": 0, "vented_g": 0, "air_c": 1, "air_f": 40}
	for column, low := range from {
		var text strings.Builder
		fmt.Fprintf(&text, "hours,%s\n", column)
		step := 0.03
		if column == "gravity_sg" {
			step = 0.0003
		}
		for i := range 300 {
			fmt.Fprintf(&text, "%.2f,%.4f\n", 0.37*float64(i), low+step*float64(i))
		}
		log, err := batchfile.DecodeLog("r.csv", strings.NewReader(text.String()), aBatch())
		if err != nil {
			t.Fatal(err)
		}
		own, other := Found{Log: log}, understood(t, text.String(), Choices{}).Found
		if own.Count() != 300 || other.Count() != 300 {
			t.Fatalf("%s: %d and %d readings", column, own.Count(), other.Count())
		}
		if fresh := other.Unknown(&batch.State{Log: log}); fresh.Count() != 0 {
			t.Errorf("%s: %d of them are taken for new, such as %v", column, fresh.Count(), fresh.Readings[0])
		}
		if fresh := own.Unknown(&batch.State{Log: other.Log}); fresh.Count() != 0 {
			t.Errorf("%s: %d of READINGS.csv are taken for new, such as %v", column, fresh.Count(), fresh.Readings[0])
		}
	}
	near := Found{Log: batch.Log{Readings: []batch.Reading{{Time: now, Value: 1.040001}}}}
	if fresh := near.Unknown(&batch.State{Log: batch.Log{Readings: []batch.Reading{{Time: now, Value: 1.04}}}}); fresh.Count() != 1 {
		t.Error("another value is taken for known")
	}
}

// Ten thousand rows of three readings: understood, compared with the log, and on the disk.
func BenchmarkTenThousandRows(b *testing.B) {
	var text strings.Builder
	text.WriteString("Date,Time,Gravity,Pressure (psi),Beer Temp (°F),battery\n")
	for i := range 10_000 {
		at := pitched.Add(time.Duration(i) * 5 * time.Minute).In(berlin)
		fmt.Fprintf(&text, "%s,%.4f,%.2f,%.1f,3.9\n", at.Format("01/02/2006,3:04:05 PM"), 1.046-float64(i)*3e-6, float64(i%120)/10, 66+float64(i%40)/10)
	}
	data := []byte(text.String())
	b.Run("understand", func(b *testing.B) {
		for b.Loop() {
			if u, err := Understand("a.csv", data, aBatch(), Choices{Zone: berlin}, now); err != nil || u.Found.Count() != 30_000 || !u.Sure() {
				b.Fatal(err, u.Found.Count(), u.Asks, u.Bad[:min(3, len(u.Bad))])
			}
		}
	})
	b.Run("keep", func(b *testing.B) {
		for b.Loop() {
			b.StopTimer()
			s, err := store.Open(b.TempDir())
			if err != nil {
				b.Fatal(err)
			}
			id := pitch(b, s)
			b.StartTimer()
			u, err := Understand("a.csv", data, aBatch(), Choices{Zone: berlin}, now)
			if err != nil {
				b.Fatal(err)
			}
			there, _ := state(b, s, id)
			keep(b, s, id, u.Found.Unknown(&there))
			b.StopTimer()
			s.Close()
			b.StartTimer()
		}
	})
}

// Nobody stood by when what came with a file was read: it can raise an alarm and never clear one, whoever kept it.
func TestFilesAreUnattended(t *testing.T) {
	s, id := aCellar(t)
	keep(t, s, id, understood(t, "time,gravity\n2026-11-25 18:30,1.040\n", Choices{}).Found)
	own := batch.Entry{ID: store.NewID(), Batch: id, Kind: batch.KindReading, At: now, Made: now, By: "Olga", Body: []byte(`{"gravity_sg":1.03}`)}
	if _, err := s.Append(t.Context(), own); err != nil {
		t.Fatal(err)
	}
	there, said := state(t, s, id)
	if len(there.Log.Readings) != 2 {
		t.Fatalf("got %s", said)
	}
	for _, r := range there.Log.Readings {
		if want := r.Entry != own.ID; r.Unattended != want {
			t.Errorf("%.3f: unattended %v, want %v", r.Value, r.Unattended, want)
		}
	}
}
