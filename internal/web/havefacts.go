package web

import (
	"spile/batch"
	"spile/dispense"
	"spile/limit"
	"spile/wording"
	"spile/yeast"
)

// kindOfThing is a kind of thing that a cellar has, with what is asked of it.
type kindOfThing struct {
	Is    string       // in the records
	Slug  string       // in addresses
	One   wording.Text // "a vessel"
	Many  wording.Text
	About wording.Text
	Care  []limit.Key // what to take care of with it
	Facts []fact
}

// fact is a question about a thing, and the key of its record that the answer fills.
type fact struct {
	key    string // of the record; behind a dot, of the object in it
	label  wording.Text
	hint   wording.Text
	what   wording.Text // what it is and where it is found
	care   limit.Key    // what to take care of; empty: nothing
	short  wording.Text // how it reads in a list, with the value for %s; empty: only on the thing's own page
	fig    *figure
	figOf  func(doc map[string]any) *figure // where it depends on what else is told
	day    bool                             // a day of the calendar
	choose func(c *batch.Cellar, t *wording.Tongue) []option
	many   bool
	need   bool         // no such thing without it
	cost   wording.Text // of not knowing; empty where it may simply stay empty
	none   wording.Text // of not having one
}

const (
	whatRating wording.Text = "The most pressure that the maker allows. It stands on the plate, as a moulded mark, or on the maker's sheet. The weakest part counts: lid, tap and hoses too."
	whatSafety wording.Text = "A small valve with a ring, set by the maker. It opens by itself before the vessel is in danger. Its setting is stamped on it."
	noRating   wording.Text = "No pressure rating known: then there is no pressure advice, and every limit counts as exceeded"
	noSafety   wording.Text = "There is none, or I cannot read its stamp: then its limit counts as exceeded"
)

// kindsOfThing are those of the page What I have, in the order in which they stand.
var kindsOfThing = []kindOfThing{
	{"vessel", "vessel", "a vessel", "Vessels", "What beer ferments in and is poured from.", nil, []fact{
		{key: "capacity_m3", label: "How much does it hold, to the brim?", what: "The whole volume, not the line to fill to. It stands on the plate or in the maker's sheet. Or fill it with water by the jug, once.", short: "%s", fig: vesselSize, need: true},
		{key: "diameter_m", label: "How wide is it inside?", what: "From wall to wall across the middle. A tape measure outside, less the wall, is near enough.", short: "%s wide", fig: vesselWidth, need: true},
		{key: "rating_pa", label: "Pressure rating of the weakest part", hint: "It is never guessed. Give its unit, as on the plate.", what: whatRating, care: "c.glass", short: "rated %s", fig: plateMark, cost: noRating},
		{key: "safety_relief_pa", label: "Setting of the safety valve", hint: "It is never guessed. Give its unit, as on the stamp.", what: whatSafety, short: "safety valve %s", fig: plateMark, none: noSafety},
		{key: "place", label: "Where does it stand?", choose: namesOf("place")},
		{key: "tare_kg", label: "What does it weigh empty, with its lid?", what: "Stand it on any scale before it is filled. With it the weight of the full vessel tells how much beer is left.", fig: bottleMass},
		{key: "built", label: "When was it made?", day: true},
		{key: "checked", label: "When were its seals and valves last checked?", day: true},
		{key: "due", label: "When is its next check due?", hint: "As its plate or your local rules say.", day: true},
	}},
	{"cylinder", "cylinder", "a cylinder", "Cylinders", "Bottles of carbon dioxide.", []limit.Key{"c.cylinder"}, []fact{
		{key: "capacity_kg", label: "How much gas does it hold when full?", what: "Stamped on the shoulder or printed on the label, in kilograms or pounds of carbon dioxide.", short: "%s when full", fig: gasMass, need: true},
		{key: "tare_kg", label: "What does it weigh empty?", what: "The tare, stamped on the shoulder, often behind the letters T or TW. With it a scale tells what is left.", short: "tare %s", fig: bottleMass},
		{key: "tested", label: "When was it last tested?", day: true},
		{key: "due", label: "When is its next test due?", hint: "As its stamp or your local rules say.", day: true},
	}},
	{"regulator", "regulator", "a regulator", "Regulators", "What brings the gas of a cylinder down to a set pressure.", []limit.Key{"c.regulator"}, []fact{
		{key: "cylinder", label: "Which cylinder is it on?", choose: namesOf("cylinder"), short: "on %s"},
		{key: "vessels", label: "Which vessels hang on it?", hint: "One regulator gives one pressure to all of them.", choose: namesOf("vessel"), many: true, short: "feeds %s"},
		{key: "check_valves", label: "Has each of them a check valve?", hint: "Without, gas and foam can run from the higher pressure to the lower.", choose: yesOrNo},
		{key: "set_pa", label: "What is it set to?", fig: knobMark, short: "set to %s"},
	}},
	{"line", "line", "a beer line", "Lines", "The tube from the vessel to the tap.", nil, []fact{
		{key: "length_m", label: "How long is it?", fig: lineLength, need: true, short: "%s long"},
		{key: "bore_m", label: "How wide is its bore?", what: "The hole, not the outside. It is often printed on the tube, as inner by outer diameter.", fig: lineBore, need: true, short: "bore %s"},
		{key: "tube", label: "What kind of tube is it?", choose: kindsOfTube},
	}},
	{"instrument", "instrument", "an instrument", "Instruments", "What you read with.", nil, []fact{
		{key: "reads", label: "What does it read?", choose: whatIsRead, need: true, short: "%s"},
		{key: "offset", label: "By how much does it show too much?", hint: "Too little is minus. In clean water a hydrometer should show 1.000; with no gas a dial should show zero.", figOf: tooMuch, short: "shows %s too much"},
	}},
	{"place", "place", "a place", "Places", "Where vessels stand.", nil, []fact{
		{key: "ambient_k", label: "How warm is the air there?", what: "Hang any thermometer there for a day, or read the room's own.", fig: airHeat, need: true, short: "air of %s"},
		{key: "altitude_m", label: "How high above the sea?", hint: "To fifty metres is near enough.", what: "Any map tells it. Thinner air outside makes a dial show more.", fig: siteHeight, cost: "I do not know: sea level is taken"},
		{key: "fridge.coldest_k", label: "Is there a fridge? How cold does it get?", what: "One that the vessel fits into. The lowest it reaches, by a thermometer in a glass of water overnight.", fig: fridgeHeat, short: "fridge to %s", none: "I do not have one"},
		{key: "belt_w", label: "Is there a heat belt? Of what power?", what: "A belt or mat that warms the vessel. Its power stands on its plug or plate, in watts.", fig: beltPower, short: "belt of %s", none: "I do not have one"},
		{key: "someone_sleeps_here", label: "Does someone sleep there?", choose: yesOrNo, hint: "The gas has no smell, and gathers low.", what: "A ferment of 20 L gives off about 0.4 m³ of carbon dioxide in its first days."},
	}},
	{"wort pack", "wort-pack", "a pack of wort", "Packs of wort", "Ready-made wort that waits to be filled.", []limit.Key{"c.wort", "c.today"}, []fact{
		{key: "volume_m3", label: "How much wort does it make?", what: "Printed on the label, with the water it asks for already in.", fig: wortVolume, need: true, short: "%s"},
		{key: "gravity_sg", label: "What is its gravity?", what: "Printed as OG, original gravity or °P.", fig: wortGravity, need: true, short: "%s"},
		{key: "bitterness_ibu", label: "How bitter is it?", fig: wortBitter},
		{key: "best_before", label: "Use by", day: true, short: "use by %s"},
	}},
	{"yeast pack", "yeast-pack", "a pack of yeast", "Packs of yeast", "", nil, []fact{
		{key: "kind", label: "What kind is it?", what: "Printed on the sachet or named in the leaflet of the wort. Ale suits most beers; clean ale leaves less taste of its own; lager wants cold; warm farmhouse likes 25 °C and more.", choose: kindsOfYeast, need: true, short: "%s"},
		{key: "form", label: "How does it come?", what: "Dry grains in a sachet, or liquid in a pouch. Slurry is kept from the bottom of another batch.", choose: formsOfYeast, short: "%s"},
		{key: "mass_kg", label: "How much yeast is in it?", what: "Its weight, printed on the sachet, mostly in grams.", fig: yeastMass, short: "%s"},
		{key: "attenuation", label: "Attenuation on the label", what: "The share of sugar that this yeast uses. Printed as a percentage; of a range take the middle.", fig: sugarUsed},
		{key: "best_before", label: "Use by", day: true, short: "use by %s"},
	}},
}

