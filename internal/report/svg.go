package report

import (
	"fmt"
	"html"
	"math"
	"strings"

	"spile/unit"
	"spile/wording"
)

// drawing collects SVG.
type drawing struct{ strings.Builder }

func (d *drawing) add(format string, args ...any) { fmt.Fprintf(d, format+"\n", args...) }

func (d *drawing) text(x, y float64, class, anchor, words string) {
	d.add(`<text x="%.1f" y="%.1f" class="%s" text-anchor="%s">%s</text>`, x, y, class, anchor, html.EscapeString(words))
}

func (d *drawing) line(class string, x1, y1, x2, y2 float64) {
	d.add(`<line class="%s" x1="%.1f" y1="%.1f" x2="%.1f" y2="%.1f"/>`, class, x1, y1, x2, y2)
}

// layout is where things stand, in pixels.
type layout struct {
	width, left, right float64
	plot, gap          float64 // heights
	hours              float64
}

const (
	topMargin  = 6.0
	planHeight = 60.0
	axisHeight = 50.0
)

// layoutFor makes room for scales at the left and for names at the right.
func layoutFor(width, hours float64) layout {
	l := layout{width: width, left: 50, right: 14, plot: 118, gap: 34, hours: hours}
	if width < 500 {
		l.left, l.right, l.plot = 44, 8, 104
	}
	return l
}

func (l layout) x(hour float64) float64 {
	return l.left + hour/l.hours*(l.width-l.left-l.right)
}

// Standalone is the chart as one SVG file, with its own colours.
func Standalone(c *Chart, width float64) string {
	return `<?xml version="1.0" encoding="UTF-8"?>` + "\n" + c.svg(width, "", true)
}

// Inline draws the strips for a page, at a width in pixels.
func (c *Chart) Inline(width float64, class string) string { return c.svg(width, class, false) }

// svg draws the strips, one above the other on one time axis.
func (c *Chart) svg(width float64, class string, alone bool) string {
	l := layoutFor(width, c.End)
	height := topMargin + float64(len(c.Strips))*(l.plot+l.gap) + planHeight + axisHeight
	var d drawing
	d.add(`<svg xmlns="http://www.w3.org/2000/svg" class="%s" viewBox="0 0 %.0f %.0f" width="%.0f" height="%.0f" role="img" aria-label="%s">`,
		class, width, height, width, height, html.EscapeString(c.spoken()))
	id := fmt.Sprintf("%s%.0f", c.Prefix, width)
	d.add(`<defs><pattern id="%sh" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><line class="hatch" x1="0" y1="0" x2="0" y2="6"/></pattern></defs>`, id)
	if c.Paper {
		d.add(`<defs>%s</defs>`, paperTint(id+"t"))
	}
	if alone {
		d.add(`<style>%s</style><rect width="100%%" height="100%%" style="fill:var(--ground)"/>`, drawingStyle())
	}
	y := topMargin
	for i := range c.Strips {
		c.strip(&d, l, &c.Strips[i], y, id)
		y += l.plot + l.gap
	}
	c.planStrip(&d, l, y)
	if c.NotReal {
		d.text(l.left, y+planHeight+axisHeight-3, "strong not-real", "start", c.Style.Word("Not real"))
	}
	c.axis(&d, l, y+planHeight)
	d.add(`</svg>`)
	return d.String()
}

// spoken is the whole chart in sentences.
func (c *Chart) spoken() string {
	var out []string
	for _, s := range c.Strips {
		out = append(out, s.Sentence)
	}
	return unit.Minus(strings.Join(out, " "))
}

// scale maps values of a strip to heights.
type scale struct{ low, high, top, bottom float64 }

func (s scale) y(v float64) float64 {
	return s.bottom - (v-s.low)/(s.high-s.low)*(s.bottom-s.top)
}

