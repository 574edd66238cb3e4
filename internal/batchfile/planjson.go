package batchfile

import (
	"spile/advice"
	"spile/batch"
	"spile/estimate"
)

type planJSON struct {
	Name        string          `json:"name"`
	At          string          `json:"at"`
	Ready       string          `json:"ready"`
	Seed        uint64          `json:"seed"`
	Answer      []string        `json:"answer"`
	Earliest    *string         `json:"earliest"` // very likely ready by then
	Choices     []choiceJSON    `json:"choices"`
	Limits      []limitJSON     `json:"limits"`
	WorstCase   string          `json:"worst_case"`
	Diagnostics planDiagnostics `json:"diagnostics"`
}

type planDiagnostics struct {
	Programmes int  `json:"programmes"` // tried
	Trusted    bool `json:"trusted"`
}

type choiceJSON struct {
	Aims        []string            `json:"aims"`
	Title       string              `json:"title"`
	Probability number              `json:"probability"`
	Worst       number              `json:"worst_case_pressure_kpa"`
	Highest     number              `json:"highest_pressure_kpa"`
	Gas         number              `json:"gas_g"`
	Ready       milestoneJSON       `json:"ready"`
	VeryLikely  *string             `json:"very_likely_by"`
	Sentence    string              `json:"sentence"`
	Programme   []map[string]string `json:"programme"`
	Steps       []planStepJSON      `json:"steps"`
	Buys        []buyJSON           `json:"buys"`
	Cautions    []string            `json:"cautions"`
}

type planStepJSON struct {
	When string `json:"when"`
	Do   string `json:"do"`
}

type buyJSON struct {
	Change      string `json:"change"`
	Probability number `json:"probability"`
	Sentence    string `json:"sentence"`
}

// PlanJSON writes a plan and what is said of it. The same arguments give the same bytes.
func PlanJSON(p *estimate.Plan, said advice.PlanSaid, b *batch.Batch) ([]byte, error) {
	out := planJSON{
		Name: b.Name, At: stamp(p.From, b), Ready: stamp(p.Ready, b), Seed: p.Seed, Answer: said.Answer, Earliest: someStamp(p.Earliest, b),
		Choices: []choiceJSON{}, Limits: LimitsJSON(said.Limits), WorstCase: said.Worst, Diagnostics: planDiagnostics{p.Tried, p.Trusted},
	}
	for i := range p.Choices {
		out.Choices = append(out.Choices, choiceOf(&p.Choices[i], said.Choices[i], b))
	}
	return encode(out)
}

func choiceOf(c *estimate.Choice, said advice.ChoiceSaid, b *batch.Batch) choiceJSON {
	out := choiceJSON{
		Title: said.Title, Probability: number(c.Probability), Worst: number(c.WorstCase().Kilopascals()), Highest: number(c.Highest.Kilopascals()),
		Gas: number(c.Gas.Grams()), Ready: milestone(c.Ready, "", nil, b), VeryLikely: someStamp(c.VeryLikely, b), Sentence: said.Sentence, Cautions: said.Cautions,
	}
	for _, a := range c.Aims {
		out.Aims = append(out.Aims, string(a))
	}
	for _, s := range c.Programme {
		step, pairs := map[string]string{}, stepPairs(s)
		for i := 0; i < len(pairs); i += 2 {
			if pairs[i+1] != "" {
				step[pairs[i]] = pairs[i+1]
			}
		}
		out.Programme = append(out.Programme, step)
	}
	for _, s := range said.Steps {
		out.Steps = append(out.Steps, planStepJSON{s.When, s.Do})
	}
	for i, buy := range c.Buys {
		out.Buys = append(out.Buys, buyJSON{string(buy.Change), number(buy.Probability), said.Buys[i]})
	}
	return out
}
