package report

import (
	"spile/advice"
	"spile/internal/catalogue"
	"spile/wording"
)

// Stage is what a first-timer asks at the stage that a vessel is in, with its cautions.
type Stage struct {
	Title    wording.Text
	Asks     []Ask
	Cautions []string
}

// Ask is one question with its answer; Caution is empty where none stands at it.
type Ask struct {
	Question, Caution wording.Text
	Answer            []string
}

// JobSheet is what is to be done next, in its order, each to be ticked off, with what to set, what to take care of, and
// how such things are done at this stage.
func JobSheet(c *Card, jobs []advice.Job, stage *Stage) ([]byte, error) {
	s := c.sheet("Job sheet")
	s.Good, s.Danger = c.good(), c.danger()
	s.Jobs, s.Stage = jobs, stage
	if first := c.Said.Next[0]; first.Urgency == advice.NothingToDo {
		s.Calm = first.Do
	}
	return s.render("job")
}

const jobText catalogue.Markup = `{{define "sign"}}<svg class="sign" viewBox="0 0 22 20" aria-hidden="true"><path d="M11 2L20 18H2z"/><path d="M11 7.5v5m0 1.8v1.8"/></svg>{{end}}
{{define "made"}}{{with .Foretold}}<p>{{.}}</p>
{{end}}{{end}}
{{define "job"}}{{template "begin" .}}<p class="good">{{nb .Good}}</p>
{{template "made" .}}</div>
{{.Drawing}}
</div>
<div class="danger">{{range .Danger}}<p>{{nb .}}</p>{{end}}</div>
<h2>Next, in this order</h2>
{{with .Calm}}<p><b>{{nb .}}</b></p>
{{end}}<table class="jobs"><thead><tr><th scope="col">Done</th><th scope="col">What</th><th scope="col">Day, time and who</th></tr></thead><tbody>
{{range .Jobs}}<tr><td class="tick"><span></span></td><td><p class="do">{{nb .Do}}</p><p>{{nb .When}}{{with .Awaited}} {{nb .}}{{end}}</p>{{with .Caution}}<p>{{template "sign"}}{{nb .}}</p>{{end}}</td><td class="by"></td></tr>
{{end}}</tbody></table>
<p>Type back what was done with card {{.Number}}, so that the forecast knows it.</p>
<h2>Now and ahead</h2>
<p>{{range .Said.Now}}{{nb .}} {{end}}</p>
{{template "ahead" .}}{{with .Stage}}<section class="how"><h2>{{.Title}}: what people ask</h2>
{{range .Cautions}}<p>{{template "sign"}}{{nb .}}</p>
{{end}}<div class="stage">
{{range .Asks}}<section><h3>{{.Question}}</h3>
{{range .Answer}}<p>{{nb .}}</p>
{{end}}{{with .Caution}}<p>{{template "sign"}}{{nb .}}</p>
{{end}}</section>
{{end}}</div>
</section>
{{end}}{{template "end" .}}
</main>
</body>
</html>
{{end}}
`
