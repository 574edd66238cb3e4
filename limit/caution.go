package limit

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"spile/unit"
	"spile/wording"
)

// Key names a caution of the catalogue.
type Key string

// cautions is the one place where the words of danger stand. Names in braces are
// filled in by Fill. Sentences are made to be read aloud, and say what to do first.
var cautions = map[Key]wording.Text{
	"c.open":      "Before you open: gas off at the cylinder, let all pressure out, gauge at zero, ring pulled and silent. A gauge can stick. Trust the silence.",
	"c.lid":       "At {p} this lid pushes with about {force} kg.",
	"c.over":      "Pressure is above the valve setting and rising. Keep faces away. Do not undo anything. See Something is wrong.",
	"c.valve":     "Never plug, tape or screw down a valve. Never set the working valve above {limit}.",
	"c.test":      "Test for leaks with the vessel full of water, so that little gas is inside. Only carbon dioxide through a regulator, never an air compressor.",
	"c.regulator": "Knob backed off first. Open the cylinder slowly, face to the side. Then set the pressure.",
	"c.unscrew":   "Before you unscrew the regulator: cylinder shut, its gas let out, both dials at zero.",
	"c.cylinder":  "Upright, tied, out of the sun, never loose in a shut car.",
	"c.room":      "Carbon dioxide has no smell. Headache, dizzy, short of breath: get out, leave the door open, stay out.",
	"c.fridge":    "Gas gathers in a shut fridge. Open the door, stand back, then work. Never put your head in a chest fridge.",
	"c.sleep":     "Someone sleeps in this room. Ferment elsewhere, or lead the gas outdoors and fit an alarm.",
	"c.rescue":    "Someone is down in there: do not go in. Call the emergency number, open doors from outside.",
	"c.wort":      "A swollen, leaking or odd-smelling pack: do not taste it, do not use it. Ask the shop.",
	"c.today":     "Add the yeast the day the pack is opened. Wort without yeast does not keep.",
	"c.lift":      "{volume} weighs about {weight} with the vessel. Fill it where it will stand, or lift with two.",
	"c.mains":     "Dry hands before plugs, belt or fridge. Use a socket with a residual-current switch (RCD, GFCI).",
	"c.hot":       "Nothing hotter than {limit} in this vessel. Heat weakens it.",
	"c.clean":     "Gloves and goggles. Acid into water, never water into acid. Never mix cleaners, never with chlorine.",
	"c.sealed":    "Never shut the vessel on a cleaner. It can burst it or suck it in.",
	"c.eye":       "In the eye or on the skin: rinse with running water for 15 minutes, then get help.",
	"c.frozen":    "Ice inside: gas off, do not tap, do not heat. Let it thaw, then have the vessel checked before pressure.",
	"c.car":       "Before a journey: gas off, pressure let down to {p}, working valve free, vessel upright and tied, windows open.",
	"c.warm":      "At {temp} this reaches {p}. Weakest part {limit}.",
	"c.age":       "This vessel is due for its check ({date}). Until then, no pressure.",
	"c.drink":     "For adults. Do not drive. Local guidance on alcohol comes first.",
	"c.minor":     "Samples are for adults to taste. Others may read, weigh and smell.",
	"c.glass":     "Glass and thin-walled plastic carboys never hold pressure: they can burst.",
	"c.held":      "Under pressure. A bottle that is not made for it can burst.",
	"c.works":     "It still works and makes more gas. Leave it in its vessel until it is finished.",
	"c.unproved":  "No passed leak test of this vessel is written down. Do not leave it alone with the cylinder open.",
	"c.plate":     "The maker's plate and local rules come first.",

	// One for each finding.
	"l.over-rating":                     "Pressure {value} is at or above the rating {limit}. Keep faces away. Do not undo anything. See Something is wrong.",
	"l.over-rating.plan":                "This would reach {value}. The weakest part allows {limit}. Do not do it.",
	"l.over-safety-valve":               "Pressure {value} is at or above the safety valve's setting {limit}. Keep faces away. See Something is wrong.",
	"l.pressure-unknown":                "The pressure is not known. Read the gauge before anything else.",
	"l.rating-unknown":                  "No rating known, so no pressure advice. Look for a plate, a moulded mark or the maker's sheet.",
	"l.safety-valve-unknown":            "No safety valve known. Fit one before gas goes in, set no higher than the rating.",
	"l.safety-valve-high":               "The safety valve opens at {value}, above the rating {limit}. Have the right one fitted before gas goes in.",
	"l.over-safety-valve.plan":          "This would reach {value}, where the safety valve opens ({limit}). Do not do it.",
	"l.working-valve-over-rating":       "The working valve is set to {value}. Set it below the rating {limit}. Never plug, tape or screw down a valve.",
	"l.working-valve-over-safety-valve": "The working valve is set to {value}. Set it below {limit}, where the safety valve opens.",
	"l.regulator-over-rating":           "The regulator is set to {value}. Back it off below the rating {limit}.",
	"l.regulator-over-safety-valve":     "The regulator is set to {value}. Back it off below {limit}, where the safety valve opens.",
	"l.gas-near-rating":                 "Over this gas the working valve would stand at {value}. The rating is {limit}. Set the gas lower.",
	"l.gas-near-safety-valve":           "Over this gas the working valve would stand at {value}. The safety valve opens at {limit}. Set the gas lower.",
	"l.value-unknown":                   "What to compare with {limit} is not known, and counts as too high.",
	"l.worst-case":                      "Worst case {value}, if the working valve sticks. Weakest part {limit}. See that the safety valve is free.",
	"l.worst-case.unguarded":            "Worst case {value}, if the working valve sticks. Weakest part {limit}. Fit a safety valve set no higher.",
	"l.regulator-failure":               "If the regulator fails open it reaches {value}. Weakest part {limit}. See that the safety valve is free.",
	"l.regulator-failure.unguarded":     "If the regulator fails open it reaches {value}. Weakest part {limit}. Fit a safety valve set no higher.",
	"l.pulls-in":                        "The vessel pulls in. Stop the cold. Gas on, low, a little at a time. Do not open the lid.",
	"l.would-pull-in":                   "Gas on first, then the cold. Without gas the vessel would pull in on itself.",
	"l.headspace-small":                 "Gas space {value} at the warmest. Leave at least {limit}, or the liquid itself can burst the vessel.",
	"l.freezing":                        "It may freeze: {value}, and ice begins at {limit}. Set the cold higher. Ice can break the vessel.",
}

