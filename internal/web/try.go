package web

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"spile/advice"
	"spile/batch"
	"spile/calc"
	"spile/estimate"
	"spile/internal/report"
	"spile/unit"
	"spile/wording"
)

// tryView is the section in which somebody tries other settings.
type tryView struct {
	sheet
	Plan  []string // what is set from now on as it stands
	Says  []string // what the change is good for
	Rows  []advice.Pair
	Said  *advice.Tried
	Drawn *report.Tried // nil: nothing is tried
	Notes []wording.Text
}

// tryHours are when a change may begin.
var tryHours = []choice{{"0", "Now"}, {"24", "In a day"}, {"48", "In two days"}, {"96", "In four days"}}

// try answers what is asked in the section, and tells whether something in it could not be read.
func (s *Site) try(r *http.Request, v *vesselView) (bad bool) {
	t := &tryView{sheet: trySheet(v)}
	v.Try = t
	q := r.URL.Query()
	asked := false
	for _, a := range t.Fields {
		if q.Has(a.Name) {
			a.Typed = strings.TrimSpace(q.Get(a.Name))
		}
		asked = asked || a.Name != "from" && a.Typed != ""
	}
	for _, step := range v.stillPlanned() {
		t.Plan = append(t.Plan, v.stepWords(step))
	}
	if !asked {
		return false
	}
	set, ok := t.setting(v.Style.Tongue)
	if !ok {
		return true
	}
	t.Notes = advice.Idle(&v.Seen.State.Record.Batch, set)
	hours, err := strconv.ParseFloat(t.field("from").Typed, 64)
	if err != nil {
		hours = 0 // the first of the choices
	}
	at := unit.Duration(v.Now.Sub(v.Seen.State.Record.Pitched).Seconds() + hours*unit.Hour)
	if err := s.compare(r, v, set, at); err != nil {
		t.Beside = v.Style.Word("That could not be worked out just now. Try it once more in a few seconds.")
		s.log.Error("try", "batch", v.Seen.ID, "err", err)
		return true
	}
	return false
}

// trySheet asks for the settings that can be tried, in the units of whoever asks.
func trySheet(v *vesselView) sheet {
	ask := func(name string, label wording.Text, unit string, digits bool, hint string) *asking {
		return &asking{Name: name, Label: v.Style.Word(label), Unit: unit, Numeric: digits, Optional: true, Hint: hint}
	}
	st := v.Style
	pressure, temperature := st.Of(unit.OfPressure, 0).Unit, st.Of(unit.OfTemperature, float64(unit.Celsius(10))).Unit
	// Buttons begin at what is there now, two of the finest steps that are said at a time.
	stepped := func(a *asking, of unit.Quantity, now estimate.Band) *asking {
		m := st.Of(of, now.P50)
		a.Step, a.Begins = st.Decimal(trimmed(2*m.Finest)), m.Number(now.P50, 0)
		return a
	}
	now := &v.Seen.Told.Forecast.Now
	from := &asking{Name: "from", Label: st.Word("From when"), Options: options(st.Tongue, tryHours...), Typed: "0", Optional: true}
	return sheet{Fields: []*asking{
		stepped(ask("hold", "Temperature to hold", temperature, beerHeat.digits(st), st.Say("For example %s.", st.Temperature(unit.Celsius(21), 0))), unit.OfTemperature, now.Temperature),
		stepped(ask("relief", "Working valve set to", pressure, true, st.Say("For example %s.", st.Pressure(12*unit.PSI, 0))), unit.OfPressure, now.Pressure),
		stepped(ask("gas", "Gas from the cylinder at", pressure, false, st.Say("For example %s, or %s.", st.Pressure(10*unit.PSI, 0), st.Word(gasOff[0]))), unit.OfPressure, now.Pressure),
		from,
	}}
}

// setting reads what was typed.
func (t *tryView) setting(in *wording.Tongue) (set batch.Setting, ok bool) {
	if a := t.field("hold"); a.Typed != "" {
		k, err := unit.ParseTemperature(withUnit(calc.Typed(in, a.Typed), a.Unit))
		a.Error, set.Hold = refused(in, err), &k
	}
	if a := t.field("relief"); a.Typed != "" {
		p, err := unit.ParseGauge(withUnit(calc.Typed(in, a.Typed), a.Unit))
		a.Error, set.Relief = refused(in, err), &p
	}
	switch a := t.field("gas"); {
	case isOff(a.Typed, in):
		set.GasOff = true
	case a.Typed != "":
		p, err := unit.ParseGauge(withUnit(calc.Typed(in, a.Typed), a.Unit))
		a.Error, set.Gas = refused(in, err), &p
	}
	return set, !t.Bad()
}

// gasOff are the words for no gas from the cylinder.
var gasOff = []wording.Text{"off", "none"}

// isOff tells whether somebody typed one of them, in their language or in English.
func isOff(typed string, in *wording.Tongue) bool {
	return slices.ContainsFunc(gasOff, func(w wording.Text) bool {
		return strings.EqualFold(typed, string(w)) || strings.EqualFold(typed, in.Word(w))
	})
}

// stillPlanned are the steps of the plan that lie ahead.
func (v *vesselView) stillPlanned() []batch.Step {
	return advice.StillPlanned(&v.Seen.State.Record.Batch, v.Seen.State.Log, v.Seen.Told.Forecast, v.Now)
}

// stepWords is a step of the plan in words.
func (v *vesselView) stepWords(step batch.Step) string {
	if !step.AtSet {
		return report.WaitWords(step, v.Style)
	}
	return v.when(v.Seen.State.Record.After(step.At)) + ": " + report.SettingWords(step.Set, v.Style)
}

// compare runs the plan, and a change from so long after pitching on, from where the vessel stands.
func (s *Site) compare(r *http.Request, v *vesselView, set batch.Setting, from unit.Duration) error {
	b := &v.Seen.State.Record.Batch
	run := func(steps []batch.Step, span unit.Duration) (*estimate.Ahead, error) {
		return s.watch.Try(r.Context(), v.Seen.ID, steps, span)
	}
	c, err := advice.Compare(run, b, v.Seen.State.Log, v.Seen.Told.Forecast, set, from, v.Now.In(b.Pitched.Location()), v.Style)
	if err != nil {
		return err
	}
	v.Try.Said, v.Try.Says, v.Try.Rows = &c.If, c.Says, c.Rows
	v.Try.Drawn = &report.Tried{Label: v.Style.Say("if %s", report.SettingWords(set, v.Style)), Series: &c.Changed.Series}
	return nil
}

// offer leads to a change that may help, filled in; nil where none is worth trying.
func (v *vesselView) offer() *works {
	rec := v.Seen.State.Record
	set, words, ok := advice.Offer(&rec.Batch, v.Seen.State.Log, v.Upkeep, v.Seen.Told.Forecast, v.local(), v.Style)
	if !ok {
		return nil
	}
	q := url.Values{"from": {tryHours[0].Value}}
	if set.Hold != nil {
		q.Set("hold", v.Style.Temperature(*set.Hold, 0))
	}
	if set.Gas != nil {
		q.Set("gas", v.Style.Pressure(*set.Gas, 0))
	}
	return &works{words, v.Path() + "?" + q.Encode() + "#try"}
}
