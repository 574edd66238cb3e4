package calc

import (
	"math"
	"strings"
	"testing"
)

// Whatever is typed, a calculation gives finite numbers or an error of one line.
func FuzzEvaluate(f *testing.F) {
	for i, row := range table {
		for j := 1; j < len(row.Example); j += 2 {
			f.Add(i, j/2, row.Example[j])
		}
		f.Add(i, 0, "-1e300 C")
		f.Add(i, 1, "0 L")
		f.Add(i, 2, "NaN")
	}
	f.Fuzz(func(t *testing.T, rowIndex, flagIndex int, text string) {
		row := table[uint(rowIndex)%uint(len(table))]
		given := map[string]string{}
		for i := 0; i+1 < len(row.Example); i += 2 {
			given[row.Example[i]] = row.Example[i+1]
		}
		given[row.Flags[uint(flagIndex)%uint(len(row.Flags))].Name] = text
		a, err := row.Evaluate(given)
		if err != nil {
			if strings.ContainsAny(err.Error(), "\r\n") {
				t.Errorf("%s: an error of more than one line: %q", row.Name, err)
			}
			return
		}
		for _, r := range a.Results {
			if math.IsNaN(r.Value) || math.IsInf(r.Value, 0) {
				t.Errorf("%s: %s is %g", row.Name, r.Key, r.Value)
			}
		}
	})
}
