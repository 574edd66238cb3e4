package report

import (
	"fmt"
	"html/template"
	"sync"

	"spile/calc"
	"spile/internal/catalogue"
	"spile/unit"
	"spile/wording"
)

// paperTint is hatch in place of a tint: level lines, thin and apart.
func paperTint(id string) string {
	return `<pattern id="` + id + `" width="6" height="5" patternUnits="userSpaceOnUse"><line class="paper-hatch" x1="0" y1="2.5" x2="6" y2="2.5"/></pattern>`
}

// black is the palette of paper.
var black = palette{"#fff", "#fff", "#000", "#000", "#000", "#000", "#fff", "#000", "#000"}

// PaperStyle is for the print-outs: black alone, body 11 pt, the danger line 14 pt and boxed. On a screen
// they look as they will be printed. Letter is 18 mm shorter than A4: its lines stand closer.
func PaperStyle() string {
	return `:root{color-scheme:light;` + black.variables() + `}
` + DrawingStyle() + `svg .paper-hatch{stroke:var(--ink);stroke-width:.5}svg .bead{stroke:var(--ground);stroke-width:1}
@page a4{size:A4 portrait;margin:10mm}
@page letter{size:letter portrait;margin:10mm}
*{box-sizing:border-box}
html{background:#fff;color:#000}
body{margin:0 auto;font:400 11pt/1.3 system-ui,-apple-system,"Segoe UI",Roboto,sans-serif;font-variant-numeric:tabular-nums}
.a4{page:a4;max-width:190mm}.letter{page:letter;max-width:195.9mm}
h1{font-size:24pt;line-height:1.1;margin:0}h2{font-size:13pt;margin:3mm 0 .5mm;break-after:avoid}.troubles h2{font-size:11pt;margin:1.5mm 0 0}
p{margin:0 0 1mm}ul,ol{margin:0 0 1.5mm;padding-left:5mm}
.head{display:flex;justify-content:space-between;align-items:flex-start;gap:8mm}
.head>svg{width:50mm;height:auto;flex:none}.state{display:flex;align-items:center;gap:3mm;font-size:14pt;font-weight:700}
.state svg{width:8mm;height:8mm}
.good{font-size:13pt;font-weight:700;margin:2mm 0}
.danger{border:1mm solid #000;padding:2.5mm 3mm;margin:2.5mm 0;break-inside:avoid}.danger p{font-size:14pt;line-height:1.3;font-weight:700;margin:0}
.danger p+p{font-size:11pt;font-weight:400;margin-top:1mm}
.not{font-size:16pt;font-weight:700;border:.6mm solid #000;padding:0 2mm;display:inline-block}
table{border-collapse:collapse;width:100%;margin:1mm 0 2mm}th,td{border:.25mm solid #000;padding:.8mm 2mm;text-align:left;vertical-align:top;font-weight:400}
thead{display:table-header-group}thead th{font-weight:700}tr{break-inside:avoid}.lines td{height:8mm}
.facts th{width:28%}.wide{width:100%}.put th{width:30%}
.troubles{columns:2;column-gap:7mm;padding:0;list-style:none;line-height:1.22;margin:0}.troubles ul{padding-left:4mm;margin:0}.troubles>li{break-inside:avoid}
.sign{width:5mm;height:4.5mm;vertical-align:-.6mm;margin-right:1mm}.sign path{fill:none;stroke:#000;stroke-width:1.6}
.jobs td{padding:1.2mm 2mm}.jobs .tick{width:12mm}.jobs .tick span{display:block;width:8mm;height:8mm;border:.5mm solid #000}.jobs .by{width:36mm}.jobs td p{margin:0 0 .6mm}.jobs .do{font-weight:700}
.how{break-inside:avoid}.stage{columns:2;column-gap:7mm}.stage section{break-inside:avoid}.stage h3{font-size:11pt;margin:1mm 0 0}
.labels{display:grid;grid-template-columns:1fr 1fr;margin:0;padding:0;list-style:none}.labels>li{min-height:136mm;border:.25mm dashed #000;padding:3mm 4mm;break-inside:avoid;line-height:1.2}
.letter .labels>li{min-height:127mm}.labels h2{font-size:17pt;line-height:1.1;margin:0}.labels .qr{float:right;width:18mm;height:18mm;margin:0 0 1mm 1mm}.labels p{margin:0 0 .8mm}
.labels .danger{margin:1.2mm 0;padding:1mm 2mm}.labels .danger p{line-height:1.2}
.next-sheet{break-before:page}.strips{width:100%;height:auto;break-inside:avoid}
.foot span+span{white-space:nowrap}.foot{margin-top:2mm;border-top:.25mm solid #000;padding-top:1mm;display:flex;justify-content:space-between;gap:6mm}
.letter{line-height:1.24}.letter .head>svg{width:43mm}.letter .lines td{height:7mm}.letter .troubles{line-height:1.16}
@media screen{body{padding:14mm 4mm}}
@media print{.screen{display:none}}
`
}

