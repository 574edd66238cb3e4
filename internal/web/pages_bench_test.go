package web

import (
	"context"
	"errors"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"spile/calc"
	"spile/internal/monitor"
	"spile/internal/store"
)

// notPages are routes that hand out something else than a page: the whole log, and what does not end.
var notPages = []string{"GET /settings/records/log.jsonl", "GET /live", "GET /fill/look", "GET /from-a-file/{id}"} // the last two ask for something that is sent first

// BenchmarkMillion asks for every kind of page over HTTP, of a cellar of a million readings in two hundred batches. It needs
// the folder that SPILE_MILLION names, which the benchmarks of internal/monitor fill:
//
//	SPILE_MILLION=DIR go test ./internal/monitor -run none -bench 'See$'
//	SPILE_MILLION=DIR go test ./internal/web -run none -bench Million -benchtime 100x
func BenchmarkMillion(b *testing.B) {
	s, places := millionSite(b)
	server := httptest.NewServer(s)
	defer server.Close()
	patterns := []string{"/vessels/{ended}"}
	for _, r := range s.routes() {
		if method, pattern, _ := strings.Cut(r.pattern, " "); method == http.MethodGet && !slices.Contains(notPages, r.pattern) {
			patterns = append(patterns, pattern)
		}
	}
	for _, pattern := range patterns {
		b.Run(strings.TrimPrefix(pattern, "/"), func(b *testing.B) {
			var took []time.Duration
			var before, after syscall.Rusage
			i := 0
			address := func() string {
				i++
				return server.URL + fillIn(pattern, places[i%len(places)])
			}
			askFor(b, address()) // a browser has asked for something before
			processor(b, &before)
			for b.Loop() {
				at, start := address(), time.Now()
				askFor(b, at)
				took = append(took, time.Since(start))
			}
			processor(b, &after)
			slices.Sort(took)
			ms := func(d time.Duration) float64 { return d.Seconds() * 1000 }
			b.ReportMetric(ms(took[len(took)/2]), "ms-p50")
			b.ReportMetric(ms(took[len(took)*95/100]), "ms-p95")
			b.ReportMetric(ms(time.Duration(after.Utime.Nano()-before.Utime.Nano()+after.Stime.Nano()-before.Stime.Nano()))/float64(len(took)), "ms-cpu")
		})
	}
}

func processor(b *testing.B, to *syscall.Rusage) {
	b.Helper()
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, to); err != nil {
		b.Fatal(err)
	}
}

// askFor reads a page to its end.
func askFor(b *testing.B, address string) {
	b.Helper()
	answer, err := http.Get(address)
	if err != nil {
		b.Fatal(err)
	}
	defer answer.Body.Close()
	if _, err := io.Copy(io.Discard, answer.Body); err != nil || answer.StatusCode != http.StatusOK {
		b.Fatal(address, answer.Status, err)
	}
}

// place is what the addresses of one round of questions are filled in with.
type place struct{ vessel, batch, entry, ended, file string }

// millionSite is the pages of a million readings, each vessel looked at once; nothing is renewed.
func millionSite(b *testing.B) (*Site, []place) {
	b.Helper()
	dir := os.Getenv("SPILE_MILLION")
	if _, err := os.Stat(filepath.Join(dir, store.DataFile)); dir == "" || err != nil {
		b.Skip("SPILE_MILLION names no folder that was filled; see the comment")
	}
	kept, err := store.Open(dir)
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { kept.Close() })
	now := time.Date(2026, 3, 2, 18, 0, 0, 0, time.UTC) // when it was filled
	clock := func() time.Time { return now }
	round := foretoldAll(b, monitor.New(kept, quiet, clock))
	s := New("test", quiet, monitor.New(kept, quiet, clock))
	c, key, err := kept.AddCalendar(b.Context(), store.Calendar{Name: "bench"})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() {
		if err := kept.WithdrawCalendar(context.Background(), c.ID); err != nil {
			b.Error(err)
		}
	})
	all, err := s.watch.Batches(b.Context())
	if err != nil {
		b.Fatal(err)
	}
	var out []place
	for i, in := range round {
		entries, _, err := kept.Log(b.Context(), in.Seen.ID, in.Seen.Position-10)
		if err != nil || len(entries) == 0 {
			b.Fatal(len(entries), err)
		}
		out = append(out, place{in.ID().String(), in.Seen.ID.String(), entries[0].ID.String(), all[len(all)-1-i].ID.String(), key + calendarEnding})
	}
	return s, out
}

// foretoldAll is every vessel with a forecast. Of five thousand readings each one takes a minute, and how long a page takes
// does not hang on what it says: where one has none, that of another stands in for it.
func foretoldAll(b *testing.B, w *monitor.Watch) []monitor.InVessel {
	b.Helper()
	ctx, kept := b.Context(), w.Store()
	round, err := w.Round(ctx)
	if err != nil {
		b.Fatal(err)
	}
	i := slices.IndexFunc(round, func(in monitor.InVessel) bool { return in.Seen.Told != nil })
	if i < 0 {
		b.Fatal("no vessel has a forecast; fill the folder to its end")
	}
	row, err := kept.Belief(ctx, round[i].Seen.ID)
	if err != nil || row == nil {
		b.Fatal(row, err)
	}
	holder := store.NewID()
	for _, in := range round {
		if in.Seen.Told != nil {
			continue
		}
		row.Batch, row.Position = in.Seen.ID, in.Seen.Position
		_, err := kept.Lease(ctx, row.Batch, holder, w.Now().Add(time.Hour), w.Now().Add(2*time.Hour)) // of one who was ended, too
		if err = errors.Join(err, kept.KeepBelief(ctx, holder, *row, nil)); err != nil {
			b.Fatal(err)
		}
	}
	if round, err = monitor.New(kept, quiet, w.Now).Round(ctx); err != nil {
		b.Fatal(err)
	}
	return round
}

// fillIn makes an address of a pattern.
func fillIn(pattern string, p place) string {
	if row, ok := calc.Find("relief"); ok && strings.HasSuffix(pattern, "/plot.svg") {
		return address(row, example(row), "/plot.svg")
	}
	query := map[string]string{"/print/door-card": "?vessel=" + p.vessel, "/print/job-sheet": "?vessel=" + p.vessel, "/print/label": "?vessel=" + p.vessel, "/print/batch-card": "?batch=" + p.batch}[pattern]
	return strings.NewReplacer("{$}", "", "{id}", p.vessel, "{ended}", p.ended, "{batch}", p.batch, "{entry}", p.entry, "{kind}", "vessel",
		"/stages/{name}", "/stages/fill", "{name}", "relief", "{file}", p.file).Replace(pattern) + query
}
