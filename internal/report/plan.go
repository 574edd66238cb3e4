package report

import (
	"fmt"
	"slices"
	"strings"

	"spile/advice"
	"spile/batch"
	"spile/estimate"
	"spile/internal/batchfile"
	"spile/limit"
)

// PlanText is a plan to be read aloud, 80 columns wide: the answer, the choices beside each other, then each in steps
// and as the programme of BATCH.yaml.
func PlanText(b *batch.Batch, p *estimate.Plan, said advice.PlanSaid) string {
	var out strings.Builder
	out.WriteString(spread(b.Name, "Ready "+said.For+"?") + "\n" + strings.Repeat("─", columns) + "\n")
	section(&out, "Plan", said.Answer...)
	if said.Passed {
		section(&out, "Limits", urgent(said.Limits)...)
	}
	writeChoices(&out, p, said)
	for i, c := range said.Choices {
		section(&out, fmt.Sprint(i+1), c.Title+".", c.Sentence)
		for _, s := range c.Steps {
			section(&out, "", "· "+s.When+": "+s.Do)
		}
		if p.Choices[i].Hopeful() {
			section(&out, "", "What would change the odds? "+strings.Join(c.Buys, " "))
		}
		out.WriteString("\n" + programmeLines(p.Choices[i].Programme))
	}
	section(&out, "Care", cautionsOnce(said)...)
	section(&out, "Safety", said.Worst, said.Plate)
	section(&out, "More", "The odds count the rest and two days to settle in the cold. To use a plan, put its programme in place of the one in your file. Every number: --format json.")
	return out.String()
}

// writeChoices is the table: one line a choice.
func writeChoices(out *strings.Builder, p *estimate.Plan, said advice.PlanSaid) {
	fmt.Fprintf(out, "\n        %-6s %-9s %-9s %s\n", "odds", "gas", "highest", "very likely by")
	for i, c := range said.Choices {
		x := &p.Choices[i]
		known := func(words string) string { return either(words == "", "–", words) }
		fmt.Fprintf(out, "%-8d%-6s %-9s %-9s %s\n", i+1, fmt.Sprintf("%.0f %%", 100*x.Probability), known(c.Gas), known(c.Highest), known(c.By))
	}
}

// programmeLines is the programme of BATCH.yaml, lines too long for the terminal continued on the next.
func programmeLines(steps []batch.Step) string {
	var out strings.Builder
	for _, line := range strings.Split(strings.TrimRight(batchfile.ProgrammeText(steps), "\n"), "\n") {
		for len([]rune(line)) > columns {
			cut := strings.LastIndex(string([]rune(line)[:columns]), ", ")
			out.WriteString(line[:cut+1] + "\n")
			line = strings.Repeat(" ", 5) + line[cut+2:]
		}
		out.WriteString(line + "\n")
	}
	return out.String()
}

// urgent are the sentences of limits that ask for something today or now.
func urgent(limits []advice.Limit) []string {
	var out []string
	for _, l := range limits {
		if l.Severity > limit.WhenYouCan && !slices.Contains(out, l.Sentence) {
			out = append(out, l.Sentence)
		}
	}
	return out
}

// cautionsOnce are the cautions of all choices, each once.
func cautionsOnce(said advice.PlanSaid) []string {
	var out []string
	for _, c := range said.Choices {
		for _, s := range c.Cautions {
			if !slices.Contains(out, s) {
				out = append(out, s)
			}
		}
	}
	return out
}
