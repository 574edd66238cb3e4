package batchfile

import (
	"fmt"
	"io"
	"math"
	"runtime"
	"strings"
	"testing"
	"time"

	"spile/batch"
	"spile/unit"
)

func TestDecodeLogReadsEveryColumn(t *testing.T) {
	b := decodeGood(t)
	text := "\ufeffhours,gravity_sg,pressure_psi,temperature_c,mass_kg,cylinder_kg,vented_g,instrument,event\r\n" +
		"48,1.020,,19.5,,,,hydrometer,\r\n" +
		"0,\"1,046\",0,20,24.5,5.3,0,,\"relief 12 psi\"\r\n" +
		"\r\n" +
		"24.5,,10,,,,55.5,,\r\n" +
		",,,,,,,,\r\n"
	log, err := DecodeLog("r.csv", strings.NewReader(text), b)
	if err != nil {
		t.Fatal(err)
	}
	if len(log.Readings) != 10 || len(log.Events) != 1 {
		t.Fatalf("expected 10 readings and 1 event, got %d and %d", len(log.Readings), len(log.Events))
	}
	first, last := log.Readings[0], log.Readings[9]
	if first.Value != 1.046 || first.Quantity != batch.Gravity || !first.Time.Equal(b.Pitched) || first.Line != 3 {
		t.Errorf("first: expected gravity 1.046 at pitching from line 3, got %+v", first)
	}
	if last.Value != float64(unit.Celsius(19.5)) || last.Instrument != "hydrometer" || last.Line != 2 || last.Time.Sub(b.Pitched) != 48*time.Hour {
		t.Errorf("last: expected 19.5 C at 48 h by hydrometer from line 2, got %+v", last)
	}
	if e := log.Events[0]; e.Kind != batch.SetRelief || e.Pressure != 12*unit.PSI || e.Line != 3 {
		t.Errorf("event: expected relief 12 psi from line 3, got %+v", e)
	}
}

func TestDecodeLogConvertsUnits(t *testing.T) {
	b := decodeGood(t)
	for _, c := range []struct {
		column, cell string
		want, tol    float64
	}{
		{"pressure_psi", "10", 68947.57293, 1e-4}, // psi by definition
		{"pressure_bar", "0.7", 70000, 1e-9},
		{"pressure_kpa", "70", 70000, 1e-9},
		{"temperature_f", "68", 293.15, 1e-9},
		{"vented_g", "230", 0.23, 1e-12},
		{"air_c", "13.5", 286.65, 1e-9},
		{"air_f", "50", 283.15, 1e-9},
		// ideal gas at 16 C and 40 m (100.85 kPa by the standard atmosphere) with 0.5 % for the second virial
		{"vented_l", "100", 0.1 * 100850 * 0.0440095 / (8.314462618 * 289.15), 0.0015},
		// Plato table of ASBC: 11.4 P is 1.04587 [Bates1942]
		{"gravity_plato", "11.4", 1.0459, 0.0002},
	} {
		log, err := DecodeLog("r.csv", strings.NewReader("time,"+c.column+"\n2026-11-21T18:30:00+01:00,"+c.cell+"\n"), b)
		if err != nil {
			t.Errorf("%s: %v", c.column, err)
			continue
		}
		if got := log.Readings[0].Value; math.Abs(got-c.want) > c.tol {
			t.Errorf("%s %s: expected %v, got %v, tolerance %v", c.column, c.cell, c.want, got, c.tol)
		}
	}
}

// Air that no instrument shows is refused in one line, with what is accepted.
func TestAirIsBounded(t *testing.T) {
	for cell, column := range map[string]string{"300": "air_c", "-41": "air_f", "warm": "air_c"} {
		_, err := DecodeLog("r.csv", strings.NewReader("hours,"+column+"\n3,"+cell+"\n"), decodeGood(t))
		bounds := map[string]string{"air_c": "-30 to 60", "air_f": "-22 to 140"}[column]
		if err == nil || !strings.Contains(err.Error(), column+" \""+cell+"\"") || !strings.Contains(err.Error(), bounds) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s %s: %v", column, cell, err)
		}
	}
}

