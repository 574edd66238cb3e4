package web

import (
	"context"
	"math"
	"net/http"
	"net/http/httptest"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"spile/estimate"
	"spile/internal/oracle"
)

// collector reads a text with the strict parser of the reference client library of OpenMetrics, and lists what it found.
const collector = `
import sys
from prometheus_client.openmetrics.parser import text_string_to_metric_families
for family in text_string_to_metric_families(sys.stdin.read()):
    for s in family.samples:
        print(family.type, family.unit or "-", s.name, sorted(s.labels.items()), float(s.value))
`

// What collectors read is OpenMetrics by a parser of its own, in base units, and says what the pages say.
func TestMetrics(t *testing.T) {
	s := newFilled(t, `Dun"lin\`).foretold()
	get(s.Site, "/glossary")
	get(s.Site, "/nowhere")
	w := get(s.Site, "/metrics")
	if kind := w.Header().Get("Content-Type"); kind != "application/openmetrics-text; version=1.0.0; charset=utf-8" {
		t.Errorf("it is %q", kind)
	}
	body := w.Body.String()
	for _, name := range regexp.MustCompile(`(?m)^# TYPE (\S+) (?:gauge|summary)`).FindAllStringSubmatch(body, -1) {
		if !regexp.MustCompile(`_(seconds|celsius|pascals|ratio|cubic_meters)$`).MatchString(name[1]) {
			t.Errorf("%s is in no base unit", name[1])
		}
	}
	const python = "/usr/bin/python3" // the first on a PATH may be another, without the parser
	read := oracle.Run(t, []string{python, "-c", "import prometheus_client.openmetrics.parser"}, body, python, "-c", collector)
	for _, want := range []string{
		`info - spile_build_info [('version', 'test')] 1.0`,
		`summary seconds spile_http_request_duration_seconds_count [('code', '200'), ('route', 'GET /glossary')] 1.0`,
		`summary seconds spile_http_request_duration_seconds_count [('code', '404'), ('route', '/')] 1.0`,
		`gauge celsius spile_beer_temperature_celsius [('edge', 'middle'), ('id', '` + s.vessels[`Dun"lin\`].String() + `'), ('vessel', 'Dun"lin\\')] `,
		`gauge pascals spile_vessel_pressure_pascals [('edge', 'high')`, `gauge ratio spile_beer_gravity_ratio [('edge', 'low')`, `gauge cubic_meters spile_beer_volume_cubic_meters [('edge', 'middle')`,
	} {
		if !strings.Contains(read, want) {
			t.Errorf("%s is missing in:\n%s", want, read)
		}
	}
	warmth := regexp.MustCompile(`spile_beer_temperature_celsius \[\('edge', 'middle'\).*\] ([\d.]+)`).FindStringSubmatch(read)
	if warmth == nil {
		t.Fatalf("no temperature of the beer in\n%s", read)
	}
	if c, err := strconv.ParseFloat(warmth[1], 64); err != nil || c < 17 || c > 23 {
		t.Errorf("the beer is at %s °C, expected 17 to 23", warmth[1])
	}
	seen, err := s.watch.See(t.Context(), s.batches[`Dun"lin\`])
	if err != nil {
		t.Fatal(err)
	}
	holdToBelief(t, read, &seen.Told.Forecast.Now)
	s.now = s.now.AddDate(0, 0, 40)
	if late := get(s.Site, "/metrics").Body.String(); strings.Contains(late, "spile_beer_temperature_celsius{") {
		t.Errorf("a belief of 40 days ago is told as now:\n%s", late)
	}
}

// holdToBelief holds what a collector read of the one vessel to what is believed of it, edge by edge.
func holdToBelief(t *testing.T, read string, n *estimate.Snapshot) {
	t.Helper()
	for name, band := range map[string]estimate.Band{
		"beer_gravity_ratio":       n.Gravity,
		"beer_temperature_celsius": {P05: n.Temperature.P05 - 273.15, P50: n.Temperature.P50 - 273.15, P95: n.Temperature.P95 - 273.15},
		"vessel_pressure_pascals":  n.Pressure,
		"beer_volume_cubic_meters": n.Liquid,
	} {
		for edge, want := range map[string]float64{"low": band.P05, "middle": band.P50, "high": band.P95} {
			told := regexp.MustCompile(`spile_` + name + ` \[\('edge', '` + edge + `'\).*\] (\S+)`).FindStringSubmatch(read)
			if told == nil {
				t.Errorf("%s, %s is missing", name, edge)
			} else if got, err := strconv.ParseFloat(told[1], 64); err != nil || math.Abs(got-want) > 1e-9*math.Abs(want)+1e-9 {
				t.Errorf("%s, %s: told %s, believed %g", name, edge, told[1], want)
			}
		}
	}
	if g, p, v := n.Gravity.P50, n.Pressure.P95, n.Liquid.P50; g < 1.005 || g > 1.047 || p < 0 || p > 250e3 || v < 0.019 || v > 0.021 {
		t.Errorf("20 L of 1.046 in a vessel for 2.5 bar: gravity %g, pressure %g Pa, volume %g m³", g, p, v)
	}
}

// The description shows lines such as are told.
func TestMetricsAsDescribed(t *testing.T) {
	s := newFilled(t, "Dunlin").foretold()
	body := get(s.Site, "/metrics").Body.String()
	plain := func(text string) []string {
		return strings.Split(regexp.MustCompile(`(?m)(vessel|id)="([^"\\]|\\.)*"|-?[\d.e+-]+$`).ReplaceAllString(strings.TrimSpace(text), "$1"), "\n")
	}
	doc := reply[map[string]any](t, call(s.Site, "GET", "/api/v1/openapi.json", "", ""), 200)
	answer := doc["paths"].(map[string]any)["/metrics"].(map[string]any)["get"].(map[string]any)["responses"].(map[string]any)["200"]
	example := contentsOf(answer)["application/openmetrics-text"].(map[string]any)["example"].(string)
	for _, line := range plain(example) {
		if !slices.Contains(plain(body), line) {
			t.Errorf("the description shows a line such as none is told: %s", line)
		}
	}
}