// question is what a calculation answers, as the pages ask it.
func question(name string) wording.Text {
	row, _ := calc.Find(name) // a test holds that each is there
	return row.Question
}

// papers are the templates of print-outs, by the language they are in.
var papers sync.Map

// paperIn makes the templates in a language once.
func paperIn(tongue *wording.Tongue) *template.Template {
	if made, ok := papers.Load(tongue); ok {
		return made.(*template.Template)
	}
	unbroken := unit.Unbroken(tongue)
	t := template.New("paper").Funcs(template.FuncMap{"nb": func(x any) string { return unbroken(fmt.Sprint(tongue.Of(x))) },
		"add": func(a, b int) int { return a + b }, "question": question, "lang": tongue.Lang})
	catalogue.Parse(t, paperText+jobText+labelText, tongue)
	papers.Store(tongue, t)
	return t
}

const paperText catalogue.Markup = `{{define "ahead"}}<ul>
{{range .Said.Ahead}}<li>{{.Label}}: {{.When}}{{with .Band}}; {{.}}{{end}}{{with .Odds}}. {{.}}{{end}}.</li>
{{end}}</ul>
{{end}}
{{define "top"}}<!DOCTYPE html>
<html lang="{{lang}}">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{{.Title}}: {{.Vessel}}</title>
{{if .Href}}<link rel="stylesheet" href="{{.Href}}">{{else}}<style>{{.Sheet}}</style>{{end}}
</head>
<body class="{{.Paper}}">
<main>
{{end}}
{{define "begin"}}{{template "top" .}}<div class="head">
<div>
<p>{{.Title}} {{.Number}}. Printed {{.Printed}}.</p>
<h1>{{.Vessel}}</h1>
{{if ne .Vessel .Batch.Name}}<p>{{.Batch.Name}}</p>
{{end}}{{if .NotReal}}<p class="not">Not real</p>
{{end}}{{if .Ended}}<p>This batch has ended.</p>
{{else}}<p class="state">{{.Shape}}<span>{{.Said.State}}{{range .Said.Also}}, {{.}}{{end}}</span></p>
<p>{{.Said.State.Spoken}}</p>
{{end}}{{end}}
{{define "end"}}<div class="foot"><span>{{.Said.Plate}} Spile estimates, the safety valve protects.</span><span>{{.Number}}</span></div>
{{end}}
{{define "door"}}{{template "begin" .}}<p class="good">{{nb .Good}}</p>
</div>
{{.Drawing}}
</div>
<div class="danger">{{range .Danger}}<p>{{nb .}}</p>{{end}}</div>
<h2>Next</h2>
{{with index .Said.Next 0}}<p><b>{{nb .Do}}</b> {{.When}}</p>
{{with .Caution}}<p>{{nb .}}</p>
{{end}}{{end}}<h2>Now and ahead</h2>
<p>{{range .Said.Now}}{{nb .}} {{end}}</p>
<ul>
{{range .Awaited}}<li>{{.Label}}: {{.When}}{{with .Band}}; {{.}}{{end}}{{with .Odds}}. {{.}}{{end}}.</li>
{{end}}</ul>
<h2>Never</h2>
<ul>
{{range .Never}}<li>{{nb .}}</li>
{{end}}</ul>
<h2>Write it here, type it back with card {{.Number}}</h2>
<table class="lines"><thead><tr><th scope="col">Day and time</th><th scope="col">Pressure</th><th scope="col">Temperature</th><th scope="col">What I did or noticed</th></tr></thead><tbody>
{{range .Write}}<tr><td></td><td></td><td></td><td></td></tr>
{{end}}</tbody></table>
{{template "end" .}}
<section class="next-sheet">
<h1>Something is wrong</h1>
<table class="facts"><tbody>
{{range .Facts}}<tr>{{range .}}<th scope="row">{{index . 0}}</th><td><b>{{nb (index . 1)}}</b></td>{{end}}</tr>
{{end}}{{range .Blanks}}<tr class="lines"><th scope="row">{{.}}</th><td colspan="3"></td></tr>
{{end}}</tbody></table>
<ol class="troubles">
{{range $i, $t := .Troubles}}<li><h2>{{add $i 1}}. {{$t.Title}}</h2>
<ul>{{range $t.Steps}}<li>{{nb .}}</li>
{{end}}{{if eq $t.Ask "warming"}}<li>{{nb $.Said.Worst}}</li>
{{else if $t.Ask}}<li>Work it out: {{question $t.Ask}}</li>
{{end}}</ul></li>
{{end}}</ol>
{{template "end" .}}
</section>
</main>
</body>
</html>
{{end}}
{{define "batch"}}{{template "begin" .}}{{range .Said.Now}}<p>{{nb .}}</p>
{{end}}</div>
{{.Drawing}}
</div>
<h2>What was put together</h2>
<table class="put"><tbody>
{{range .Put}}<tr><th scope="row">{{index . 0}}</th><td>{{nb (index . 1)}}</td></tr>
{{end}}</tbody></table>
{{with .Steps}}<h2>The plan</h2>
<ul>{{range .}}<li>{{.When}}: {{nb .Do}}</li>
{{end}}</ul>{{end}}
<h2>When</h2>
{{template "ahead" .}}<h2>What was learnt</h2>
<ul>{{range .Learnt}}<li>{{nb .}}</li>
{{end}}</ul>
<section class="next-sheet">
<h2>Over time</h2>
{{.Strips}}
{{range .Says}}<p>{{nb .}}</p>
{{end}}</section>
<h2>Where the gas went</h2>
<table><thead><tr><th scope="col">Carbon dioxide</th><th scope="col">Amount</th><th scope="col">Nine times in ten</th></tr></thead><tbody>
{{range .Gas}}<tr><th scope="row">{{.Name}}</th><td>{{nb .Amount}}</td><td>{{nb .Band}}</td></tr>
{{end}}</tbody></table>
<h2>What was read</h2>
<table><thead><tr><th scope="col">When</th><th scope="col">What</th><th scope="col">Read</th></tr></thead><tbody>
{{range .Readings}}<tr><td>{{index . 0}}</td><td>{{index . 1}}</td><td>{{nb (index . 2)}}</td></tr>
{{end}}</tbody></table>
{{with .Sensors}}<p>{{.}}</p>
{{end}}{{range .Said.Doubts}}<p>{{nb .}}</p>
{{end}}<h2>One thing to try next time</h2>
<table class="lines"><tbody><tr><td></td></tr><tr><td></td></tr></tbody></table>
{{template "end" .}}
</main>
</body>
</html>
{{end}}`
