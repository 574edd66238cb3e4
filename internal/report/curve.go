package report

import (
	"fmt"
	"html"
	"math"
	"strings"

	"spile/calc"
	"spile/unit"
	"spile/wording"
)

// The plot of a calculation, in pixels. One width does for a phone and a page: the letters
// stay readable when it is scaled down to the one, and it is drawn no larger on the other.
const (
	curveWidth  = 480.0
	curveHeight = 340.0
	curveLeft   = 58.0
	curveRight  = 24.0
	curveTop    = 84.0
	curveBottom = 52.0
)

// axis maps numbers as they are shown to pixels.
type axis struct {
	measure   *calc.Measure
	low, high float64
	from, to  float64 // pixels
}

func (a axis) at(v float64) float64 {
	return a.from + (v-a.low)/(a.high-a.low)*(a.to-a.from)
}

// ticks are at most six round values.
func (a axis) ticks() (values []float64, decimals int) {
	step := calc.RoundStep((a.high - a.low) / 6)
	for i := math.Ceil(a.low/step - 1e-9); i*step <= a.high+step*1e-6; i++ {
		values = append(values, i*step)
	}
	if a.measure.Suffix == "sg" && a.measure.Unit == "" {
		return values, 3
	}
	return values, unit.Decimals(step)
}

// plot is one line of a curve in the units of whoever looks at it.
type plot struct {
	curve  *calc.Curve
	style  unit.Style
	of     calc.Result
	x, y   axis
	xs, ys []float64
	low    []float64 // nil where no error is known
	high   []float64
	rating float64 // NaN where none was given or y is no pressure
}

