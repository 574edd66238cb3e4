// Package ferment reads the measured ferments of testdata/ferments and hands each
// out as a brewer would have written it down. Only tests and the calibration use it.
package ferment

import (
	"bufio"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"sort"
	"strconv"
	"strings"
	"time"

	"spile/batch"
	"spile/unit"
	"spile/wort"
	"spile/yeast"
)

// Ferment is one measured batch, one laboratory; source and licence in its file.
type Ferment struct {
	Number    int
	Name      string
	Condition string // all batches of one yeast, scale and nominal temperature
	Kind      yeast.Kind
	Hours     []float64 // since pitching
	Plato     []float64 // apparent extract
	Celsius   []float64 // of the beer
}

// MeterScatter is the sd of the density meter of the ferments, points.
const MeterScatter = 0.3

// Pitched is when every ferment is taken to have been pitched.
var Pitched = time.Date(2026, 3, 2, 18, 0, 0, 0, time.UTC)

// At is h hours after pitching.
func At(h float64) time.Time { return Pitched.Add(time.Duration(h * float64(time.Hour))) }

// Load reads every ferment of a folder, in the order of their names.
func Load(folder string) ([]Ferment, error) {
	paths, err := filepath.Glob(filepath.Join(folder, "*.csv"))
	if err != nil {
		return nil, err
	}
	if len(paths) == 0 {
		return nil, fmt.Errorf("%s: no measured ferments there; expected NN-NAME-rNN.csv files", folder)
	}
	var out []Ferment
	for _, p := range paths {
		f, err := Read(p)
		if err != nil {
			return nil, err
		}
		out = append(out, f)
	}
	return out, nil
}

// Read reads one ferment, named NN-CONDITION-rNN.csv.
func Read(path string) (Ferment, error) {
	name := strings.TrimSuffix(filepath.Base(path), ".csv")
	number, err := strconv.Atoi(name[:min(2, len(name))])
	if err != nil || len(name) < 8 {
		return Ferment{}, fmt.Errorf("%s: expected a name such as 01-small-ale-20C-r00.csv", path)
	}
	f := Ferment{Number: number, Name: name, Condition: name[3 : len(name)-4], Kind: yeast.Ale}
	if strings.Contains(name, "lager") {
		f.Kind = yeast.Lager
	}
	file, err := os.Open(path)
	if err != nil {
		return Ferment{}, err
	}
	defer file.Close()
	scan := bufio.NewScanner(file)
	for scan.Scan() {
		f.row(strings.Split(scan.Text(), ","))
	}
	if err := scan.Err(); err != nil {
		return Ferment{}, fmt.Errorf("%s: %w", path, err)
	}
	if len(f.Hours) < 50 {
		return Ferment{}, fmt.Errorf("%s: only %d rows of hours, plato, sg, temp_c; expected at least 50", path, len(f.Hours))
	}
	return f, nil
}

// row takes one line; a header and a gap in the record hold no numbers.
func (f *Ferment) row(cells []string) {
	if len(cells) < 4 {
		return
	}
	var x [3]float64
	for i, k := range []int{0, 1, 3} {
		v, err := strconv.ParseFloat(cells[k], 64)
		if err != nil {
			return
		}
		x[i] = v
	}
	f.Hours, f.Plato, f.Celsius = append(f.Hours, x[0]), append(f.Plato, x[1]), append(f.Celsius, x[2])
}

// between gives x at hour h, straight between records.
func (f *Ferment) between(x []float64, h float64) float64 {
	for i := 1; i < len(f.Hours); i++ {
		if f.Hours[i] >= h {
			s := (h - f.Hours[i-1]) / (f.Hours[i] - f.Hours[i-1])
			return x[i-1] + s*(x[i]-x[i-1])
		}
	}
	return x[len(x)-1]
}

// Last is the hour of the last record.
func (f *Ferment) Last() float64 { return f.Hours[len(f.Hours)-1] }

// Extract is the apparent extract at hour h, Plato.
func (f *Ferment) Extract(h float64) float64 { return f.between(f.Plato, h) }

// Temperature is that of the beer at hour h, C.
func (f *Ferment) Temperature(h float64) float64 { return f.between(f.Celsius, h) }

// Gravity is SG at hour h.
func (f *Ferment) Gravity(h float64) float64 { return gravity(f.Extract(h)) }

func gravity(plato float64) float64 { return float64(wort.GravityFromExtract(unit.Plato(plato))) }

// Start and End are the medians of the first 4 h and the last 12 h, Plato.
func (f *Ferment) Start() float64 { return f.median(0, 4) }

