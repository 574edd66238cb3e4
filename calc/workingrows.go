package calc

import (
	"fmt"

	"spile/unit"
	"spile/wording"
	"spile/wort"
)

var workingRows = []*Calculation{
	reliefRow,
	{
		Name: "hydrometer", Stage: Working, Question: "What is the true gravity?",
		About: "Takes the temperature of the sample out of a hydrometer reading. Give --og for beer, whose alcohol expands more than sugar.",
		Flags: []Flag{
			{Name: "reading", Kind: gravityKind, Label: "what the hydrometer shows", Required: true},
			{Name: "temperature", Kind: temperatureKind, Label: "temperature of the sample", Beside: "of the sample", Required: true},
			{Name: "calibration", Kind: temperatureKind, Label: "temperature printed on the scale", Default: "20 C"},
			{Name: "og", Kind: gravityKind, Label: "original gravity", Beside: "original gravity, if it has fermented", Hint: "If it has fermented."},
		},
		Example: []string{"reading", "1.044", "temperature", "27 C"},
		Plot:    Plot{"temperature=0 C:40 C:80", ""},
		run:     hydrometer,
	},
	{
		Name: "alcohol", Stage: Working, Question: "How strong is it?",
		About: "Alcohol from the gravity before and after, by the balance of what yeast takes up and gives off.",
		Flags: []Flag{
			{Name: "og", Kind: gravityKind, Label: "original gravity", Required: true},
			{Name: "fg", Kind: gravityKind, Label: "gravity now", Required: true},
		},
		Example: []string{"og", "1.046", "fg", "1.010"},
		Plot:    Plot{"fg=1.000:1.046:46", ""},
		run:     alcohol,
	},
	quietGaugeRow,
	ownGasRow,
	heatingRow,
	ventRow,
	scaleRow,
	differenceRow,
}

// checkFall refuses a final gravity above the original one.
func (in Inputs) checkFall(og, fg unit.Gravity) error {
	if fg > og {
		return wording.Unsaid("gravity now %s is above the original %s; it falls while beer ferments, for example from 1.046 to 1.010",
			in.style.Gravity(fg, 0), in.style.Gravity(og, 0))
	}
	return nil
}

// checkWort refuses a gravity, so named, at which there is nothing to ferment.
func (in Inputs) checkWort(name wording.Text, og unit.Gravity) error {
	if og <= 1 {
		return wording.Unsaid("%s %s: wort is heavier than water, for example 1.046", name, in.style.Gravity(og, 0))
	}
	return nil
}

func alcohol(in Inputs, out *Answer) error {
	og, fg := in.gravity("og"), in.gravity("fg")
	if err := in.checkFall(og, fg); err != nil {
		return err
	}
	if err := in.checkWort("original gravity", og); err != nil {
		return err
	}
	abv, abw := wort.Alcohol(og, fg, out.Sheet)
	attenuation := wort.ApparentAttenuation(og, fg)
	out.Sheet.Step("AA", "apparent attenuation", "AA = 1 - AE/p0", attenuation.Percent(), "%", "")
	out.band("abv_percent", 0)
	if b := out.Band; b != nil {
		b.Low = max(b.Low, 0)
	}
	out.add("abv_percent", "Alcohol by volume", abv.Percent(), out.style.ABV(abv, unit.ABV(out.width()/100)))
	out.add("abw_percent", "Alcohol by mass", abw.Percent(), out.style.With(compact(abw.Percent(), 2), "%"))
	out.add("apparent_attenuation_percent", "Apparent attenuation", attenuation.Percent(), fmt.Sprintf("%.0f %%", attenuation.Percent()))
	out.caution("c.drink")
	return nil
}

func hydrometer(in Inputs, out *Answer) error {
	h := wort.Hydrometer{Calibrated: in.temperature("calibration")}
	g, err := h.True(in.gravity("reading"), in.temperature("temperature"), in.gravity("og"), out.Sheet)
	if err != nil {
		return err
	}
	in.from(out.Sheet, map[string]string{"t0": "calibration"})
	out.band("gravity_sg", 0)
	out.add("gravity_sg", "True gravity", float64(g), out.style.Gravity(g, unit.Gravity(out.width())))
	return nil
}
