package batchfile

import (
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"spile/batch"
	"spile/unit"
	"spile/wording"
	"spile/yeast"
)

// DecodeBatch reads BATCH.yaml, or the same as JSON. file is the name that
// refusals print. Every key is checked at every depth.
func DecodeBatch(file string, r io.Reader) (*batch.Batch, error) {
	data, err := io.ReadAll(io.LimitReader(r, maxBatchBytes+1))
	if err != nil {
		return nil, fmt.Errorf("read %s: %w", file, err)
	}
	root, err := tree(file, []byte(strings.TrimPrefix(string(data), "\ufeff")))
	if err != nil {
		return nil, err
	}
	d := &decoder{file: file}
	b := &batch.Batch{}
	fill(d, root, b, batchFields)
	if d.err == nil {
		d.agree(root, b)
	}
	if d.err != nil {
		return nil, d.err
	}
	return b, nil
}

// decoder keeps the first thing that did not fit.
type decoder struct {
	file    string
	pitched time.Time
	err     *Refusal
}

func (d *decoder) refuse(line int, read, accepted string) {
	if d.err == nil {
		d.err = &Refusal{d.file, line, read, accepted}
	}
}

// field is one key of a mapping and how it fills a record.
type field[T any] struct {
	name     string
	required bool
	set      func(d *decoder, n *node, to *T)
}

// fill reads a mapping: unknown keys first, then what is missing, then the values in file order.
func fill[T any](d *decoder, n *node, to *T, fields []field[T]) {
	if n.kind != mapping {
		d.refuse(n.line, fmt.Sprintf("%s without keys of its own", n.key), "accepted: "+strings.Join(names(fields), ", "))
		return
	}
	for _, f := range n.fields {
		if !known(f.name(), fields) {
			d.refuse(f.line, "unknown key "+quoted(f.key), unknownWord(f.name(), names(fields)))
			return
		}
	}
	for _, f := range fields {
		if f.required && n.get(f.name) == nil {
			d.refuse(n.line, "no "+strings.TrimPrefix(n.key+"."+f.name, ".")+" in the file", "add it, as "+example(f.name))
			return
		}
	}
	for _, f := range fields {
		if v := n.get(f.name); v != nil && d.err == nil {
			f.set(d, v, to)
		}
	}
}

func names[T any](fields []field[T]) []string {
	out := make([]string, len(fields))
	for i, f := range fields {
		out[i] = f.name
	}
	return out
}

func known[T any](name string, fields []field[T]) bool {
	for _, f := range fields {
		if f.name == name {
			return true
		}
	}
	return false
}

// text is the scalar a key holds.
func (d *decoder) text(n *node) string {
	if n.kind != scalar || n.text == "" {
		d.refuse(n.line, n.key+" without a value", "accepted: "+example(n.name()))
		return ""
	}
	return n.text
}

// span is what a quantity may be, in SI, and how that is written, in a file with more behind it.
type span struct {
	low, high float64
	words     wording.Sentence
	more      string
}

func (s span) String() string { return s.words.String() + s.more }

// quantity reads a scalar with its unit, within what can be meant.
func quantity[T ~float64](d *decoder, n *node, parse func(string) (T, error), within span) T {
	s := d.text(n)
	if d.err != nil {
		return 0
	}
	v, err := parse(s)
	if err != nil {
		d.refuse(n.line, n.key+" "+quoted(s)+problem(err), "accepted: "+within.String()+", as "+example(n.name())+suggestion(err))
		return 0
	}
	if x := float64(v); math.IsNaN(x) || x < within.low || x > within.high {
		d.refuse(n.line, n.key+" "+s, "accepted: "+within.String()+", as "+example(n.name()))
	}
	return v
}

// problem is what package unit found wrong, in words.
func problem(err error) string {
	var bad *unit.ParseError
	if errors.As(err, &bad) {
		return ": " + bad.Problem.String()
	}
	return ""
}

// suggestion is what package unit thinks was meant.
func suggestion(err error) string {
	var bad *unit.ParseError
	if errors.As(err, &bad) && bad.Suggestion != "" {
		return ". Did you mean " + bad.Suggestion + "?"
	}
	return ""
}

const withUnit = " with its unit"

// What a batch file may hold. The bounds are what a person could mean, not what is safe.
var (
	spanWort       = span{0.1 * unit.Litre, 2000 * unit.Litre, fromTo("0.1 L", "2000 L"), withUnit}
	spanCapacity   = span{0.2 * unit.Litre, 4000 * unit.Litre, fromTo("0.2 L", "4000 L"), withUnit}
	spanDiameter   = span{1 * unit.Centimetre, 3, fromTo("1 cm", "3 m"), withUnit}
	spanOriginal   = span{1.005, 1.2, wording.Unsaid("%s to %s (or degrees Plato, as 11.4 P)", "1.005", "1.200"), ""}
	spanGravity    = span{0.98, 1.2, fromTo("0.980", "1.200"), ""}
	spanYeast      = span{0.1 * unit.Gram, 100, fromTo("0.1 g", "100 kg"), withUnit}
	spanShare      = span{0.3, 1, fromTo("30 %", "100 %"), ""}
	spanRating     = span{0.05 * unit.Bar, 20 * unit.Bar, fromTo("0.05 bar", "20 bar"), withUnit + "; leave it out where it is not known"}
	spanSetting    = span{0, 10 * unit.Bar, fromTo("0 psi", "10 bar"), withUnit}
	spanAir        = span{243.15, 333.15, fromTo("-30 C", "60 C"), withUnit}
	spanBeer       = span{268.15, 318.15, fromTo("-5 C", "45 C"), withUnit}
	spanAltitude   = span{-500, 6000, fromTo("-500 m", "6000 m"), withUnit}
	spanPower      = span{0, 5000, fromTo("0 W", "5000 W"), withUnit}
	spanCylinder   = span{0, 200, fromTo("0 kg", "200 kg"), withUnit}
	spanVolumes    = span{0, 6, fromTo("0", "6 volumes"), ""}
	spanLeak       = span{0, 1 * unit.Kilogram / unit.Hour, fromTo("0 g/day", "24 kg/day"), withUnit}
	spanHours      = span{0, 3 * 365 * unit.Day, fromTo("0 h", "three years"), withUnit}
	spanBitterness = span{0, 300, fromTo("0 IBU", "300 IBU"), ""}
)

