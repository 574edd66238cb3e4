package web

import (
	"spile/limit"
	"spile/wording"
)

// stageCard is what the page of one stage answers for a first-timer, besides numbers.
type stageCard struct {
	Slug     string
	Title    wording.Text
	Asks     []stageAsk
	Cautions []limit.Key
	Links    []door
}

// stageAsk is a question of a first-timer with its answer. Names in braces are filled in from
// a batch, or with words that hold for every batch.
type stageAsk struct {
	Question wording.Text
	Answer   []wording.Text
	Caution  wording.Text // the words of the catalogue that stand at this answer; empty: none
}

// stageSlots are what the names in braces say where no batch is looked at.
var stageSlots = map[string]wording.Text{
	"relief": "what your plan says", "keep": "what your plan says", "most": "what the weakest part allows", "cold": "the cold of your plan",
	"gas": "what your plan says", "lag": "two to four days", "served": "4 °C", "target": "what you wish for", "first": "half a litre", "limit": "its maker allows",
	"range": "what suits the yeast",
}

// stageCards are the stages from the shop to the sink. What they tell of the trade is common
// practice, no source, unless a caution of the catalogue says it.
var stageCards = []stageCard{
	{"choose", "Choose", []stageAsk{
		{"Will it fit, with room for foam?", []wording.Text{"The wort needs about a quarter more room than it has itself.", "Wheat and warm yeasts foam most."}, ""},
		{"Will it be ready for the day?", []wording.Text{"Ale takes one to two weeks, then a week cold under gas.", "Lager takes about twice as long.", "Fill a vessel tells the odds of your own day, before you buy."}, ""},
		{"Do I need anything I do not own?", []wording.Text{"A vessel with a rating, a safety valve and a working valve.", "A thermometer, and a dial or a hydrometer.", "Without a cylinder the yeast's own gas carbonates it. Pouring it all then takes a little gas.", "Without a fridge it stays as warm as its place."}, ""},
	}, nil, []door{{"Fill a vessel", "/fill"}, {"Is there room for foam?", "/work-it-out/foam-room"}}},
	{"carry-home", "Carry home", []stageAsk{
		{"How do I carry it?", []wording.Text{"Cool and upright. Not in a hot car, not in the sun."}, ""},
		{"How long does it keep?", []wording.Text{"Until the date on it, while it is sealed and cool. Once opened, not at all."}, ""},
		{"It is swollen. What now?", []wording.Text{"Something already works inside. It may burst, and it may make you ill."}, ""},
	}, []limit.Key{"c.wort", "c.cylinder"}, nil},
	{"prepare", "Prepare", []stageAsk{
		{"What is clean, and what is sanitised?", []wording.Text{"Clean: you can see and feel nothing on it.", "Sanitised: what you cannot see is dead too. Only clean things can be."}, ""},
		{"What must be sanitised?", []wording.Text{"All that touches wort that is cool: vessel, lid, seals, valves, tap, spoon, jug, scissors."}, ""},
		{"How much, in how much water, how long?", []wording.Text{"The label rules.", "Five litres, swilled round with the lid off, reach everywhere in most vessels. Wet the lid by itself.", "Keep it wet for as long as the label says."}, ""},
		{"Drain or rinse?", []wording.Text{"The label rules. No-rinse ones are drained, and a little foam does no harm."}, ""},
	}, []limit.Key{"c.clean", "c.sealed", "c.eye"}, []door{{"How much sanitiser?", "/work-it-out/sanitiser"}}},
	{"prove-it", "Prove it", []stageAsk{
		{"How do I prove that it holds gas?", []wording.Text{"Fill it with water where it will stand. Leave about a litre of room.", "Give it a little gas, less than {most}. Then gas off at the cylinder.", "Brush soapy water on every seal. Growing bubbles are a leak."}, ""},
		{"In which order do I use the regulator?", []wording.Text{"Knob backed off. Cylinder open, slowly. Then turn the knob to the pressure.", "At the end: cylinder off first, then let the hose down, then back the knob off."}, ""},
		{"What does a steady gauge look like?", []wording.Text{"It falls a little at first, as the water takes gas up and cools.", "After that it stands. Read it hours apart, with the temperature."}, ""},
		{"How do I let it out?", []wording.Text{"Gas off. Pull the ring of the safety valve, from the side, until it is silent."}, ""},
	}, []limit.Key{"c.test", "c.regulator", "c.lift", "c.open"}, []door{{"Does it hold gas?", "/work-it-out/leak"}}},
	{"fill", "Fill", []stageAsk{
		{"How do I measure water with only a jug?", []wording.Text{"Weigh one jugful: a kilogram of water is a litre.", "Then count the jugs, aloud. Mark the level outside with tape."}, ""},
		{"Splash or not?", []wording.Text{"Splash the wort before the yeast is in: yeast needs the air.", "Never splash beer: air makes it stale."}, ""},
		{"Why mix before the sample?", []wording.Text{"Strong wort lies below water. Unmixed, the sample lies by many points."}, ""},
		{"Where is the line?", []wording.Text{"Leave room for foam: about a fifth of the vessel.", "Never fill to the brim. The liquid itself would burst the vessel as it warms."}, ""},
	}, []limit.Key{"c.wort", "c.today", "c.lift"}, []door{{"How much water?", "/work-it-out/dilution"}, {"Is there room for foam?", "/work-it-out/foam-room"}}},
	{"first-sample", "First sample", []stageAsk{
		{"Through the tap or before the lid goes on?", []wording.Text{"Before the lid is easiest: a clean jug, from the middle.", "Through the tap: throw the first squirt away."}, ""},
		{"How do I read the glass?", []wording.Text{"Let it float free and spin the bubbles off.", "Read at the level of the liquid, not where it climbs the stem.", "Tell the temperature of the sample too."}, ""},
		{"I did not take one.", []wording.Text{"That is allowed. The label is taken, and the first days are a little less sure."}, ""},
		{"What do I do with the sample?", []wording.Text{"Never pour it back."}, ""},
	}, []limit.Key{"c.minor"}, []door{{"What is the true gravity?", "/work-it-out/hydrometer"}}},
	{"yeast", "Yeast", []stageAsk{
		{"Sprinkle it, or wet it first?", []wording.Text{"Dry yeast can be sprinkled onto the wort. Its sachet says if it wants water first.", "Shake liquid yeast and pour all of it in."}, ""},
		{"The wort is warm or cold. What now?", []wording.Text{"Best is {range}, and the yeast near the same.", "Warmer than that: wait. Colder than that: warm it first."}, ""},
		{"Today or tomorrow?", []wording.Text{"Today. Wort without yeast grows something else."}, ""},
	}, []limit.Key{"c.today"}, []door{{"How much yeast?", "/work-it-out/pitch"}}},
	{"close-the-lid", "Close the lid", []stageAsk{
		{"How do I seat it?", []wording.Text{"Clean seal, a thin film of the maker's grease, nothing pinched.", "It holds tight only once a little pressure presses on it."}, ""},
		{"How do I set the working valve with a cylinder?", []wording.Text{"Give a little gas first, so that the lid seats.", "Set the regulator to {relief}. Turn the working valve open until it just hisses.", "It is set. Gas off at the cylinder."}, ""},
		{"How do I set it without a cylinder?", []wording.Text{"Set its scale to {relief}.", "No scale: leave it open at first. Once gas comes, set it so that the dial stands at {relief}."}, ""},
		{"How high may it be set?", []wording.Text{"Never above {most}. A working valve may err by some psi."}, ""},
		{"Where do I put it?", []wording.Text{"Out of the sun, level, with air around it. Where nobody sleeps.", "If it is a bedroom:"}, limit.Caution("c.sleep")},
	}, []limit.Key{"c.valve", "c.room", "c.regulator"}, []door{{"What should the working valve be set to?", "/work-it-out/relief"}, {"Will the air be safe here?", "/work-it-out/room-air"}}},
	{"first-night", "First night", []stageAsk{
		{"What should I hear and see, and by when?", []wording.Text{"Often nothing for a day. Up to {lag} can be normal.", "Then the dial climbs, and a soft hiss begins at {relief}."}, ""},
		{"What is not a fault?", []wording.Text{"No gas yet. Foam on the wall. A smell of bread, fruit or struck matches. Hissing in the dark."}, ""},
		{"May I open it and look?", []wording.Text{"Leave the lid on. The dial tells more."}, ""},
		{"The dial stays at zero. What now?", []wording.Text{"After {lag}: brush soapy water on the lid, then look at the temperature.", "A lid that leaks hides the pressure. The beer works all the same."}, ""},
	}, []limit.Key{"c.room"}, nil},
	{"working-days", "Working days", []stageAsk{
		{"What do I do?", []wording.Text{"One glance a day: dial and thermometer. Write them down."}, ""},
		{"What does a hiss mean?", []wording.Text{"A soft, steady one at the working valve is gas leaving. That is its job.", "A hiss from a seal is a leak."}, ""},
		{"What does a smell mean?", []wording.Text{"Bread, fruit, matches: yeast at work. Vinegar or nail varnish: ask the shop, and taste later."}, ""},
		{"What does a ring of foam mean?", []wording.Text{"How high the foam stood. At the valve: cool it two degrees, and faces away."}, ""},
		{"When do I raise the temperature?", []wording.Text{"Near the end, by two degrees, so that it finishes cleanly. Your plan says when."}, ""},
	}, []limit.Key{"c.valve", "c.room"}, []door{{"How much heat keeps it warm?", "/work-it-out/heating"}}},
	{"a-sample-later", "A sample later", []stageAsk{
		{"How do I take one under pressure?", []wording.Text{"Through the tap, and the gas stays as it is.", "Open the tap slowly: it comes as foam. Throw the first squirt away."}, ""},
		{"How do I get the bubbles out?", []wording.Text{"Shake it in a half-full jar, and let it hiss. Several times, then let it stand.", "Bubbles lift the glass, and it reads too high."}, ""},
		{"What do I do with the sample?", []wording.Text{"Never pour it back. Adults may taste it."}, ""},
		{"No tap?", []wording.Text{"Then read the dial. A sample is not worth opening the lid for."}, ""},
	}, []limit.Key{"c.minor", "c.drink"}, []door{{"What is the true gravity?", "/work-it-out/hydrometer"}}},
	{"finished", "Finished?", []stageAsk{
		{"How do I know?", []wording.Text{"By two samples days apart, or by the gauge alone.", "Two equal samples are not proof: it may be a pause."}, ""},
		{"How does the test by gauge go?", []wording.Text{"Leave the working valve where it is. Let some pressure out.", "Wait until the gauge stands. Read it twice, a day apart.", "It climbs by itself: it still works. It hisses: it is not finished."}, ""},
		{"What is the butter test?", []wording.Text{"Cover a glass of it and warm it in hot water for ten minutes.", "Smell it beside a cool one. Butter or caramel: wait two days more in the warm."}, ""},
	}, []limit.Key{"c.minor", "c.room"}, []door{{"Is it finished?", "/work-it-out/quiet-gauge"}}},
	{"before-cooling", "Before cooling", []stageAsk{
		{"Why gas first?", []wording.Text{"Cold beer drinks the gas above it. The vessel would then pull in on itself."}, ""},
		{"In which order do I use the regulator?", []wording.Text{"Knob backed off. Connect the hose. Cylinder open, slowly. Then turn the knob to {gas}."}, ""},
		{"And then?", []wording.Text{"Brush soapy water on every joint, up to the cylinder.", "A weeping joint empties a cylinder in days."}, ""},
		{"Several vessels on one regulator?", []wording.Text{"One pressure for all of them. Without check valves gas flows from the higher to the lower.", "Let them down to one pressure before you join them.", "Write the weight of the cylinder before and after: whose loss it is, the dials tell."}, ""},
		{"No cylinder?", []wording.Text{"Then keep the yeast's own gas: the working valve at {keep} for the last points.", "Read the dial while it cools. It must stay above zero."}, ""},
	}, []limit.Key{"c.regulator", "c.cylinder", "c.valve", "l.would-pull-in"}, []door{{"What will cold do to the pressure?", "/work-it-out/chill"}, {"Can it make its own gas?", "/work-it-out/own-gas"}}},
	{"cold", "Cold", []stageAsk{
		{"How long does it take?", []wording.Text{"A full vessel takes one to two days to {cold} in a fridge."}, ""},
		{"May it freeze?", []wording.Text{"No. Ice breaks vessels, and the beer that is left gets stronger. Set the fridge above zero."}, ""},
		{"Several vessels in one fridge?", []wording.Text{"One temperature for all of them. Cool together only what is finished."}, ""},
		{"No fridge. What then?", []wording.Text{"A cellar or a cold shed will do. Warmer beer needs more pressure for the same gas.", "A tub of water with ice bottles cools one vessel."}, ""},
	}, []limit.Key{"c.fridge", "c.mains", "c.frozen"}, []door{{"How long to cool?", "/work-it-out/cooldown"}, {"Will it freeze?", "/work-it-out/freezing"}}},
	{"taking-gas", "Taking gas", []stageAsk{
		{"Which pressure?", []wording.Text{"Gas at {gas}, for {target} at {served}. Leave it there."}, ""},
		{"Until when?", []wording.Text{"Most of it within a week or two. Your vessel's page tells the day."}, ""},
		{"May I drink meanwhile?", []wording.Text{"Yes. It is good, only flatter than it will be."}, ""},
		{"May I shake it?", []wording.Text{"Shaking is not for tonight: it is easily too much, and stirs the yeast up.", "Too much gas takes days to let out again."}, ""},
	}, []limit.Key{"c.fridge", "c.cylinder", "c.drink"}, []door{{"How long to take the gas?", "/work-it-out/absorption"}, {"Too much gas: how do I let it down?", "/work-it-out/overcarbonated"}}},
	{"pour", "Pour", []stageAsk{
		{"Why is the first glass away?", []wording.Text{"Yeast has settled round the outlet. Pour {first} away."}, ""},
		{"Which tube?", []wording.Text{"A long, thin one brakes the beer. Short and wide gives foam.", "Open the tap fully: half open foams."}, ""},
		{"It is mostly foam. What now?", []wording.Text{"Let that glass settle. Open the tap fully for the next one.", "Tell it under I noticed. The page of the vessel then says why, as far as it can."}, ""},
		{"Gas on or off overnight?", []wording.Text{"Off at the cylinder once all joints are proved is safest.", "Beer at rest keeps its gas for days."}, ""},
		{"How long does it keep?", []wording.Text{"Cold, under gas and without air: weeks to months. Opened to air: a day or two."}, ""},
	}, []limit.Key{"c.drink", "c.fridge"}, []door{{"Why does it foam, and which tube?", "/work-it-out/line"}, {"How many glasses?", "/work-it-out/pour"}, {"How far can I pour without gas?", "/work-it-out/gas-off"}}},
	{"move", "Move or take along", []stageAsk{
		{"How do I move it to a keg?", []wording.Text{"Flush the keg with gas until the air is out.", "Both cold, both under gas. The vessel a little higher in pressure than the keg.", "Join gas to gas as well, and the beer flows quietly."}, ""},
		{"How do I take it along?", []wording.Text{"Chill it first. Let it down to a few psi, and wedge it upright."}, ""},
		{"How far does the pressure climb in a warm car?", []wording.Text{"The question below tells it for your beer. Compare it with {most}."}, ""},
	}, []limit.Key{"c.car", "c.cylinder", "c.lift", "c.room"}, []door{{"How do I move it to a keg?", "/work-it-out/transfer"}, {"What will warmth do to the pressure?", "/work-it-out/warming"}}},
	{"empty", "Empty", []stageAsk{
		{"It pours no more. Is it safe to open?", []wording.Text{"Not yet. Empty of beer is not empty of gas: it is still under pressure."}, ""},
		{"How do I open it?", []wording.Text{"Gas off at the cylinder, hose off.", "Pull the ring from the side. Hold it until it is silent, then a little longer.", "Dial at zero and ring silent: now open, face away."}, ""},
		{"The dial shows zero, but the ring hisses.", []wording.Text{"The dial sticks. Trust the ring."}, ""},
		{"May I look inside?", []wording.Text{"Do not lean in: gas lies in the bottom. Tip it out with two; yeast weighs more than you think."}, ""},
	}, []limit.Key{"c.open", "c.room", "c.rescue"}, []door{{"How hard does the lid push?", "/work-it-out/lid"}}},
	{"clean", "Clean", []stageAsk{
		{"When?", []wording.Text{"Today. Dried yeast is hard to get off."}, ""},
		{"What?", []wording.Text{"Vessel, lid, line and tap. Run cleaner through line and tap, then water."}, ""},
		{"And the seals?", []wording.Text{"Off, looked at, dried. Cracked, flat or hard: put in a new one. Write the date."}, ""},
		{"How warm may the water be?", []wording.Text{"Never hotter than {limit}. Warm is enough; hot weakens plastic for good."}, ""},
	}, []limit.Key{"c.clean", "c.sealed", "c.hot", "c.eye"}, []door{{"How much sanitiser?", "/work-it-out/sanitiser"}}},
	{"again", "Again", []stageAsk{
		{"What do I try next time?", []wording.Text{"One thing, so that you know what did it."}, ""},
		{"What did it cost?", []wording.Text{"Wort, yeast, gas and heat, by the glass. The question below tells it."}, ""},
		{"What did Spile learn about this vessel?", []wording.Text{"It stands on the vessel's page under What I have."}, ""},
	}, nil, []door{{"What does a glass cost?", "/work-it-out/cost"}, {"What I have", "/what-i-have"}}},
}
