package web

import (
	"io"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"spile/internal/shed"
	"spile/internal/store"
)

// furnished is a cellar on disk with the vessels of the demonstration, as they are today; nobody has looked at them yet.
func furnished(b *testing.B) *served {
	b.Helper()
	s := &served{t: b, data: b.TempDir(), address: "127.0.0.1:0"}
	kept, err := store.Open(s.data)
	if err != nil {
		b.Fatal(err)
	}
	entries, err := shed.Entries(time.Now(), 7, store.NewID)
	if err == nil {
		_, err = kept.Append(b.Context(), entries...)
	}
	if err != nil {
		b.Fatal(err)
	}
	if err := kept.Close(); err != nil {
		b.Fatal(err)
	}
	if _, err := program(); err != nil { // it is built before anything is timed
		b.Fatal(err)
	}
	b.Cleanup(s.kill)
	return s
}

// settle waits until every vessel has been looked at.
func (s *served) settle() {
	s.t.Helper()
	for end := time.Now().Add(5 * time.Minute); time.Now().Before(end); time.Sleep(500 * time.Millisecond) {
		page := s.read("/")
		if strings.Count(page, `class="card-of`) == 5 && !strings.Contains(page, "The first look takes") && !strings.Contains(page, `http-equiv="refresh"`) {
			return
		}
	}
	s.t.Fatal("the vessels are still looked at after five minutes")
}

// read asks for a page and reads it to its end.
func (s *served) read(path string) string {
	s.t.Helper()
	answer, err := http.Get(s.home() + path)
	if err != nil {
		s.t.Fatal(err)
	}
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	if err != nil || answer.StatusCode != http.StatusOK {
		s.t.Fatal(path, answer.Status, err)
	}
	return string(body)
}

// The program is started and asked for its first page, of a cellar of five vessels that it looked at before.
//
//	go test ./internal/web -run none -bench Start -benchtime 30x
func BenchmarkStart(b *testing.B) {
	s := furnished(b)
	s.start()
	s.settle()
	var took []time.Duration
	for b.Loop() {
		s.kill()
		begin := time.Now()
		s.start()
		s.read("/")
		took = append(took, time.Since(begin))
	}
	slices.Sort(took)
	b.ReportMetric(took[len(took)/2].Seconds()*1000, "ms-p50")
	b.ReportMetric(took[len(took)*95/100].Seconds()*1000, "ms-p95")
}

// What the program takes of the memory when it has nothing to do: after it looked at five vessels for the first time, and
// somebody has seen every one of them.
//
//	go test ./internal/web -run none -bench Idle -benchtime 1x
func BenchmarkIdle(b *testing.B) {
	if _, err := os.Stat("/proc/self/status"); err != nil {
		b.Skip(err)
	}
	s := furnished(b)
	whole, own := 0.0, 0.0
	for b.Loop() {
		s.start()
		s.settle()
		for _, path := range regexp.MustCompile(`<h2><a href="(/vessels/[^"]+)"`).FindAllStringSubmatch(s.read("/"), -1) {
			s.read(path[1])
		}
		time.Sleep(3 * time.Second)
		whole, own = max(whole, s.memory(b, "VmRSS")), max(own, s.memory(b, "RssAnon"))
		s.kill()
	}
	b.ReportMetric(whole, "MB-rss")
	b.ReportMetric(own, "MB-own")
}

// memory is what a line of the kernel's account of the program says, in MB.
func (s *served) memory(b *testing.B, what string) float64 {
	b.Helper()
	account, err := os.ReadFile(filepath.Join("/proc", strconv.Itoa(s.running.Process.Pid), "status"))
	if err != nil {
		b.Fatal(err)
	}
	line := regexp.MustCompile(what + `:\s+(\d+) kB`).FindSubmatch(account)
	if line == nil {
		b.Fatalf("no %s in\n%s", what, account)
	}
	kB, err := strconv.Atoi(string(line[1]))
	if err != nil {
		b.Fatal(err)
	}
	return float64(kB) / 1024
}
