package report

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"spile/advice"
	"spile/batch"
	"spile/unit"
)

// drawings are a vessel in each form: full, small, invented, open, empty, without a rating, and with a change tried.
func drawings() map[string]string {
	v := viewed(unit.Style{})
	full := v.Cut()
	tiny, open, clean, unknown := *full, *full, *full, *full
	tiny.Small, tiny.NotReal = true, true
	open.Open = true
	clean.Forecast, clean.State, clean.Valve = nil, advice.Clean, nil
	bare := *full.Vessel
	bare.Rating = nil
	unknown.Vessel = &bare
	v.NotReal, v.Tried = true, &Tried{Label: "if 22 °C", Series: &v.Forecast.Series}
	c := ForecastChart(v)
	return map[string]string{"full": full.SVG(), "small": tiny.SVG(), "open": open.SVG(), "clean": clean.SVG(), "unknown": unknown.SVG(),
		"wide": c.Inline(820, "wide"), "narrow": c.Inline(344, "narrow"), "shape": StateShape(advice.Working)}
}

// A page forbids styles of its own: drawings are made of classes that its style sheet knows.
func TestDrawingsNeedNoStyleOfTheirOwn(t *testing.T) {
	classes := regexp.MustCompile(`class="([^"]*)"`)
	elsewhere := " wide narrow cutaway small hatched not-real "
	for name, svg := range drawings() {
		wellFormed(t, svg)
		if strings.Contains(svg, "style=") || strings.Contains(svg, "<style") {
			t.Errorf("%s: expected no style within the drawing", name)
		}
		for _, m := range classes.FindAllStringSubmatch(svg, -1) {
			for _, class := range strings.Fields(m[1]) {
				if !strings.Contains(elsewhere, " "+class+" ") && !regexp.MustCompile(`\.`+class+`\b`).MatchString(DrawingStyle()) {
					t.Errorf("%s: the class %s is in no style sheet", name, class)
				}
			}
		}
	}
}

func TestWhatAVesselShows(t *testing.T) {
	all := drawings()
	for _, c := range []struct{ drawing, want, not string }{
		{"full", "bead", "Not real"}, {"small", "Not real", "bead"}, {"small", `class="level"`, ">psi<"}, {"clean", "limit", `class="level"`}, {"clean", "26 L, limit 36 psi.", "worst case"},
		{"unknown", "no rating", `class="solid"`}, {"wide", "if 22 °C", "NaN"}, {"wide", "Not real", "NaN"},
	} {
		if !strings.Contains(all[c.drawing], c.want) || strings.Contains(all[c.drawing], c.not) {
			t.Errorf("%s: expected %q and no %q in\n%s", c.drawing, c.want, c.not, all[c.drawing])
		}
	}
	if n := strings.Count(all["wide"], `class="what-if"`); n != 8 {
		t.Errorf("expected two lines for what is tried on each of four strips, got %d", n)
	}
	if all["open"] == all["full"] {
		t.Error("expected the lid of an open vessel to be tilted")
	}
}

// Vessels on one page stand in one scale: twice the width is twice the width in the drawing, and none outgrows its room.
func TestOneScaleForAPage(t *testing.T) {
	keg := &batch.Vessel{Capacity: 10 * unit.Litre, Diameter: 0.15, Rating: gauge(60)}
	vat := &batch.Vessel{Capacity: 60 * unit.Litre, Diameter: 0.3, Rating: gauge(20)}
	unknown := &batch.Vessel{Capacity: 20 * unit.Litre}
	scale := ScaleOf(keg, vat, unknown)
	wall := regexp.MustCompile(`class="heavy" d="M([\d.]+) ([\d.]+)V([\d.]+)H([\d.]+)V`)
	measure := func(v *batch.Vessel, tiny bool) (w, h float64) {
		svg := (&Cut{Name: "x", Vessel: v, State: advice.Clean, Scale: scale, Small: tiny}).SVG()
		m := wall.FindStringSubmatch(svg)
		var at [4]float64
		for i := range at {
			at[i], _ = strconv.ParseFloat(m[i+1], 64) // digits, by the pattern
		}
		return at[3] - at[0] - 4, at[2] - at[1] - 2
	}
	for _, tiny := range []bool{false, true} {
		r := large
		if tiny {
			r = small
		}
		w1, h1 := measure(keg, tiny)
		w2, h2 := measure(vat, tiny)
		if math.Abs(w2/w1-2) > 0.02 || math.Abs(h2/h1-1.5) > 0.02 {
			t.Errorf("expected a vat twice as wide and 1.5 times as high as the keg, got %.3f and %.3f", w2/w1, h2/h1)
		}
		for _, v := range []*batch.Vessel{keg, vat, unknown} {
			if w, h := measure(v, tiny); w > r.w+0.2 || h > r.h+0.2 {
				t.Errorf("expected at most %g by %g, got %.1f by %.1f", r.w, r.h, w, h)
			}
		}
	}
}

// The working valve stands where plan or log set it last.
func TestValveIsWhatWasSetLast(t *testing.T) {
	v := viewed(unit.Style{})
	set := func(h float64, psi float64) {
		v.Log.Events = append(v.Log.Events, batch.Event{Time: pitched.Add(time.Duration(h * float64(time.Hour))), Kind: batch.SetRelief, Pressure: *gauge(psi)})
	}
	for _, c := range []struct{ h, psi, want float64 }{{-1, 5, 10}, {30, 12, 12}, {60, 15, 15}, {95, 20, 15}} {
		set(c.h, c.psi)
		if got := v.valve(); got == nil || math.Abs(got.PSI()-c.want) > 1e-9 {
			t.Errorf("after %g psi at %g h: expected %g psi, got %s", c.psi, c.h, c.want, fmt.Sprint(got))
		}
	}
}
