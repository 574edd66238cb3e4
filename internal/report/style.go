package report

// The colours by meaning, light and dark, and nothing else has a colour: ink is
// what is there, blue what is believed, red a limit. A test holds them to their contrast.
var (
	light = palette{"#F7F9FA", "#E9EEF1", "#10202B", "#44545F", "#6C7B85", "#0B3A7A", "#D9E4F2", "#7A4ABA", "#BE2517"}
	dark  = palette{"#0E161C", "#19242C", "#EEF3F6", "#B4C0C8", "#7E8D97", "#71CBEF", "#17394A", "#B688FE", "#FE8B83"}
)

type palette struct{ ground, panel, ink, quiet, rule, belief, tint, whatIf, limit string }

func (p palette) variables() string {
	return "--ground:" + p.ground + ";--panel:" + p.panel + ";--ink:" + p.ink + ";--quiet:" + p.quiet + ";--rule:" + p.rule +
		";--belief:" + p.belief + ";--tint:" + p.tint + ";--what-if:" + p.whatIf + ";--limit:" + p.limit
}

// drawingStyle is for every drawing that brings its own colours, within a page or alone.
func drawingStyle() string {
	return `:root{` + light.variables() + `}
@media (prefers-color-scheme:dark){:root{` + dark.variables() + `}}
` + DrawingStyle()
}

// DrawingStyle is the rules by which drawings take the colours of a style sheet.
func DrawingStyle() string {
	return `svg text{font-family:system-ui,-apple-system,"Segoe UI",Roboto,sans-serif;font-variant-numeric:tabular-nums;fill:var(--ink);font-size:13px}
svg .quiet{fill:var(--quiet)}svg .strong{font-weight:700}
svg .rule{stroke:var(--rule);stroke-width:1;fill:none}svg .day{stroke:var(--rule);stroke-width:.5;fill:none;opacity:.55}
svg .band{fill:var(--tint);stroke:none}svg .hatched{stroke:none}svg .hatch{stroke:var(--belief);stroke-width:1.6;opacity:.45}
svg .edge{stroke:var(--belief);stroke-width:.8;fill:none}
svg .past{stroke:var(--belief);stroke-width:2.2;fill:none;stroke-linejoin:round}
svg .ahead{stroke:var(--belief);stroke-width:2.2;fill:none;stroke-dasharray:7 4;stroke-linejoin:round}
svg .name{fill:var(--belief)}
svg .what-if{stroke:var(--what-if);stroke-width:1;fill:none}svg .what-if-text{fill:var(--what-if)}
svg .ring{fill:var(--ground);stroke:var(--ink);stroke-width:1.4}svg .bar{stroke:var(--ink);stroke-width:1}svg .ribbon{stroke:var(--rule);stroke-width:2.2}
svg .ink{stroke:var(--ink);stroke-width:1.5;fill:none}svg .heavy{stroke:var(--ink);stroke-width:3.5;fill:none;stroke-linecap:square}
svg .solid{fill:var(--ink);stroke:none}svg .hollow{fill:var(--ground);stroke:var(--ink);stroke-width:1.4}
svg .plan{stroke:var(--ink);stroke-width:1.6;fill:none;stroke-dasharray:1.5 3.5}
svg .limit{stroke:var(--limit);stroke-width:1.6;fill:none}svg .limit-text{fill:var(--limit)}
svg .bead{fill:var(--belief)}svg .bead-gas{fill:var(--ground);stroke:var(--belief);stroke-width:1.2}
svg .level{stroke:var(--belief);stroke-width:2;fill:none}svg .bandbar{stroke:var(--belief);stroke-width:5;opacity:.75}
`
}

// pageStyle is for the page around the drawings: phone width first.
func pageStyle() string {
	return drawingStyle() + `
*{box-sizing:border-box}html{-webkit-text-size-adjust:100%}
body{margin:0;background:var(--ground);color:var(--ink);font:400 16px/1.45 system-ui,-apple-system,"Segoe UI",Roboto,sans-serif;font-variant-numeric:tabular-nums}
main{max-width:880px;margin:0 auto;padding:16px}
h1{font-size:28px;line-height:1.2;margin:0 0 4px}h2{font-size:19px;margin:32px 0 8px}p{margin:0 0 8px;max-width:62ch}
.quiet{color:var(--quiet)}a{color:var(--ink);text-decoration:underline}
.top{display:flex;flex-wrap:wrap;gap:16px 32px;align-items:flex-start;justify-content:space-between}
.top>div{flex:1 1 280px}.top figure{flex:0 1 260px;margin:0}
.state{display:flex;align-items:center;gap:10px;font-size:19px;font-weight:700;margin:12px 0 4px}
.state svg{width:26px;height:26px;flex:none}.also{font-weight:700;border:1.5px solid var(--ink);padding:2px 8px;margin-right:8px;display:inline-block}
.big{font-size:44px;font-weight:700;line-height:1.1;margin:8px 0}
.action{border-left:4px solid transparent;padding:12px 16px;margin:0 0 12px;background:var(--panel)}
.action h3{font-size:19px;margin:0 0 4px;font-weight:700;max-width:40ch}
.soon{border-left-color:var(--rule)}.today{border-left:8px solid var(--ink)}.now{border:3px solid var(--ink);border-left-width:8px}
.caution{border:1.5px solid var(--ink);padding:8px 12px;margin-top:8px;background:var(--ground);max-width:62ch}
.caution b{display:block}.sign{width:22px;height:20px;vertical-align:-3px;margin-right:6px}
dl{display:grid;grid-template-columns:minmax(9em,auto) 1fr;gap:6px 16px;margin:0;max-width:62ch}dt{font-weight:700}dd{margin:0}
figure{margin:0 0 16px}figcaption{color:var(--quiet);max-width:62ch}.top figcaption{max-width:260px}
.strips svg{display:block;width:100%;height:auto}.narrow{display:none!important}
table{border-collapse:collapse;margin:8px 0}th,td{padding:4px 12px 4px 0;text-align:right;border-bottom:1px solid var(--rule);font-weight:400}th:first-child,td:first-child{text-align:left}th{font-weight:700}
.scroll{overflow-x:auto}details{margin:0 0 8px}summary{min-height:48px;padding:12px 0;cursor:pointer;text-decoration:underline;text-decoration-style:dotted}
footer{margin-top:40px;border-top:1px solid var(--rule);padding-top:12px}
@media (max-width:620px){.wide{display:none!important}.narrow{display:block!important}.big{font-size:40px}dl{grid-template-columns:1fr;gap:0}dd{margin:0 0 10px}}
@media print{:root{` + light.variables() + `}body{background:#fff}details>*{display:block}}
`
}
