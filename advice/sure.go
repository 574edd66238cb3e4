package advice

import (
	"fmt"

	"spile/batch"
	"spile/estimate"
	"spile/unit"
	"spile/wording"
)

// sure says on what all this rests: how many readings, which of them tells most of the gravity, what does not fit, and what would
// make it surer.
func (v *view) sure() (out []string) {
	read := 0
	for i := range v.log.Readings {
		if r := &v.log.Readings[i]; r.Quantity != batch.Temperature && r.Quantity != batch.AirTemperature {
			read++
		}
	}
	if read == 0 {
		out = append(out, v.say("sure usual"))
	} else {
		out = append(out, v.style.Tongue.Many(read, "It rests on %d reading, temperatures not counted.", "It rests on %d readings, temperatures not counted.", read))
	}
	if e := v.telling(); e != nil {
		key := "sure telling"
		if e.Alone {
			key = "sure alone"
		}
		out = append(out, v.say(key, "reading", v.named(&e.Reading), "time", v.clock.part(e.Reading.Time), "share", share(1-e.Narrows)))
	}
	if n := len(v.f.Flags); n > 0 {
		out = append(out, v.style.Tongue.Many(n, "%d reading does not fit, and is not trusted yet.", "%d readings do not fit, and are not trusted yet.", n))
	}
	if !v.f.Diagnostics.Trusted {
		out = append(out, v.say("sure badly"))
	}
	if n := v.f.Next; !n.None && n.Narrows > 0 && v.state != Ready && v.state != Pouring && v.state != Empty {
		out = append(out, wording.Capital(v.say("sure next", "instrument", v.style.Word(instruments[n.Instrument]), "time", v.clock.part(n.At), "share", share(n.Narrows))))
	}
	return out
}

// leastTelling is the share by which a reading must narrow the gravity to be named.
const leastTelling = 0.1

// telling is the reading without which the gravity would be least sure; nil where none tells much by itself.
func (v *view) telling() (most *estimate.Evidence) {
	for i := range v.f.Evidence {
		e := &v.f.Evidence[i]
		switch {
		case most != nil && most.Alone && !e.Alone, !e.Alone && e.Narrows > 1-leastTelling:
		case most == nil, e.Alone && !most.Alone, e.Narrows <= most.Narrows:
			most = e
		}
	}
	return most
}

func share(x float64) string { return fmt.Sprintf("%.0f %%", 100*x) }

// OddsScale lists the words for odds with what they stand for, the surest first.
func OddsScale(style unit.Style) (out [][2]string) {
	for i, row := range oddsScale {
		var of string
		switch {
		case i == 0:
			of = style.Say("%s and more", share(row.from))
		case row.from == 0:
			of = style.Say("under %s", share(oddsScale[i-1].from))
		default:
			of = style.Say("%s to %s", share(row.from), share(oddsScale[i-1].from))
		}
		out = append(out, [2]string{style.Word(row.word), of})
	}
	return out
}