// fit is the scale that holds curve, band and readings, at least as high as the strip asks.
func (s *Strip) fit(top, bottom float64) scale {
	low, high := math.Inf(1), math.Inf(-1)
	widen := func(v float64) { low, high = math.Min(low, v), math.Max(high, v) }
	for i := range s.Mid {
		widen(s.Mid[i])
		if s.Low != nil {
			widen(s.Low[i])
			widen(s.High[i])
		}
	}
	for _, p := range s.Readings {
		widen(p.Value)
	}
	for _, v := range s.IfMid {
		widen(v)
	}
	for _, p := range s.Spans {
		widen(p.Low)
		widen(p.High)
	}
	if math.IsInf(low, 0) {
		low, high = 0, 1
	}
	if short := s.Least - (high - low); short > 0 {
		low, high = low-short/2, high+short/2
	}
	pad := (high - low) * 0.08
	low, high = low-pad, high+pad
	if s.Amount && low > -high*0.3 && low < high*0.25 {
		low = math.Min(low+pad, 0)
	}
	return scale{low, high, top, bottom}
}

// ticks are three to five round values within the scale.
func (s scale) ticks(decimals int) []float64 {
	step := math.Pow(10, -float64(decimals))
	for _, m := range []float64{1, 2, 5, 10, 20, 50, 100, 200, 500, 1000} {
		if (s.high-s.low)/(step*m) <= 4.5 {
			step *= m
			break
		}
	}
	var out []float64
	for v := math.Ceil(s.low/step) * step; v <= s.high+step/1e6; v += step {
		out = append(out, v)
	}
	return out
}

// strip draws one quantity.
func (c *Chart) strip(d *drawing, l layout, s *Strip, top float64, id string) {
	d.text(l.left, top+14, "strong", "start", s.Measure.Heading(s.Name))
	sc := s.fit(top+24, top+24+l.plot-16)
	for _, h := range c.midnights() {
		d.line("day", l.x(h), sc.top, l.x(h), sc.bottom)
	}
	d.line("rule", l.left, sc.top, l.left, sc.bottom)
	for _, v := range sc.ticks(s.Measure.Decimals()) {
		d.line("rule", l.left-4, sc.y(v), l.left, sc.y(v))
		d.text(l.left-7, sc.y(v)+4.5, "quiet", "end", s.Measure.Fixed(v, s.tickDecimals(sc)))
	}
	c.band(d, l, s, sc, id)
	c.tried(d, l, s, sc, c.curve(d, l, s, sc))
	c.limits(d, l, sc, s, top+14)
	for _, p := range s.Spans {
		d.line("ribbon", l.x(p.Hour), sc.y(p.High)-1, l.x(p.Hour), sc.y(p.Low)+1)
	}
	for _, p := range s.Readings {
		drawReading(d, l, sc, p)
	}
	if !math.IsNaN(c.Now) {
		d.line("rule", l.x(c.Now), sc.top-4, l.x(c.Now), sc.bottom+2)
	}
}

// tickDecimals are no more than the steps of the scale need.
func (s *Strip) tickDecimals(sc scale) int {
	t := sc.ticks(s.Measure.Decimals())
	if s.Measure.Unit == "" || len(t) < 2 {
		return s.Measure.Decimals()
	}
	return unit.Decimals(t[1] - t[0])
}

// band draws the plain band up to now and the hatched one ahead, both with thin edges.
func (c *Chart) band(d *drawing, l layout, s *Strip, sc scale, id string) {
	if s.Low == nil {
		return
	}
	split := c.split(s.Hours)
	known, fill := "band", ""
	if c.Paper {
		known, fill = "hatched", fmt.Sprintf(` fill="url(#%st)"`, id)
	}
	for _, part := range []struct {
		from, to    int
		class, fill string
	}{{0, split, known, fill}, {split, len(s.Hours) - 1, "hatched", fmt.Sprintf(` fill="url(#%sh)"`, id)}} {
		if part.to <= part.from {
			continue
		}
		up, down := path(l, sc, s.Hours, s.High, part.from, part.to), path(l, sc, s.Hours, s.Low, part.from, part.to)
		d.add(`<polygon class="%s"%s points="%s %s"/>`, part.class, part.fill, up, reversed(down))
		d.add(`<polyline class="edge" points="%s"/><polyline class="edge" points="%s"/>`, up, down)
	}
}

