package report

import (
	"html/template"
	"slices"
	"time"

	"spile/advice"
	"spile/co2"
	"spile/internal/catalogue"
	"spile/limit"
	"spile/unit"
	"spile/wording"
)

// labelsASheet are what a sheet is cut into.
const labelsASheet = 4

// Label is a sheet of equal labels for what the beer is in: what it is, how strong, how much gas, from when, and what to
// take care of. Square is drawn on each and leads to its page; empty: none.
func Label(c *Card, square template.HTML) ([]byte, error) {
	s := c.sheet("Label")
	s.Square, s.Labels = square, make([]int, labelsASheet)
	s.Lines = []string{c.isWhat(), c.strength(), c.carbonation(), c.dates()}
	s.Danger = []string{limit.Say(c.Style, "c.held")}
	if !slices.Contains(settled, c.Said.State) {
		s.Danger = append(s.Danger, limit.Say(c.Style, "c.works"))
	}
	s.Danger = append(s.Danger, c.warmed())
	s.Never = []wording.Text{limit.Caution("c.drink")}
	return s.render("label")
}

// settled are the states in which the beer may leave its vessel.
var settled = []advice.State{advice.Finished, advice.Cooling, advice.TakingGas, advice.Ready, advice.Pouring, advice.Empty}

// isWhat says what was put together.
func (c *Card) isWhat() string {
	return c.Style.Say("Beer of wort of %s with %s yeast.", c.Style.Gravity(c.Batch.Wort.Gravity, 0), c.Style.Word(c.Batch.Yeast.Kind.Wording()))
}

// strength is the alcohol: what it holds once fermented, else what it will.
func (c *Card) strength() string {
	said, band := wording.Text("It will hold %s of alcohol, between %s and %s, nine times in ten."), c.Forecast.TerminalABV
	if slices.Contains(settled, c.Said.State) {
		said, band = "%s of alcohol, between %s and %s, nine times in ten.", c.Forecast.Now.ABV
	}
	low, high := c.Style.Between(unit.OfAlcohol, max(band.P05, 0), max(band.P95, 0))
	return c.Style.Say(said, c.Style.ABV(unit.ABV(max(band.P50, 0)), unit.ABV(band.P95-band.P05)), low, high)
}

// carbonation is the gas in the beer now, at which temperature, and the pressure that keeps it there where
// the vessel may hold that.
func (c *Card) carbonation() string {
	n, style := &c.Forecast.Now, c.Style
	low, high := style.Between(unit.OfGas, n.Volumes.P05, n.Volumes.P95)
	temp := unit.Temperature(n.Temperature.P50)
	said := style.Say("%s of gas, between %s and %s, at %s.", style.Gas(unit.Volumes(n.Volumes.P50), unit.Volumes(n.Volumes.P95-n.Volumes.P05)), low, high, style.Temperature(temp, unit.TemperatureDifference(n.Temperature.P95-n.Temperature.P05)))
	least, most := c.atRest(temp, n.Volumes.P05), c.atRest(temp, n.Volumes.P95)
	if weakest, rated := limit.Weakest(c.Batch.Vessel.Rating, c.Batch.Vessel.SafetyRelief); rated && least > 0 && most < weakest {
		low, high = style.Between(unit.OfPressure, float64(least), float64(most))
		said += " " + style.Say("Between %s and %s keep that.", low, high)
	}
	return said
}

// atRest is the pressure that keeps so much gas in the beer; below nothing where the air alone does, or nobody knows.
func (c *Card) atRest(t unit.Temperature, volumes float64) unit.Gauge {
	p, err := co2.EquilibriumPressure(t, unit.Volumes(volumes), co2.BeerFactor{}, nil)
	if err != nil {
		return -1
	}
	return p.Gauge(unit.StandardAtmosphere(c.Batch.Place.Altitude))
}

// dates are from when it is, and when it is ready to pour.
func (c *Card) dates() string {
	said := c.Style.Say("Yeast added %s.", c.Style.Time(c.in(c.Batch.Pitched), "2 January 2006"))
	m := &c.Forecast.Milestones.Ready
	if c.Said.State == advice.Pouring || m.P95.IsZero() || !m.P95.After(c.Now) {
		return said
	}
	day := func(t time.Time) string { return c.Style.Time(c.in(t), "2 January") }
	return said + " " + c.Style.Say("Ready to pour between %s and %s.", day(m.P05), day(m.P95))
}

// warmed is what the beer reaches at the hottest place, all fermented, against the weakest part of its vessel.
func (c *Card) warmed() string {
	weakest, rated := limit.Weakest(c.Batch.Vessel.Rating, c.Batch.Vessel.SafetyRelief)
	if !rated {
		return limit.Say(c.Style, "l.rating-unknown")
	}
	w := &c.Forecast.Worst
	return limit.Say(c.Style, "c.warm", "temp", c.Style.Temperature(w.Hottest, 0), "p", limit.Bounded(c.Style, w.Contents, c.Style.Pressure), "limit", c.Style.Limit(weakest))
}

const labelText catalogue.Markup = `{{define "label"}}{{template "top" .}}<h1 class="screen">{{.Title}}: {{.Vessel}}</h1>
<ul class="labels">
{{range .Labels}}<li>{{$.Square}}<h2>{{$.Batch.Name}}</h2>
<p>{{$.Vessel}}. Card {{$.Number}}.{{if $.NotReal}} <b>Not real</b>{{end}}</p>
{{range $.Lines}}<p>{{nb .}}</p>
{{end}}{{template "made" $}}<div class="danger">{{range $.Danger}}<p>{{nb .}}</p>{{end}}</div>
{{range $.Never}}<p>{{nb .}}</p>
{{end}}<p>Filled on ____________ into ____________</p></li>
{{end}}</ul>
</main>
</body>
</html>
{{end}}
`