// Caution gives the words under key. It panics on a key that is not in the
// catalogue: that is a mistake of the program, not of its input.
func Caution(key Key) wording.Text {
	text, ok := cautions[key]
	if !ok {
		panic("limit: no caution " + string(key))
	}
	return text
}

// Keys lists the catalogue in order.
func Keys() []Key { return slices.Sorted(maps.Keys(cautions)) }

// Say says the words under key in the language of a style, with the slots filled:
// Say(style, "c.warm", "temp", "40 °C", ...). It panics if a slot stays empty.
func Say(style unit.Style, key Key, slots ...string) string {
	return style.Tongue.Fill(Caution(key), slots...)
}

// Lift is the caution of lifting so much beer, the mass that of the vessel with it: to the litre and the kilogram, or about
// as fine in other units.
func Lift(style unit.Style, beer unit.Volume, all unit.Mass) string {
	return Say(style, "c.lift", "volume", style.Volume(beer, 2*unit.Litre), "weight", style.Mass(all, 2*unit.Kilogram))
}

// Units is how the numbers of a caution are written.
type Units struct {
	Style       unit.Style // whose language it is
	Pressure    func(unit.Gauge) string
	Most        func(unit.Gauge) string // a limit, rounded down: what is said is never above what is allowed
	Temperature func(unit.Temperature) string
}

// mostPressure is beyond what is worth a number: no vessel here stands a tenth of it.
const mostPressure unit.Gauge = 100 * unit.Bar

// Bounded writes a pressure, or that it is beyond all measure.
func Bounded(style unit.Style, g unit.Gauge, write func(g, band unit.Gauge) string) string {
	if !(g < mostPressure) {
		return style.Say("over %s", write(mostPressure, 0))
	}
	return write(g, 0)
}

// In writes the numbers of a caution in somebody's style.
func In(style unit.Style) Units {
	return Units{
		Style:       style,
		Pressure:    func(g unit.Gauge) string { return Bounded(style, g, style.Pressure) },
		Most:        style.Limit,
		Temperature: func(t unit.Temperature) string { return style.Temperature(t, 0) },
	}
}

// Sentence says the finding in plain words, what to do included.
func (f Finding) Sentence(u Units) string {
	switch f.Kind {
	case OpenUnderGas:
		if f.Force.Known && f.Force.SI > 0 {
			kg := f.Force.SI / unit.StandardGravity
			return Say(u.Style, "c.lid", "p", f.show(f.Value, u), "force", fmt.Sprintf("%.0f", kg)) + " " + Say(u.Style, "c.open")
		}
		return Say(u.Style, "c.open")
	case WasFrozen:
		return Say(u.Style, "c.frozen")
	case CheckDue:
		date := u.Style.Word("overdue")
		if f.Value.Known {
			date = u.Style.Time(time.Unix(int64(f.Value.SI), 0).UTC(), "2 January 2006")
		}
		return Say(u.Style, "c.age", "date", date)
	}
	return Say(u.Style, f.key(), "value", f.show(f.Value, u), "limit", f.showLimit(u))
}

// key picks the words: a plan is refused, a pressure that is there is got away from,
// and what is not known is asked for.
func (f Finding) key() Key {
	key := Key("l." + string(f.Kind))
	switch {
	case f.Quantity != Pressure || f.Kind == PullsIn || f.Kind == WouldPullIn:
		return key
	case !f.Limit.Known && strings.HasSuffix(string(f.Kind), "safety-valve"):
		return "l.safety-valve-unknown"
	case !f.Limit.Known && f.Kind != SafetyUnknown && f.Kind != PressureUnknown:
		return "l.rating-unknown"
	case f.Limit.Known && !f.Value.Known && f.Kind != PressureUnknown:
		return "l.value-unknown"
	case f.From == Plan && (f.Kind == OverRating || f.Kind == OverSafety):
		return key + ".plan"
	case f.Severity == Today && (f.Kind == WorstCase || f.Kind == RegulatorFailure):
		return key + ".unguarded" // nothing that could be free or not
	}
	return key
}

// Sentences says all findings, each sentence once, in their order.
func Sentences(found []Finding, u Units) []string {
	var said []string
	for _, f := range found {
		if s := f.Sentence(u); !slices.Contains(said, s) {
			said = append(said, s)
		}
	}
	return said
}

func (f Finding) showLimit(u Units) string {
	if f.Quantity == Pressure && f.Limit.Known {
		return u.Most(unit.Gauge(f.Limit.SI))
	}
	return f.show(f.Limit, u)
}

func (f Finding) show(n Number, u Units) string {
	if !n.Known {
		return u.Style.Word("(not known)")
	}
	switch f.Quantity {
	case Share:
		return fmt.Sprintf("%.0f %%", n.SI*100)
	case Temperature:
		return u.Temperature(unit.Temperature(n.SI))
	default:
		return u.Pressure(unit.Gauge(n.SI))
	}
}
