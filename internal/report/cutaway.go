package report

import (
	"fmt"
	"html"
	"math"
	"time"

	"spile/advice"
	"spile/batch"
	"spile/estimate"
	"spile/limit"
	"spile/unit"
	"spile/wording"
)

// Cut is a vessel cut open, as it is drawn.
type Cut struct {
	Name     string
	Vessel   *batch.Vessel
	Forecast *estimate.Forecast // nil: nothing is in it, or nothing is known of it yet
	State    advice.State
	Valve    *unit.Gauge // what the working valve is set to; nil: not told
	Open     bool        // the log says that its lid is off
	Style    unit.Style
	Scale    Scale // of all vessels on the page; 0: the vessel fills the room
	Small    bool  // for a telephone: wall, level, post and peg alone
	NotReal  bool  // invented, for a demonstration or practice
	Paper    bool  // black alone: tint becomes hatch
}

// Scale is how large vessels are drawn: the share of the room that a metre fills.
type Scale float64

// ScaleOf is the one scale at which all of these vessels have room.
func ScaleOf(vessels ...*batch.Vessel) Scale {
	scale := math.Inf(1)
	for _, v := range vessels {
		wide, high := size(v)
		scale = min(scale, large.w/large.h/wide, 1/high)
	}
	if math.IsInf(scale, 1) {
		return 0
	}
	return Scale(scale)
}

// size is how wide and high a vessel is inside, in metres, as a cylinder. One whose width is
// not known is taken to be half as high again as it is wide (assumption).
func size(v *batch.Vessel) (wide, high float64) {
	wide = float64(v.Diameter)
	if wide <= 0 {
		wide = math.Cbrt(float64(v.Capacity) / (math.Pi / 4 * 1.5))
	}
	return wide, float64(v.Capacity) / (math.Pi / 4 * wide * wide)
}

// room is where things stand in a drawing of a vessel, in pixels.
type room struct {
	width, height, floor, left, post float64
	w, h                             float64 // for the vessel itself
	peg                              float64 // its length
}

var (
	large = room{256, 250, 222, 22, 196, 140, 190, 14}
	small = room{96, 96, 90, 7, 76, 52, 70.6, 11}
)

// Cut is the vessel of a batch as it stands.
func (v *View) Cut() *Cut {
	c := &Cut{Name: v.Batch.Name, Vessel: &v.Batch.Vessel, Forecast: v.Forecast, State: v.Said.State, Style: v.Style, NotReal: v.NotReal, Valve: v.valve()}
	if n := len(v.Log.Events); n > 0 {
		last := v.Log.Events[n-1]
		c.Open = last.Kind == batch.Opened && !last.Time.After(v.Forecast.At)
	}
	return c
}

// valve is the last setting of the working valve, by plan or log.
func (v *View) valve() *unit.Gauge {
	var set *unit.Gauge
	var when time.Time
	take := func(at time.Time, g *unit.Gauge) {
		if g != nil && !at.After(v.Forecast.At) && !at.Before(when) {
			set, when = g, at
		}
	}
	for _, s := range v.Batch.Programme {
		if s.AtSet {
			take(v.Batch.After(s.At), s.Set.Relief)
		}
	}
	for _, e := range v.Log.Events {
		if s := e.Setting(); s != nil {
			take(e.Time, s.Relief)
		}
	}
	return set
}

// SVG draws it: wall, lid, level, gas as beads, and the pressure post from zero to 1.25
// times the rating.
func (c *Cut) SVG() string {
	r, class := large, "cutaway"
	if c.Small {
		r, class = small, "cutaway small"
	}
	var d drawing
	d.add(`<svg xmlns="http://www.w3.org/2000/svg" class="%s" viewBox="0 0 %.0f %.0f" width="%.0f" height="%.0f" role="img" aria-label="%s">`, class, r.width, r.height, r.width, r.height, html.EscapeString(c.Spoken()))
	w, h := c.inside(r)
	right, top := r.left+w, r.floor-h
	if c.Forecast != nil {
		c.beer(&d, r, right, top)
	}
	d.add(`<path class="heavy" d="M%.1f %.1fV%.1fH%.1fV%.1f"/>`, r.left-2, top, r.floor+2, right+2, top)
	lift := 0.0
	if c.Open {
		lift = 9
	}
	d.add(`<path class="heavy" d="M%.1f %.1fL%.1f %.1f"/>`, r.left+w*0.18, top-6, right-w*0.18, top-6-lift)
	c.pressure(&d, r, top)
	if c.NotReal {
		d.text(r.left-2, 12, "strong not-real", "start", c.Style.Word("Not real"))
	}
	d.add(`</svg>`)
	return d.String()
}

