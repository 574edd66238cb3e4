package batchfile

import (
	"strings"

	"spile/batch"
	"spile/unit"
	"spile/yeast"
)

// The keys of BATCH.yaml, in the order in which they are read: pitched before
// the programme, whose times count from it.
var batchFields = []field[batch.Batch]{
	{"name", true, func(d *decoder, n *node, b *batch.Batch) { b.Name = d.text(n) }},
	{"pitched", true, func(d *decoder, n *node, b *batch.Batch) { b.Pitched = d.time(n); d.pitched = b.Pitched }},
	{"wort", true, func(d *decoder, n *node, b *batch.Batch) { fill(d, n, &b.Wort, wortFields) }},
	{"yeast", true, func(d *decoder, n *node, b *batch.Batch) { fill(d, n, &b.Yeast, yeastFields) }},
	{"vessel", true, func(d *decoder, n *node, b *batch.Batch) { fill(d, n, &b.Vessel, vesselFields) }},
	{"place", true, func(d *decoder, n *node, b *batch.Batch) { fill(d, n, &b.Place, placeFields) }},
	{"gas", false, func(d *decoder, n *node, b *batch.Batch) { b.Gas = &batch.Gas{}; fill(d, n, b.Gas, gasFields) }},
	{"target", false, func(d *decoder, n *node, b *batch.Batch) {
		b.Target = &batch.Target{}
		fill(d, n, b.Target, targetFields)
	}},
	{"programme", false, func(d *decoder, n *node, b *batch.Batch) { b.Programme = d.programme(n) }},
	{"faults", false, func(d *decoder, n *node, b *batch.Batch) { b.Faults = d.faults(n) }},
}

var wortFields = []field[batch.Wort]{
	{"volume", true, func(d *decoder, n *node, w *batch.Wort) { w.Volume = quantity(d, n, unit.ParseVolume, spanWort) }},
	{"gravity", true, func(d *decoder, n *node, w *batch.Wort) { w.Gravity = quantity(d, n, parseGravity, spanOriginal) }},
	{"bitterness", false, func(d *decoder, n *node, w *batch.Wort) {
		w.Bitterness = float64(quantity(d, n, unit.ParseBitterness, spanBitterness))
	}},
}

var yeastFields = []field[batch.Yeast]{
	{"kind", true, func(d *decoder, n *node, y *batch.Yeast) { y.Kind = yeast.Kind(d.oneOf(n, yeastKinds)) }},
	{"form", false, func(d *decoder, n *node, y *batch.Yeast) { y.Form = d.oneOf(n, yeastForms) }},
	{"mass", false, func(d *decoder, n *node, y *batch.Yeast) { y.Mass = quantity(d, n, unit.ParseMass, spanYeast) }},
	{"attenuation", false, func(d *decoder, n *node, y *batch.Yeast) {
		y.Attenuation = quantity(d, n, unit.ParsePercent, spanShare)
	}},
}

var vesselFields = []field[batch.Vessel]{
	{"capacity", true, func(d *decoder, n *node, v *batch.Vessel) {
		v.Capacity = quantity(d, n, unit.ParseVolume, spanCapacity)
	}},
	{"diameter", true, func(d *decoder, n *node, v *batch.Vessel) {
		v.Diameter = quantity(d, n, unit.ParseLength, spanDiameter)
	}},
	{"rating", false, func(d *decoder, n *node, v *batch.Vessel) {
		v.Rating = pointer(quantity(d, n, unit.ParseGauge, spanRating))
	}},
	{"safety_relief", false, func(d *decoder, n *node, v *batch.Vessel) {
		v.SafetyRelief = pointer(quantity(d, n, unit.ParseGauge, spanRating))
	}},
}

var placeFields = []field[batch.Place]{
	{"ambient", true, func(d *decoder, n *node, p *batch.Place) { p.Ambient = quantity(d, n, unit.ParseTemperature, spanAir) }},
	{"altitude", true, func(d *decoder, n *node, p *batch.Place) { p.Altitude = quantity(d, n, unit.ParseLength, spanAltitude) }},
	{"fridge", false, func(d *decoder, n *node, p *batch.Place) {
		p.Fridge = &batch.Fridge{}
		fill(d, n, p.Fridge, fridgeFields)
	}},
	{"belt", false, func(d *decoder, n *node, p *batch.Place) { p.Belt = quantity(d, n, unit.ParsePower, spanPower) }},
}

var fridgeFields = []field[batch.Fridge]{
	{"coldest", true, func(d *decoder, n *node, f *batch.Fridge) {
		f.Coldest = quantity(d, n, unit.ParseTemperature, spanAir)
	}},
}

var gasFields = []field[batch.Gas]{
	{"cylinder", true, func(d *decoder, n *node, g *batch.Gas) { g.Cylinder = quantity(d, n, unit.ParseMass, spanCylinder) }},
	{"content", true, func(d *decoder, n *node, g *batch.Gas) { g.Content = quantity(d, n, unit.ParseMass, spanCylinder) }},
}

var targetFields = []field[batch.Target]{
	{"co2", false, func(d *decoder, n *node, t *batch.Target) { t.CO2 = quantity(d, n, unit.ParseVolumes, spanVolumes) }},
	{"temperature", false, func(d *decoder, n *node, t *batch.Target) {
		t.Temperature = quantity(d, n, unit.ParseTemperature, spanBeer)
	}},
	{"ready", false, func(d *decoder, n *node, t *batch.Target) { t.Ready = d.time(n) }},
}

