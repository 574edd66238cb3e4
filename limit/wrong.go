package limit

import "spile/wording"

// Trouble is one thing that may be wrong: what is seen, and what to do.
type Trouble struct {
	Title wording.Text
	Steps []wording.Text
	Ask   string // the calculation that answers the last step; empty: none
}

// Troubles is the sheet for the door, in the order of danger.
var Troubles = []Trouble{
	{Title: "Hissing, and it is not mine", Steps: []wording.Text{
		"A soft, steady hiss is normal.",
		"Read the dial.",
		"Below the limit on this sheet: leave it and tell the owner.",
		"Above it, or no limit written down: go to 2."}},
	{Title: "Pressure above the valve setting, foam in the valve", Steps: []wording.Text{
		"Stand to one side, faces away. Shut the cylinder.",
		"Below the rating: pull the safety valve's ring from the side, at arm's length. Expect spray. Let go when it hisses softly.",
		"At or above the rating, no rating known, or you cannot read the dial: touch nothing, leave, keep others out.",
		"The wall bulges, cracks or weeps: touch nothing, leave, keep others out.",
		"Call the maker or seller. Never undo or hit a fitting."}},
	{Title: "Headache, dizzy, short of breath", Steps: []wording.Text{
		"Out. Door open, fresh air, stay out.",
		Caution("c.rescue")}},
	{Title: "Gas pours from cylinder or hose", Steps: []wording.Text{
		"Shut the cylinder only if you can do it in fresh air.",
		"Do not touch frost.",
		"Doors open, leave."}},
	{Title: "The vessel pulls in", Steps: []wording.Text{
		"Stop the cold. Gas on, low, a little at a time.",
		"Do not open the lid.",
		"A creased wall takes no pressure until checked."}},
	{Title: "Ice", Steps: []wording.Text{Caution("c.frozen")}},
	{Title: "Cleaner on skin or in the eye", Steps: []wording.Text{
		Caution("c.eye"),
		"Keep the label in your hand when you call."}},
	{Title: "Power cut", Steps: []wording.Text{
		"Leave the doors shut. Cold beer warms slowly.",
		"Look at the gauge every few hours. Warm beer pushes harder.",
		"How high it can go, with your numbers:"},
		Ask: "warming"},
	{Title: "The pack is swollen", Steps: []wording.Text{Caution("c.wort")}},
	{Title: "Beer everywhere, pressure normal", Steps: []wording.Text{
		"Touch no wet plug: power off at the fuse board.",
		"Dry the floor.",
		"Then find the cause:"},
		Ask: "line"},
}

// ToCall are the lines of the sheet that only the owner can fill in.
var ToCall = []wording.Text{"Owner, and how to call", "Maker or seller, and how to call", "Emergency number"}

// Blanks are what the owner writes onto the sheet by hand, where it is not printed.
var Blanks = append([]wording.Text{"Vessel", "Rating of the weakest part", "Working valve set to"}, ToCall...)
