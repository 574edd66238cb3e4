package batch

import "testing"

// BenchmarkForm is one reading checked and brought into its form, as every Append does.
func BenchmarkForm(b *testing.B) {
	e := entry(2, KindReading, `{"pressure_pa":68947.57293168361,"temperature_k":293.15,"written":"10 psi, 20 C"}`)
	b.ReportAllocs()
	for range b.N {
		if err := e.Check(); err != nil {
			b.Fatal(err)
		}
		if _, err := e.Form(); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkDerive is the state of a batch of 5,000 readings from its entries.
func BenchmarkDerive(b *testing.B) {
	log := []Entry{entry(1, KindBatch, made)}
	for n := range 5000 {
		log = append(log, pressure(n+2, float64(n)))
	}
	b.ReportAllocs()
	for range b.N {
		if s := Derive(id(1), log); len(s.Log.Readings) != 5000 {
			b.Fatal(len(s.Log.Readings))
		}
	}
}
