package calc

import (
	"strings"
	"testing"
)

// example is the worked case of a row.
func example(row *Calculation) map[string]string {
	values := make(map[string]string, len(row.Example)/2)
	for i := 0; i+1 < len(row.Example); i += 2 {
		values[row.Example[i]] = row.Example[i+1]
	}
	return values
}

// One answer with its working, as a person asks for it. The bar is 50 us for a relation
// in closed form, 20 ms for one that simulates.
func BenchmarkEvaluate(b *testing.B) {
	for _, row := range Table() {
		values := example(row)
		b.Run(row.Name, func(b *testing.B) {
			for b.Loop() {
				if _, err := row.Evaluate(values); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// A sweep of 10 000 points without working. The bar is 100 ms for a relation in closed form.
func BenchmarkSweep(b *testing.B) {
	for _, row := range Table() {
		name, bounds, _ := strings.Cut(row.Plot.Sweep, "=")
		values := example(row)
		delete(values, name)
		sweep := name + "=" + bounds[:strings.LastIndexByte(bounds, ':')] + ":9999"
		b.Run(row.Name, func(b *testing.B) {
			for b.Loop() {
				if _, err := row.Sweep(values, sweep); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