func TestDecodeLogReadsEveryEvent(t *testing.T) {
	b := decodeGood(t)
	for text, want := range map[string]batch.Event{
		"relief 12 psi":         {Kind: batch.SetRelief, Pressure: 12 * unit.PSI},
		"vent 10 psi to 8 psi":  {Kind: batch.VentedTo, From: 10 * unit.PSI, To: 8 * unit.PSI},
		"sample 150 mL":         {Kind: batch.SampleTaken, Volume: 150 * unit.Millilitre},
		"gas on 10 psi":         {Kind: batch.GasOn, Pressure: 10 * unit.PSI},
		"gas off":               {Kind: batch.GasOff},
		"hold 1 C":              {Kind: batch.HoldAt, Temperature: unit.Celsius(1)},
		"opened":                {Kind: batch.Opened},
		"shaken 5 min":          {Kind: batch.Shaken, For: 300},
		"dry hop 60 g":          {Kind: batch.DryHopped, Mass: 0.06},
		"poured 2 L":            {Kind: batch.Poured, Volume: 2 * unit.Litre},
		"forced sample 1.009":   {Kind: batch.ForcedSample, Gravity: 1.009},
		"noticed hiss":          {Kind: batch.Noticed, Words: "hiss"},
		"noticed foam":          {Kind: batch.Noticed, Words: "foam"},
		"Noticed  wet seal":     {Kind: batch.Noticed, Words: "wet seal"},
		"noticed nothing":       {Kind: batch.Noticed, Words: "nothing"},
		"vent 0.7 bar to 0 bar": {Kind: batch.VentedTo, From: 0.7e5},
	} {
		log, err := DecodeLog("r.csv", strings.NewReader("hours,event\n1,"+text+"\n"), b)
		if err != nil {
			t.Errorf("%s: %v", text, err)
			continue
		}
		want.Time, want.Line = b.Pitched.Add(time.Hour), 2
		if got := log.Events[0]; fmt.Sprintf("%+v", got) != fmt.Sprintf("%+v", want) {
			t.Errorf("%s: expected %+v, got %+v", text, want, got)
		}
	}
}

