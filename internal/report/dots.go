package report

import (
	"html"
	"math"
	"time"

	"spile/advice"
	"spile/estimate"
	"spile/unit"
)

// The plot of dots, in pixels.
const (
	dotsWidth  = 480.0
	dotsHeight = 112.0
	dotsFloor  = 78.0
	dotsLeft   = 14.0
	dotsLater  = 56.0 // room at the right for what comes later than the span looked at
	dotRadius  = 5.0
	dotPitch   = 2*dotRadius + 1
	dotRows    = 6 // that stand above each other within the picture
)

// Dots draws a time as equally likely futures, a dot each, on days seen from now; the wished time is a line. The
// sentence counts them. Dots are read better than a band where somebody must decide [Kay2016] [Fernandes2018].
func Dots(m *estimate.Milestone, label string, wish, now time.Time, style unit.Style) (svg, sentence string) {
	here := style.In(now, now.Location())
	days := dotSpan(m, wish, now)
	x := func(t time.Time) float64 {
		return dotsLeft + t.Sub(now).Hours()/24/days*(dotsWidth-dotsLeft-dotsLater)
	}
	sentence = dotWords(m, label, wish, style)
	var d drawing
	d.add(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %.0f %.0f" width="%.0f" height="%.0f" role="img" aria-label="%s">`, dotsWidth, dotsHeight, dotsWidth, dotsHeight, html.EscapeString(sentence))
	d.line("rule", dotsLeft, dotsFloor, dotsWidth-dotsLater, dotsFloor)
	dotDays(&d, here, days, x, style)
	d.add(`<path class="solid" d="M%.1f %.1fl5 -15h-10z"/>`, x(now), dotsFloor)
	if !wish.IsZero() && wish.After(now) && wish.Sub(now).Hours()/24 <= days {
		d.line("ink", x(wish), 18, x(wish), dotsFloor)
		d.text(x(wish), 13, "quiet", "middle", style.Word("wished"))
	}
	stack := map[int]int{}
	for _, t := range m.Futures {
		at := dotsWidth - dotsLater/2
		if !t.IsZero() {
			at = math.Max(x(t), x(now))
		}
		bin := dotColumn(stack, at)
		d.add(`<circle class="bead" cx="%.1f" cy="%.1f" r="%.0f"/>`, float64(bin)*dotPitch, dotsFloor-dotRadius-2-float64(stack[bin])*dotPitch, dotRadius)
		stack[bin]++
	}
	if m.Never > 0 {
		d.text(dotsWidth-dotsLater/2, dotsFloor+17, "quiet", "middle", style.Word("later"))
	}
	d.add(`</svg>`)
	return d.String(), sentence
}

// dotColumn is the column of dots nearest to a place that has room left.
func dotColumn(stack map[int]int, at float64) int {
	bin := int(math.Round(at / dotPitch))
	for off := 0; ; off++ {
		for _, b := range []int{bin + off, bin - off} {
			if x := float64(b) * dotPitch; stack[b] < dotRows && x >= dotRadius && x <= dotsWidth-dotRadius {
				return b
			}
		}
	}
}

// dotSpan is how many days are shown: to the last future that comes, and to the wished time.
func dotSpan(m *estimate.Milestone, wish, now time.Time) float64 {
	days := 2.0
	for _, t := range append(m.Futures[:], wish) {
		if !t.IsZero() {
			days = math.Max(days, t.Sub(now).Hours()/24+0.5)
		}
	}
	return days
}

// dotDays writes the days under the line, at their noons.
func dotDays(d *drawing, now time.Time, days float64, x func(time.Time) float64, style unit.Style) {
	every := int(math.Ceil(days / 8))
	midnight := time.Date(now.Year(), now.Month(), now.Day(), 0, 0, 0, 0, now.Location())
	for k := 1; float64(k)-1 <= days; k++ {
		t := midnight.AddDate(0, 0, k)
		if x(t) > dotsWidth-dotsLater {
			return
		}
		d.line("rule", x(t), dotsFloor, x(t), dotsFloor+4)
		if noon := x(t.Add(12 * time.Hour)); (k-1)%every == 0 && noon < dotsWidth-dotsLater {
			d.text(noon, dotsFloor+17, "quiet", "middle", style.Time(t, "Mon"))
			d.text(noon, dotsFloor+32, "quiet", "middle", t.Format("2"))
		}
	}
}

// dotWords counts the futures: by the wished time where there is one, else by the two times that nine in ten lie between.
func dotWords(m *estimate.Milestone, label string, wish time.Time, style unit.Style) string {
	if !wish.IsZero() {
		in := 0
		for _, t := range m.Futures {
			if !t.IsZero() && !t.After(wish) {
				in++
			}
		}
		return style.Say("%s: in %d of %d futures by the wished time (%s).", label, in, len(m.Futures), advice.Odds(m.Probability, style))
	}
	later := 0
	for _, t := range m.Futures {
		if t.IsZero() {
			later++
		}
	}
	if later > 0 {
		return style.Say("%s: a dot is one of %d equally likely futures; in %d it comes later.", label, len(m.Futures), later)
	}
	return style.Say("%s: a dot is one of %d equally likely futures.", label, len(m.Futures))
}
