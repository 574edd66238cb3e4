package web

import (
	"context"
	"strings"

	"spile/batch"
	"spile/internal/report"
	"spile/unit"
	"spile/wording"
)

// said writes a value as it was read.
func said(q batch.Quantity, si float64, style unit.Style) string {
	bare := bareSaid(q, si, style)
	switch q {
	case batch.Gravity:
		return style.Say("gravity %s", bare)
	case batch.VesselMass:
		return style.Say("vessel %s", bare)
	case batch.CylinderMass:
		return style.Say("cylinder %s", bare)
	case batch.VentedGas:
		return style.Say("%s of gas let out in all", bare)
	case batch.AirTemperature:
		return style.Say("air %s", bare)
	}
	return bare
}

// bareSaid writes a value as it was read, without the name of what was read.
func bareSaid(q batch.Quantity, si float64, style unit.Style) string {
	switch q {
	case batch.Pressure:
		return pressureRead.echo(si, style)
	case batch.Temperature, batch.AirTemperature:
		return temperatureRead.echo(si, style)
	case batch.Gravity:
		return gravityRead.echo(si, style)
	case batch.VesselMass:
		return vesselWeight.echo(si, style)
	case batch.CylinderMass:
		return cylinderWeight.echo(si, style)
	}
	return style.Mass(unit.Mass(si), 0)
}

// saidWords are what a reading, an action or a note tells, in words.
func saidWords(s *batch.Said, style unit.Style) string {
	var out []string
	for _, q := range []batch.Quantity{batch.Pressure, batch.Temperature, batch.Gravity, batch.VesselMass, batch.CylinderMass, batch.VentedGas, batch.AirTemperature} {
		if v, given := s.Value(q); given {
			text := said(q, v, style)
			if where := places[s.Instrument]; where != "" && q != batch.AirTemperature {
				text += " " + style.Word(where)
			}
			out = append(out, text)
		}
	}
	if s.Event != nil {
		out = append(out, report.EventWords(*s.Event, style))
	}
	if s.Words != "" {
		out = append(out, s.Words)
	}
	return strings.Join(out, ", ")
}

// places says how an instrument reads, where that matters.
var places = map[string]wording.Text{"probe": "in the beer", bubblyKey: "of a bubbly sample"}

// wordsOf says what an entry is: what it tells, or what it does to another.
func (s *Site) wordsOf(ctx context.Context, v *stood, e *batch.Entry) (string, error) {
	switch e.Kind {
	case batch.KindReading, batch.KindAction, batch.KindNote:
		said, err := e.Said()
		return wording.Capital(saidWords(&said, v.Style)), err
	case batch.KindJudgement:
		j, err := e.Judged()
		return judgedWords(&j, v.Style.Tongue), err
	case batch.KindBatch:
		return v.Style.Word("What stands on the batch was changed"), nil
	case batch.KindThing:
		return v.Style.Word("What stands on the vessel was changed"), nil
	case batch.KindImport:
		i, err := e.Import()
		return cameWords(&i, v.Style.Tongue), err
	case batch.KindClockShift:
		return v.Style.Word("A clock was put right"), nil
	}
	target, found, err := s.watch.Store().Find(ctx, e.Supersedes)
	if err != nil || !found {
		return v.Style.Word("Something that is not here yet"), err
	}
	if e.Kind == batch.KindCorrection {
		corrected := target
		corrected.Body = e.Body
		words, err := s.wordsOf(ctx, v, &corrected)
		return v.Style.Say("Corrected: %s", words), err
	}
	var say wording.Text = "Taken back: %s"
	if target.Kind == batch.KindTakenBack { // and that is taken back
		if target, found, err = s.watch.Store().Find(ctx, target.Supersedes); err != nil || !found {
			return v.Style.Word("Something that is not here yet"), err
		}
		say = "Put back: %s"
	}
	words, err := s.wordsOf(ctx, v, &target)
	return v.Style.Say(say, words), err
}

// judgedWords says what was judged.
func judgedWords(j *batch.Judgement, t *wording.Tongue) string {
	switch words := strings.TrimSuffix(j.Words, "."); j.Verdict {
	case batch.LimitSeen:
		return t.Say("I have seen this: %s", words)
	case batch.LimitOver:
		return t.Say("No longer so: %s", words)
	}
	return strings.TrimSpace(strings.TrimSuffix(wording.Capital(t.Word(j.Verdict.Wording()))+". "+j.Words, ". "))
}

// cameWords says what came with an import.
func cameWords(i *batch.Import, t *wording.Tongue) string {
	return t.Many(i.Entries, "%s brought %d line", "%s brought %d lines", i.File, i.Entries)
}

// lowered makes the first letter small, unless a unit or a name begins there.
func lowered(text string) string {
	if len(text) > 1 && text[1] >= 'a' && text[1] <= 'z' {
		return strings.ToLower(text[:1]) + text[1:]
	}
	return text
}
