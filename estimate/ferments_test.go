package estimate

import (
	"bufio"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"spile/batch"
	"spile/unit"
	"spile/wort"
	"spile/yeast"
)

// ferment is one measured batch, one laboratory; source and licence in its file.
type ferment struct {
	number    int
	name      string
	condition string // all batches of one yeast, scale and nominal temperature
	kind      yeast.Kind
	hours     []float64
	plato     []float64
	celsius   []float64
}

var pitchedAt = time.Date(2026, 3, 2, 18, 0, 0, 0, time.UTC)

func loadFerments(t testing.TB) []ferment {
	t.Helper()
	paths, err := filepath.Glob("../testdata/ferments/*.csv")
	if err != nil || len(paths) != 27 {
		t.Fatalf("expected 27 measured ferments, got %d (%v)", len(paths), err)
	}
	var out []ferment
	for _, p := range paths {
		out = append(out, readFerment(t, p))
	}
	return out
}

func readFerment(t testing.TB, path string) ferment {
	t.Helper()
	file, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	name := strings.TrimSuffix(filepath.Base(path), ".csv")
	f := ferment{name: name, condition: name[3 : len(name)-4], kind: yeast.Ale}
	if strings.Contains(name, "lager") {
		f.kind = yeast.Lager
	}
	if f.number, err = strconv.Atoi(name[:2]); err != nil {
		t.Fatal(err)
	}
	scan := bufio.NewScanner(file)
	for scan.Scan() {
		cells := strings.Split(scan.Text(), ",")
		h, errH := strconv.ParseFloat(cells[0], 64)
		if errH != nil || len(cells) < 4 {
			continue // a header line
		}
		p, errP := strconv.ParseFloat(cells[1], 64)
		c, errC := strconv.ParseFloat(cells[3], 64)
		if errP != nil || errC != nil {
			continue // a gap in the record
		}
		f.hours, f.plato, f.celsius = append(f.hours, h), append(f.plato, p), append(f.celsius, c)
	}
	if len(f.hours) < 50 {
		t.Fatalf("%s: only %d rows", name, len(f.hours))
	}
	return f
}

// at gives x at hour h, straight between records.
func (f *ferment) at(x []float64, h float64) float64 {
	for i := 1; i < len(f.hours); i++ {
		if f.hours[i] >= h {
			s := (h - f.hours[i-1]) / (f.hours[i] - f.hours[i-1])
			return x[i-1] + s*(x[i]-x[i-1])
		}
	}
	return x[len(x)-1]
}

func (f *ferment) last() float64 { return f.hours[len(f.hours)-1] }

func (f *ferment) gravity(h float64) float64 {
	return float64(wort.GravityFromExtract(unit.Plato(f.at(f.plato, h))))
}

// start and end are the medians of the first 4 h and the last 12 h, Plato.
func (f *ferment) start() float64 { return f.median(0, 4) }
func (f *ferment) end() float64   { return f.median(f.last()-12, f.last()) }

func (f *ferment) median(from, to float64) float64 {
	var x []float64
	for i, h := range f.hours {
		if h >= from && h <= to {
			x = append(x, f.plato[i])
		}
	}
	return bandOf(x).P50
}

// chilledAt is the hour at which the beer had fallen below 12 C by more than 4 K in a day, +Inf for never.
func (f *ferment) chilledAt() float64 {
	for h := 24.0; h <= f.last(); h++ {
		if f.at(f.celsius, h) < 10.5 && f.at(f.celsius, h-24)-f.at(f.celsius, h) > 3 {
			return h
		}
	}
	return math.Inf(1)
}

// t90 is the hour of nine tenths of the whole measured fall, +Inf where the
// record was chilled before it, or ended.
func (f *ferment) t90() float64 {
	goal := f.start() - 0.9*(f.start()-f.end())
	for i, h := range f.hours {
		if f.plato[i] <= goal {
			if h > f.chilledAt() || (f.start()-f.end())/f.start() < 0.6 {
				return math.Inf(1)
			}
			return h
		}
	}
	return math.Inf(1)
}

// records makes the batch and log that a brewer with a density reading at the
// given hours and a thermometer would have written down by the last of them.
// What the brewer means to do, chilling, is in the programme.
func (f *ferment) records(hours []float64, thermoTo float64) (*batch.Batch, batch.Log) {
	b := &batch.Batch{
		Name: f.name, Pitched: pitchedAt,
		Wort:   batch.Wort{Volume: 20 * unit.Litre, Gravity: wort.GravityFromExtract(unit.Plato(f.start()))},
		Yeast:  batch.Yeast{Kind: f.kind},
		Vessel: batch.Vessel{Capacity: 26 * unit.Litre, Diameter: 0.3},
		Place:  batch.Place{Ambient: unit.Celsius(18)},
	}
	var log batch.Log
	for _, h := range hours {
		log.Readings = append(log.Readings, batch.Reading{
			Time: hour(h), Quantity: batch.Gravity, Value: f.gravity(h), Instrument: "density meter",
		})
	}
	for h := 0.0; h <= thermoTo; h += 2 {
		log.Readings = append(log.Readings, batch.Reading{
			Time: hour(h), Quantity: batch.Temperature, Value: float64(unit.Celsius(f.at(f.celsius, h))), Instrument: "probe",
		})
	}
	f.plan(b, thermoTo)
	return b, log
}

// plan is what the brewer means to do: keep the temperature, and chill when the record says.
func (f *ferment) plan(b *batch.Batch, now float64) {
	chill := f.chilledAt()
	if math.IsInf(chill, 1) || chill <= now {
		return
	}
	cold := unit.Celsius(f.at(f.celsius, chill+24))
	b.Programme = append(b.Programme, batch.Step{
		At: unit.Duration((chill - 12) * unit.Hour), AtSet: true, Set: batch.Setting{Hold: &cold},
	})
}

func hour(h float64) time.Time { return pitchedAt.Add(time.Duration(h * float64(time.Hour))) }

// forecastOf conditions and looks ahead in one.
func forecastOf(t testing.TB, b *batch.Batch, log batch.Log, at time.Time, o Options) *Forecast {
	t.Helper()
	bl, err := Condition(b, log, at, o)
	if err != nil {
		t.Fatal(err)
	}
	fc, err := bl.Forecast()
	if err != nil {
		t.Fatal(err)
	}
	return fc
}