var stepFields = []field[batch.Step]{
	{"at", false, func(d *decoder, n *node, s *batch.Step) { s.At, s.AtSet = d.moment(n), true }},
	{"when", false, func(d *decoder, n *node, s *batch.Step) { s.When = d.condition(n) }},
	{"hold", false, func(d *decoder, n *node, s *batch.Step) {
		s.Set.Hold = pointer(quantity(d, n, unit.ParseTemperature, spanBeer))
	}},
	{"relief", false, func(d *decoder, n *node, s *batch.Step) {
		s.Set.Relief = pointer(quantity(d, n, unit.ParseGauge, spanSetting))
	}},
	{"gas", false, func(d *decoder, n *node, s *batch.Step) { d.gas(n, &s.Set) }},
	{"action", false, func(d *decoder, n *node, s *batch.Step) { s.Set.Action = d.text(n) }},
}

func pointer[T any](v T) *T { return &v }

// programme reads the list of steps, each with exactly one of at and when.
func (d *decoder) programme(n *node) []batch.Step {
	if n.kind == nothing {
		return nil
	}
	if n.kind != list {
		d.refuse(n.line, "programme that is not a list", "accepted: "+example("programme"))
		return nil
	}
	var steps []batch.Step
	for _, item := range n.items {
		s := batch.Step{Line: item.line}
		fill(d, item, &s, stepFields)
		if d.err != nil {
			return nil
		}
		switch {
		case s.AtSet == (s.When.Kind != batch.NoCondition):
			d.refuse(item.line, "a step with "+either(s.AtSet, "both at and when", "neither at nor when"), "exactly one is accepted: "+example("at")+", or "+example("when"))
		case s.Set == (batch.Setting{}):
			d.refuse(item.line, "a step that sets nothing", "accepted: hold, relief, gas or action")
		}
		steps = append(steps, s)
	}
	return steps
}

func either(yes bool, a, b string) string {
	if yes {
		return a
	}
	return b
}

// moment reads "pitch", a time, or hours since pitching.
func (d *decoder) moment(n *node) unit.Duration {
	s := d.text(n)
	if strings.EqualFold(s, "pitch") {
		return 0
	}
	if len(s) > 10 && s[4] == '-' {
		at := d.time(n).Sub(d.pitched).Seconds()
		if d.err == nil && (at < 0 || at > spanHours.high) {
			d.refuse(n.line, n.key+" "+s, "accepted: a time from pitching to three years after it")
		}
		return unit.Duration(at)
	}
	v, err := unit.ParseDuration(s)
	if err != nil || !(v >= 0 && float64(v) <= spanHours.high) {
		d.refuse(n.line, n.key+" "+quoted(s), "accepted: "+example("at"))
	}
	return v
}

// condition reads what a step waits for.
func (d *decoder) condition(n *node) batch.Condition {
	s := d.text(n)
	words := strings.Fields(strings.ReplaceAll(s, "<=", " <= "))
	refuse := func() batch.Condition {
		d.refuse(n.line, n.key+" "+quoted(s), "accepted: "+example("when"))
		return batch.Condition{}
	}
	switch {
	case len(words) == 1 && words[0] == "carbonated":
		return batch.Condition{Kind: batch.Carbonated}
	case len(words) == 3 && words[0] == "gravity" && words[1] == "<=":
		g, err := parseGravity(words[2])
		if err != nil || !(float64(g) >= spanGravity.low && float64(g) <= spanGravity.high) {
			return refuse()
		}
		return batch.Condition{Kind: batch.GravityAtMost, Gravity: g}
	case len(words) >= 3 && words[0] == "finished" && words[1] == "for":
		v, err := unit.ParseDuration(strings.Join(words[2:], " "))
		if err != nil || !(v >= 0 && float64(v) <= spanHours.high) {
			return refuse()
		}
		return batch.Condition{Kind: batch.FinishedFor, For: v}
	}
	return refuse()
}

// gas reads the regulator's setting, or off.
func (d *decoder) gas(n *node, s *batch.Setting) {
	if strings.EqualFold(n.text, "off") {
		s.GasOff = true
		return
	}
	s.Gas = pointer(quantity(d, n, unit.ParseGauge, spanSetting))
}

// Faults are a mapping, or a list of mappings each with the time from which it holds:
// faults: {leak: 10 g/day, relief: stuck} or faults: [{at: 48 h, relief: stuck}].
func (d *decoder) faults(n *node) []batch.Fault {
	switch n.kind {
	case nothing:
		return nil
	case list:
		var out []batch.Fault
		for _, item := range n.items {
			out = append(out, d.faultsOf(item)...)
		}
		return out
	}
	return d.faultsOf(n)
}

// faultWords are the ways in which a valve or regulator can fail.
var faultWords = map[string][]string{
	"relief":    {"stuck", "foamed shut", "open"},
	"regulator": {"stuck", "open"},
}

type planted struct {
	at    unit.Duration
	found []batch.Fault
}

var faultFields = []field[planted]{
	{"at", false, func(d *decoder, n *node, p *planted) { p.at = d.moment(n) }},
	{"leak", false, func(d *decoder, n *node, p *planted) {
		p.found = append(p.found, batch.Fault{Kind: "leak", Rate: quantity(d, n, unit.ParseMassRate, spanLeak), At: p.at})
	}},
	{"relief", false, setFault},
	{"regulator", false, setFault},
}

func setFault(d *decoder, n *node, p *planted) {
	p.found = append(p.found, batch.Fault{Kind: n.name(), How: d.oneOf(n, faultWords[n.name()]), At: p.at})
}

func (d *decoder) faultsOf(n *node) []batch.Fault {
	var p planted
	fill(d, n, &p, faultFields)
	if d.err == nil && len(p.found) == 0 && p.at > 0 {
		d.refuse(n.line, "a time without a fault", "accepted: "+example("faults"))
	}
	return p.found
}
