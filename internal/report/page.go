package report

import (
	"bytes"
	"html/template"
	"math"
	"strings"

	"spile/advice"
	"spile/batch"
	"spile/estimate"
	"spile/unit"
	"spile/wording"
)

// page is what the template shows.
type page struct {
	Title, Spoken, Caption, Licence string
	Big                             string
	At                              string
	Said                            advice.Said
	First                           advice.Action
	Rest                            []advice.Action
	Style                           template.CSS
	Vessel, Shape, Wide, Narrow     template.HTML
	Strips                          []StripTable
	Waiting                         []string
	Done                            []string
	Ledger                          []LedgerRow
	Compared                        *advice.Compared
	Change                          string // what is tried
}

// StripTable is a strip in words and numbers.
type StripTable struct {
	Name, Sentence string
	Rows           [][4]string
}

// LedgerRow is a line of where the gas went.
type LedgerRow struct{ Name, Amount, Band string }

// HTML is one page that needs nothing but itself: no script, no request. licence
// is a line for data that is not the reader's own; empty where it is.
func HTML(view *View, licence string) ([]byte, error) {
	b, f, said, style := view.Batch, view.Forecast, view.Said, view.Style
	c := ForecastChart(view)
	v := view.Cut()
	p := page{
		Title: b.Name, Spoken: v.Spoken(), Caption: v.Caption(), Licence: licence, Said: said, First: said.Next[0], Rest: said.Next[1:],
		Big: style.Gravity(unit.Gravity(f.Now.Gravity.P50), unit.Gravity(f.Now.Gravity.P95-f.Now.Gravity.P05)),
		At:  view.in(f.At).Format("Monday 2 January 2006, 15:04"), Style: template.CSS(pageStyle()),
		Vessel: template.HTML(v.SVG()), Shape: template.HTML(StateShape(said.State)),
		Wide: template.HTML(c.Inline(820, "wide")), Narrow: template.HTML(c.Inline(344, "narrow")),
		Waiting: view.Waiting(), Ledger: view.Ledger(), Strips: c.Tables(),
	}
	if p.Compared = view.Compared; p.Compared != nil {
		p.Change = view.Change()
	}
	for _, m := range c.Done {
		p.Done = append(p.Done, c.time(m.Hour).Format("Monday 2 January 15:04")+": "+m.Text)
	}
	var out bytes.Buffer
	if err := pageTemplate.Execute(&out, p); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

// Waiting lists the steps of the plan that wait for a condition.
func (v *View) Waiting() (out []string) {
	for _, s := range advice.Waits(v.Batch, v.Log, v.Forecast) {
		out = append(out, WaitWords(s, v.Style))
	}
	return out
}

// Change says what is tried.
func (v *View) Change() string {
	return v.Style.Say("From now on: %s.", SettingWords(v.Compared.Set, v.Style))
}

// WaitWords writes a step that waits for a condition.
func WaitWords(s batch.Step, style unit.Style) string {
	when, what := style.Word("when carbonated"), SettingWords(s.Set, style)
	switch s.When.Kind {
	case batch.GravityAtMost:
		when = style.Say("at gravity %s or less", style.Gravity(s.When.Gravity, 0))
	case batch.FinishedFor:
		when = style.Say("once finished for %s", unit.FormatDuration(s.When.For, 0))
	}
	return when + ": " + what
}

// Tables are the strips in words and numbers.
func (c *Chart) Tables() (out []StripTable) {
	for i := range c.Strips {
		out = append(out, c.table(&c.Strips[i]))
	}
	return out
}

// table is a strip once a day, at the hour of pitching, and now.
func (c *Chart) table(s *Strip) StripTable {
	t := StripTable{Name: s.Name, Sentence: s.Sentence}
	next := 0.0
	for i, h := range s.Hours {
		isNow := !math.IsNaN(c.Now) && i == indexAt(s.Hours, c.Now)
		if h < next && !isNow {
			continue
		}
		if h >= next {
			next = math.Floor(h/24)*24 + 24
		}
		when := c.Style.Time(c.time(h), "Mon 2 Jan 15:04")
		if isNow {
			when = c.Style.Say("%s, now", when)
		}
		low, high := "", ""
		if s.Low != nil {
			low, high = s.number(s.Low[i]), s.number(s.High[i])
		}
		t.Rows = append(t.Rows, [4]string{when, low, s.number(s.Mid[i]), high})
	}
	return t
}

// Ledger says where the gas went up to now.
func (v *View) Ledger() (out []LedgerRow) {
	l := &v.Forecast.Ledger
	for _, r := range []struct {
		name wording.Text
		b    estimate.Band
	}{
		{"made", l.Made}, {"taken from the cylinder", l.Supplied}, {"in the beer", l.Dissolved}, {"above the beer", l.Headspace},
		{"let out", l.Vented}, {"lost", l.Leaked}, {"poured away with the beer", l.Drawn},
	} {
		if r.b.P95 < 0.05*unit.Gram {
			continue
		}
		amount := v.Style.Mass(unit.Mass(math.Max(r.b.P50, 0)), unit.Mass(r.b.P95-r.b.P05))
		low, high := v.Style.Between(unit.OfMass, math.Max(r.b.P05, 0), r.b.P95) // no finer than the amount, which lies between
		out = append(out, LedgerRow{v.Style.Word(r.name), amount, v.Style.Say("between %s and %s", low, high)})
	}
	return out
}

func lower(s string) string { return strings.ToLower(s) }

// edge is the class of an action's edge: how soon to look.
func edge(u advice.Urgency) string {
	return map[advice.Urgency]string{advice.WhenYouCan: "soon", advice.Today: "today", advice.Now: "now"}[u]
}

var pageTemplate = template.Must(template.New("page").Funcs(template.FuncMap{"edge": edge, "nb": unit.Unbroken(nil)}).Parse(pageText))

const pageText = `<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<title>{{.Title}}: {{.Said.State}}</title>
<style>{{.Style}}</style>
</head>
<body>
<main>
<div class="top">
<div>
<h1>{{.Title}}</h1>
<p class="quiet">As of {{.At}}</p>
<div class="state">{{.Shape}}<span>{{.Said.State}}</span></div>
{{range .Said.Also}}<span class="also">{{.}}</span>{{end}}
<p class="quiet">{{.Said.State.Spoken}}</p>
<p class="big">{{.Big}}</p>
</div>
<figure>{{.Vessel}}<figcaption>{{.Caption}}</figcaption></figure>
</div>

<h2 id="now">Now</h2>
{{range .Said.Now}}<p>{{nb .}}</p>
{{end}}<p>{{nb .Said.Worst}}</p>

<h2 id="next">Next</h2>
{{template "action" .First}}
{{with .Said.Reading}}<p>{{.}}</p>{{end}}
{{with .Rest}}<details><summary>And after that</summary>
{{range .}}{{template "action" .}}{{end}}</details>{{end}}

<h2 id="ahead">Ahead</h2>
<dl>
{{range .Said.Ahead}}<dt>{{.Label}}</dt><dd>{{.When}}{{with .Band}}; {{.}}{{end}}{{with .Odds}}. {{.}}{{end}}</dd>
{{end}}</dl>
<figure class="strips">
{{.Wide}}
{{.Narrow}}
<figcaption>Solid: what we think it was. Dashed and hatched: what comes, nine times in ten. Rings: your readings, with the error of the instrument.</figcaption>
</figure>
{{range .Strips}}<p>{{nb .Sentence}}</p>
<details><summary>{{.Name}}: the numbers</summary>
<div class="scroll"><table><thead><tr><th scope="col">time</th><th scope="col">low</th><th scope="col">middle</th><th scope="col">high</th></tr></thead><tbody>
{{range .Rows}}<tr><td>{{index . 0}}</td><td>{{index . 1}}</td><td>{{index . 2}}</td><td>{{index . 3}}</td></tr>
{{end}}</tbody></table></div></details>
{{end}}
{{with .Waiting}}<p>The plan still waits:</p>
<ul>{{range .}}<li>{{.}}</li>{{end}}</ul>{{end}}

{{if .Compared}}<h2 id="if">If changed</h2>
<p>{{nb .Change}}</p>
{{range .Compared.Says}}<p>{{nb .}}</p>
{{end}}{{range .Compared.Exceeds}}<p class="caution">{{template "sign"}}{{nb .Sentence}}</p>
{{end}}{{with .Compared.If.Drains}}<p class="caution">{{template "sign"}}{{nb .}}</p>
{{end}}<div class="scroll"><table><thead><tr><th scope="col">what</th><th scope="col">by the plan</th><th scope="col">if changed</th></tr></thead><tbody>
{{range .Compared.Rows}}<tr><td>{{.Name}}</td><td>{{nb .Plan}}</td><td>{{nb .If}}</td></tr>
{{end}}</tbody></table></div>
{{range .Compared.Notes}}<p>{{.}}</p>
{{end}}{{end}}{{if or .Said.Findings .Said.Doubts}}<h2>What may be amiss</h2>
{{range .Said.Findings}}<p>{{.Sentence}} {{.Settles}}</p>
{{end}}{{range .Said.Doubts}}<p>{{nb .}}</p>
{{end}}{{end}}
<h2 id="gas">Where the gas went</h2>
<div class="scroll"><table><thead><tr><th scope="col">carbon dioxide</th><th scope="col">amount</th><th scope="col">nine times in ten</th></tr></thead><tbody>
{{range .Ledger}}<tr><td>{{.Name}}</td><td>{{.Amount}}</td><td>{{.Band}}</td></tr>
{{end}}</tbody></table></div>
{{with .Done}}<h2 id="log">What was done</h2>
<ul>{{range .}}<li>{{.}}</li>{{end}}</ul>{{end}}
<footer>
<p>{{.Said.Plate}} Spile estimates, the safety valve protects.</p>
{{with .Licence}}<p class="quiet">{{.}}</p>{{end}}
</footer>
</main>
</body>
</html>
{{define "action"}}<div class="action {{edge .Urgency}}">
<h3>{{nb .Do}}</h3>
<p>{{.When}} {{nb .Why}}</p>
{{with .Caution}}<p class="caution">{{template "sign"}}{{nb .}}</p>{{end}}
</div>{{end}}{{define "sign"}}<svg class="sign" viewBox="0 0 22 20" aria-hidden="true"><path class="ink" d="M11 2L20 18H2z"/><path class="ink" d="M11 7.5v5m0 1.8v1.8"/></svg>{{end}}
`
