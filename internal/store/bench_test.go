package store

import (
	"fmt"
	"sync"
	"testing"
)

// BenchmarkAppend is how many readings a second are confirmed, each by its own call,
// with the entry, its checksum and the head on the disk.
func BenchmarkAppend(b *testing.B) {
	for _, writers := range []int{1, 16, 100} {
		b.Run(fmt.Sprintf("writers=%d", writers), func(b *testing.B) {
			s := opened(b, b.TempDir())
			log := NewID()
			keep(b, s, oneReading(log, 0))
			work := make(chan int, writers)
			var all sync.WaitGroup
			b.ResetTimer()
			for range writers {
				all.Go(func() {
					for i := range work {
						if _, err := s.Append(ctx, oneReading(log, i)); err != nil {
							b.Error(err)
							return
						}
					}
				})
			}
			for i := range b.N {
				work <- i
			}
			close(work)
			all.Wait()
			b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "kept/s")
		})
	}
}

// BenchmarkLog reads a log of 5,000 readings, every checksum verified.
func BenchmarkLog(b *testing.B) {
	s := opened(b, b.TempDir())
	log := NewID()
	for i := range 5000 / 50 {
		for range 50 {
			keep(b, s, oneReading(log, i))
		}
	}
	b.ResetTimer()
	for range b.N {
		if entries, _, err := s.Log(ctx, log, 0); err != nil || len(entries) != 5000 {
			b.Fatal(len(entries), err)
		}
	}
}
