package batchfile

import (
	"errors"
	"fmt"
	"strings"

	"spile/batch"
	"spile/unit"
)

// noticedWords are what a person can notice.
var noticedWords = []string{"hiss", "foam", "wet seal", "nothing", "smell", "swollen", batch.Ice, batch.FoamInGlass}

// eventForm is one kind of event: the words it begins with and how the rest reads.
type eventForm struct {
	begins  string
	example string
	read    func(rest string, e *batch.Event) error
}

var errRest = errors.New("not understood")

// eventForms in the order in which they are tried: longer beginnings first.
var eventForms = []eventForm{
	{"relief", "relief 12 psi", func(s string, e *batch.Event) (err error) {
		e.Kind = batch.SetRelief
		e.Pressure, err = within(s, unit.ParseGauge, spanSetting)
		return err
	}},
	{"vent", "vent 10 psi to 8 psi", readVent},
	{"sample", "sample 150 mL", func(s string, e *batch.Event) (err error) {
		e.Kind = batch.SampleTaken
		e.Volume, err = within(s, unit.ParseVolume, spanDrawn)
		return err
	}},
	{"gas on", "gas on 10 psi", func(s string, e *batch.Event) (err error) {
		e.Kind = batch.GasOn
		e.Pressure, err = within(s, unit.ParseGauge, spanSetting)
		return err
	}},
	{"gas off", "gas off", bare(batch.GasOff)},
	{"hold", "hold 1 C", func(s string, e *batch.Event) (err error) {
		e.Kind = batch.HoldAt
		e.Temperature, err = within(s, unit.ParseTemperature, spanBeer)
		return err
	}},
	{"opened", "opened", bare(batch.Opened)},
	{"shaken", "shaken 5 min", func(s string, e *batch.Event) (err error) {
		e.Kind = batch.Shaken
		e.For, err = within(s, unit.ParseDuration, spanShake)
		return err
	}},
	{"dry hop", "dry hop 60 g", func(s string, e *batch.Event) (err error) {
		e.Kind = batch.DryHopped
		e.Mass, err = within(s, unit.ParseMass, spanHops)
		return err
	}},
	{"poured", "poured 2 L", func(s string, e *batch.Event) (err error) {
		e.Kind = batch.Poured
		e.Volume, err = within(s, unit.ParseVolume, spanDrawn)
		return err
	}},
	{"forced sample", "forced sample 1.009", func(s string, e *batch.Event) (err error) {
		e.Kind = batch.ForcedSample
		e.Gravity, err = within(s, parseGravity, spanGravity)
		return err
	}},
	{"noticed", "noticed hiss", readNoticed},
}

var (
	spanDrawn = span{high: 2000 * unit.Litre}
	spanShake = span{high: 30 * unit.Day}
	spanHops  = span{high: 200}
)

// ParseEvent reads one event as it stands in a readings file; its error says what is accepted.
func ParseEvent(s string) (batch.Event, error) {
	text := strings.Join(strings.Fields(s), " ")
	for _, f := range eventForms {
		rest, found := cutWord(text, f.begins)
		if !found {
			continue
		}
		var e batch.Event
		if err := f.read(rest, &e); err != nil {
			return e, errors.New("accepted: " + f.example + noticedHint(f.begins))
		}
		return e, nil
	}
	return batch.Event{}, errors.New("accepted: " + strings.Join(eventExamples(), ", "))
}

func noticedHint(begins string) string {
	if begins != "noticed" {
		return ""
	}
	return "; the words are " + strings.Join(noticedWords, ", ")
}

func eventExamples() []string {
	var out []string
	for _, f := range eventForms {
		out = append(out, f.example)
	}
	return out
}

// cutWord takes whole words off the front, in any case of letters.
func cutWord(s, word string) (rest string, found bool) {
	if len(s) < len(word) || !strings.EqualFold(s[:len(word)], word) {
		return s, false
	}
	rest = s[len(word):]
	return strings.TrimSpace(rest), rest == "" || rest[0] == ' '
}

func bare(kind batch.EventKind) func(string, *batch.Event) error {
	return func(rest string, e *batch.Event) error {
		e.Kind = kind
		if rest != "" {
			return errRest
		}
		return nil
	}
}

// within parses a quantity and refuses what cannot be meant.
func within[T ~float64](s string, parse func(string) (T, error), bounds span) (T, error) {
	v, err := parse(s)
	if err == nil && !(float64(v) >= bounds.low && float64(v) <= bounds.high) {
		err = errRest
	}
	return v, err
}

func readVent(rest string, e *batch.Event) (err error) {
	e.Kind = batch.VentedTo
	from, to, found := strings.Cut(rest, " to ")
	if !found {
		return errRest
	}
	if e.From, err = within(from, unit.ParseGauge, spanSetting); err != nil {
		return err
	}
	if e.To, err = within(to, unit.ParseGauge, spanSetting); err != nil {
		return err
	}
	if e.To > e.From {
		return errRest
	}
	return nil
}

func readNoticed(rest string, e *batch.Event) error {
	e.Kind = batch.Noticed
	for _, w := range noticedWords {
		if strings.EqualFold(rest, w) {
			e.Words = w
			return nil
		}
	}
	return errRest
}

// ParseSettings reads settings as events of a readings file and steps of a plan write them, several with commas between; its error
// says what was read and what is accepted.
func ParseSettings(text string) (set batch.Setting, err error) {
	const accepted = "accepted: hold 12 C, relief 15 psi, gas 10 psi, gas off, each once and several with commas between"
	for part := range strings.SplitSeq(text, ",") {
		words := strings.Join(strings.Fields(part), " ")
		if rest, gas := cutWord(words, "gas"); gas && rest != "" && !strings.EqualFold(rest, "off") {
			if _, on := cutWord(rest, "on"); !on {
				words = "gas on " + rest
			}
		}
		e, err := ParseEvent(words)
		one := e.Setting()
		if err != nil || one == nil {
			return set, fmt.Errorf("%q; %s", strings.TrimSpace(part), accepted)
		}
		again := set.GasOff && one.GasOff || set.Gas != nil && one.GasOff || set.GasOff && one.Gas != nil
		set.GasOff = set.GasOff || one.GasOff
		again = once(&set.Hold, one.Hold) || once(&set.Relief, one.Relief) || once(&set.Gas, one.Gas) || again
		if again {
			return set, fmt.Errorf("%q, beside another setting of it; %s", strings.TrimSpace(part), accepted)
		}
	}
	return set, nil
}

// once sets what is named, and tells whether it was set before.
func once[T any](set **T, to *T) (again bool) {
	if to == nil {
		return false
	}
	again, *set = *set != nil, to
	return again
}
