package advice

import (
	"maps"
	"slices"

	"spile/limit"
	"spile/unit"
	"spile/wording"
)

// texts is the one place where advice takes its words from. Names in braces are
// slots, filled with numbers that carry their unit. Cautions stand in package limit.
var texts = map[string]wording.Text{
	"now.sentence":  "Now {gravity}, between {lo} and {hi}. It began at {og} and should end near {fg}.",
	"now.strength":  "{abv} alcohol so far, between {lo} and {hi}.",
	"now.gas":       "{volumes} of gas in the beer.",
	"now.pressure":  "Pressure {p}, between {lo} and {hi}. Temperature {temp}.",
	"now.age":       "From your reading {ago}.",
	"now.noreading": "No reading yet: this is what such a batch usually does.",
	"now.finish":    "Fermented out: {odds}.",

	"waiting":       "Leave the lid on. No gas yet is normal until {time}.",
	"still nothing": "Check the lid seal, then the temperature. Add no more yeast before {time}.",
	"hiss":          "A hiss from the working valve is gas leaving. That is its job.",
	"working":       "It is working. Nothing to do until {time}. Glance at the gauge when you pass.",
	"slowing":       "It is slowing down. Nothing to do until {time}. Glance at the gauge when you pass.",
	"foam":          "Foam is near the valve. Cool it {deg} and keep faces away from the lid.",
	"too cold":      "It is too cold to finish. Set {temp}.",
	"stuck":         "It stopped early, at {gravity}. Warm it to {temp} and wait two days before anything else.",
	"stuck warm":    "It stopped early, at {gravity}. Hold it at {temp}, rouse nothing, and sample again in two days.",
	"finished":      "Finished: {odds}. At most {points} is left.",
	"finished some": "Finished: {odds}. At most {points} are left.",
	"two equal":     "Two equal readings, but {points} may be left. Take one more {day}.",
	"before cold":   "Gas on at {set} first, then the cold. Without gas the vessel would pull in on itself.",
	"drain":         "Set the working valve to {set} or more. Lower, it lets out the gas you pay for.",
	"late":          "It will not be ready by {time}.",
	"late earliest": "Earliest sensible: {time}.",
	"cool":          "Set the cold to {temp}. Leave the gas on at {set}.",
	"cool alone":    "Before any cold, connect gas. Without gas the vessel would pull in on itself.",
	"cooling":       "It is cooling. Leave the gas on. It should be cold {time}.",
	"cooling alone": "It is cooling. Read the gauge: it must stay above zero.",
	"taking gas":    "Good to drink now, and still taking gas. Carbonated {time}.",
	"first glass":   "Pour the first {ml} away. Yeast has settled at the bottom.",
	"pouring":       "Nothing to do but pour. About {litres} of beer left.",
	"empty":         "Let the pressure out, then clean it today.",
	"leak":          "It is losing about {n} a day. Brush soapy water on every joint and look for bubbles.",
	"odd":           "That does not fit. It is kept, not trusted yet. Read it once more.",
	"disagree":      "Gauge and Spile disagree. Act on the higher of the two.",
	"old":           "This is from {ago}. Read the gauge before you act on it.",
	"too little":    "Too little to go on. {reading} would help most.",
	"best":          "One reading would settle it: {instrument}, {time}. Others would tell you little.",
	"best forced":   "One small sample would settle it: ferment it out in the warm for two days, then read it.",
	"no more":       "No more samples needed before {time}. The gauge is still worth a glance.",
	"step relief":   "Set the working valve to {set}.",
	"step hold":     "Set the temperature to {temp}.",
	"step room":     "Leave it where the air is about {temp}.",
	"step gas":      "Turn the gas on at {set}.",
	"step gas off":  "Turn the gas off at the cylinder.",
	"step action":   "As planned: {action}.",
	"no rating":     "No rating known, so no pressure advice. Look for a plate, a moulded mark or the maker's sheet.",

	"moved":            "{what} moved from {before} to {after}.",
	"stays":            "{what} stays {time}.",
	"moved attenuated": "Nine tenths of the way",
	"moved finished":   "Finish",
	"moved cold":       "Cold",
	"moved carbonated": "Carbonation",
	"moved ready":      "Ready to pour",

	"why limit":      "A safety limit comes before everything else.",
	"why waking":     "Yeast needs a day or two before anything shows.",
	"why still":      "A seal that leaks hides the pressure. Cold slows the yeast.",
	"why working":    "{points} of sugar are still to ferment, and the yeast is at it.",
	"why foam":       "Foam can block a valve, and a blocked valve lets nothing out.",
	"why cold":       "Yeast of this kind works from {low} to {high}.",
	"why stuck":      "{points} of sugar are left and almost nothing moves.",
	"why finished":   "At the fastest it falls {rate} a day.",
	"why equal":      "Two equal readings cannot tell a finish from a pause.",
	"why gas":        "The beer drinks gas as it cools.",
	"why drain":      "Set near the gas, the valve can empty the cylinder.",
	"why taking":     "Still beer takes gas slowly. It has {volumes} of {target}.",
	"why ready":      "It is cold and carbonated as you wished.",
	"why leak":       "{odds} a leak: more gas is gone than valve and beer account for.",
	"why odd":        "{what} was read. Between {lo} and {hi} was expected.",
	"why old":        "Every hour without a reading makes this less sure.",
	"why little":     "Without a reading this is only what such batches usually do.",
	"why best":       "It would narrow the date of the finish by about {share}.",
	"why plan":       "It is the next step of your plan.",
	"why plan met":   "Your plan waits for {gravity} or less, and it is there.",
	"why pour":       "Each glass poured leaves room for gas.",
	"why empty":      "Dried beer is hard to get off, and gas may still be inside.",
	"why rating":     "A rating is never guessed.",
	"why more":       "{points} may still be left.",
	"glance working": "Glance at the gauge when you pass.",

	"find leak":         "It is losing about {n} a day.",
	"find relief":       "The working valve seems to open about {n} above its setting.",
	"find hydrometer":   "The hydrometer seems to read about {n} too {way}.",
	"find dial":         "The dial seems to read about {n} too {way}.",
	"find dial perhaps": "The dial may read about {n} too {way}. It cannot be told yet.",
	"find vent":         "About {n} of gas is missing since {time}. Did you let some out?",
	"find seal":         "The seal of the lid seems to hold only once pressure has seated it.",
	"find cold":         "It is too cold to finish.",
	"find tired":        "The yeast is slower than its kind usually is.",
	"find label":        "The first sample reads {n} too {way} for the label. Either may be off.",
	"find cannot":       "The readings cannot tell yet whether it has finished or stopped.",

	"settle leak":       "Brush soapy water on every joint. Read the gauge again tomorrow.",
	"settle relief":     "Read the gauge while the valve hisses.",
	"settle hydrometer": "Float it in clean water at its own temperature. It should read 1.000.",
	"settle dial":       "Read it once with no pressure on its line. It should show zero.",
	"settle vent":       "Say whether you let gas out: yes, no or not sure.",
	"settle seal":       "Brush soapy water on the lid seal.",
	"settle cold":       "Warm it by a few degrees. Read the gravity two days later.",
	"settle tired":      "Ferment a small sample out in the warm.",
	"settle cannot":     "Ferment a small sample out in the warm, or warm the vessel for two days.",

	"plan odds":        "{odds}, to be ready by {time}.",
	"plan best":        "With the best of these plans: {odds}, to be ready by {time}.",
	"plan earliest":    "Very likely ready, 85 %, by {time} at the earliest.",
	"plan never":       "No date within the days looked at is very likely.",
	"plan no gas":      "It takes next to no gas from the cylinder.",
	"plan gas":         "It takes about {gas} from the cylinder.",
	"plan highest":     "Highest pressure {p}.",
	"plan bare":        "It holds temperatures alone, and counts no gas.",
	"plan too much":    "{volumes} at {temp} need {p}. The weakest part allows a setting of {most}.",
	"plan fridge":      "The fridge reaches {coldest}. You wish for {temp}.",
	"plan likely":      "Most likely on time",
	"plan least-gas":   "Least gas from the cylinder",
	"plan gentle":      "Gentlest on the yeast",
	"plan earliest by": "Very likely ready soonest",
	"plan pitch":       "With the yeast",
	"plan now":         "Now",
	"plan gravity":     "At {gravity} or lower",
	"plan finished":    "Finished for {time}",
	"plan carbonated":  "Once carbonated",
	"plan gas back":    "Back the gas off to {set}.",
	"plan butter":      "Do the butter test first. Do you smell butter? Then wait two days more.",
	"plan warmer":      "{deg} warmer: {odds}.",
	"plan sooner":      "Cold a day sooner: {odds}.",
	"plan later":       "A day more to wait: {odds}.",

	"too much gas":      "Gas off at the cylinder. Let the pressure down {times}, with hours of rest between, then measure.",
	"too much gas some": "Gas off at the cylinder. Let a little pressure out each evening, then measure.",
	"why too much":      "It holds {volumes} where {wish} are wished for.",
	"gas short":         "The cylinder holds about {left}. This beer may still take {wanted}. Have gas at hand.",
	"why short":         "Carbonating and pouring both take gas.",

	"flag twice": "{what} is there twice, for {time}. It counts once.",
	"flag stuck": "{what} was shown without a change until {time}. Is the instrument stuck?",
	"flag early": "{what} is dated before the yeast went in. Is the clock right?",

	"label leak":      "Does it lose gas?",
	"leak yes":        "It loses about {n} a day: {odds}.",
	"leak no":         "It holds: at most {n} a day, nine times in ten.",
	"leak valve":      "That cannot be told yet: gas leaves through the working valve, and a leak beside it does not show.",
	"leak absorption": "That cannot be told yet: cold beer takes gas up, which looks just like a leak.",
	"leak silence":    "That cannot be told yet: nobody read the gauge.",
	"leak open":       "That cannot be told yet from so few readings of the gauge.",
	"leak settle":     "Two readings of the gauge a day apart would settle it, gas off and below the valve's setting.",

	"label proof":     "Proof by gauge",
	"proof quiet":     "On {time} the gauge proved it quiet: at most {hi} a day.",
	"proof works":     "On {time} the gauge showed work: between {lo} and {hi} a day.",
	"proof cannot":    "On {time} the gauge could not tell: between {lo} and {hi} a day.",
	"proof opened":    "By {time} the gauge stood near the valve's setting. It is not finished, or cannot be proved so.",
	"proof unsettled": "Before {time} the beer was still giving gas back. Wait until the gauge stands, then begin again.",
	"proof limit":     "The least fall that such a test finds is {limit} a day.",
	"proof net":       "A leak would hide work.",
	"label quiet":     "Proof by gauge, without a sample",
	"quiet once":      "Let the pressure down from {from} to {to}. Wait some hours, until the gauge stands.",
	"quiet often":     "Let it down from {from} {times}, with hours of rest between. The last time to {to}.",
	"quiet as it is":  "The pressure is low enough as it is. Read the gauge now and {time} later.",
	"quiet then":      "Then read the gauge, and once more {time} later, with the temperature.",
	"quiet valve":     "Leave the working valve as it is. If it hisses before the second reading, it is not finished.",
	"quiet no room":   "The working valve opens too low for a test by gauge. Take a sample.",
	"label own":       "Gas of its own",
	"own set":         "For {wish}, set the working valve to {set}.",
	"own capped":      "For {wish} it needs more than the plates allow. {set} is the most.",
	"own ends":        "Chilled shut to {temp}, it would hold between {lo} and {hi}.",
	"own odds":        "The last points alone fill it to that setting: {odds}.",
	"label chill":     "If chilled shut, as it is now",
	"chill ends":      "At {temp} it would end between {lo} and {hi}.",
	"chill pulls":     "It pulls in: {odds}.",
	"chill takes":     "For {wish} it takes about {gas} of gas, and {set} at rest.",

	"worst":            "Worst case {value}, with the working valve stuck at {temp}. The weakest part is rated {limit}.",
	"worst norating":   "Worst case {value}, with the working valve stuck at {temp}. No rating known.",
	"worst regulator":  "If the regulator fails fully open: {value}.",
	"ahead band":       "between {lo} and {hi}, nine times in ten",
	"ahead open":       "from {lo} on; the late edge lies beyond the days looked at",
	"ahead odds":       "{odds} by {time}",
	"ahead never":      "{odds} within the days looked at",
	"ahead past":       "behind it, {time}",
	"label attenuated": "Nine tenths done",
	"label finished":   "Finished fermenting",
	"label cold":       "Cold",
	"label carbonated": "Carbonated",
	"label ready":      "Ready to pour",
}

// Keys lists the catalogue in order.
func Keys() []string { return slices.Sorted(maps.Keys(texts)) }

// Text is the sentence under key with its slots unfilled.
func Text(key string) wording.Text { return texts[key] }

// say fills a sentence. It panics on a key that is missing or a slot that stays
// empty: both are mistakes of the program, not of its input.
func (v *view) say(key string, slots ...string) string { return sayIn(v.style, key, slots...) }

func sayIn(style unit.Style, key string, slots ...string) string {
	text, ok := texts[key]
	if !ok {
		panic("advice: no text " + key)
	}
	return style.Tongue.Fill(text, slots...)
}

// caution says words of danger, as limit.Say.
func (v *view) caution(key limit.Key, slots ...string) string {
	return limit.Say(v.style, key, slots...)
}
