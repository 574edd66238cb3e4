package calc

import (
	"fmt"
	"math"

	"spile/limit"
	"spile/unit"
	"spile/working"
)

var wrongRows = []*Calculation{
	{
		Name: "warming", Stage: Wrong, Question: "What will warmth do to the pressure?",
		About:   "A shut vessel of finished beer, warmed until beer and gas are at rest. Give --pressure or --volumes at the start; or the --end-pressure that must not be exceeded, and leave out one of the others.",
		Flags:   sealedFlags,
		Example: []string{"from", "1 C", "to", "30 C", "volume", "16 L", "capacity", "20 L", "volumes", "2.5 volumes", "rating", "3 bar"},
		Plot:    Plot{"to=5 C:40 C:70", ""},
		Card:    Card{"to=10 C:40 C:6", "volumes=1.8 volumes:3 volumes:6", "end_pressure_kpa"},
		run:     sealed,
	},
	{
		Name: "lid", Stage: Wrong, Question: "How hard does the lid push?",
		About: "The push of the gas on the lid.",
		Flags: []Flag{
			{Name: "pressure", Kind: gaugeKind, Label: "pressure on the dial", Beside: "on the dial", Required: true},
			{Name: "opening", Kind: lengthKind, Label: "diameter of the opening", Required: true},
		},
		Example: []string{"pressure", "10 psi", "opening", "10 cm"},
		Plot:    Plot{"pressure=0 psi:30 psi:60", ""},
		run:     lid,
	},
}

// open warns wherever something is opened: how to, and how hard the gas pushes a lid of usual size meanwhile.
func (a *Answer) open(p unit.Gauge) {
	a.caution("c.open")
	if push := LidCaution(p, a.style); push != "" {
		a.Cautions = append(a.Cautions, push)
	}
}

// LidCaution says how hard the gas pushes a lid of usual size; empty without pressure.
func LidCaution(p unit.Gauge, style unit.Style) string {
	if !(p > 0) {
		return ""
	}
	const usual = 10 * unit.Centimetre
	return style.Say("At %s the gas pushes a lid of 10 cm with about %.0f kg.", style.Dials(p, 0), limit.LidForce(p, usual)/unit.StandardGravity)
}

func lid(in Inputs, out *Answer) error {
	force := limit.LidForce(in.gauge("pressure"), unit.Length(in.number("opening")))
	kg := force / unit.StandardGravity
	w := out.Sheet
	w.Input("p", "pressure on the dial", in.gauge("pressure").Kilopascals(), "kPa", working.Given)
	w.Input("d", "diameter of the opening", in.number("opening"), "m", working.Given)
	w.Step("F", "force", "F = p pi d²/4", force, "N", "")
	w.Step("m", "as a weight", "m = F/9.80665 m/s²", kg, "kg", "")
	words := [2]string{out.style.With(fmt.Sprintf("%.0f", math.Abs(kg)), "kg"), out.style.With(fmt.Sprintf("%.0f", math.Abs(force)), "N")}
	if force < 0 {
		out.add("force_kg", "The air outside holds the lid down like", kg, words[0])
		out.note("Do not pull. Let gas in, low, a little at a time, until the gauge stands at zero.")
	} else {
		out.add("force_kg", "The lid pushes like", kg, words[0])
	}
	out.add("force_n", "in newtons", force, words[1])
	out.caution("c.open")
	return nil
}
