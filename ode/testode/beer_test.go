package testode

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"spile/ode"
)

// profile gives the temperature in degrees Celsius that is held during hour i.
// References: [AndresToro1998], as written in the headers of testdata/model_a_*.csv
func profile(name string, i int) float64 {
	if name == "isothermal_13C" {
		return 13
	}
	h := float64(i)
	switch {
	case i <= 24:
		return 11 + h/8
	case i <= 119:
		return 14
	case i <= 144:
		return 14 + 2*(h-120)/25
	case i <= 169:
		return 16
	case i <= 183:
		return 16 - 8*(h-170)/15
	}
	return 9
}

// hourly integrates hour after hour at constant temperature, each for the length
// given, and stops when visit says so. visit gets the state before and after.
func hourly(t *testing.T, name string, length float64, visit func(i int, before, after []float64) bool) {
	t.Helper()
	kelvin := 0.0
	b := NewBeer(func(float64) float64 { return kelvin })
	s := ode.NewSolver(beerStates, ode.Options{Relative: 1e-8, Absolute: []float64{1e-10}})
	y := b.Start()
	y[Active], y[Lagging] = 0, 2 // the start of the restatement that prints the run ends
	before := make([]float64, beerStates)
	for i := range 200 {
		copy(before, y)
		kelvin = 273.15 + profile(name, i)
		if _, err := s.Integrate(b.System(), nil, 0, length, y, nil, nil); err != nil {
			t.Fatal(err)
		}
		if visit(i, before, y) {
			return
		}
	}
}

// readCSV returns the rows under the header.
func readCSV(t *testing.T, path string) [][]string {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil || len(rows) < 2 {
		t.Fatalf("%s: %d rows, %v", path, len(rows), err)
	}
	return rows[1:]
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// TestPublishedEnds: the run ends published for the model, 145 and 188, come out
// with the 0.99 h that the publishing code integrates in each hour, 144 and 186
// with full hours. The end rule stands in the header of the data file.
func TestPublishedEnds(t *testing.T) {
	for _, row := range readCSV(t, "testdata/model_a_published_checks.csv") {
		for _, c := range []struct {
			length float64
			want   string
		}{{0.99, row[1]}, {1, row[3]}} {
			end := -1
			hourly(t, row[0], c.length, func(i int, before, after []float64) bool {
				cells := func(y []float64) float64 { return y[Active] + y[Lagging] + y[Dead] }
				settled := cells(after) < 0.5 || math.Abs(cells(after)-cells(before)) < 0.01
				if settled && after[Sugar] < 0.5 && after[Ethanol] > 50 {
					end = i
				}
				return end >= 0
			})
			if strconv.Itoa(end) != c.want {
				t.Errorf("%s with %g h in each hour: ends at step %d, published %s", row[0], c.length, end, c.want)
			}
		}
	}
}

// TestTrajectories: the model against trajectories computed by LSODA at 1e-10 and
// printed to five decimals.
func TestTrajectories(t *testing.T) {
	const tolerance = 1e-5
	rows := readCSV(t, "testdata/model_a_check_trajectories.csv")
	columns := []int{Lagging, Active, Dead, Sugar, Ethanol, Diacetyl, EthylAcetate}
	checked := 0
	for _, name := range []string{"industrial_staircase", "isothermal_13C"} {
		states := [][]float64{}
		hourly(t, name, 1, func(_ int, before, _ []float64) bool {
			states = append(states, append([]float64(nil), before...))
			return false
		})
		for _, row := range rows {
			hour := int(number(t, row[1]))
			if row[0] != name || hour >= len(states) {
				continue
			}
			for c, k := range columns {
				checked++
				if got, want := states[hour][k], number(t, row[2+c]); math.Abs(got-want) > tolerance {
					t.Errorf("%s, hour %d, component %d: got %.6f, want %.5f within %g", name, hour, k, got, want, tolerance)
				}
			}
		}
	}
	if checked < 200 {
		t.Errorf("only %d values checked", checked)
	}
}