// Curve draws the result under key over the flag that was swept: the line of what Spile
// reckons in blue with its band, a rating in red with teeth on the forbidden side, and the
// peg at the value that was asked for. Its text says the same in a sentence and a table.
func Curve(v *calc.Curve, key string, chosen calc.Units) string {
	p := newPlot(v, key, v.Units(chosen))
	var d drawing
	d.add(`<?xml version="1.0" encoding="UTF-8"?>`)
	d.add(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %.0f %.0f" width="%.0f" height="%.0f" role="img" aria-labelledby="t d">`, curveWidth, curveHeight, curveWidth, curveHeight)
	d.add(`<title id="t">%s</title>`, html.EscapeString(p.sentence()))
	d.add(`<desc id="d">%s</desc>`, html.EscapeString(p.table()))
	d.add(`<style>%ssvg text{font-size:14px}svg .name{paint-order:stroke;stroke:var(--ground);stroke-width:4px;stroke-linejoin:round}</style><rect width="100%%" height="100%%" style="fill:var(--ground)"/>`, drawingStyle())
	p.heading(&d)
	p.axes(&d)
	p.band(&d)
	p.line(&d)
	p.limit(&d)
	p.peg(&d)
	d.add(`</svg>`)
	return d.String()
}

func newPlot(v *calc.Curve, key string, units calc.Units) *plot {
	k := v.Index(key)
	p := &plot{curve: v, style: v.Calculation.Style(), of: v.Keys[k], rating: math.NaN()}
	mx, my := units.Of(v.Flag.JSONKey()).In(p.style), units.Of(p.of.Key).In(p.style)
	p.xs, p.ys = make([]float64, len(v.X)), make([]float64, len(v.X))
	for i, x := range v.X {
		p.xs[i], p.ys[i] = mx.Shown(v.Flag.Kind.InKey(x)), my.Shown(v.Y[k][i])
		if v.Band == p.of.Key {
			p.low, p.high = append(p.low, my.Shown(v.Low[i])), append(p.high, my.Shown(v.High[i]))
		}
	}
	for _, in := range v.Inputs {
		if in.Flag.Name == "rating" && my.Suffix == in.Flag.Kind.Suffix {
			p.rating = my.Shown(in.Flag.Kind.InKey(in.Value))
		}
	}
	p.x = axis{mx, min(p.xs[0], p.xs[len(p.xs)-1]), max(p.xs[0], p.xs[len(p.xs)-1]), curveLeft, curveWidth - curveRight}
	low, high := p.extent()
	p.y = axis{my, low, high, curveHeight - curveBottom, curveTop}
	return p
}

// extent is the height of the scale: line, band and rating with some air, from zero where
// that is near.
func (p *plot) extent() (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, values := range [][]float64{p.ys, p.low, p.high, {p.rating}} {
		for _, v := range values {
			if !math.IsNaN(v) {
				low, high = min(low, v), max(high, v)
			}
		}
	}
	air := 0.06 * (high - low)
	if air == 0 {
		air = max(math.Abs(high)*0.1, 1e-9)
	}
	if low >= 0 && low < 0.4*high {
		return 0, high + air
	}
	return low - air, high + air
}

// heading is the question, what holds besides, and what the scale at the left shows.
func (p *plot) heading(d *drawing) {
	d.text(curveLeft, 20, "strong", "start", p.style.Word(p.curve.Calculation.Question))
	for i, line := range p.conditions() {
		d.text(curveLeft, 38+16*float64(i), "quiet", "start", line)
	}
	d.text(8, curveTop-10, "quiet", "start", p.y.measure.Said())
}

// conditions are the inputs that were given, on two lines at most.
func (p *plot) conditions() []string {
	lines := []string{""}
	for _, in := range p.curve.Inputs {
		if in.Default || in.Flag.Name == "rating" {
			continue
		}
		text := p.style.Word(in.Flag.Label) + " " + p.given(in)
		last := len(lines) - 1
		switch {
		case lines[last] == "":
			lines[last] = text
		case len(lines[last])+len(text) < 56:
			lines[last] += ", " + text
		default:
			lines[last] += ","
			lines = append(lines, text)
		}
	}
	if len(lines) > 2 {
		lines = append(lines[:1], strings.TrimSuffix(lines[1], ",")+" …")
	}
	return lines
}

// given is an input as it was typed, in the language of whoever reads.
func (p *plot) given(in calc.Given) string {
	if in.Flag.Kind.Choices != nil {
		return p.style.Word(in.Flag.Kind.Choices[int(in.Value)])
	}
	return p.style.Decimal(calc.Said(p.style.Tongue, in.Text))
}

// axes are the two scales with their units.
func (p *plot) axes(d *drawing) {
	bottom := p.y.from
	d.line("rule", curveLeft, p.y.to, curveLeft, bottom)
	d.line("rule", curveLeft, bottom, p.x.to, bottom)
	values, decimals := p.y.ticks()
	for _, v := range values {
		d.line("day", curveLeft, p.y.at(v), p.x.to, p.y.at(v))
		d.text(curveLeft-7, p.y.at(v)+5, "quiet", "end", p.style.Decimal(unit.Plain(v, decimals)))
	}
	values, decimals = p.x.ticks()
	for _, v := range values {
		d.line("rule", p.x.at(v), bottom, p.x.at(v), bottom+4)
		d.text(p.x.at(v), bottom+19, "quiet", "middle", p.style.Decimal(unit.Plain(v, decimals)))
	}
	d.text((p.x.from+p.x.to)/2, bottom+40, "quiet", "middle", p.x.measure.Heading(p.style.Word(p.curve.Flag.Label)))
}

// runs gives the stretches of the line that have an answer.
func (p *plot) runs(f func(from, to int)) {
	start := -1
	for i := 0; i <= len(p.ys); i++ {
		switch whole := i < len(p.ys) && !math.IsNaN(p.ys[i]); {
		case whole && start < 0:
			start = i
		case !whole && start >= 0:
			f(start, i)
			start = -1
		}
	}
}

func (p *plot) points(values []float64, from, to int) string {
	var out []string
	for i := from; i < to; i++ {
		if !math.IsNaN(values[i]) {
			out = append(out, fmt.Sprintf("%.1f,%.1f", p.x.at(p.xs[i]), p.y.at(values[i])))
		}
	}
	return strings.Join(out, " ")
}

func (p *plot) band(d *drawing) {
	if p.low == nil {
		return
	}
	p.runs(func(from, to int) {
		up, down := p.points(p.high, from, to), p.points(p.low, from, to)
		d.add(`<polygon class="band" points="%s %s"/>`, up, reversed(down))
		d.add(`<polyline class="edge" points="%s"/><polyline class="edge" points="%s"/>`, up, down)
	})
}

// line draws what was reckoned, named at its end.
func (p *plot) line(d *drawing) {
	end := -1
	p.runs(func(from, to int) {
		d.add(`<polyline class="past" points="%s"/>`, p.points(p.ys, from, to))
		end = to - 1
	})
	name := p.style.Word(p.of.Name)
	width := 8 * float64(len([]rune(name)))
	reach := max(p.x.at(p.xs[end])-width, p.x.from+4)
	d.text(reach+width, p.nameHeight(end, reach), "name", "end", name)
}

// nameHeight is where the name at the end of the line, from reach on, is free of it: above,
// or below where there is no room.
func (p *plot) nameHeight(end int, reach float64) float64 {
	highest, lowest := math.Inf(1), math.Inf(-1)
	for i := range end + 1 {
		if p.x.at(p.xs[i]) < reach || math.IsNaN(p.ys[i]) {
			continue
		}
		up, down := p.ys[i], p.ys[i]
		if p.low != nil {
			up, down = p.high[i], p.low[i]
		}
		highest, lowest = min(highest, p.y.at(up)), max(lowest, p.y.at(down))
	}
	for _, y := range []float64{highest - 8, lowest + 20, lowest + 46, highest - 34} {
		if y > p.y.to+12 && y < p.y.from-4 && !p.nearLimit(y) {
			return y
		}
	}
	return highest - 8
}

// nearLimit tells whether words at that height would stand on the limit or its name.
func (p *plot) nearLimit(y float64) bool {
	limit := p.y.at(p.rating)
	return y > limit-26 && y < limit+16
}

// limit draws the rating with its teeth on the forbidden side.
func (p *plot) limit(d *drawing) {
	if math.IsNaN(p.rating) {
		return
	}
	y := p.y.at(p.rating)
	d.line("limit", p.x.from, y, p.x.to, y)
	d.add(`<path class="limit" d="%s"/>`, teeth(p.x.from, p.x.to, y))
	d.text(p.x.from+6, y-9, "limit-text", "start", p.style.Say("rating %s", p.value(p.rating)))
}

// peg stands on the line at the value that was asked for.
func (p *plot) peg(d *drawing) {
	if math.IsNaN(p.curve.Now) {
		return
	}
	x := p.x.measure.Shown(p.curve.Flag.Kind.InKey(p.curve.Now))
	if x < p.x.low || x > p.x.high {
		return
	}
	d.add(`<path class="solid" d="M%.1f %.1fl5 -15h-10z"/>`, p.x.at(x), p.y.from)
}

// sentence says what is drawn.
func (p *plot) sentence() string {
	first, last := -1, -1
	for i, y := range p.ys {
		if !math.IsNaN(y) {
			last = i
			if first < 0 {
				first = i
			}
		}
	}
	text := p.style.Say("%s %s: from %s to %s. %s: from %s to %s.", p.curve.Calculation.Question, wording.Capital(p.style.Word(p.curve.Flag.Label)),
		p.place(first), p.place(last), p.of.Name, p.value(p.ys[first]), p.value(p.ys[last]))
	if !math.IsNaN(p.rating) {
		text += " " + p.style.Say("The rating is %s.", p.value(p.rating))
	}
	return text
}

// value and place write numbers of the two axes.
func (p *plot) value(y float64) string { return p.style.Decimal(digits(p.y.measure, y)) }

func (p *plot) place(i int) string { return p.style.Decimal(digits(p.x.measure, p.xs[i])) }

// digits writes three digits of a number; a gravity, whose first two are mostly 1.0, as finely as it is read.
func digits(m *calc.Measure, v float64) string {
	if m.Quantity == "gravity" {
		return m.With(m.Text(v))
	}
	return m.With(calc.Digits(v, 3))
}

// rows are eleven points of the line at most: where, what comes out, and a remark.
func (p *plot) rows() (rows [][3]string) {
	for i := 0; i < len(p.xs); i += max((len(p.xs)-1)/10, 1) {
		row := [3]string{p.place(i), p.style.Word("no answer"), ""}
		if !math.IsNaN(p.ys[i]) {
			row[1] = p.value(p.ys[i])
		}
		if p.curve.Passed[i] {
			row[2] = p.style.Word("over the limit")
		}
		rows = append(rows, row)
	}
	return rows
}

// table is the rows in words.
func (p *plot) table() string {
	var rows []string
	for _, r := range p.rows() {
		text := r[0] + ": " + r[1]
		if r[2] != "" {
			text += ", " + r[2]
		}
		rows = append(rows, text)
	}
	return strings.Join(rows, "; ")
}