// examples show one accepted value for each key.
var examples = map[string]string{
	"name": "name: Sluice Gate Pale, third", "pitched": "pitched: 2026-11-20T18:30:00+01:00",
	"wort": "wort: {volume: 20 L, gravity: 1.046, bitterness: 28 IBU}", "volume": "volume: 20 L", "gravity": "gravity: 1.046", "bitterness": "bitterness: 28 IBU",
	"yeast": "yeast: {kind: ale, form: dry, mass: 11.5 g, attenuation: 77 %}", "kind": "kind: ale", "form": "form: dry", "mass": "mass: 11.5 g", "attenuation": "attenuation: 77 %",
	"vessel": "vessel: {capacity: 26 L, diameter: 0.30 m, rating: 2.5 bar, safety_relief: 2.2 bar}", "capacity": "capacity: 26 L", "diameter": "diameter: 0.30 m", "rating": "rating: 2.5 bar", "safety_relief": "safety_relief: 2.2 bar",
	"place": "place: {ambient: 16 C, altitude: 40 m}", "ambient": "ambient: 16 C", "altitude": "altitude: 40 m", "fridge": "fridge: {coldest: 1 C}", "coldest": "coldest: 1 C", "belt": "belt: 30 W",
	"gas": "gas: {cylinder: 2.6 kg, content: 1.9 kg} (in a step: gas: 10 psi, or gas: off)", "cylinder": "cylinder: 2.6 kg", "content": "content: 1.9 kg",
	"target": "target: {co2: 2.5 volumes, temperature: 3 C}", "co2": "co2: 2.5 volumes", "temperature": "temperature: 3 C", "ready": "ready: 2026-12-04T18:00:00+01:00",
	"programme": "programme: [{at: pitch, hold: 20 C, relief: 10 psi}]", "at": "at: pitch, at: 96 h, or at: 2026-11-24T18:30:00+01:00", "when": "when: gravity <= 1.014, when: finished for 24 h, or when: carbonated",
	"hold": "hold: 20 C", "relief": "relief: 10 psi", "action": "action: dry hop 60 g",
	"faults": "faults: {leak: 10 g/day, relief: stuck}", "leak": "leak: 10 g/day", "rate": "rate: 10 g/day",
}

func example(name string) string { return examples[name] }

// agree checks what single keys cannot: whether the parts fit together.
func (d *decoder) agree(root *node, b *batch.Batch) {
	if b.Wort.Volume >= b.Vessel.Capacity {
		at := root.get("wort").get("volume")
		d.refuse(at.line, fmt.Sprintf("%s of wort into a vessel of %s", at.text, root.get("vessel").get("capacity").text),
			"less wort than the vessel holds is accepted, with room for foam")
	}
	if b.Gas != nil && b.Gas.Content > b.Gas.Cylinder {
		at := root.get("gas").get("content")
		d.refuse(at.line, fmt.Sprintf("%s of gas in a cylinder for %s", at.text, root.get("gas").get("cylinder").text), "at most what the cylinder holds is accepted")
	}
	if b.Target != nil && !b.Target.Ready.IsZero() && b.Target.Ready.Before(b.Pitched) {
		at := root.get("target").get("ready")
		d.refuse(at.line, "ready "+at.text+", before the yeast went in", "a time after pitched is accepted")
	}
}

func (d *decoder) time(n *node) time.Time {
	s := d.text(n)
	t, err := time.Parse(time.RFC3339, s)
	if err != nil {
		d.refuse(n.line, n.key+" "+quoted(s), "accepted: a date and time with its zone, as 2026-11-20T18:30:00+01:00")
		return t
	}
	if t.Year() < 1970 || t.Year() > 2200 {
		d.refuse(n.line, n.key+" "+quoted(s), "accepted: years 1970 to 2200")
	}
	return t
}

// oneOf reads a scalar that is one of a few words.
func (d *decoder) oneOf(n *node, accepted []string) string {
	s := d.text(n)
	for _, a := range accepted {
		if strings.EqualFold(s, a) {
			return a
		}
	}
	if d.err == nil {
		d.refuse(n.line, n.key+" "+quoted(s), unknownWord(s, accepted))
	}
	return ""
}

var yeastKinds = []string{string(yeast.Ale), string(yeast.CleanAle), string(yeast.Lager), string(yeast.WarmFarmhouse)}

var yeastForms = []string{"dry", "liquid", "slurry"}