func TestDecodeLogRefuses(t *testing.T) {
	b := decodeGood(t)
	for _, c := range []struct {
		what, text string
		line       int
		says       string
	}{
		{"empty file", "", 1, "an empty file"},
		{"header alone", "hours,gravity_sg\n", 1, "without a row"},
		{"no unit in the header", "hours,gravity\n1,1.02\n", 1, "as gravity_sg"},
		{"unknown column", "hours,gravty_sg\n1,1.02\n", 1, "did you mean gravity_sg?"},
		{"column twice", "hours,gravity_sg,gravity_sg\n1,1.02,1.02\n", 1, "twice"},
		{"two units", "hours,gravity_sg,gravity_plato\n1,1.02,5\n", 1, "side by side"},
		{"both time and hours", "time,hours,gravity_sg\n2026-11-21T18:30:00Z,1,1.02\n", 1, "both time and hours"},
		{"no time", "gravity_sg\n1.02\n", 1, "without time"},
		{"times alone", "hours\n1\n", 1, "times alone"},
		{"no header", "1,1.02\n2,1.01\n", 1, "column"},
		{"impossible gravity", "hours,gravity_sg\n1,1.02\n2,-10.20\n", 3, "0.98 to 1.2"},
		{"gravity in points", "hours,gravity_sg\n0,1.046\n24,46\n", 3, "Did you mean 1.046?"},
		{"gravity in thousandths", "hours,gravity_sg\n0,1.046\n24,1046\n", 3, "Did you mean 1.046?"},
		{"before pitching", "hours,gravity_sg\n-1,1.02\n", 2, "before the yeast went in"},
		{"time before pitching", "time,gravity_sg\n2026-11-19T18:30:00Z,1.02\n", 2, "before the yeast went in"},
		{"NaN", "hours,gravity_sg\n1,NaN\n", 2, "gravity_sg"},
		{"infinite", "hours,pressure_psi\n1,Inf\n", 2, "pressure_psi"},
		{"infinite time", "hours,pressure_psi\n+Inf,1\n", 2, "hours since pitch"},
		{"a word", "hours,gravity_sg\n1,soon\n", 2, "as 1.046"},
		{"unit in the cell", "hours,pressure_psi\n1,10 psi\n", 2, "a number from"},
		{"too many cells", "hours,gravity_sg\n1,1,046\n", 2, "decimal comma"},
		{"too few cells", "hours,gravity_sg,event\n1,1.046\n", 2, "as many as the header has"},
		{"no time in a row", "hours,gravity_sg\n,1.046\n", 2, "without its time"},
		{"bad time", "time,gravity_sg\n21.11.2026,1.046\n", 2, "with its zone"},
		{"unknown event", "hours,event\n1,sang to it\n", 2, "relief 12 psi"},
		{"event without unit", "hours,event\n1,relief 12\n", 2, "relief 12 psi"},
		{"vent upwards", "hours,event\n1,vent 8 psi to 10 psi\n", 2, "vent 10 psi to 8 psi"},
		{"noticed what", "hours,event\n1,noticed ghosts\n", 2, "hiss, foam, wet seal, nothing"},
		{"not UTF-8", "hours,gravity_sg\n1,1.0\xff\n", 2, "not UTF-8"},
		{"zero byte", "hours,gravity_sg\n1,1.0\x002\n", 2, "zero byte"},
		{"bare quote", "hours,gravity_sg\n1,1.\"02\n", 2, "not CSV"},
		{"endless quote", "hours,gravity_sg\n1,\"1.02\n", 2, "not CSV"},
		{"long row", "hours,gravity_sg\n1," + strings.Repeat("x", 1<<20), 2, "a row of more than"},
	} {
		t.Run(c.what, func(t *testing.T) {
			_, err := DecodeLog("r.csv", strings.NewReader(c.text), b)
			if r := refusalOf(t, err); r.Line != c.line || !strings.Contains(r.Error(), c.says) {
				t.Errorf("expected line %d and %q, got %s", c.line, c.says, r.Error())
			}
		})
	}
}

func TestDecodeLogRefusesTooMuchInBoundedMemory(t *testing.T) {
	if testing.Short() {
		t.Skip("reads 32 MB")
	}
	b := decodeGood(t)
	for what, row := range map[string]string{"empty rows": ",\n", "long rows": "1," + strings.Repeat(" ", 1000) + "1.02\n", "rows": "1,1.02\n"} {
		source := &repeated{row: row}
		var before, after runtime.MemStats
		runtime.GC()
		runtime.ReadMemStats(&before)
		_, err := DecodeLog("r.csv", io.MultiReader(strings.NewReader("hours,gravity_sg\n"), source), b)
		runtime.ReadMemStats(&after)
		r := refusalOf(t, err)
		if !strings.Contains(r.Error(), "more than") || r.Line < 2 {
			t.Errorf("%s: expected a refusal by size, got %v", what, r)
		}
		if source.taken > MaxReadingsBytes+1<<20 {
			t.Errorf("%s: expected at most %d bytes to be read, got %d", what, MaxReadingsBytes, source.taken)
		}
		if held := int64(after.HeapInuse) - int64(before.HeapInuse); held > 400<<20 {
			t.Errorf("%s: expected under 400 MB held, got %d MB", what, held>>20)
		}
	}
}

// repeated gives the same row for ever.
type repeated struct {
	row   string
	at    int
	taken int
}

func (r *repeated) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = r.row[r.at]
		r.at = (r.at + 1) % len(r.row)
	}
	r.taken += len(p)
	return len(p), nil
}
