package web

import (
	"cmp"
	"fmt"
	"maps"
	"net/http"
	"slices"
	"strings"
	"sync"
	"time"

	"spile/estimate"
	"spile/internal/monitor"
	"spile/unit"
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

// metrics writes counts, and what is believed of each vessel, as collectors read it: OpenMetrics 1.0, base units only.
func (s *Site) metrics(w http.ResponseWriter, r *http.Request) {
	all, err := s.watch.Round(r.Context())
	if err != nil {
		s.failMachine(w, r, err)
		return
	}
	var b strings.Builder
	fmt.Fprintf(&b, "# TYPE spile_build info\n# HELP spile_build The version that runs.\nspile_build_info{version=%s} 1\n", quoted(s.version))
	s.meter.write(&b)
	writeBeliefs(&b, all, s.watch.Now())
	b.WriteString("# EOF\n")
	w.Header().Set("Content-Type", "application/openmetrics-text; version=1.0.0; charset=utf-8")
	s.send(w, []byte(b.String()))
}

// family begins what is measured under one name, whose unit is the end of it.
func family(b *strings.Builder, name, kind, unit, help string) {
	fmt.Fprintf(b, "# TYPE %s %s\n# UNIT %[1]s %[3]s\n# HELP %[1]s %[4]s\n", name, kind, unit, help)
}

// escapes are those of the value of a label (OpenMetrics 1.0, section 3.1).
var escapes = strings.NewReplacer(`\`, `\\`, `"`, `\"`, "\n", `\n`)

func quoted(value string) string { return `"` + escapes.Replace(value) + `"` }

// write writes what was asked, and how long the answers took.
func (m *meter) write(b *strings.Builder) {
	m.mu.Lock()
	counts := maps.Clone(m.asked)
	m.mu.Unlock()
	keys := slices.SortedFunc(maps.Keys(counts), func(a, b asked) int {
		return cmp.Or(strings.Compare(a.route, b.route), a.code-b.code)
	})
	const name = "spile_http_request_duration_seconds"
	family(b, name, "summary", "seconds", "Answers given, and how long they took.")
	for _, k := range keys {
		labels := fmt.Sprintf(`{route=%s,code="%d"}`, quoted(k.route), k.code)
		fmt.Fprintf(b, "%s_count%s %d\n%[1]s_sum%[2]s %[4]g\n", name, labels, counts[k].count, counts[k].seconds)
	}
}

// believed are the quantities of a belief that are told to collectors, in base units.
var believed = []struct {
	name, unit, help string
	of               func(*estimate.Snapshot) estimate.Band
	shift            float64 // added, to come from SI to the unit
}{
	{"spile_beer_gravity_ratio", "ratio", "Specific gravity 20/20 of the beer, as believed.", func(n *estimate.Snapshot) estimate.Band { return n.Gravity }, 0},
	{"spile_beer_temperature_celsius", "celsius", "Temperature of the beer, as believed.", func(n *estimate.Snapshot) estimate.Band { return n.Temperature }, -float64(unit.Celsius(0))},
	{"spile_vessel_pressure_pascals", "pascals", "Pressure above the air outside, as believed. Act on the higher of this and the gauge.", func(n *estimate.Snapshot) estimate.Band { return n.Pressure }, 0},
	{"spile_beer_volume_cubic_meters", "cubic_meters", "Beer in the vessel, as believed.", func(n *estimate.Snapshot) estimate.Band { return n.Liquid }, 0},
}

// writeBeliefs writes the edges of what is believed, nine in ten, of each vessel of which it can be told as now.
func writeBeliefs(b *strings.Builder, all []monitor.InVessel, now time.Time) {
	for _, q := range believed {
		family(b, q.name, "gauge", q.unit, q.help)
		for _, v := range all {
			if v.Seen == nil || v.Seen.Told == nil || v.Seen.Told.Old(now) {
				continue
			}
			band := q.of(&v.Seen.Told.Forecast.Now)
			for _, edge := range []struct {
				name  string
				value float64
			}{{"low", band.P05}, {"middle", band.P50}, {"high", band.P95}} {
				fmt.Fprintf(b, "%s{vessel=%s,id=%q,edge=%q} %g\n", q.name, quoted(v.Name()), v.ID(), edge.name, edge.value+q.shift)
			}
		}
	}
}