// curve draws the middle: solid up to now, dashed ahead, named at its end. It gives the height of the name.
func (c *Chart) curve(d *drawing, l layout, s *Strip, sc scale) float64 {
	last := len(s.Hours) - 1
	if last < 0 {
		return 0
	}
	split := c.split(s.Hours)
	if split > 0 {
		d.add(`<polyline class="past" points="%s"/>`, path(l, sc, s.Hours, s.Mid, 0, split))
	}
	if last > split {
		d.add(`<polyline class="ahead" points="%s"/>`, path(l, sc, s.Hours, s.Mid, split, last))
	}
	high, low, name := sc.y(s.Mid[last]), sc.y(s.Mid[last]), s.number(s.Mid[last])
	if s.High != nil {
		high, low, name = sc.y(s.High[last]), sc.y(s.Low[last]), s.within(last)
	}
	y := high - 6
	if y < sc.top+10 {
		y = low + 16
	}
	if y > sc.bottom { // the band fills the strip
		y = sc.y(s.Mid[last]) - 6
	}
	d.text(l.width-l.right, y, "name", "end", name)
	return y
}

// tried draws what comes of a change as two thin lines side by side, named at their end, clear of what is named already.
func (c *Chart) tried(d *drawing, l layout, s *Strip, sc scale, named float64) {
	last := len(s.IfHours) - 1
	if last < 1 {
		return
	}
	for _, side := range []float64{-1.4, 1.4} {
		beside := sc
		beside.top, beside.bottom = sc.top+side, sc.bottom+side
		d.add(`<polyline class="what-if" points="%s"/>`, path(l, beside, s.IfHours, s.IfMid, 0, last))
	}
	y := sc.y(s.IfMid[last]) - 7
	if math.Abs(y-named) < 15 { // clear of the name of the curve
		y = named + 15
		if y > sc.bottom+14 {
			y = named - 15
		}
	}
	d.text(l.x(s.IfHours[last]), y, "what-if-text", "end", fitted(c.If, l.width/2)+": "+s.number(s.IfMid[last]))
}

// split is the index of now: all of the curve where there is no now.
func (c *Chart) split(hours []float64) int {
	if math.IsNaN(c.Now) {
		return len(hours) - 1
	}
	return max(indexAt(hours, c.Now), 0)
}

func path(l layout, sc scale, hours, values []float64, from, to int) string {
	points := make([]string, 0, to-from+1)
	for i := from; i <= to; i++ {
		points = append(points, fmt.Sprintf("%.1f,%.1f", l.x(hours[i]), sc.y(values[i])))
	}
	return strings.Join(points, " ")
}

func reversed(path string) string {
	points := strings.Fields(path)
	for i, j := 0, len(points)-1; i < j; i, j = i+1, j-1 {
		points[i], points[j] = points[j], points[i]
	}
	return strings.Join(points, " ")
}

// limits draws each limit as a red bar with teeth on the forbidden side; those
// above the scale are named at its edge with an arrow.
func (c *Chart) limits(d *drawing, l layout, sc scale, s *Strip, edge float64) {
	var above []string
	for _, limit := range s.Limits {
		y := sc.y(limit.Value)
		if y < sc.top {
			above = append(above, limit.Label)
			continue
		}
		d.line("limit", l.left, y, l.width-l.right, y)
		d.add(`<path class="limit" d="%s"/>`, teeth(l.left, l.width-l.right, y))
		d.text(l.left+6, y-8, "limit-text", "start", limit.Label)
	}
	if len(above) > 0 {
		name := above[0]
		if l.width < 500 {
			name = strings.Replace(name, c.Style.Word("safety valve"), c.Style.Word("limit"), 1)
		}
		d.text(l.width-l.right, edge, "limit-text", "end", "↑ "+name)
	}
}

// teeth along a level line, pointing up.
func teeth(from, to, y float64) string {
	var out []string
	for x := from; x < to-4; x += 9 {
		out = append(out, fmt.Sprintf("M%.1f %.1fl4.5 -5l4.5 5", x, y))
	}
	return strings.Join(out, "")
}