// A collector that may not read, or for which nothing can be read, is told so as a program.
func TestMetricsRefuseAsToAProgram(t *testing.T) {
	s := openedBeyond(t)
	w := from(s.Site, "192.168.1.20", "GET", "/metrics", nil)
	if p := reply[problem](t, w, http.StatusUnauthorized); p.Status != http.StatusUnauthorized || w.Header().Get("Content-Type") != "application/problem+json" {
		t.Errorf("without a login: %+v, %s", p, w.Header())
	}
	gone, cancel := context.WithCancel(t.Context())
	cancel()
	w = httptest.NewRecorder()
	newFilled(t, "Dunlin").ServeHTTP(w, httptest.NewRequestWithContext(gone, "GET", "http://localhost/metrics", nil))
	if p := reply[problem](t, w, http.StatusInsufficientStorage); p.Detail == "" || w.Header().Get("Content-Type") != "application/problem+json" {
		t.Errorf("where nothing can be read: %+v, %s", p, w.Header())
	}
}

// Answers are counted each, and timed in seconds.
func TestAnswersAreTimed(t *testing.T) {
	m := newMeter()
	slow := m.count("GET /slow", func(w http.ResponseWriter, r *http.Request) { time.Sleep(20 * time.Millisecond) })
	for range 2 {
		slow(httptest.NewRecorder(), httptest.NewRequest("GET", "/slow", nil))
	}
	if got := m.asked[asked{"GET /slow", 200}]; got.count != 2 || got.seconds < 0.04 || got.seconds > 20 {
		t.Errorf("two answers of 20 ms: %+v", got)
	}
}
