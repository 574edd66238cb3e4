package matrix

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// forms of addRows: as it runs here, and in each narrower way that the processor has.
var forms = func() map[string]func(y, times, rows []float64, stride int) {
	all := map[string]func(y, times, rows []float64, stride int){"as it runs here": addRows, "plain": addRowsPlain}
	if wide {
		all["wide"] = func(y, times, rows []float64, stride int) {
			if len(y) > 0 && len(times) > 0 {
				addRowsWide(&y[0], &times[0], &rows[0], len(y), len(times), stride)
			}
		}
	}
	return all
}()

// TestAddRows holds each form to the sum written out, to the bit, for every length about the sixteen and thirty-two sums that go together, and
// sees that nothing beside y is written.
func TestAddRows(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for name, form := range forms {
		for m := range 70 {
			for _, n := range []int{0, 1, 2, 7, 20} {
				for _, over := range []int{0, 3} {
					stride := m + over
					rows, times := make([]float64, max(0, (n-1)*stride+m)), make([]float64, n)
					for i := range rows {
						rows[i] = rng.NormFloat64() * math.Pow(10, rng.NormFloat64())
					}
					for i := range times {
						times[i] = rng.NormFloat64()
					}
					room := make([]float64, m+2)
					for i := range room {
						room[i] = math.Pi
					}
					form(room[1:1+m], times, rows, stride)
					if room[0] != math.Pi || room[m+1] != math.Pi {
						t.Fatalf("%s, %d sums of %d: wrote beside y", name, m, n)
					}
					for k, got := range room[1 : 1+m] {
						want := math.Pi
						for j, v := range times {
							want += float64(v * rows[j*stride+k])
						}
						if math.Float64bits(got) != math.Float64bits(want) {
							t.Fatalf("%s, %d sums of %d, stride %d, sum %d: expected %v, got %v", name, m, n, stride, k, want, got)
						}
					}
				}
			}
		}
	}
}

func BenchmarkAddRows(b *testing.B) {
	for _, size := range [][2]int{{12, 113}, {113, 12}, {20, 20}, {131, 1500}} {
		m, n := size[0], size[1]
		y, times, rows := make([]float64, m), make([]float64, n), make([]float64, m*n)
		for name, form := range forms {
			b.Run(fmt.Sprintf("%d sums of %d, %s", m, n, name), func(b *testing.B) {
				for b.Loop() {
					form(y, times, rows, m)
				}
			})
		}
	}
}
