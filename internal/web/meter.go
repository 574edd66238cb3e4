package web

import (
	"cmp"
	"fmt"
	"maps"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"
)

// meter counts what was asked, for /metrics.
type meter struct {
	mu    sync.Mutex
	asked map[asked]tally
}

// asked is a page and how the answer ended.
type asked struct {
	route string
	code  int
}

type tally struct {
	count   int
	seconds float64
}

func newMeter() *meter { return &meter{asked: map[asked]tally{}} }

// coded remembers the status of an answer.
type coded struct {
	http.ResponseWriter
	code int
}

func (c *coded) WriteHeader(code int) {
	c.code = code
	c.ResponseWriter.WriteHeader(code)
}

// Unwrap lets the standard library reach what is below.
func (c *coded) Unwrap() http.ResponseWriter { return c.ResponseWriter }

// count counts and times the answers of one route.
func (m *meter) count(route string, handle http.HandlerFunc) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		c, start := &coded{w, http.StatusOK}, time.Now()
		handle(c, r)
		m.mu.Lock()
		defer m.mu.Unlock()
		key := asked{route, c.code}
		t := m.asked[key]
		m.asked[key] = tally{t.count + 1, t.seconds + time.Since(start).Seconds()}
	}
}

func (s *Site) healthz(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	fmt.Fprintln(w, "ok")
}

// metrics writes the counts in the text form that collectors read, base units only.
func (s *Site) metrics(w http.ResponseWriter, r *http.Request) {
	s.meter.mu.Lock()
	counts := maps.Clone(s.meter.asked)
	s.meter.mu.Unlock()
	keys := slices.SortedFunc(maps.Keys(counts), func(a, b asked) int {
		return cmp.Or(strings.Compare(a.route, b.route), a.code-b.code)
	})
	var b strings.Builder
	fmt.Fprintf(&b, "# HELP spile_build_info The version that runs.\n# TYPE spile_build_info gauge\nspile_build_info{version=%s} 1\n", strconv.Quote(s.version))
	b.WriteString("# HELP spile_http_request_duration_seconds Answers given, and how long they took.\n# TYPE spile_http_request_duration_seconds summary\n")
	for _, k := range keys {
		labels := fmt.Sprintf("{route=%s,code=\"%d\"}", strconv.Quote(k.route), k.code)
		fmt.Fprintf(&b, "spile_http_request_duration_seconds_sum%s %g\nspile_http_request_duration_seconds_count%s %d\n", labels, counts[k].seconds, labels, counts[k].count)
	}
	w.Header().Set("Content-Type", "text/plain; version=0.0.4; charset=utf-8")
	fmt.Fprint(w, b.String())
}