func kindNamed(is string) *kindOfThing {
	for i := range kindsOfThing {
		if k := &kindsOfThing[i]; k.Is == is || k.Slug == is {
			return k
		}
	}
	return nil
}

func yesOrNo(_ *batch.Cellar, t *wording.Tongue) []option {
	return options(t, choice{"true", "Yes"}, choice{"false", "No"})
}

func whatIsRead(_ *batch.Cellar, t *wording.Tongue) []option {
	return options(t, choice{"gravity", "Gravity"}, choice{"pressure", "Pressure"}, choice{"temperature", "Temperature"},
		choice{"vessel mass", "Weight of the vessel"}, choice{"cylinder mass", "Weight of the cylinder"})
}

func kindsOfYeast(_ *batch.Cellar, t *wording.Tongue) (out []option) {
	for _, k := range yeast.Kinds {
		out = append(out, option{string(k), wording.Capital(t.Word(k.Wording()))})
	}
	return out
}

func kindsOfTube(_ *batch.Cellar, t *wording.Tongue) []option {
	return options(t, choice{string(dispense.Hard.Name), "Hard"}, choice{string(dispense.SoftVinyl.Name), "Soft vinyl"})
}

func formsOfYeast(_ *batch.Cellar, t *wording.Tongue) []option {
	return options(t, choice{string(yeast.Dry), "Dry, in a sachet"}, choice{string(yeast.Liquid), "Liquid, in a pouch or vial"}, choice{string(yeast.Slurry), "Slurry, kept from another batch"})
}

// namesOf are the things of a kind that are there, by name.
func namesOf(is string) func(*batch.Cellar, *wording.Tongue) []option {
	return func(c *batch.Cellar, _ *wording.Tongue) (out []option) {
		for _, t := range allThings(c) {
			if t.Is == is && !t.Gone {
				out = append(out, option{t.ID.String(), t.Name})
			}
		}
		return out
	}
}
