package web

import (
	"regexp"
	"strconv"
	"strings"
	"testing"

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
	s.now = s.now.AddDate(0, 0, 40)
	if late := get(s.Site, "/metrics").Body.String(); strings.Contains(late, "spile_beer_temperature_celsius{") {
		t.Errorf("a belief of 40 days ago is told as now:\n%s", late)
	}
}
