package monitor

import (
	"spile/advice"
	"spile/estimate"
	"spile/unit"
)

// Say puts a passport into words.
func (p *Passport) Say(style unit.Style) (out []advice.Taught) {
	if p.Of == estimate.OfBatch {
		return []advice.Taught{advice.SayTool(p.Tool, p.Learnt, p.Usual, style)}
	}
	for _, line := range p.Lines {
		if said, ok := advice.SayPassport(line, style); ok {
			out = append(out, said)
		}
	}
	return out
}