// End is the median of the last 12 h, Plato.
func (f *Ferment) End() float64 { return f.median(f.Last()-12, f.Last()) }

func (f *Ferment) median(from, to float64) float64 {
	var x []float64
	for i, h := range f.Hours {
		if h >= from && h <= to {
			x = append(x, f.Plato[i])
		}
	}
	sort.Float64s(x)
	return (x[(len(x)-1)/2] + x[len(x)/2]) / 2
}

// ChilledAt is the hour at which the beer had fallen below 10.5 C by more than 3 K in a day, +Inf for never.
func (f *Ferment) ChilledAt() float64 {
	for h := 24.0; h <= f.Last(); h++ {
		if f.Temperature(h) < 10.5 && f.Temperature(h-24)-f.Temperature(h) > 3 {
			return h
		}
	}
	return math.Inf(1)
}

// Attenuated90 is the hour of nine tenths of the whole measured fall, +Inf where the
// record was chilled before it, or ended.
func (f *Ferment) Attenuated90() float64 {
	goal := f.Start() - 0.9*(f.Start()-f.End())
	for i, h := range f.Hours {
		if f.Plato[i] <= goal {
			if h > f.ChilledAt() || (f.Start()-f.End())/f.Start() < 0.6 {
				return math.Inf(1)
			}
			return h
		}
	}
	return math.Inf(1)
}

// stillFalls is the fall within a day, or after chilling, above which a ferment had not ended, points: two steps of the record and a bit.
const stillFalls = 1.0

// Terminal is the gravity the ferment ended at, left warm, SG. Where it stalled, was chilled or the
// record ended while it still fell, falls is true and its end lies at or below the figure.
func (f *Ferment) Terminal() (sg float64, falls bool) {
	end := math.Min(f.Last(), f.ChilledAt()-24) // the cold came within the day before
	sg = gravity(f.median(end-12, end))
	stalled := (f.Start()-f.End())/f.Start() < 0.6
	before, after := gravity(f.median(end-36, end-24)), gravity(f.End())
	falls = stalled || 1000*(before-sg) > stillFalls || 1000*(sg-after) > stillFalls
	if falls {
		sg = math.Min(sg, after)
	}
	return sg, falls
}

// Finished is the hour from which less than one point was left to fall, +Inf where the record does not show it.
func (f *Ferment) Finished() float64 {
	terminal, falls := f.Terminal()
	if falls {
		return math.Inf(1)
	}
	done := math.Inf(1)
	for i := len(f.Hours) - 1; i >= 0; i-- {
		if f.Hours[i] > f.ChilledAt()-24 {
			continue
		}
		if gravity(f.Plato[i]) > terminal+0.001 {
			return done
		}
		done = f.Hours[i]
	}
	return done
}

// Records makes the batch and log that a brewer with a density reading at the
// given hours and a thermometer would have written down by the last of them.
// What the brewer means to do, chilling, is in the programme.
func (f *Ferment) Records(hours []float64, thermoTo float64) (*batch.Batch, batch.Log) {
	b := &batch.Batch{
		Name: f.Name, Pitched: Pitched,
		Wort:   batch.Wort{Volume: 20 * unit.Litre, Gravity: wort.GravityFromExtract(unit.Plato(f.Start()))},
		Yeast:  batch.Yeast{Kind: f.Kind},
		Vessel: batch.Vessel{Capacity: 26 * unit.Litre, Diameter: 0.3},
		Place:  batch.Place{Ambient: unit.Celsius(18)},
	}
	var log batch.Log
	for _, h := range hours {
		log.Readings = append(log.Readings, batch.Reading{
			Time: At(h), Quantity: batch.Gravity, Value: f.Gravity(h), Instrument: "density meter",
		})
	}
	for h := 0.0; h <= thermoTo; h += 2 {
		log.Readings = append(log.Readings, batch.Reading{
			Time: At(h), Quantity: batch.Temperature, Value: float64(unit.Celsius(f.Temperature(h))), Instrument: "probe",
		})
	}
	f.plan(b, thermoTo)
	return b, log
}

// plan is what the brewer means to do: keep the temperature, and chill when the record says.
func (f *Ferment) plan(b *batch.Batch, now float64) {
	chill := f.ChilledAt()
	if math.IsInf(chill, 1) || chill <= now {
		return
	}
	cold := unit.Celsius(f.Temperature(chill + 24))
	b.Programme = append(b.Programme, batch.Step{
		At: unit.Duration((chill - 12) * unit.Hour), AtSet: true, Set: batch.Setting{Hold: &cold},
	})
}
