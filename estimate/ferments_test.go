package estimate

import (
	"math/rand/v2"
	"testing"
	"time"

	"spile/batch"
	"spile/internal/ferment"
)

var pitchedAt = ferment.Pitched

func hour(h float64) time.Time { return ferment.At(h) }

func newRand(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 1)) }

func readFerment(t testing.TB, path string) ferment.Ferment {
	t.Helper()
	f, err := ferment.Read(path)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

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
