package report

import (
	"fmt"
	"html"
	"math"

	"spile/advice"
	"spile/batch"
	"spile/estimate"
	"spile/unit"
)

// vesselView is what the drawing of a vessel shows.
type vesselView struct {
	batch *batch.Batch
	f     *estimate.Forecast
	said  advice.Said
	style unit.Style
}

const (
	cutWidth  = 240.0
	cutHeight = 250.0
	cutFloor  = 222.0
	cutLeft   = 22.0
	postX     = 196.0
)

// cutaway draws the vessel cut open: wall, lid, level, gas as beads, and the
// pressure post from zero to 1.25 times the rating.
func (v vesselView) cutaway() string {
	var d drawing
	d.add(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %.0f %.0f" width="%.0f" height="%.0f" role="img" aria-label="%s">`, cutWidth, cutHeight, cutWidth, cutHeight, html.EscapeString(v.spoken()))
	w, h := v.inside()
	left, right, top := cutLeft, cutLeft+w, cutFloor-h
	fill := v.f.Now.Liquid
	capacity := float64(v.batch.Vessel.Capacity)
	y := func(m3 float64) float64 { return cutFloor - m3/capacity*h }
	d.add(`<rect class="band" x="%.1f" y="%.1f" width="%.1f" height="%.1f"/>`, left, y(fill.P50), w, cutFloor-y(fill.P50))
	v.beads(&d, left, right, top, y(fill.P50))
	d.line("level", left, y(fill.P50), right, y(fill.P50))
	d.line("edge", left, y(fill.P05), right, y(fill.P05))
	d.line("edge", left, y(fill.P95), right, y(fill.P95))
	d.add(`<path class="heavy" d="M%.1f %.1fV%.1fH%.1fV%.1f"/>`, left-2, top, cutFloor+2, right+2, top)
	d.add(`<path class="heavy" d="M%.1f %.1fH%.1f"/>`, left+w*0.18, top-6, right-w*0.18)
	v.post(&d, top)
	d.add(`</svg>`)
	return d.String()
}

// inside is width and height of the drawn vessel, to the scale of its own
// capacity and width, within the room there is.
func (v vesselView) inside() (w, h float64) {
	bottom := math.Pi / 4 * float64(v.batch.Vessel.Diameter*v.batch.Vessel.Diameter)
	ratio := float64(v.batch.Vessel.Capacity) / bottom / float64(v.batch.Vessel.Diameter)
	h = math.Min(190, 140*ratio)
	return math.Max(h/ratio, 30), h
}

// beadGrams is what one bead stands for: 2 g of CO2, or 5 g where that would pass 60 beads.
func (v vesselView) beadGrams() float64 {
	total := v.f.Ledger.Dissolved.P50 + v.f.Ledger.Headspace.P50
	if total/unit.Gram/2 > 60 {
		return 5
	}
	return 2
}

// beads sit on a grid: solid in the beer, hollow above it.
func (v vesselView) beads(d *drawing, left, right, top, level float64) {
	grams := v.beadGrams()
	count := func(b estimate.Band) int { return int(math.Round(b.P50 / unit.Gram / grams)) }
	const pitch = 13.0
	columns := max(1, int((right-left-8)/pitch))
	place := func(n int, from, to float64, class string, radius float64) {
		for i := range n {
			row := float64(i / columns)
			y := to - 9 - row*pitch
			if y < from+5 {
				return
			}
			d.add(`<circle class="%s" cx="%.1f" cy="%.1f" r="%.1f"/>`, class, left+10+float64(i%columns)*pitch, y, radius)
		}
	}
	place(count(v.f.Ledger.Dissolved), level, cutFloor, "bead", 2.6)
	place(count(v.f.Ledger.Headspace), top, level, "bead-gas", 2.6)
}

// post is the pressure: zero at the floor, 1.25 times the rating at the top.
func (v vesselView) post(d *drawing, top float64) {
	rating := v.batch.Vessel.Rating
	if rating == nil {
		d.add(`<path class="limit" d="%s"/>`, sideTeeth(postX, top, cutFloor))
		d.line("limit", postX, top, postX, cutFloor)
		d.text(postX-30, cutFloor+20, "limit-text", "start", "no rating")
		return
	}
	full := 1.25 * float64(*rating)
	y := func(pa float64) float64 { return cutFloor - math.Max(pa, 0)/full*(cutFloor-top) }
	d.line("ink", postX, top, postX, cutFloor)
	d.line("ink", postX-5, cutFloor, postX+5, cutFloor)
	limit := y(float64(*rating))
	d.add(`<path class="limit" d="M%.1f %.1fH%.1f"/><path class="limit" d="%s"/>`, postX-12, limit, postX+12, teeth(postX-12, postX+14, limit))
	n := v.f.Now.Pressure
	d.line("bandbar", postX, y(n.P05), postX, y(n.P95))
	if s := v.setting(); s != nil {
		d.add(`<path class="ink" d="M%.1f %.1fh8m0 -3.5v7"/>`, postX-12, y(float64(*s)))
	}
	d.add(`<path class="solid" d="M%.1f %.1fl14 -5v10z"/>`, postX+2, y(n.P50))
	d.text(postX+18, y(n.P50)+5, "strong", "start", v.style.Of(unit.OfPressure, n.P50).Number(n.P50, 0))
	if worst := float64(v.f.Worst.Contents); worst <= full {
		d.add(`<path class="hollow" d="M%.1f %.1fl14 -5v10z"/>`, postX+2, y(worst))
	} else {
		d.add(`<path class="limit" d="M%.1f %.1fv-10m-4 4l4 -4l4 4"/>`, postX, top-3)
		d.text(postX+8, top-6, "limit-text", "start", v.style.Of(unit.OfPressure, worst).Number(worst, 0))
	}
	d.text(postX, cutFloor+20, "quiet", "middle", v.style.Of(unit.OfPressure, 0).Unit)
}

func sideTeeth(x, from, to float64) string {
	out := ""
	for y := from; y < to-4; y += 9 {
		out += fmt.Sprintf("M%.1f %.1fl5 4.5l-5 4.5", x, y)
	}
	return out
}

// setting is the highest setting of the working valve in the plan up to now.
func (v vesselView) setting() *unit.Gauge {
	var out *unit.Gauge
	for _, s := range v.batch.Programme {
		if s.Set.Relief != nil && s.AtSet && s.At.Hours() <= v.f.At.Sub(v.batch.Pitched).Hours() {
			out = s.Set.Relief
		}
	}
	return out
}

// spoken is the drawing in one sentence.
func (v vesselView) spoken() string {
	n := &v.f.Now
	text := fmt.Sprintf("%s: %.0f of %.0f litres, %s, %s, %s", v.batch.Name, n.Liquid.P50/unit.Litre, v.batch.Vessel.Capacity.Litres(),
		v.style.Temperature(unit.Temperature(n.Temperature.P50), 0), lower(string(v.said.State)), v.style.Pressure(unit.Gauge(n.Pressure.P50), 0))
	if s := v.setting(); s != nil {
		text += "; working valve " + v.style.Pressure(*s, 0)
	}
	if r := v.batch.Vessel.Rating; r != nil {
		text += ", limit " + v.style.Pressure(*r, 0)
	} else {
		text += ", no rating known"
	}
	return text + "; worst case " + v.style.Pressure(v.f.Worst.Contents, 0) + "."
}

// caption says what the beads are.
func (v vesselView) caption() string {
	return fmt.Sprintf("One bead is %.0f g of carbon dioxide: solid in the beer, hollow above it.", v.beadGrams())
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

// stateShape is the drawing of a state, said by the word beside it.
func stateShape(s advice.State) string {
	return `<svg viewBox="0 0 22 22" aria-hidden="true"><path class="ink" d="M3 3V19H19V3"/>` + stateShapes[s] + `</svg>`
}
