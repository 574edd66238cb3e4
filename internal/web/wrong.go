package web

import (
	"net/http"

	"spile/limit"
)

// trouble is one thing that may be wrong: what is seen, and what to do.
type trouble struct {
	Title string
	Steps []string
	Link  *door
}

// troubles is the sheet for the door, in the order of danger. The words of the catalogue
// of cautions are taken from there.
var troubles = []trouble{
	{Title: "Hissing, and it is not mine", Steps: []string{
		"A soft, steady hiss is normal.",
		"Read the dial.",
		"Below the limit on this sheet: leave it and tell the owner.",
		"Above it, or no limit written down: go to 2."}},
	{Title: "Pressure above the valve setting, foam in the valve", Steps: []string{
		"Stand to one side, faces away. Shut the cylinder.",
		"Below the rating: pull the safety valve's ring from the side, at arm's length. Expect spray. Let go when it hisses softly.",
		"At or above the rating, no rating known, or you cannot read the dial: touch nothing, leave, keep others out.",
		"The wall bulges, cracks or weeps: touch nothing, leave, keep others out.",
		"Call the maker or seller. Never undo or hit a fitting."}},
	{Title: "Headache, dizzy, short of breath", Steps: []string{
		"Out. Door open, fresh air, stay out.",
		limit.Caution("c.rescue")}},
	{Title: "Gas pours from cylinder or hose", Steps: []string{
		"Shut the cylinder only if you can do it in fresh air.",
		"Do not touch frost.",
		"Doors open, leave."}},
	{Title: "The vessel pulls in", Steps: []string{
		"Stop the cold. Gas on, low, a little at a time.",
		"Do not open the lid.",
		"A creased wall takes no pressure until checked."}},
	{Title: "Ice", Steps: []string{limit.Caution("c.frozen")}},
	{Title: "Cleaner on skin or in the eye", Steps: []string{
		limit.Caution("c.eye"),
		"Keep the label in your hand when you call."}},
	{Title: "Power cut", Steps: []string{
		"Leave the doors shut. Cold beer warms slowly.",
		"Look at the gauge every few hours. Warm beer pushes harder.",
		"How high it can go, with your numbers:"},
		Link: &door{"What will warmth do to the pressure?", "/work-it-out/warming"}},
	{Title: "The pack is swollen", Steps: []string{limit.Caution("c.wort")}},
	{Title: "Beer everywhere, pressure normal", Steps: []string{
		"Touch no wet plug: power off at the fuse board.",
		"Dry the floor.",
		"Then find the cause:"},
		Link: &door{"Why does it foam, and which tube?", "/work-it-out/line"}},
}

// blanks are what the owner writes onto the sheet by hand.
var blanks = []string{"Vessel", "Rating of the weakest part", "Working valve set to", "Owner, and how to call", "Maker or seller, and how to call", "Emergency number"}

// wrong needs no login and no script, and may be kept by the browser for when the server is gone.
func (s *Site) wrong(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Cache-Control", "private, max-age=86400, stale-if-error=2592000")
	w.Header().Set("Vary", "Cookie") // which says light or dark
	s.show(w, r, http.StatusOK, "wrong", page{Title: "Something is wrong", Here: "/something-is-wrong", Cautious: true,
		Content: struct {
			Troubles []trouble
			Blanks   []string
		}{troubles, blanks}})
}