// inside is width and height of the drawn vessel.
func (c *Cut) inside(r room) (w, h float64) {
	scale := c.Scale
	if scale <= 0 {
		scale = ScaleOf(c.Vessel)
	}
	wide, high := size(c.Vessel)
	return wide * float64(scale) * r.h, high * float64(scale) * r.h
}

// beer is the level with its edges, and the gas.
func (c *Cut) beer(d *drawing, r room, right, top float64) {
	fill := c.Forecast.Now.Liquid
	y := func(m3 float64) float64 {
		return r.floor - math.Min(math.Max(m3/float64(c.Vessel.Capacity), 0), 1)*(r.floor-top)
	}
	class := `class="band"`
	if c.Paper {
		d.add(`<defs>%s</defs>`, paperTint("cut"))
		class = `class="hatched" fill="url(#cut)"`
	}
	d.add(`<rect %s x="%.1f" y="%.1f" width="%.1f" height="%.1f"/>`, class, r.left, y(fill.P50), right-r.left, r.floor-y(fill.P50))
	if !c.Small {
		c.beads(d, r.left, right, top, y(fill.P50))
		d.line("edge", r.left, y(fill.P05), right, y(fill.P05))
		d.line("edge", r.left, y(fill.P95), right, y(fill.P95))
	}
	d.line("level", r.left, y(fill.P50), right, y(fill.P50))
}

// beadGrams is what one bead stands for: 2 g of CO2, or 5 g where that would pass 60 beads.
func (c *Cut) beadGrams() unit.Mass {
	total := c.Forecast.Ledger.Dissolved.P50 + c.Forecast.Ledger.Headspace.P50
	if total/unit.Gram/2 > 60 {
		return 5 * unit.Gram
	}
	return 2 * unit.Gram
}

// beads sit on a grid: solid in the beer, hollow above it.
func (c *Cut) beads(d *drawing, left, right, top, level float64) {
	bead := float64(c.beadGrams())
	count := func(b estimate.Band) int { return int(math.Round(b.P50 / bead)) }
	const pitch = 13.0
	columns := max(1, int((right-left-8)/pitch))
	place := func(n int, from, to float64, class string) {
		for i := range n {
			y := to - 9 - float64(i/columns)*pitch
			if y < from+5 {
				return
			}
			d.add(`<circle class="%s" cx="%.1f" cy="%.1f" r="2.6"/>`, class, left+10+float64(i%columns)*pitch, y)
		}
	}
	place(count(c.Forecast.Ledger.Dissolved), level, large.floor, "bead")
	place(count(c.Forecast.Ledger.Headspace), top, level, "bead-gas")
}

// pressure is the post: zero at the floor, 1.25 times the rating at the top. Without a
// rating all of it is forbidden.
func (c *Cut) pressure(d *drawing, r room, top float64) {
	rating := c.Vessel.Rating
	if rating == nil {
		d.add(`<path class="limit" d="%s"/>`, sideTeeth(r.post, top, r.floor))
		d.line("limit", r.post, top, r.post, r.floor)
		if !c.Small {
			d.text(r.post-30, r.floor+20, "limit-text", "start", c.Style.Word("no rating"))
		}
		return
	}
	full := 1.25 * float64(*rating)
	y := func(pa float64) float64 { return r.floor - math.Max(pa, 0)/full*(r.floor-top) }
	d.line("ink", r.post, top, r.post, r.floor)
	d.line("ink", r.post-5, r.floor, r.post+5, r.floor)
	most := y(float64(*rating))
	d.add(`<path class="limit" d="M%.1f %.1fH%.1f"/><path class="limit" d="%s"/>`, r.post-12, most, r.post+12, teeth(r.post-12, r.post+14, most))
	if s := c.Valve; s != nil && !c.Small {
		d.add(`<path class="ink" d="M%.1f %.1fh8m0 -3.5v7"/>`, r.post-12, y(float64(*s)))
	}
	if c.Forecast != nil {
		c.pegs(d, r, top, full, y)
	}
	if !c.Small {
		d.text(r.post, r.floor+20, "quiet", "middle", c.Style.Of(unit.OfPressure, 0).Said())
	}
}

