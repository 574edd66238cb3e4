package report

import (
	"encoding/xml"
	"errors"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"spile/calc"
	"spile/unit"
)

// drawn is the plot of a calculation and all elements of its SVG, which must be whole.
func drawn(t *testing.T, name, flags, sweep string, units calc.Units) (*calc.Curve, []xml.StartElement, string) {
	t.Helper()
	row, ok := calc.Find(name)
	if !ok {
		t.Fatalf("no calculation %s", name)
	}
	values := map[string]string{}
	for _, f := range strings.Fields(flags) {
		flag, value, _ := strings.Cut(f, "=")
		values[flag] = value
	}
	v, err := row.Sweep(values, sweep)
	if err != nil {
		t.Fatal(err)
	}
	svg := Curve(v, row.Plot.Of, units)
	var all []xml.StartElement
	for d := xml.NewDecoder(strings.NewReader(svg)); ; {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return v, all, svg
		}
		if err != nil {
			t.Fatalf("%s: no whole SVG: %v", name, err)
		}
		if e, ok := token.(xml.StartElement); ok {
			all = append(all, e.Copy())
		}
	}
}

func attribute(e xml.StartElement, name string) string {
	for _, a := range e.Attr {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

// count is how many elements have that class.
func count(all []xml.StartElement, class string) (n int) {
	for _, e := range all {
		if attribute(e, "class") == class {
			n++
		}
	}
	return n
}

func TestCurveShowsLineLimitAndWords(t *testing.T) {
	psi, err := calc.ParseUnits("psi,F")
	if err != nil {
		t.Fatal(err)
	}
	vessel := "from=1C volume=16L capacity=20L volumes=2.5vol"
	for _, c := range []struct {
		name, flags, sweep string
		units              calc.Units
		limits, lines      int
		say                []string
	}{
		{"warming", vessel + " rating=2bar", "to=5C:40C:35", nil, 2, 1, []string{"temperature at the end (°C)", ">bar<", "rating 2 bar", "The rating is 2 bar", "over the limit"}},
		{"warming", vessel + " rating=2bar", "to=5C:40C:35", psi, 2, 1, []string{"temperature at the end (°F)", ">psi<", "rating 29 psi"}},
		{"warming", vessel, "to=5C:40C:35", nil, 0, 1, []string{"Pressure at the end"}},
		{"dilution", "volume=17L gravity=1.054", "target-gravity=1.040:1.060:20", nil, 0, 1, []string{"no answer", ">1.050<"}},
	} {
		_, all, svg := drawn(t, c.name, c.flags, c.sweep, c.units)
		if count(all, "limit") != c.limits || count(all, "past") != c.lines {
			t.Errorf("%s %s: %d marks of a limit and %d lines, want %d and %d", c.name, c.flags, count(all, "limit"), count(all, "past"), c.limits, c.lines)
		}
		for _, say := range append(c.say, "<title", "<desc", "prefers-color-scheme:dark") {
			if !strings.Contains(svg, say) {
				t.Errorf("%s %s: nowhere says %q", c.name, c.flags, say)
			}
		}
		if strings.Contains(svg, "NaN") || strings.Contains(svg, "Inf") {
			t.Errorf("%s: a number is missing in the drawing", c.name)
		}
	}
}

// Read back from the drawing against its own tick marks, the line is the numbers of the curve.
func TestCurveIsToScale(t *testing.T) {
	v, all, _ := drawn(t, "lid", "opening=10cm", "pressure=0psi:30psi:30", nil)
	var line [][2]float64
	for _, e := range all {
		if attribute(e, "class") == "past" {
			for _, point := range strings.Fields(attribute(e, "points")) {
				x, y, _ := strings.Cut(point, ",")
				px, err1 := strconv.ParseFloat(x, 64)
				py, err2 := strconv.ParseFloat(y, 64)
				if err := errors.Join(err1, err2); err != nil {
					t.Fatal(err)
				}
				line = append(line, [2]float64{px, py})
			}
		}
	}
	if len(line) != len(v.X) {
		t.Fatalf("%d points drawn of %d", len(line), len(v.X))
	}
	k, last := v.Index("force_kg"), len(v.X)-1
	perPixel := (v.Y[k][last] - v.Y[k][0]) / (line[last][1] - line[0][1])
	for i, p := range line {
		if want := v.Y[k][0] + perPixel*(p[1]-line[0][1]); math.Abs(want-v.Y[k][i]) > 0.1*math.Abs(perPixel) {
			t.Errorf("point %d: drawn at %.2f kg, reckoned %.2f; tolerance a tenth of a pixel", i, want, v.Y[k][i])
		}
	}
}

// Beside a plot a gravity has three decimals, as it is read: 1.01 stood for 1.010 and for 1.014.
func TestPlotWritesGravityAsItIsRead(t *testing.T) {
	v, _, _ := drawn(t, "alcohol", "og=1.046", "fg=1.000:1.046:46", nil)
	says, rows := CurveWords(v, "", nil)
	if want := "How strong is it? Gravity now: from 1.000 to 1.046. Alcohol by volume: from 6.04 % to 0 %."; says != want {
		t.Errorf("got  %s\nwant %s", says, want)
	}
	seen := map[string]bool{}
	for _, r := range rows {
		if len(r[0]) != len("1.046") || seen[r[0]] {
			t.Errorf("a row at %q", r[0])
		}
		seen[r[0]] = true
	}
}

// A plot has the decimal mark of whoever reads, as all that stands around it.
func TestPlotHasTheDecimalMark(t *testing.T) {
	row, _ := calc.Find("alcohol")
	v, err := row.In(unit.Style{Comma: true}).Sweep(map[string]string{"og": "1.046"}, "fg=1.000:1.046:46")
	if err != nil {
		t.Fatal(err)
	}
	svg := Curve(v, "", nil)
	for _, want := range []string{"from 1,000 to 1,046", ">1,020</text>", ">original gravity 1,046</text>"} {
		if !strings.Contains(svg, want) {
			t.Errorf("no %s", want)
		}
	}
	if pointed := regexp.MustCompile(`<(?:text|title)[^>]*>[^<]*\d\.\d`).FindString(svg); pointed != "" {
		t.Error(pointed)
	}
}