// drawReading is an open ring with the instrument's error, a short tick for a sensor; in doubt, a diamond with a question mark.
func drawReading(d *drawing, l layout, sc scale, p Point) {
	x, y := l.x(p.Hour), sc.y(p.Value)
	if p.Sensor && !p.Doubt {
		d.line("bar", x, y-3, x, y+3)
		return
	}
	if p.Error > 0 {
		d.line("bar", x, math.Max(sc.y(p.Value+p.Error), sc.top), x, math.Min(sc.y(p.Value-p.Error), sc.bottom))
	}
	if p.Doubt {
		d.add(`<path class="ring" d="M%.1f %.1fl7 7l-7 7l-7 -7z"/>`, x, y-7)
		d.text(x, y+4.5, "strong", "middle", "?")
		return
	}
	d.add(`<circle class="ring" cx="%.1f" cy="%.1f" r="3.6"/>`, x, y)
}

// planStrip is what is meant to be set: dotted ink in steps, on a strip of its own.
func (c *Chart) planStrip(d *drawing, l layout, top float64) {
	y := top + 22.0
	if len(c.Plan) == 0 {
		return
	}
	d.text(l.left-7, y+4, "quiet", "end", c.Style.Word("plan"))
	free := l.left
	for i, m := range c.Plan {
		end := c.End
		if i+1 < len(c.Plan) {
			end = c.Plan[i+1].Hour
		}
		step := float64(i%2) * 6
		d.add(`<path class="plan" d="M%.1f %.1fV%.1fH%.1f"/>`, l.x(m.Hour), y-6, y+6-step, l.x(end))
		if x := l.x(m.Hour) + 3; x >= free {
			d.text(x, y-8, "quiet", "start", fitted(m.Text, l.width-l.right-x))
			free = x + 7*float64(len([]rune(m.Text)))
		}
	}
}

// fitted cuts words to a width in pixels.
func fitted(words string, width float64) string {
	most := int(width / 6.6)
	if r := []rune(words); len(r) > most && most > 1 {
		return string(r[:most-1]) + "…"
	}
	return words
}

// axis is the time in days, the peg at now, and flags for what was done.
func (c *Chart) axis(d *drawing, l layout, y float64) {
	d.line("rule", l.left, y, l.width-l.right, y)
	midnights := c.midnights()
	every := 1
	for l.x(24*float64(every))-l.x(0) < 34 {
		every++
	}
	for i, h := range midnights {
		d.line("rule", l.x(h), y, l.x(h), y+5)
		if i%every == 0 && l.x(h+12) < l.width-l.right-10 {
			noon := c.time(h + 12)
			date, other := wording.Text("2"), func(days int) bool { return c.time(h+12+24*float64(days)).Month() != noon.Month() }
			if i == 0 && !other(every) || other(-every) && i > 0 { // two months side by side would run into each other
				date = "2 Jan"
			}
			d.text(l.x(h+12), y+18, "quiet", "middle", c.Style.Time(noon, "Mon"))
			d.text(l.x(h+12), y+33, "quiet", "middle", c.Style.Time(noon, date))
		}
	}
	free := l.left
	for _, m := range c.Done {
		x := l.x(m.Hour)
		size := 6.6 * float64(len([]rune(m.Text)))
		if before := l.x(c.Now) - 22; x >= free && (x+size < before || x > before+44 || math.IsNaN(c.Now)) && x+size < l.width {
			d.text(x, y-15, "quiet", "start", m.Text) // above the flags, of which more may follow
			free = x + 4 + size
		}
		d.add(`<path class="solid" d="M%.1f %.1fv-12h8l-3 3.5l3 3.5h-7z"><title>%s</title></path>`, x, y, html.EscapeString(m.Text))
	}
	if !math.IsNaN(c.Now) {
		x := l.x(c.Now)
		d.add(`<path class="solid" d="M%.1f %.1fl5 -15h-10z"/>`, x, y)
		d.text(x, y-18, "strong", "middle", c.Style.Word("now"))
	}
}