// pegs stand on the post: solid with its band for now, hollow for the worst case.
func (c *Cut) pegs(d *drawing, r room, top, full float64, y func(pa float64) float64) {
	n, worst := c.Forecast.Now.Pressure, float64(c.Forecast.Worst.Contents)
	at := math.Max(y(n.P50), top)
	if c.Small {
		d.add(`<path class="solid" d="M%.1f %.1fl%.0f -4v8z"/>`, r.post+2, at, r.peg)
		return
	}
	number := func(pa, band float64) string { return c.Style.Of(unit.OfPressure, pa).Number(pa, band) }
	d.line("bandbar", r.post, math.Max(y(n.P05), top), r.post, math.Max(y(n.P95), top))
	d.add(`<path class="solid" d="M%.1f %.1fl%.0f -5v10z"/>`, r.post+2, at, r.peg)
	d.text(r.post+18, at+5, "strong", "start", number(n.P50, n.P95-n.P05))
	if worst <= full {
		d.add(`<path class="hollow" d="M%.1f %.1fl%.0f -5v10z"/>`, r.post+2, y(worst), r.peg)
		return
	}
	d.add(`<path class="limit" d="M%.1f %.1fv-10m-4 4l4 -4l4 4"/>`, r.post, top-3)
	d.text(r.post+8, top-6, "limit-text", "start", limit.Bounded(c.Style, unit.Gauge(worst), func(g, _ unit.Gauge) string { return number(float64(g), 0) }))
}

func sideTeeth(x, from, to float64) string {
	out := ""
	for y := from; y < to-4; y += 9 {
		out += fmt.Sprintf("M%.1f %.1fl5 4.5l-5 4.5", x, y)
	}
	return out
}

// Spoken is the drawing in one sentence.
func (c *Cut) Spoken() string {
	style, name := c.Style, wording.Text("%s: %s.")
	if c.NotReal {
		name = "%s, not real: %s."
	}
	state := lower(style.Word(c.State.Wording()))
	var text string
	if c.Forecast == nil {
		text = state + ", " + style.Volume(c.Vessel.Capacity, 0)
	} else {
		n := &c.Forecast.Now
		m := style.Of(unit.OfVolume, float64(c.Vessel.Capacity))
		text = style.Say("%s of %s, %s, %s, %s", m.Fixed(m.Shown(n.Liquid.P50), 0), m.With(m.Fixed(m.Shown(float64(c.Vessel.Capacity)), 0)),
			style.Temperature(unit.Temperature(n.Temperature.P50), 0), state, style.Pressure(unit.Gauge(n.Pressure.P50), 0))
	}
	if c.Valve != nil {
		text += style.Say("; working valve %s", style.Pressure(*c.Valve, 0))
	}
	if r := c.Vessel.Rating; r != nil {
		text += style.Say(", limit %s", style.Limit(*r))
	} else {
		text += style.Word(", no rating known")
	}
	if c.Forecast != nil {
		text += style.Say("; worst case %s", limit.Bounded(style, c.Forecast.Worst.Contents, style.Pressure))
	}
	return unit.Minus(style.Say(name, c.Name, text))
}

// Caption says what the beads are; empty where there are none.
func (c *Cut) Caption() string {
	if c.Forecast == nil || c.Small {
		return ""
	}
	return c.Style.Say("One bead is %s of carbon dioxide: solid in the beer, hollow above it.", c.Style.Mass(c.beadGrams(), 0))
}

// stateShapes draw each state in a small open box of ink, 22 px.
var stateShapes = map[advice.State]string{
	advice.Clean:     ``,
	advice.Filled:    `<path class="ink" d="M3 10H19"/>`,
	advice.Waking:    `<path class="ink" d="M3 12H19"/><circle class="solid" cx="11" cy="7" r="1.7"/>`,
	advice.Working:   `<circle class="solid" cx="7" cy="14" r="1.8"/><circle class="solid" cx="11" cy="9" r="1.8"/><circle class="solid" cx="15" cy="14" r="1.8"/>`,
	advice.Slowing:   `<circle class="solid" cx="7" cy="12" r="1.8"/><path class="ink" d="M11 12h6"/>`,
	advice.Finished:  `<path class="solid" d="M3 11H19V19H3z"/>`,
	advice.Cooling:   `<path class="solid" d="M3 11H19V19H3z"/><path class="ink" d="M7 4l4 4l4 -4"/>`,
	advice.TakingGas: `<path class="solid" d="M3 12H19V19H3z"/><path class="ink" d="M11 1v8m-3 -3l3 3l3 -3"/>`,
	advice.Ready:     `<path class="solid" d="M3 11H19V19H3z"/><path class="heavy" d="M5 2H17"/>`,
	advice.Pouring:   `<path class="solid" d="M3 15H19V19H3z"/><path class="ink" d="M19 13h3v5"/>`,
	advice.Empty:     `<path class="ink" d="M3 19L19 3"/>`,
}

// StateShape is the drawing of a state, said by the word beside it.
func StateShape(s advice.State) string {
	return `<svg viewBox="0 0 22 22" aria-hidden="true"><path class="ink" d="M3 3V19H19V3"/>` + stateShapes[s] + `</svg>`
}
