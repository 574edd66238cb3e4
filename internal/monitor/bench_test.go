package monitor

import (
	"testing"
	"time"

	"spile/batch"
	"spile/unit"
)

// usual is a watch with as many members as usual over the story, told once.
func usual(b *testing.B) (*Watch, *clock, batch.ID) {
	b.Helper()
	c := &clock{now: hours(45)}
	w := inMemory(b, c)
	w.members = 0
	all := story(b)
	keep(b, w, all...)
	renewAll(b, w)
	return w, c, all[0].ID
}

// BenchmarkTry is what a person waits for at a slider: one week ahead, once warm.
func BenchmarkTry(b *testing.B) {
	w, _, id := usual(b)
	warm := unit.Celsius(22)
	steps := []batch.Step{{At: 46 * unit.Hour, AtSet: true, Set: batch.Setting{Hold: &warm}}}
	if _, err := w.Try(ctx, id, steps, 7*unit.Day); err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := w.Try(ctx, id, steps, 7*unit.Day); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkRenew is one reading more, from the disk to the forecast that knows it.
func BenchmarkRenew(b *testing.B) {
	w, c, id := usual(b)
	for i := 0; b.Loop(); i++ {
		c.set(hours(45.01).Add(time.Duration(i) * 10 * time.Second))
		keep(b, w, read(b, id, c.now, batch.Pressure, 69e3+float64(i%3)*500))
		if n := renewAll(b, w); n != 1 {
			b.Fatal(n)
		}
	}
}
